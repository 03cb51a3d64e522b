package bot

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/airports"
	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/atmosphere"
	"firn/engine/baro"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
	"firn/engine/wxreport"
)

// answer works a complete request out, or says what is missing or wrong.
// What it is worked out to is in w, which begins empty and is otherwise not to be used.
func (b *Bot) answer(ctx context.Context, req *parse.Request, at time.Time, earlier string, w *worked) (*parse.Problem, error) {
	scene := &w.scene
	scene.Set, scene.Outside, scene.Earlier = b.set(req.Rules), b.outside, earlier
	scene.SettingInHg, scene.SettingHPa = req.SettingInHg, req.SettingHPa
	station, problem := b.field(req, scene)
	if problem != nil {
		return problem, nil
	}
	var stored *approach.Approach
	var found approach.Found
	if req.Procedure != "" {
		var err error
		if found, problem, err = b.stored(ctx, req, at, scene); problem != nil || err != nil {
			return problem, err
		}
		stored, _ = found.One()
	}
	if problem := b.temperature(ctx, req, at, scene); problem != nil {
		return problem, nil
	}
	in := inputOf(scene, station)
	if len(req.Altitudes) == 0 && stored == nil {
		return nil, b.status(ctx, req, station, in, at, w)
	}
	f, problem := altitudes(req, scene, stored != nil)
	if problem != nil {
		return problem, nil
	}
	b.guidance(scene, stored, req, station)
	line := req.Minima
	if stored != nil {
		line = cmp.Or(line, found.Line)
		if ils, ok := strings.CutPrefix(scene.Procedure.Name, "ils"); ok && found.Line == "loc" && line != "ils" {
			scene.Procedure.FlownAs = "loc" + ils // as it was asked for, and as the call has it
		}
		if f, problem = beside(stored, f, line); problem != nil {
			return problem, nil
		}
		f.ways = stored.Ways()
	}
	if f, problem = withoutSBAS(f, line, req.SBAS); problem != nil {
		return problem, nil
	}
	if f, problem = leaveLines(f, req.Without); problem != nil {
		return problem, nil
	}
	scene.Others = reply.Unbarred(f.points)
	if f, problem = chooseLine(f, line, scene.Procedure.Name); problem != nil {
		return problem, nil
	}
	f, way, problem := wayIn(f, req, station)
	if problem != nil && (req.Way != (parse.Way{}) || !scene.Bar(f.points).Whole) {
		return problem, nil
	} else if problem != nil {
		way = parse.Way{} // nothing is asked on the radio, and what forbids is not kept behind a question
	}
	additive(f.points, stored, scene.Guidance.Remote, req.Additive)
	in.Points = f.points
	b.path(scene, stored, f.points)
	scene.Barred = scene.Bar(f.points)
	res, err := evaluate(scene.Set, station, in)
	if err != nil {
		return nil, err
	}
	b.offer(scene, *req, at)
	if line == "" && slices.Contains(req.Without, "ils") && hasLine(f.points, "loc") {
		line = "loc" // without its glideslope
	}
	var room [4]ruleset.Request
	res, requests := radio(room[:0], scene, res, callOptions(f, way, stored, line, found.Line, station))
	r := &w.reply
	*r = reply.Correction(scene, res, requests, f.metres, req.Verb == parse.Why)
	told(r, scene.Set, res, station, at)
	r.Notes = slices.Concat(r.Notes, f.notes, offTheWay(f, req, way), additiveLost(f.points, req.Additive))
	if req.Verb == parse.Picture {
		r.Picture = cmp.Or(req.Kind, pictureProfile)
	}
	w.res, w.req, w.why = res, *req, req.Verb == parse.Why || req.Verb == parse.Picture
	return nil, nil
}

// inputOf is what the rules are asked with, but for the points.
func inputOf(scene *reply.Scene, station *config.Station) ruleset.Input {
	in := ruleset.Input{
		Air:         correction.Air{Temperature: scene.Temperature.C, Source: scene.Source},
		Outside:     scene.Outside,
		Designated:  everySegment,
		FieldAbove:  engine.Feet(scene.Elevation - scene.Source),
		Mountainous: station == nil || station.Mountains(),
	}
	if station != nil {
		in.Restriction, in.HasPublished = scene.Restriction, scene.Restricted
		in.Designated = designated(station)
	}
	return in
}

