package bot

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
	"time"

	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// mostStops is more than a flight has; each asks the weather sources.
const mostStops = 12

// brief prepares the arrivals of a flight, and gives the visits that they are.
func (b *Bot) brief(ctx context.Context, req parse.Request, at time.Time) (reply.Reply, []visit, *parse.Problem, error) {
	if n := len(req.Stops); n > mostStops {
		return reply.Reply{}, nil, &parse.Problem{Word: "brief", Text: fmt.Sprintf("These are %d arrivals; ask for at most %d at a time.", n, mostStops)}, nil
	}
	visits, problem := b.visits(req.Stops, at)
	if problem != nil {
		return reply.Reply{}, nil, problem, nil
	}
	r, problem, err := b.arrivals(ctx, visits, at)
	return r, visits, problem, err
}

// arrivals prepares visits.
func (b *Bot) arrivals(ctx context.Context, visits []visit, now time.Time) (reply.Reply, *parse.Problem, error) {
	var list []reply.Arrival
	var by parse.Terms
	if len(visits) > 0 {
		by = visits[0].By
	}
	for i := range visits {
		if len(visits) > 1 {
			visits[i].By.Additive = 0 // which of the charts has it is not said
		}
		a, fixed, problem, err := b.arrival(ctx, &visits[i].Stop, visits[i].at, now)
		if problem != nil {
			problem.Try = briefWith(visits, i, fixed) // nothing of the other arrivals is lost
		}
		if problem != nil || err != nil {
			return reply.Reply{}, problem, err
		}
		list = append(list, a)
	}
	r := reply.Brief(reply.Scene{Set: b.set(by.Rules), Outside: b.outside}, list)
	if by.Rules != "" {
		r.Notes = append(r.Notes, "Rules: "+b.set(by.Rules).Name+", as you said.")
	}
	r.Notes = append(r.Notes, chosenNotes(by, list)...)
	if note := b.unzoned(visits); note != "" {
		r.Notes = append(r.Notes, note)
	}
	for i := range visits {
		if note := b.justGone(visits[i], now); note != "" {
			r.Notes = append(r.Notes, note)
		}
		if s, ok := b.stations.Station(visits[i].Stop.Station); ok {
			for _, note := range s.ListNotes(now) {
				if !slices.Contains(r.Notes, note) {
					r.Notes = append(r.Notes, note)
				}
			}
		}
	}
	return r, nil, nil
}

// unzoned says of the times that named no zone how they were read; empty where
// there are none, or they are the same there.
func (b *Bot) unzoned(visits []visit) string {
	var read []string
	typed := ""
	for _, v := range visits {
		if c := v.At; c.Unzoned && c.Zone == parse.UTC {
			there := v.at.In(b.Zone(v.Station))
			if _, off := there.Zone(); off == 0 {
				continue
			}
			typed = fmt.Sprintf("%02d%02d", c.Hour, c.Minute)
			read = append(read, fmt.Sprintf("%s at %s, %s local", typed, v.Station, there.Format("Mon 2 Jan 15:04")))
		}
	}
	if len(read) == 0 {
		return ""
	}
	return "Read as UTC: " + strings.Join(read, "; ") + ". Else write " + typed + " local."
}

// localTime is an arrival's time for people there, with the day told apart.
func localTime(t, now time.Time, zone *time.Location) string {
	there, today := t.In(zone), now.In(zone)
	text := there.Format("Mon 2 Jan 15:04") + " local (" + t.UTC().Format("15:04Z") + ")"
	switch there.Format(time.DateOnly) {
	case today.Format(time.DateOnly):
		return text + ", today"
	case today.AddDate(0, 0, 1).Format(time.DateOnly):
		return text + ", tomorrow"
	}
	return text
}

