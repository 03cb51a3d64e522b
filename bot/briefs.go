package bot

import (
	"slices"
	"strings"

	"firn/bot/parse"
)

// rebrief reads a follow-up of a brief that is no bare time: one more arrival,
// the same for another station or at another time, the procedure. ok is false
// where the message is none, and stands alone.
func rebrief(arrivals []parse.Stop, req *parse.Request) (out []parse.Stop, ok bool) {
	n := len(arrivals)
	if n == 0 {
		return nil, false
	}
	out = slices.Clone(arrivals)
	by := req.Terms().Over(out[0].By)
	defer func() { // also of a stop that comes
		for i := range out {
			out[i].By = by
		}
	}()
	switch {
	case req.Verb == parse.Brief && req.Also:
		for _, s := range req.Stops {
			s.At = zonedAs(out[n-1].At, s.At)
			if at := slices.IndexFunc(out, func(o parse.Stop) bool { return o.Station == s.Station }); at >= 0 {
				out[at].At = s.At
			} else {
				out = append(out, s)
			}
		}
		return out, true
	case req.Verb == parse.Brief && req.Instead && len(req.Stops) == 1: // "XKLD is rather 1450z"
		at := slices.IndexFunc(out, func(o parse.Stop) bool { return o.Station == req.Stops[0].Station })
		if at < 0 {
			return nil, false
		}
		out[at].At = moved(out[at].At, req.Stops[0].At)
		return out, true
	case req.Verb == parse.Add && req.Station != "" && req.At.Said && len(req.Altitudes) == 0:
		return append(out, parse.Stop{Station: req.Station, Procedure: req.Procedure, At: zonedAs(out[n-1].At, req.At)}), true
	case req.Verb == parse.Remove && req.Station != "" && len(req.Gone) == 0 && n > 1:
		out = slices.DeleteFunc(out, func(o parse.Stop) bool { return o.Station == req.Station })
		return out, len(out) > 0 && len(out) < n
	case req.Verb == parse.Same && req.Station != "" && !req.HasTemperature && !req.HasElevation && len(req.Altitudes) == 0:
		at := out[n-1].At
		if req.At.Said {
			at = zonedAs(at, req.At)
		}
		return []parse.Stop{{Station: req.Station, Procedure: req.Procedure, At: at}}, true
	case req.Verb == parse.Correct && n == 1 && req.Instead && req.Station != "" && onlyStation(*req):
		return []parse.Stop{{Station: req.Station, At: out[0].At, Alternate: out[0].Alternate}}, true
	case req.Verb == parse.Correct && onlyTerms(*req): // "icao", "with sbas", "lnav", "via XEMBA"
		return out, true
	case req.Verb == parse.Correct && n == 1 && onlyProcedure(*req):
		out[0].Procedure = req.Procedure
		return out, true
	}
	return nil, false
}

// onlyStation says that a request names a station and nothing else.
func onlyStation(req parse.Request) bool {
	named := req.Station != ""
	if req.Station = ""; req.Verb == parse.Same {
		req.Verb = parse.Correct
	}
	return named && req.Empty() && !req.At.Said && !req.Latest
}

// onlyTerms says that a request names a rule set, what the aircraft has, a line of
// minimums or the way in, and nothing else.
func onlyTerms(req parse.Request) bool {
	by := req.Terms()
	req.Rules, req.Compensated, req.SBAS, req.Remote, req.Minima, req.Way, req.Additive = "", "", "", "", "", parse.Way{}, 0
	return by != (parse.Terms{}) && req.Empty() && !req.At.Said && !req.Latest
}

// onlyProcedure says that a request names a procedure and nothing else.
func onlyProcedure(req parse.Request) bool {
	name := req.Procedure
	req.Procedure = ""
	return len(name) > 1 && req.Empty() && !req.At.Said && !req.Latest
}