// status answers a request with no altitudes: whether the airport is restricted.
func (b *Bot) status(ctx context.Context, req *parse.Request, station *config.Station, in ruleset.Input, at time.Time, w *worked) error {
	scene, r := &w.scene, &w.reply
	res, err := evaluate(scene.Set, station, statusInput(in))
	if err != nil {
		return err
	}
	*r = reply.Status(scene, res)
	if r.Stops, err = b.usualStops(ctx, req, *scene, station, at); err != nil {
		return err
	}
	told(r, scene.Set, res, station, at)
	w.res, w.req = res, *req
	return nil
}

// radio makes the call and the other sentences, and gives the result as it is
// flown: by avionics that correct for temperature it is a cross-check, and what is
// said is of its rows like any other. Vectored altitudes are not in the box: what is
// added to them is asked for all the same. The sentences stand behind those it is given.
func radio(requests []ruleset.Request, scene *reply.Scene, res ruleset.Result, opt ruleset.CallOptions) (ruleset.Result, []ruleset.Request) {
	opt.Air = correction.Air{Temperature: scene.Temperature.C, Source: scene.Source}
	if scene.Guidance.Compensated {
		res = res.CrossCheck(opt.Air)
	}
	scene.Transition = opt.Transition
	call, ok := scene.Set.CallFor(res, opt)
	scene.Ceiling, scene.CeilingAt = call.Ceiling, call.CeilingAt
	if ok {
		scene.Call = &reply.Call{Way: call.Way, When: call.When, Text: call.Text, Spoken: call.Spoken, Source: call.Source}
	}
	return res, scene.Set.AppendRequests(requests, res, opt.Transition)
}

// everySegment is designated where nobody says which are.
var everySegment = []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}

// offer sets what the reply's buttons ask: the working, and the same with the
// latest temperature where there is one to look up.
func (b *Bot) offer(scene *reply.Scene, req parse.Request, at time.Time) {
	req.Verb, req.Kind = parse.Correct, ""
	line := req.AppendLine(append(make([]byte, 0, 192), "why "...))
	why := len(line)
	if b.ports.Pictures {
		scene.Card = b.ports.Book != nil
		line = append(line, "picture "...)
		line = append(line, line[len("why "):why]...)
	}
	drawn := len(line)
	if b.ports.Observer != nil && req.Station != "" && req.HasTemperature {
		req.HasTemperature = false
		line = req.AppendLine(line)
		if known, ok := b.ports.Observer.(record.Knower); ok && !at.IsZero() {
			if o, ok := known.Known(req.Station); ok {
				scene.Known = reply.KnownTemperature(o.C, at.Sub(o.At))
			}
		}
	}
	all := string(line)
	scene.Line, scene.Why, scene.Picture, scene.Latest = all[len("why "):why], all[:why], all[why:drawn], all[drawn:]
}

// statusInput asks about one altitude of no segment just above the source:
// whether anything at all is to be corrected here and now.
func statusInput(in ruleset.Input) ruleset.Input {
	in.Points = []procedure.Point{{Altitude: engine.Height(1000).Over(in.Air.Source)}}
	return in
}

// field finds the station or takes the elevation that was typed.
func (b *Bot) field(req *parse.Request, scene *reply.Scene) (*config.Station, *parse.Problem) {
	var typed engine.Altitude
	if req.HasElevation {
		typed = engine.Altitude(req.Elevation.Feet())
		if typed < airports.LowestField || typed > airports.HighestField {
			return nil, &parse.Problem{Word: "elev", Text: fmt.Sprintf("An elevation of %.0f ft is no airfield's.", float64(typed))}
		}
	}
	if req.Station == "" {
		if !req.HasElevation {
			return nil, &parse.Problem{Text: "The station is missing; give its ident, or the field elevation as in “elev 4802”."}
		}
		scene.Elevation, scene.Source = typed, typed
		return nil, nil
	}
	station, ok := b.stations.Station(req.Station)
	if !ok {
		return nil, &parse.Problem{Word: req.Station, Text: parse.UnknownStation(req.Station)}
	}
	if p := elevate(station, typed, req.HasElevation); p != nil {
		return nil, p
	}
	if req.HasElevation && typed != station.Elevation {
		return nil, &parse.Problem{
			Word: "elev",
			Text: fmt.Sprintf("%s lies at %.0f ft, not at %.0f ft; leave one of the two out.", station.Ident, float64(station.Elevation), float64(typed)),
		}
	}
	scene.Ident, scene.Name = station.Ident, station.Name
	scene.Elevation, scene.Source, scene.Altimeter = station.Elevation, station.HeightsFrom(), station.SourceElevation
	if station.Restriction != nil {
		scene.Restriction, scene.Restricted = *station.Restriction, true
	}
	return station, nil
}