// arrival prepares one stop; with a problem, fixed is the stop to type instead.
func (b *Bot) arrival(ctx context.Context, s *parse.Stop, when, now time.Time) (_ reply.Arrival, fixed parse.Stop, _ *parse.Problem, _ error) {
	st, ok := b.stations.Station(s.Station)
	if !ok {
		return reply.Arrival{}, *s, &parse.Problem{Word: s.Station, Text: parse.UnknownStation(s.Station)}, nil
	}
	if p := elevate(st, 0, false); p != nil {
		return reply.Arrival{}, *s, p, nil
	}
	a := reply.Arrival{
		Station: reply.Station{Ident: st.Ident, Name: st.Name, ElevationFt: float64(st.Elevation), Known: true},
		At:      when.UTC(), Local: localTime(when, now, st.Zone), Alternate: s.Alternate,
	}
	if st.Restriction != nil {
		a.RestrictionC = reply.Some(float64(*st.Restriction))
	}
	approaches, fixed, problem, err := b.named(ctx, s)
	if problem != nil || err != nil {
		return a, fixed, problem, err
	}
	around := coldwatch.Around(when)
	line := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	if st.Restriction != nil {
		line.Restriction = *st.Restriction
	}
	j, forecasts, err := b.coldest(ctx, st, line, around)
	if err != nil {
		return a, *s, nil, err
	}
	j, a.Observed = b.observedNow(ctx, st.Ident, j, line, around, now)
	a.Note = strings.NewReplacer("of the duty window", "of the hours around the arrival", "the duty window", "the hours around the arrival").Replace(j.Note)
	if j.State == coldwatch.NoForecast {
		if a.Note == "" {
			a.Note = "there is no forecast for the arrival"
		}
		return a, *s, nil, nil
	}
	a.TemperatureC, a.TemperatureSource, a.Issued = reply.Some(math.Floor(float64(j.Low)*10+1e-9)/10), j.Source, j.Issued.UTC()
	a.Bound, a.Doubt = j.Bound(around), weather.Doubt(j.Note, j.Issued, now)
	if st.Restriction != nil {
		coldHours(&a, forecasts, j, line, st.Zone)
	}
	return a, *s, nil, b.plan(&a, st, approaches, s.By, j.Low, now)
}

// named are the procedures of a stop: those that were named, else the usual
// ones of the base.
func (b *Bot) named(ctx context.Context, s *parse.Stop) (out []*approach.Approach, fixed parse.Stop, _ *parse.Problem, _ error) {
	st, _ := b.stations.Station(s.Station)
	names := st.Usual
	if s.Procedure != "" {
		names = []string{s.Procedure}
	}
	if len(names) == 0 || b.ports.Procedures == nil {
		return nil, *s, nil, nil
	}
	all, err := b.ports.Procedures.Procedures(ctx, s.Station)
	if err != nil {
		return nil, *s, nil, fmt.Errorf("procedures of %s: %w", s.Station, err)
	}
	for _, name := range names {
		found := approach.Find(all, name)
		a, one := found.One()
		if !one && s.Procedure != "" {
			p := b.withLeftOut(b.whichProcedure(&parse.Request{Station: s.Station, Procedure: name}, found, len(all)), s.Station)
			fixed := *s
			fixed.Procedure = ""
			for _, near := range [][]*approach.Approach{found.Fits, found.Near} {
				if len(near) > 0 && fixed.Procedure == "" {
					fixed.Procedure = near[0].Name
				}
			}
			return nil, fixed, p, nil
		}
		if one {
			out = append(out, a)
		}
	}
	return out, *s, nil, nil
}

// coldest judges the hour before to the hour after an arrival; all is what it
// was chosen from.
func (b *Bot) coldest(ctx context.Context, st *config.Station, line coldwatch.Line, w coldwatch.Window) (_ coldwatch.Judgement, all []weather.Forecast, _ error) {
	forecasts, err := b.ports.Forecasts.Forecasts(ctx, st.Ident)
	if err != nil && ctx.Err() != nil {
		return coldwatch.Judgement{}, nil, ctx.Err()
	}
	if len(forecasts) == 0 {
		note := "no source has a forecast for " + st.Ident
		if err != nil && !errors.Is(err, weather.ErrNone) {
			b.log.WarnContext(ctx, "no forecast for a brief", "station", st.Ident, "err", err)
			note = "the weather sources do not answer for " + st.Ident
		}
		return coldwatch.Judgement{State: coldwatch.NoForecast, Note: note}, nil, nil
	}
	js := make([]coldwatch.Judgement, len(forecasts))
	for i := range forecasts {
		js[i] = coldwatch.Judge(w, line, &forecasts[i].Forecast)
	}
	j := coldwatch.Choose(w, b.stations.Alerts.Disagree, js...)
	j.Note = weather.NoteFailed(j.Note, err)
	return j, forecasts, nil
}