// inThread reads what a message says only in its thread: the time of an arrival
// that was briefed, the fix that the crew comes in by.
func (b *Bot) inThread(th *thread, req *parse.Request, problem *parse.Problem) (*parse.Request, *parse.Problem) {
	briefed := len(th.arrivals) > 0 && len(req.Altitudes) == 1 && !req.HasTemperature
	switch {
	case req.OffScale() && req.Empty() && th.answered && th.request.Station != "": // "1055 hPa" behind an answer
		again := th.request
		again.SettingInHg, again.SettingHPa = req.SettingInHg, req.SettingHPa
		return &again, nil
	case problem == nil && req.Verb == parse.Watch && len(req.Stops) == 0 && !req.Everywhere: // "tonight?"
		ident := th.request.Station
		if th.ahead != nil && th.ahead.Verb == parse.Watch {
			ident = th.ahead.Station
		}
		next := watchOf(ident, *req)
		return &next, nil
	case problem == nil && th.ahead != nil && th.ahead.Verb == parse.Route && ofRoute(*req): // "-30", "min 14000"
		next := th.ahead.Again(*req)
		return &next, nil
	case problem == nil && th.ahead != nil && th.ahead.Verb == parse.Watch && (req.Also || req.Instead || req.Verb == parse.Same) && onlyStation(*req): // "and XTAR?"
		next := watchOf(req.Station, *th.ahead)
		return &next, nil
	case problem != nil && problem.At.Said && briefed && req.Station != "" && !slices.ContainsFunc(th.arrivals, func(s parse.Stop) bool { return s.Station == req.Station }): // "and XGLN 1700 vor a"
		return &parse.Request{Verb: parse.Brief, Also: true, Stops: []parse.Stop{{Station: req.Station, Procedure: req.Procedure, At: problem.At}}}, nil
	case problem != nil && problem.At.Said && briefed: // "1545 for XGLN"
		return &parse.Request{Station: req.Station, At: problem.At}, nil
	case problem != nil && problem.Sole && problem.Asks && th.answered && b.knownFix(th.request.Station, problem.Word): // "what do I fly at XOLMI"
		again := th.request
		again.Verb = parse.Correct
		return &again, nil
	case problem != nil:
		if fix := problem.Word; problem.Sole && !th.question.Way && th.request.Station != "" && b.knownFix(th.request.Station, fix) { // "XEMBA"
			return &parse.Request{Way: parse.Way{Kind: parse.Via, Fix: strings.ToUpper(fix)}}, nil
		}
	case briefed && req.Verb == parse.Correct && req.Station == "" && req.Procedure == "":
		if c, ok := req.Altitudes[0].Clock(); ok { // "1530", in the zone of the times before it
			c.Zone = th.arrivals[len(th.arrivals)-1].At.Zone
			return &parse.Request{At: c}, nil
		}
	}
	return req, problem
}

// watchOf is a question about the forecast, of a station; empty: of all bases.
func watchOf(ident string, asked parse.Request) parse.Request {
	asked.Station, asked.Stops = ident, nil
	if ident != "" {
		asked.Stops = []parse.Stop{{Station: ident}}
	}
	return asked
}

// ofRoute says that a request changes the temperature or the minimum of a route,
// and says nothing else.
func ofRoute(req parse.Request) bool {
	if len(req.Altitudes) > 1 || len(req.Altitudes) == 1 && req.Altitudes[0].Role != 0 && !req.Altitudes[0].Role.Minimum() {
		return false
	}
	changes := req.HasTemperature || req.Latest || len(req.Altitudes) == 1
	req.HasTemperature, req.Altitudes = false, nil
	return changes && req.Empty() && !req.At.Said
}

// arriving is a bare time as a brief: of the arrival that was briefed before,
// with its station where it was one of several, else of what the thread is about.
func arriving(th *thread, typed *parse.Request) (*parse.Request, *parse.Problem) {
	if !typed.At.Said {
		return typed, nil
	}
	out, p := th.arrival(*typed)
	return &out, p
}

// arrival is arriving of a request that says a time.
func (th *thread) arrival(req parse.Request) (parse.Request, *parse.Problem) {
	about, station := &th.request, req.Station
	req.Station = ""
	if req.Verb == parse.Same && req.At.Said && len(th.arrivals) > 0 {
		req.Verb = parse.Correct // "same but 1910z"
	}
	bare := req.At.Said && req.Verb == parse.Correct && req.Empty()
	req.Station = station
	if !bare && req.At.Said && req.Verb == parse.Correct && station == "" {
		if !req.HasTemperature && len(req.Altitudes) == 0 && req.Procedure != "" && len(req.Open) == 0 && about.Station != "" { // "rnav 31 at 0600z"
			return parse.Request{Verb: parse.Brief, Stops: []parse.Stop{{Station: about.Station, Procedure: req.Procedure, At: req.At}}}, nil
		}
		req.NotUsed = append(slices.Clone(req.NotUsed), req.At.String())
	}
	if !bare {
		return req, nil
	}
	if len(th.arrivals) == 0 {
		if station != "" || about.Station == "" {
			return req, nil
		}
		return parse.Request{Verb: parse.Brief, Stops: []parse.Stop{{Station: about.Station, Procedure: about.Procedure, At: req.At, By: req.Terms().Over(about.Terms())}}}, nil
	}
	var names []string
	at := -1
	for i := range th.arrivals {
		s := &th.arrivals[i]
		if station == "" || s.Station == station {
			at = i
			names = append(names, s.Station)
		}
	}
	switch {
	case at < 0:
		return req, nil
	case len(names) > 1:
		p := &parse.Problem{Word: req.At.String(), Text: parse.WhichArrival(req.At.String(), names)}
		all := slices.Clone(th.arrivals)
		for i := range all {
			if all[i].At = moved(all[i].At, req.At); station == "" || all[i].Station == station {
				p.Choices = append(p.Choices, parse.Choice{Words: []string{strings.ToLower(all[i].Station)}, Line: parse.BriefLine(retimed(th.arrivals, i, req.At))})
			}
		}
		p.Choices = append(p.Choices, parse.Choice{Picks: []parse.Pick{parse.Both}, Aside: true, Line: parse.BriefLine(all)})
		return req, p
	}
	return parse.Request{Verb: parse.Brief, Stops: retimed(th.arrivals, at, req.At)}, nil
}