// lineWithout is the request's line after a change, with a word in front.
func lineWithout(req parse.Request, change func(*parse.Request), front string) string {
	req.Altitudes = slices.Clone(req.Altitudes)
	change(&req)
	return cmp.Or(strings.TrimSpace(front+" "+req.Line()), parse.Example)
}

// temperature takes the request's own, else the station's latest observation.
func (b *Bot) temperature(ctx context.Context, req *parse.Request, at time.Time, scene *reply.Scene) *parse.Problem {
	if !req.HasTemperature {
		if req.HasReport {
			return &parse.Problem{Text: "The pasted report has no temperature; give one."}
		}
		if b.ports.Observer == nil || req.Station == "" {
			return &parse.Problem{Text: "What is the temperature?"}
		}
		return b.observed(ctx, req, scene)
	}
	if req.HasReport && req.Report.Temperature().OK && !req.Report.Believed() && req.Temperature == req.Report.Temperature().C {
		p := &parse.Problem{Text: fmt.Sprintf("What is the temperature? The report is not used: %s.", req.Report.Doubt())}
		if req.Temperature > 0 { // it may lack its minus
			p.Try = lineWithout(*req, func(r *parse.Request) {
				r.HasReport, r.Report = false, wxreport.Metar{}
				r.Temperature = -r.Temperature
			}, "")
		}
		return p
	}
	scene.Temperature = reply.Temperature{C: req.Temperature, Fahrenheit: req.Fahrenheit, InF: req.InFahrenheit}
	if req.HasReport && req.Report.Temperature().OK {
		scene.Temperature.Report, scene.Temperature.FromReport = req.Report, true
		if issued := req.Report.Issued(at); !issued.IsZero() {
			scene.Temperature.At, scene.Temperature.Age, scene.Temperature.AgeKnown = issued, at.Sub(issued), true
		}
	}
	return nil
}

// observed takes the station's latest observation. One that is too old to be
// used is told, never used: the crew may know better.
func (b *Bot) observed(ctx context.Context, req *parse.Request, scene *reply.Scene) *parse.Problem {
	o, err := b.ports.Observer.Observation(ctx, req.Station)
	if err != nil {
		text := "What is the temperature? The weather sources do not answer for " + req.Station + "."
		var missing *weather.Missing
		switch {
		case errors.Is(err, weather.ErrNone):
			text = "What is the temperature? No weather source has an observation of " + req.Station + "."
		case errors.Is(err, weather.ErrStale) && errors.As(err, &missing):
			text = "What is the temperature? The latest observation of " + req.Station + " is too old to use (" + old(missing) + ")."
		default:
			b.log.WarnContext(ctx, "no observation", "station", req.Station, "err", err)
			if why := weather.Unreadable(err); why != "" {
				text = "What is the temperature? Of " + req.Station + " " + why + "."
			}
		}
		return &parse.Problem{Text: text}
	}
	t := reply.Temperature{C: o.C, Observed: o.Source, At: o.At, Age: o.Age, AgeKnown: true, Kept: o.Kept, Newer: o.Newer}
	if m, _, err := wxreport.ParseMetar(o.Raw); err == nil && m.Temperature().OK && m.Temperature().C == o.C {
		t.Report = m
	}
	for _, p := range o.Passed {
		// That a source has nothing for a station is no news.
		if !errors.Is(p.Err, weather.ErrNone) {
			t.Passed = append(t.Passed, p.Source)
		}
	}
	scene.Temperature = t
	return nil
}

// old says what made each source's observation too old.
func old(m *weather.Missing) string {
	var parts []string
	for _, p := range m.Passed {
		if errors.Is(p.Err, weather.ErrStale) {
			parts = append(parts, p.Source+": "+strings.TrimSuffix(p.Err.Error(), ": "+weather.ErrStale.Error()))
		}
	}
	return strings.Join(parts, "; ")
}

// stored finds the procedure that a message names.
func (b *Bot) stored(ctx context.Context, req *parse.Request, at time.Time, scene *reply.Scene) (approach.Found, *parse.Problem, error) {
	if b.ports.Procedures == nil || req.Station == "" {
		return approach.Found{}, b.noProcedure(req), nil
	}
	all, err := b.ports.Procedures.Procedures(ctx, req.Station)
	if err != nil {
		return approach.Found{}, nil, fmt.Errorf("procedures of %s: %w", req.Station, err)
	}
	found := approach.Find(all, req.Procedure)
	a, one := found.One()
	if !one {
		if len(found.Fits)+len(found.Near) == 0 {
			for i := range all { // better all there are than none
				found.Near = append(found.Near, &all[i])
			}
		}
		return found, b.withLeftOut(b.whichProcedure(req, found, len(all)), req.Station), nil
	}
	scene.Procedure = reply.Procedure{Name: a.Name, Source: a.Source, Cycle: a.Cycle, Ends: a.End, Begins: a.Effective, Gaps: a.Gaps()}
	if text := b.leftOut(req.Station, true); text != "" {
		scene.Procedure.Gaps = append(scene.Procedure.Gaps, text)
	}
	scene.Procedure.Standing = standing(a, at)
	return found, nil, nil
}

