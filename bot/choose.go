package bot

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// flown are the altitudes of an answer, with which were typed in metres.
type flown struct {
	points  []procedure.Point
	metres  reply.Metres
	ways    []string // that a stored procedure has, also where no row is theirs alone
	notes   []string // what became of what was typed
	instead []bool   // which of the points stand in place of the chart's; nil: none
}

// typed are the figures that were typed in metres, as the call names them.
func (f flown) typed() []string {
	if f.metres == nil {
		return nil
	}
	out := make([]string, len(f.points))
	for i := range f.points {
		if f.metres.At(i) {
			out[i] = reply.Metric(f.points[i].Altitude)
		}
	}
	return out
}

// keep leaves out what is not kept.
func (f flown) keep(kept func(*procedure.Point) bool) flown {
	out := flown{ways: f.ways, notes: f.notes}
	for i := range f.points {
		if !kept(&f.points[i]) {
			continue
		}
		out.points = append(out.points, f.points[i])
		if f.metres != nil {
			out.metres = append(out.metres, i < len(f.metres) && f.metres[i])
		}
	}
	return out
}

// guided are the lines whose pilots fly no step-downs in the final segment.
var guided = []string{"lpv", "gls", "ils", "lnav/vnav"}

// chooseLine drops the lines of minimums that were not chosen, and the
// step-downs of the final segment where the one that was has a glidepath. A
// minimum that was typed without a line's name is the one that was chosen.
func chooseLine(f flown, line, name string) (flown, *parse.Problem) {
	if line == "" {
		return f, nil
	}
	is := func(p *procedure.Point) bool {
		return approach.LineIs(p.Label, p.Role, line) || p.Label == "" && p.Role != procedure.Circling || p.Label == "minimums"
	}
	var others []string
	found := false
	for i := range f.points {
		if p := &f.points[i]; p.Role.Minimum() {
			found = found || is(p)
			others = append(others, p.Name())
		}
	}
	if !found && strings.HasPrefix(line, "rnp ") && !slices.ContainsFunc(others, func(name string) bool { return strings.HasPrefix(name, "RNP ") }) {
		f.notes = append(slices.Clone(f.notes), "Not used: "+strings.ToUpper(line)+".") // the accuracy of the whole approach
		return f, nil
	}
	if !found && len(others) > 0 {
		return f, &parse.Problem{
			Word: line,
			Text: fmt.Sprintf("%s has no %s line; it has %s.", cmp.Or(name, "This approach"), strings.ToUpper(line), strings.Join(others, ", ")),
		}
	}
	return f.keep(func(p *procedure.Point) bool {
		switch {
		case p.Role.Minimum():
			return is(p)
		case p.Role == procedure.StepDown && p.Segment == procedure.Final:
			return !slices.Contains(guided, line)
		}
		return true
	}), nil
}

// leaveLines takes lines of minimums away that are not flown; with the last
// without vertical guidance the step-downs of the final segment go.
func leaveLines(f flown, lines []string) (flown, *parse.Problem) {
	if len(lines) == 0 {
		return f, nil
	}
	had, left, steps, ils := false, false, false, false
	gone := func(p *procedure.Point) bool {
		return slices.ContainsFunc(lines, func(line string) bool { return approach.LineIs(p.Label, p.Role, line) })
	}
	for i := range f.points {
		p := &f.points[i]
		if !p.Role.Minimum() {
			continue
		}
		had = true
		switch {
		case gone(p):
			ils = ils || approach.LineIs(p.Label, p.Role, "ils")
			continue
		case !slices.ContainsFunc(guided, func(line string) bool { return approach.LineIs(p.Label, p.Role, line) }):
			steps = true
		}
		left = true
	}
	switch {
	case had && !left:
		return f, &parse.Problem{Word: lines[0], Text: fmt.Sprintf("Without %s no line of minimums is left here; which is flown?", strings.ToUpper(strings.Join(lines, " and ")))}
	case had && !ils && slices.Contains(lines, "ils"):
		return f, &parse.Problem{Word: "ils", Text: "There is no ILS line here to leave out; which line of minimums is flown?"}
	}
	return f.keep(func(p *procedure.Point) bool {
		if p.Role.Minimum() {
			return !gone(p)
		}
		return steps || !left || p.Role != procedure.StepDown || p.Segment != procedure.Final
	}), nil
}

