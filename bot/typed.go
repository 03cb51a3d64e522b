package bot

import (
	"errors"
	"slices"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/procedure"
)

// altitudes makes the approach's points, refusing what cannot be: an altitude
// not above the field, a flight level, a label that fits no segment.
func altitudes(req *parse.Request, scene *reply.Scene, stored bool) (flown, *parse.Problem) {
	var room [12]parse.Altitude
	typed, problem := holds(room[:0], req, stored)
	if problem != nil {
		return flown{}, problem
	}
	f := flown{points: make([]procedure.Point, len(typed))}
	for i, a := range typed {
		p := procedure.Point{Label: a.Label, Fix: a.Fix, From: a.From, Role: a.Role, Meaning: a.Meaning, Altitude: seaLevel(a, scene)}
		if a.Meaning == procedure.Between {
			upper := a
			upper.Value = a.Upper
			p.Upper = seaLevel(upper, scene)
		}
		if a.Instead {
			if f.instead == nil {
				f.instead = make([]bool, len(typed))
			}
			f.instead[i] = true
		}
		if a.Metric {
			if f.metres == nil {
				f.metres = make(reply.Metres, len(typed))
			}
			f.metres[i] = true
		}
		switch {
		case p.Altitude <= scene.Elevation:
			return flown{}, belowField(req, i, scene.Elevation)
		case max(p.Altitude, p.Upper) >= isFlightLevel:
			return flown{}, &parse.Problem{
				Word: figure(a),
				Text: parse.AboveLevels(figure(a)), Wrong: a,
			}
		}
		p.Barometric = a.Role == procedure.DecisionAltitude && (a.Label == "LNAV/VNAV DA" || a.Label == "LNAV/VNAV" || a.Label == "" && req.Minima == "lnav/vnav")
		if a.Label == parse.ArcLabel {
			p.Segment = procedure.Initial
		}
		f.points[i] = p
	}
	if err := procedure.AssignSegments(f.points); err != nil {
		misfit, ok := errors.AsType[*procedure.Misfit](err)
		if !ok {
			return flown{}, &parse.Problem{Text: err.Error()}
		}
		return flown{}, &parse.Problem{Word: typed[misfit.Index].Name(), Text: parse.FitsNoSegment(misfit.Text)}
	}
	return f, nil
}

func seaLevel(a parse.Altitude, scene *reply.Scene) engine.Altitude {
	if a.Height {
		return engine.Height(a.Feet()).Over(scene.Elevation)
	}
	return engine.Altitude(a.Feet())
}

// belowField refuses an altitude that is not above the field; it may have
// been a height, or in metres. A figure without a label or a unit is offered as
// the one thing that it can be in feet; a labelled one is an altitude, and is
// never turned into a height.
func belowField(req *parse.Request, i int, ground engine.Altitude) *parse.Problem {
	a := req.Altitudes[i]
	word := figure(a)
	if a.Height {
		return &parse.Problem{Word: word, Text: parse.NoHeight(word, float64(ground)), Wrong: a}
	}
	p := &parse.Problem{
		Word: word,
		Text: parse.BelowField(word, float64(ground)), Wrong: a,
	}
	if a.Role == procedure.NoRole && a.Bare && len(req.Altitudes) == 1 && req.Procedure == "" {
		p.Try = lineWithout(*req, func(r *parse.Request) { r.Altitudes[i].Height = true }, "")
	}
	return p
}

func figure(a parse.Altitude) string {
	a.Role, a.Label, a.Fix = procedure.NoRole, "", ""
	return a.Name()
}