// standing is whether an approach may be used at a time.
func standing(a *approach.Approach, at time.Time) reply.Standing {
	switch a.At(at) {
	case approach.Expired:
		return reply.ProcedureEnded
	case approach.NotYet:
		return reply.ProcedureNotYet
	}
	return reply.ProcedureCurrent
}

// whichProcedure asks where the words mean none or several.
func (b *Bot) whichProcedure(req *parse.Request, found approach.Found, stored int) *parse.Problem {
	list, text := found.Fits, "“%s” is several procedures of %s: %s; say which."
	if len(list) == 0 {
		list, text = found.Near, "No procedure “%s” is stored for %s; there is %s."
	}
	if len(list) == 0 || stored == 0 {
		return b.noProcedure(req)
	}
	names := make([]string, len(list))
	for i, a := range list {
		names[i] = a.Name
		if len(found.Fits) > 0 && a.Source != "" && i > 0 && names[i] == names[i-1] {
			names[i] += " (" + a.Source + ")"
		}
	}
	if b.ports.StoreShut && len(found.Fits) == 0 {
		text = "No procedure “%s” is typed for %s, where there is %s; imported ones are in the store, which is not open here."
	}
	p := &parse.Problem{Word: req.Procedure, Named: true, Text: fmt.Sprintf(text, req.Procedure, req.Station, strings.Join(names, ", "))}
	with := func(name string) string {
		return lineWithout(*req, func(r *parse.Request) { r.Procedure = name }, "")
	}
	switch {
	case len(found.Fits) > 0:
		p.Either = true // none is picked for the crew
		for _, a := range list {
			p.Choices = append(p.Choices, parse.Choice{Words: a.ToldBy(list), Line: with(a.Name)})
		}
	case len(list) == 1 && approach.SameKind(req.Procedure, list[0]):
		p.Try = with(list[0].Name)
	case len(list) == 1:
		p.Meant = with(list[0].Name) // a "yes" takes it; it is not what was asked for
	}
	return p
}

// path says what the temperature does to the published vertical path, of the
// lines in use.
func (b *Bot) path(scene *reply.Scene, a *approach.Approach, points []procedure.Point) {
	if a == nil {
		return
	}
	p := reply.Path{Barometric: a.HasAngle && len(a.Minimums) == 0 && a.Barometric()}
	for i := range points {
		switch q := &points[i]; {
		case q.Role == procedure.DecisionAltitude && q.Barometric:
			p.Barometric = a.HasAngle
		case q.Role == procedure.DecisionAltitude && q.Label != "":
			p.Guided = append(p.Guided, q.Label)
		case q.Role == procedure.FinalFix && !q.NoAltitude:
			p.Final, p.FinalAt = q.Fix, q.Altitude
		}
	}
	if p.Barometric {
		p.Published = a.VerticalAngle
		p.Effective = baro.EffectiveAngle(a.VerticalAngle, atmosphere.Air{Temperature: scene.Temperature.C, Source: scene.Source})
	}
	scene.Path = &p
}

func (b *Bot) noProcedure(req *parse.Request) *parse.Problem {
	bare := *req
	bare.Procedure = ""
	p := &parse.Problem{
		Word: req.Procedure,
		Text: fmt.Sprintf("No procedure “%s” is stored for %s; type its altitudes.", req.Procedure, cmp.Or(req.Station, "this field")),
	}
	if b.ports.StoreShut {
		p.Text = fmt.Sprintf("No procedure “%s” is typed for %s, and imported ones are in the store, which is not open here: ask in firn chat, on the page or in a channel, or type the altitudes.",
			req.Procedure, cmp.Or(req.Station, "this field"))
	}
	if len(bare.Altitudes) > 0 {
		p.Try = strings.TrimSpace(bare.Line())
	}
	return p
}

// designated are the station's listed segments; a station with a restriction
// and no list has them all, since none may be left out unseen.
func designated(s *config.Station) []procedure.Segment {
	if len(s.Segments) == 0 {
		return everySegment
	}
	var out []procedure.Segment
	for _, id := range s.Segments {
		if seg, ok := procedure.ParseSegment(string(id)); ok {
			out = append(out, seg)
		}
	}
	return out
}