// withoutSBAS takes the lines away that satellite guidance flies where a message
// says that the aircraft has none (FAA AIM 1-1-18: LPV and LP need WAAS).
func withoutSBAS(f flown, line, sbas string) (flown, *parse.Problem) {
	if sbas != "no" {
		return f, nil
	}
	var lines []string
	for _, own := range []string{"lpv", "lp"} {
		if hasLine(f.points, own) {
			lines = append(lines, own)
		}
	}
	if len(lines) == 0 {
		return f, nil
	}
	named := strings.ToUpper(strings.Join(lines, " and "))
	if slices.Contains(lines, line) {
		return f, &parse.Problem{Word: line, Text: fmt.Sprintf("Without SBAS there is no %s; which line of minimums is flown?", strings.ToUpper(line))}
	}
	f, problem := leaveLines(f, lines)
	f.notes = append(slices.Clone(f.notes), "Without SBAS there is no "+named+".")
	return f, problem
}

// wayWords are a way in for the rule set.
var wayWords = [...]string{
	parse.Unsaid: ruleset.WayVectors, parse.Vectors: ruleset.WayVectors, parse.VectorsInside: ruleset.WayVectorsInside, parse.Via: ruleset.WayVia,
	parse.InHold: ruleset.WayHold, parse.InTurn: ruleset.WayTurn, parse.Traffic: ruleset.WayTraffic,
}

// offTheWay says of what was typed for a fix that the way in does not come by that it
// is not used: "step XUBRI 9600" of one by XEMBA.
func offTheWay(f flown, req *parse.Request, way parse.Way) (notes []string) {
	for _, a := range req.Altitudes {
		if way.Fix != "" && a.Fix != "" && !slices.ContainsFunc(f.points, func(p procedure.Point) bool { return p.Fix == a.Fix }) {
			notes = append(notes, parse.OffTheWay(a.Fix, figure(a), way.Fix))
		}
	}
	return notes
}

// wayIn is how the crew comes in, with the altitudes of other ways left out.
func wayIn(f flown, req *parse.Request, st *config.Station) (flown, parse.Way, *parse.Problem) {
	way := req.Way
	way.Fix = strings.ToUpper(way.Fix)
	opening := f.openings()
	if way.Kind == parse.Unsaid && st != nil && st.NoRadar {
		switch {
		case len(opening) == 1:
			way = parse.Way{Kind: parse.Via, Fix: opening[0]}
		case len(opening) > 1:
			return f, way, viaWhich(*req, st.Ident, opening)
		default:
			way.Kind = parse.Via
		}
	}
	if way.Kind == parse.Unsaid {
		way.Kind = f.onlyWay()
	}
	switch unnamed := way.Kind == parse.Via && way.Fix == ""; {
	case unnamed && len(opening) > 1:
		return f, way, viaWhich(*req, "", opening)
	case unnamed && slices.ContainsFunc(f.points, func(p procedure.Point) bool { return p.Role == procedure.ProcedureTurn }):
		way.Kind = parse.InTurn
	case unnamed && len(opening) == 1:
		way.Fix = opening[0]
	}
	switch way.Kind {
	case parse.InHold:
		return f, parse.Way{Kind: way.Kind}, f.lacks(procedure.Hold, way.Fix, "hold", "hold in lieu of a procedure turn")
	case parse.InTurn:
		return f, parse.Way{Kind: way.Kind}, f.lacks(procedure.ProcedureTurn, way.Fix, "procedure turn", "procedure turn")
	}
	if way.Fix == "" {
		if way.Kind == parse.Traffic && way.In != parse.Unsaid {
			return f.trafficIn(way)
		}
		return f, way, nil
	}
	at := slices.IndexFunc(f.points, func(p procedure.Point) bool {
		return p.Fix == way.Fix && p.Role != procedure.FinalFix && (p.Segment == procedure.Initial || p.Segment == procedure.Intermediate)
	})
	if at < 0 && !slices.Contains(opening, way.Fix) {
		text := fmt.Sprintf("%s is no fix on the way in here", way.Fix)
		if slices.ContainsFunc(f.points, func(p procedure.Point) bool { return p.Fix == way.Fix && p.Role == procedure.FinalFix }) {
			text = fmt.Sprintf("%s is the final approach fix: nobody comes in by or inside it", way.Fix)
		}
		if len(opening) > 0 {
			text += "; the ways in are " + strings.Join(opening, ", ")
		}
		return f, way, &parse.Problem{Word: way.Fix, Text: text + "."}
	}
	if way.Kind == parse.Vectors {
		if at < 0 || f.points[at].Role != procedure.IntermediateFix {
			return f, way, &parse.Problem{Word: way.Fix, Way: true, Text: fmt.Sprintf("%s is not the intermediate fix, where vectors lead to; write “via %s” for a way in, or “vectors”.", way.Fix, way.Fix)}
		}
		return f, parse.Way{Kind: way.Kind}, nil
	}
	if way.Kind != parse.Via && way.Kind != parse.Traffic {
		return f, way, nil
	}
	if slices.Contains(opening, way.Fix) {
		f = f.keep(func(p *procedure.Point) bool { return p.On(way.Fix) })
		f.points = procedure.Along(f.points, way.Fix)
		return f, way, nil
	}
	// From a fix on the way: what opens the approach lies behind.
	final := f.points[at].Role == procedure.IntermediateFix || f.points[at].Segment == procedure.Intermediate
	return f.keep(func(p *procedure.Point) bool {
		return !p.Role.Opens() && !(final && p.Role == procedure.StepDown && p.Segment == procedure.Initial)
	}), way, nil
}