// holds gives holds and the altitudes of the missed approach their roles. A
// hold behind the missed approach or the minimums is the missed hold, one
// before them is in lieu of a procedure turn; where it could be either it is
// asked about. Of several altitudes of the missed approach the hold is the
// final one, else the highest. They are put behind out.
func holds(out []parse.Altitude, req *parse.Request, stored bool) ([]parse.Altitude, *parse.Problem) {
	list := req.Altitudes
	out = append(out, list...)
	for i := range out {
		a := &out[i]
		if a.Role != procedure.Hold || a.Label == parse.LieuLabel {
			continue
		}
		behind, final, before := false, false, false
		for j := range list {
			r := list[j].Role
			switch {
			case j < i:
				behind = behind || r == procedure.MissedHold || r.Minimum()
				final = final || r == procedure.FinalFix
			case j > i:
				before = before || r == procedure.InitialFix || r == procedure.IntermediateFix || r == procedure.FinalFix || r == procedure.ProcedureTurn
			}
		}
		switch {
		case behind && !before:
			a.Role, a.Label = procedure.MissedHold, parse.MissedHoldLabel
		case behind, final, stored:
			return nil, &parse.Problem{
				Word: "hold", Figure: figure(*a),
				Text: parse.WhichHold(figure(*a)),
				Choices: []parse.Choice{
					{Words: []string{"lieu", "hilpt", "procedure", "turn", "pt", "course", "reversal"}, Line: lineWithout(*req, func(r *parse.Request) { r.Altitudes[i].Label = parse.LieuLabel }, "")},
					{Words: []string{"missed", "ma", "climb", "miss"}, Line: lineWithout(*req, func(r *parse.Request) {
						r.Altitudes[i].Role, r.Altitudes[i].Label = procedure.MissedHold, parse.MissedHoldLabel
					}, "")},
				},
			}
		}
	}
	if p := climbs(req); p != nil {
		return nil, p
	}
	hold := -1
	for i := range out {
		if out[i].Role != procedure.MissedHold {
			continue
		}
		said := func(i int) bool { return out[i].Label == parse.MissedHoldLabel }
		if hold < 0 || said(i) && !said(hold) || said(i) == said(hold) && out[i].Feet() > out[hold].Feet() {
			hold = i
		}
	}
	return finalOne(out, hold), nil
}

// finalOne leaves one altitude of the missed approach that of the hold: the others are
// flown before it, but the one that is the hold's own, said once more.
func finalOne(list []parse.Altitude, hold int) []parse.Altitude {
	for i := len(list) - 1; i >= 0; i-- {
		switch a := &list[i]; {
		case a.Role != procedure.MissedHold || i == hold:
		case a.Feet() == list[hold].Feet() && a.Height == list[hold].Height: // "missed 10200", and then "hold is 10200"
			if list = slices.Delete(list, i, i+1); i < hold {
				hold--
			}
		default:
			a.Role, a.Label = procedure.MissedAltitude, ""
		}
	}
	return list
}

// climbs asks about altitudes without a label behind that of a missed approach, of
// which one is higher: "missed 7000, then 10200". The hold may be there.
func climbs(req *parse.Request) *parse.Problem {
	list := req.Altitudes
	first := slices.IndexFunc(list, func(a parse.Altitude) bool { return a.Role == procedure.MissedHold })
	if first < 0 || list[first].Label == parse.MissedHoldLabel || slices.ContainsFunc(list[first+1:], func(a parse.Altitude) bool { return a.Role == procedure.MissedHold || a.Role == procedure.Hold }) {
		return nil
	}
	top := first
	for i := first + 1; i < len(list) && list[i].Role == procedure.NoRole; i++ {
		if list[i].Feet() > list[top].Feet() {
			top = i
		}
	}
	if top == first {
		return nil
	}
	p := &parse.Problem{Word: figure(list[top]), Text: parse.IsHold(figure(list[top]))}
	p.Try = lineWithout(*req, func(r *parse.Request) {
		for i := first; i <= top; i++ {
			r.Altitudes[i].Role = procedure.MissedHold
		}
		r.Altitudes[top].Label = parse.MissedHoldLabel
	}, "")
	p.Choices = []parse.Choice{
		{Words: []string{"yes", "hold", "missed", "ma"}, Line: p.Try},
		{Words: []string{"no"}, Line: lineWithout(*req, func(r *parse.Request) {
			missed := r.Altitudes[first]
			r.Altitudes = slices.Insert(slices.Delete(r.Altitudes, first, first+1), top, missed)
		}, "")},
	}
	return p
}

// trafficIn has traffic told of the hold or the turn alone that the crew comes in by,
// with the initial fix that it begins at.
func (f flown) trafficIn(way parse.Way) (flown, parse.Way, *parse.Problem) {
	role, word := procedure.Hold, "hold"
	if way.In == parse.InTurn {
		role, word = procedure.ProcedureTurn, "procedure turn"
	}
	if problem := f.lacks(role, "", word, word); problem != nil {
		return f, way, problem
	}
	at := func(p *procedure.Point) bool {
		return slices.ContainsFunc(f.points, func(q procedure.Point) bool { return q.Role == role && (q.Fix == p.Fix || q.Fix == "" || p.Fix == "") })
	}
	return f.keep(func(p *procedure.Point) bool { return !p.Role.Opens() || p.Role == role || at(p) }), way, nil
}

// saysAll says that a message, as it reads without its thread, has all of the request,
// whose line is known.
func saysAll(typed, req *parse.Request, line string) bool {
	if typed == req {
		return true // its thread changed nothing in it
	}
	if typed.Verb == parse.Correct && req.Verb == parse.Correct { // the usual way, at half the price
		var room [192]byte
		if string(typed.AppendLine(room[:0])) == line {
			return true
		}
	}
	return readsSame(typed, req)
}