// observedNow is the judgement of an arrival within the hour with the latest
// observation, where that is colder, and whether it is.
func (b *Bot) observedNow(ctx context.Context, ident string, j coldwatch.Judgement, line coldwatch.Line, w coldwatch.Window, now time.Time) (coldwatch.Judgement, bool) {
	if b.ports.Observer == nil || now.Before(w.From) || !now.Before(w.To) {
		return j, false
	}
	o, err := b.ports.Observer.Observation(ctx, ident)
	if err != nil {
		return j, false // the forecast stands
	}
	return j.Observed(w, line, o.Source, o.C, o.At, now)
}

// plan works the procedures out at the coldest temperature, and finds the
// next colder one that changes a figure.
func (b *Bot) plan(a *reply.Arrival, st *config.Station, list []*approach.Approach, by parse.Terms, c engine.Celsius, now time.Time) error {
	set := b.set(by.Rules)
	in := ruleset.Input{Outside: b.outside, Mountainous: st.Mountains(), Designated: designated(st), FieldAbove: engine.Feet(st.Elevation - st.HeightsFrom())}
	if st.Restriction != nil {
		in.Restriction, in.HasPublished = *st.Restriction, true
	}
	at := func(c engine.Celsius, points []procedure.Point) (ruleset.Result, error) {
		in.Air, in.Points = correction.Air{Temperature: c, Source: st.HeightsFrom()}, points
		if len(points) == 0 {
			return evaluate(set, st, statusInput(in))
		}
		return evaluate(set, st, in)
	}
	first, err := at(c, nil)
	if err != nil {
		return err
	}
	truth := first
	var before []planned
	for _, p := range list {
		sc := reply.Scene{
			Ident: st.Ident, Elevation: st.Elevation, Source: st.HeightsFrom(), Altimeter: st.SourceElevation, Set: set, Outside: b.outside,
			Temperature: reply.Temperature{C: c},
			Procedure:   reply.Procedure{Name: p.Name, Source: p.Source, Cycle: p.Cycle, Ends: p.End, Begins: p.Effective, Gaps: p.Gaps()},
		}
		sc.Procedure.Standing = standing(p, a.At)
		terms := by.Request()
		b.guidance(&sc, p, &terms, st)
		lines := by
		lines.Minima = ""
		every, _ := chosenPoints(p, lines)
		sc.Others = reply.Unbarred(every)
		points, note := chosenPoints(p, by)
		if note != "" {
			a.Unmet = append(a.Unmet, st.Ident+" "+note)
		}
		additive(points, p, sc.Guidance.Remote, by.Additive)
		b.path(&sc, p, points)
		sc.Barred = sc.Bar(points)
		res, err := at(c, points)
		if err != nil {
			return err
		}
		if sc.Guidance.Compensated {
			res = res.CrossCheck(in.Air)
		}
		truth.Required = truth.Required || res.Required
		truth.Unknown = (truth.Unknown || res.Unknown) && !truth.Required
		before = append(before, planned{sc, points, res})
		a.Procedures = append(a.Procedures, reply.ArrivalPlanOf(&sc, res))
	}
	for i := 0; i <= len(before); i++ {
		res := &first
		if i > 0 {
			res = &before[i-1].res
		}
		if note := assumed(set, *res, st); len(note) > 0 {
			a.Note = strings.TrimPrefix(a.Note+"; "+strings.TrimSuffix(note[0], "."), "; ")
			break
		}
	}
	a.Required = reply.TruthOfResult(truth)
	if colder, ok := changesAt(c, before, first.Required, at, func() correction.Air { return in.Air }); ok {
		a.RecomputeC = reply.Some(float64(colder))
	}
	return nil
}