// onlyWay is a hold or a turn where nothing else is there that vectors could
// lead to: what is asked for is then that altitude.
func (f flown) onlyWay() parse.WayKind {
	way := parse.Unsaid
	for i := range f.points {
		switch p := &f.points[i]; p.Role {
		case procedure.InitialFix, procedure.IntermediateFix, procedure.FinalFix, procedure.ArrivalArea:
			return parse.Unsaid
		case procedure.Hold:
			way = parse.InHold
		case procedure.ProcedureTurn:
			way = parse.InTurn
		}
	}
	return way
}

// lacks says that there is no hold or turn to come in by, or none at the fix
// that the message names, which may be empty; nil where there is.
func (f flown) lacks(role procedure.Role, fix, word, name string) *parse.Problem {
	elsewhere := ""
	for i := range f.points {
		switch p := &f.points[i]; {
		case p.Role != role:
		case fix == "" || p.Fix == fix || p.Fix == "":
			return nil
		default:
			elsewhere = p.Fix
		}
	}
	missed := slices.ContainsFunc(f.points, func(p procedure.Point) bool { return fix != "" && p.Role == procedure.MissedHold && p.Fix == fix })
	if role == procedure.Hold && missed {
		return &parse.Problem{Word: fix, Way: true, Text: parse.MissedHoldAt(fix)}
	}
	if elsewhere == "" {
		return &parse.Problem{Word: word, Text: "There is no " + name + " among the altitudes."}
	}
	return &parse.Problem{Word: fix, Text: fmt.Sprintf("The %s is at %s, not at %s.", name, elsewhere, fix)}
}

// viaWhich asks how the crew comes in, at a station without radar where it is
// named; the fix alone answers it.
func viaWhich(req parse.Request, noRadar string, opening []string) *parse.Problem {
	ways := strings.Join(opening, ", ")
	p := &parse.Problem{Text: "Via which fix? The ways in are " + ways + "."}
	if noRadar != "" {
		p.Text = fmt.Sprintf("Via which fix? There is no radar at %s; the ways in are %s.", noRadar, ways)
	}
	for _, fix := range opening {
		p.Choices = append(p.Choices, parse.Choice{Words: []string{strings.ToLower(fix)}, Line: lineWithout(req, func(r *parse.Request) {
			r.Way = parse.Way{Kind: parse.Via, Fix: fix}
		}, "")})
	}
	return p
}

// openings are the fixes that ways in begin at.
func (f flown) openings() (fixes []string) {
	add := func(fix string) {
		if fix != "" && !slices.Contains(fixes, fix) {
			fixes = append(fixes, fix)
		}
	}
	for i := range f.points {
		p := &f.points[i]
		if p.Role.Opens() {
			add(p.Fix)
		}
		if p.From != "" {
			for _, w := range p.Ways() {
				add(w)
			}
		}
	}
	for _, w := range f.ways {
		add(w)
	}
	return fixes
}

