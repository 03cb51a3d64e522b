package bot

import (
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
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

const briefExample = "brief XKLD 1430 XRUN 1515"

// stop is one arrival as it was asked for.
type stop struct {
	station   *config.Station
	hour, min int
	timed     bool
	utc       bool
	day       int // from today: 0 not said, 1 today, 2 tomorrow
	alternate bool
	names     []string // procedures
	word      string   // of the time, as typed
}

var clockWord = regexp.MustCompile(`^([01][0-9]|2[0-3]):?([0-5][0-9])([zl]?)$`)

// figures are those of a time that is none; a runway has two at most.
var figures = regexp.MustCompile(`^[0-9]{1,2}:?[0-9]{2,}[zl]?$`)

// mostStops is more than a flight has; each asks the weather sources.
const mostStops = 12

// brief prepares the arrivals of a flight.
func (b *Bot) brief(ctx context.Context, req parse.Request, at time.Time) (reply.Reply, *parse.Problem, error) {
	stops, problem := b.stops(req.Rest)
	if problem != nil {
		return reply.Reply{}, problem, nil
	}
	sc := reply.Scene{Set: b.rules, Outside: b.outside}
	var list []reply.Arrival
	earliest := at.Add(-time.Hour)
	for i := range stops {
		s := &stops[i]
		when := s.arrival(at, earliest)
		a, fixed, problem, err := b.arrival(ctx, s, when, at)
		if problem != nil {
			// Nothing of the other arrivals is lost.
			whole := slices.Clone(stops)
			whole[i] = fixed
			problem.Try = b.briefLine(whole)
		}
		if problem != nil || err != nil {
			return reply.Reply{}, problem, err
		}
		list = append(list, a)
		if !s.alternate {
			earliest = when
		}
	}
	return reply.Brief(sc, list), nil, nil
}

// stops reads what stands behind "brief": a station, its time, and the
// procedure where one is named, in any order but the station first.
func (b *Bot) stops(rest string) ([]stop, *parse.Problem) {
	var all []stop
	alternate := false
	say := func(word, text string) *parse.Problem {
		return &parse.Problem{Word: word, Text: text, Try: b.briefLine(all)}
	}
	for _, typed := range strings.FieldsFunc(rest, func(r rune) bool { return r == ' ' || r == ',' || r == ';' || r == '\n' || r == '\t' }) {
		word := strings.ToLower(typed)
		last := len(all) - 1
		switch {
		case word == "alternate" || word == "altn" || word == "alt":
			alternate = true
			continue
		case word == "at" || word == "and" || word == "then" || word == "for" || word == "local":
			continue
		}
		if ident, ok := (places{b.stations}).Place(word); ok {
			s, _ := b.stations.Station(ident)
			all = append(all, stop{station: s, alternate: alternate})
			alternate = false
			continue
		}
		if last < 0 {
			if near := b.stations.Nearest(typed, 3); len(near) > 0 {
				return nil, say(typed, fmt.Sprintf("%s is not a station firn knows; nearest: %s.", strings.ToUpper(typed), strings.Join(near, ", ")))
			}
			return nil, say(typed, fmt.Sprintf("“%s” is no station: name each station, then its arrival time.", typed))
		}
		s := &all[last]
		m := clockWord.FindStringSubmatch(word)
		switch {
		case m != nil && !s.timed:
			fmt.Sscanf(m[1]+" "+m[2], "%d %d", &s.hour, &s.min)
			s.timed, s.utc, s.word = true, m[3] == "z", typed
		case m != nil:
			return nil, say(typed, fmt.Sprintf("%s has two times, %s and %s; give one.", s.station.Ident, s.word, typed))
		case word == "today":
			s.day = 1
		case word == "tomorrow":
			s.day = 2
		case figures.MatchString(word):
			return nil, say(typed, fmt.Sprintf("%s is no time: write four figures, such as 0730, with a Z for UTC.", typed))
		case len(approach.Find(nil, word).Unknown) > 0: // no word of an approach
			near := b.stations.Nearest(typed, 3)
			text := fmt.Sprintf("%s is not a station firn knows.", strings.ToUpper(typed))
			if len(near) > 0 {
				text = fmt.Sprintf("%s is not a station firn knows; nearest: %s.", strings.ToUpper(typed), strings.Join(near, ", "))
			}
			return nil, say(typed, text)
		default:
			s.names = append(s.names, word)
		}
	}
	for _, s := range all {
		if !s.timed {
			return nil, say(s.station.Ident, fmt.Sprintf("When is the arrival at %s? Give the local time, or UTC with a Z.", s.station.Ident))
		}
	}
	switch {
	case len(all) == 0:
		return nil, say("brief", "“brief” takes stations, each with its arrival time.")
	case len(all) > mostStops:
		return nil, say("brief", fmt.Sprintf("These are %d arrivals; ask for at most %d at a time.", len(all), mostStops))
	}
	return all, nil
}

// briefLine is the line to type, with what was understood.
func (b *Bot) briefLine(all []stop) string {
	if len(all) == 0 {
		return briefExample
	}
	line := "brief"
	for _, s := range all {
		if s.alternate {
			line += " alternate"
		}
		line += " " + s.station.Ident
		if s.timed {
			line += " " + s.word
			line += [...]string{"", " today", " tomorrow"}[s.day]
		} else {
			line += " hhmm"
		}
		if len(s.names) > 0 {
			line += " " + strings.Join(s.names, " ")
		}
	}
	return line
}

// arrival is the time of a stop: the first such on the clock that is not
// before earliest, unless the day was said.
func (s *stop) arrival(now, earliest time.Time) time.Time {
	zone := s.station.Zone
	if s.utc {
		zone = time.UTC
	}
	y, m, d := now.In(zone).Date()
	switch s.day {
	case 1:
		return time.Date(y, m, d, s.hour, s.min, 0, 0, zone)
	case 2:
		return time.Date(y, m, d+1, s.hour, s.min, 0, 0, zone)
	}
	for i := -1; ; i++ {
		if t := time.Date(y, m, d+i, s.hour, s.min, 0, 0, zone); !t.Before(earliest) {
			return t
		}
	}
}

// local is an arrival's time for people there, with the day told apart.
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
func (b *Bot) arrival(ctx context.Context, s *stop, when, now time.Time) (_ reply.Arrival, fixed stop, _ *parse.Problem, _ error) {
	st := s.station
	a := reply.Arrival{
		Station: reply.Station{Ident: st.Ident, Name: st.Name, ElevationFt: float64(st.Elevation), Known: true},
		At:      when.UTC(), Local: localTime(when, now, st.Zone), Alternate: s.alternate,
	}
	if st.Restriction != nil {
		a.RestrictionC = reply.Some(float64(*st.Restriction))
	}
	if s.day > 0 && when.Before(now.Add(-time.Hour)) {
		fixed = *s
		fixed.day = 2
		return a, fixed, &parse.Problem{Word: s.word, Text: fmt.Sprintf("%s at %s has gone by.", s.word, st.Ident)}, nil
	}
	approaches, fixed, problem, err := b.named(ctx, s)
	if problem != nil || err != nil {
		return a, fixed, problem, err
	}
	around := coldwatch.Around(when)
	j, err := b.coldest(ctx, st, around)
	if err != nil {
		return a, *s, nil, err
	}
	a.Note = strings.NewReplacer("of the duty window", "of the hours around the arrival", "the duty window", "the hours around the arrival").Replace(j.Note)
	if j.State == coldwatch.NoForecast {
		if a.Note == "" {
			a.Note = "there is no forecast for the arrival"
		}
		return a, *s, nil, nil
	}
	a.TemperatureC, a.TemperatureSource, a.Issued = reply.Some(math.Floor(float64(j.Low)*10+1e-9)/10), j.Source, j.Issued.UTC()
	a.Bound = j.Bound(around)
	return a, *s, nil, b.plan(&a, st, approaches, j.Low, now)
}

// named are the procedures of a stop: those that were named, else the usual
// ones of the base.
func (b *Bot) named(ctx context.Context, s *stop) (out []*approach.Approach, fixed stop, _ *parse.Problem, _ error) {
	names := s.station.Usual
	if len(s.names) > 0 {
		names = []string{strings.Join(s.names, " ")}
	}
	if len(names) == 0 || b.ports.Procedures == nil {
		return nil, *s, nil, nil
	}
	all, err := b.ports.Procedures.Procedures(ctx, s.station.Ident)
	if err != nil {
		return nil, *s, nil, fmt.Errorf("procedures of %s: %w", s.station.Ident, err)
	}
	for _, name := range names {
		found := approach.Find(all, name)
		a, one := found.One()
		if !one && len(s.names) > 0 {
			p := whichProcedure(parse.Request{Station: s.station.Ident, Procedure: name}, found, len(all))
			fixed := *s
			fixed.names = nil
			for _, near := range [][]*approach.Approach{found.Fits, found.Near} {
				if len(near) > 0 && fixed.names == nil {
					fixed.names = []string{near[0].Name}
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

// coldest judges the hour before to the hour after an arrival.
func (b *Bot) coldest(ctx context.Context, st *config.Station, w coldwatch.Window) (coldwatch.Judgement, error) {
	forecasts, err := b.ports.Forecasts.Forecasts(ctx, st.Ident)
	if err != nil && ctx.Err() != nil {
		return coldwatch.Judgement{}, ctx.Err()
	}
	if len(forecasts) == 0 {
		note := "no source has a forecast for " + st.Ident
		if err != nil && !errors.Is(err, weather.ErrNone) {
			b.log.WarnContext(ctx, "no forecast for a brief", "station", st.Ident, "err", err)
			note = "the weather sources do not answer for " + st.Ident
		}
		return coldwatch.Judgement{State: coldwatch.NoForecast, Note: note}, nil
	}
	line := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	if st.Restriction != nil {
		line.Restriction = *st.Restriction
	}
	js := make([]coldwatch.Judgement, len(forecasts))
	for i := range forecasts {
		js[i] = coldwatch.Judge(w, line, &forecasts[i].Forecast)
	}
	return coldwatch.Choose(w, b.stations.Alerts.Disagree, js...), nil
}

// plan works the procedures out at the coldest temperature, and finds the
// next colder one that changes a figure.
func (b *Bot) plan(a *reply.Arrival, st *config.Station, list []*approach.Approach, c engine.Celsius, now time.Time) error {
	in := ruleset.Input{Outside: b.outside, Mountainous: st.Mountainous, Designated: designated(st)}
	if st.Restriction != nil {
		in.Restriction, in.HasPublished = *st.Restriction, true
	}
	at := func(c engine.Celsius, points []procedure.Point) (ruleset.Result, error) {
		in.Air, in.Points = correction.Air{Temperature: c, Source: st.SourceElevation}, points
		if len(points) == 0 {
			return b.rules.Evaluate(statusInput(in))
		}
		return b.rules.Evaluate(in)
	}
	first, err := at(c, nil)
	if err != nil {
		return err
	}
	required := first.Required
	var before []ruleset.Result
	for _, p := range list {
		res, err := at(c, p.Points())
		if err != nil {
			return err
		}
		required = required || res.Required
		before = append(before, res)
		sc := reply.Scene{
			Ident: st.Ident, Elevation: st.Elevation, Source: st.SourceElevation, Set: b.rules, Outside: b.outside,
			Temperature: reply.Temperature{C: c},
			Procedure:   reply.Procedure{Name: p.Name, Source: p.Source, Cycle: p.Cycle, Ends: p.End, Begins: p.Effective, Gaps: p.Gaps()},
		}
		switch p.At(a.At) {
		case approach.Expired:
			sc.Procedure.Standing = reply.ProcedureEnded
		case approach.NotYet:
			sc.Procedure.Standing = reply.ProcedureNotYet
		}
		b.path(&sc, p, parse.Request{})
		a.Procedures = append(a.Procedures, reply.ArrivalPlanOf(sc, res))
	}
	a.Required = reply.TruthOf(required)
	for step := 1; step <= 40; step++ {
		colder := engine.Celsius(math.Floor(float64(c))) - engine.Celsius(step-1)
		if colder >= c {
			continue
		}
		changed := false
		now, err := at(colder, nil)
		if err != nil {
			break // colder than any rule set has an answer to
		}
		changed = now.Required && !first.Required
		for i, p := range list {
			res, err := at(colder, p.Points())
			if err != nil {
				return nil
			}
			for k := range res.Lines {
				changed = changed || res.Lines[k].Corrected != before[i].Lines[k].Corrected
			}
		}
		if changed {
			a.RecomputeC = reply.Some(float64(colder))
			break
		}
	}
	return nil
}

// Forecasts are those of a station, one a source; weather.Chain has them.
type Forecasts = watch.Forecaster