// chosenPoints are a procedure's altitudes on the line of minimums and the way in that
// a message names. Where it has not got what was named, all stay, and note says so.
func chosenPoints(p *approach.Approach, by parse.Terms) (points []procedure.Point, note string) {
	f := flown{points: p.Points(), ways: p.Ways()}
	chosen, problem := withoutSBAS(f, by.Minima, by.SBAS)
	if problem == nil {
		chosen, problem = chooseLine(chosen, by.Minima, p.Name)
	}
	if problem == nil {
		f = chosen
		terms := by.Request()
		chosen, _, problem = wayIn(f, &terms, nil)
	}
	if problem != nil {
		return f.points, p.Name + ": " + problem.Text
	}
	return chosen.points, ""
}

// chosenNotes say of the line of minimums and the way in that a message names which
// procedures have them; where none has, they are not used.
func chosenNotes(by parse.Terms, list []reply.Arrival) (out []string) {
	switch {
	case by.Additive == 0:
	case len(list) == 1 && len(list[0].Procedures) > 0:
		out = append(out, parse.AdditiveIn(by.Additive))
	default:
		out = append(out, parse.Unused([]string{fmt.Sprintf("additive %.0f", by.Additive)}))
	}
	chosen := strings.TrimSpace(strings.ToUpper(by.Minima) + " " + (parse.Request{Way: by.Way}).Line())
	if chosen == "" {
		return out
	}
	met := 0
	for i := range list {
		met += len(list[i].Procedures) - len(list[i].Unmet)
		out = append(out, list[i].Unmet...)
	}
	if met > 0 {
		return append([]string{"Worked out for " + chosen + ", as you said."}, out...)
	}
	return append(out, parse.Unused([]string{chosen}))
}

// farthest is how much colder than planned it is looked for a change, in tenths
// of a degree. Ours: it does not grow colder by more within a day.
const farthest = 400

// changesAt is the warmest tenth of a degree below a temperature at which a
// figure is another one, a correction comes to be required, or the path's low
// limit is passed; false where there is none. before are the results at the
// temperature, work works a procedure out at another; without points it says
// whether anything is to be corrected.
func changesAt(c engine.Celsius, before []planned, required bool, work func(engine.Celsius, []procedure.Point) (ruleset.Result, error), air func() correction.Air) (engine.Celsius, bool) {
	changed := func(tenth int) bool {
		c2 := engine.Celsius(tenth) / 10
		now, err := work(c2, nil)
		if err != nil {
			return false // colder than any rule set has an answer to
		}
		if now.Required && !required {
			return true
		}
		for _, was := range before {
			res, err := work(c2, was.points)
			if err != nil {
				return false
			}
			if was.changes(res, c2, air()) {
				return true
			}
		}
		return false
	}
	first := int(math.Ceil(float64(c)*10-1e-6)) - 1
	// What has changed stays so: whole degrees, then the tenths of one.
	n := sort.Search(farthest/10+1, func(degrees int) bool { return changed(first - 10*degrees) })
	if n > farthest/10 {
		return 0, false
	}
	if n == 0 {
		return engine.Celsius(first) / 10, true
	}
	tenth := sort.Search(10, func(k int) bool { return changed(first - 10*(n-1) - k) })
	return engine.Celsius(first-10*(n-1)-tenth) / 10, true
}

// planned is a procedure of an arrival, worked out.
type planned struct {
	scene  reply.Scene
	points []procedure.Point
	res    ruleset.Result
}

// changes says whether a figure is another one at a colder temperature, or a
// limit is passed.
func (p planned) changes(res ruleset.Result, c engine.Celsius, air correction.Air) bool {
	if p.scene.Guidance.Compensated {
		res = res.CrossCheck(air)
	}
	for k := range res.Lines {
		if res.Lines[k].Corrected != p.res.Lines[k].Corrected {
			return true
		}
	}
	p.scene.Temperature.C = c
	return !slices.Equal(p.scene.Bar(p.points).Rows, p.scene.Barred.Rows)
}

// Forecasts are those of a station, one a source; weather.Chain has them.
type Forecasts = watch.Forecaster