// guidance is what bears on barometric guidance: the chart's limits, what the
// aircraft has, whose altimeter source it is.
func (b *Bot) guidance(scene *reply.Scene, a *approach.Approach, req *parse.Request, st *config.Station) {
	fleet := b.stations.Aircraft
	g := reply.Guidance{
		SBAS:        req.SBAS == "yes" || req.SBAS == "" && fleet.SBAS,
		Compensated: req.Compensated == "yes" || req.Compensated == "" && fleet.Compensated,

		SBASConfigured: req.SBAS == "", CompensationConfigured: req.Compensated == "",
		NoSBAS: req.SBAS == "no", NoCompensation: req.Compensated == "no",
	}
	if a != nil {
		g.Limits, g.Every = a.Baro, a.WholeByLimit()
		if a.Remote {
			g.Remote = reply.RemoteChart
		}
	}
	if st != nil && st.Remote && g.Remote == reply.Local {
		g.Remote = reply.RemoteStation
	}
	switch { // the crew has the setting that it flies with
	case req.Remote == "no":
		g.Remote = reply.Local
	case req.Remote == "yes" && g.Remote == reply.Local:
		g.Remote = reply.RemoteTyped
	}
	scene.Guidance = g
}

// additive adds to minimums what the chart asks for with a remote source: what the
// crew reads there, in feet, else what is stored.
func additive(points []procedure.Point, a *approach.Approach, remote reply.Remote, typed float64) {
	ft := engine.Feet(typed)
	if a != nil && typed == 0 {
		ft = a.RemoteAdditive
	}
	if remote == reply.Local || ft == 0 {
		return
	}
	for i := range points {
		if points[i].Role.Minimum() {
			points[i].Additive = ft
		}
	}
}

// callOptions are what the call is filled with.
// line is the chosen one, named the one that the approach was called by: who
// flies “loc 12” and circles asks for the localizer all the same.
func callOptions(f flown, way parse.Way, a *approach.Approach, line, named string, st *config.Station) ruleset.CallOptions {
	opt := ruleset.CallOptions{Way: wayWords[way.Kind], Fix: way.Fix, Typed: f.typed()}
	if a != nil {
		if line != "ils" {
			line = cmp.Or(named, line)
		}
		opt.Name, opt.SpokenName = a.Radio(line)
	}
	if st != nil {
		opt.Extra, opt.Transition = st.RequestExtra, st.Transition
	}
	return opt
}

// isFlightLevel: from 18 000 ft on a figure is one in the United States (FAA
// AIM 4-2-9).
const isFlightLevel engine.Altitude = 18000

// usualStops are what forbids at a station's usual procedures at the scene's
// temperature: who asks about the station alone flies one of them.
func (b *Bot) usualStops(ctx context.Context, req *parse.Request, scene reply.Scene, st *config.Station, at time.Time) (out []reply.Stop, _ error) {
	if st == nil || len(st.Usual) == 0 {
		return nil, nil
	}
	list, _, _, err := b.named(ctx, &parse.Stop{Station: st.Ident})
	if err != nil {
		return nil, err
	}
	for _, a := range list {
		b.guidance(&scene, a, req, st)
		scene.Procedure = reply.Procedure{Name: a.Name, Ends: a.End, Begins: a.Effective, Standing: standing(a, at)}
		for _, s := range scene.Bar(a.Points()).Stops {
			if s.Code != reply.StopAge { // which is no procedure's
				out = append(out, reply.Stop{Code: s.Code, Text: a.Name + ": " + s.Text})
			}
		}
	}
	return out, nil
}

// Usual is a procedure of a base as the watch shows it.
func (b *Bot) Usual(st *config.Station, a *approach.Approach) reply.UsualProcedure {
	var sc reply.Scene
	b.guidance(&sc, a, &parse.Request{}, st)
	points := a.Points()
	additive(points, a, sc.Guidance.Remote, 0)
	return reply.UsualProcedure{Name: a.Name, Points: points, Guidance: sc.Guidance}
}

// asILS is a request for the localizer's line of an ILS chart, named as
// an approach of its own, where another line is to stand beside it: the chart
// without its glideslope.
func (b *Bot) asILS(ctx context.Context, req parse.Request) parse.Request {
	rest, ok := strings.CutPrefix(req.Procedure, "loc")
	if !ok || b.ports.Procedures == nil {
		return req
	}
	all, err := b.ports.Procedures.Procedures(ctx, req.Station)
	if err != nil || approach.Find(all, req.Procedure).Line != "loc" {
		return req
	}
	if req.Procedure = "ils" + rest; !slices.Contains(req.Without, "ils") {
		req.Without = append(slices.Clone(req.Without), "ils")
	}
	return req
}
