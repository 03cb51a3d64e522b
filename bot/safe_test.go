package bot_test

import (
	"slices"
	"strings"
	"testing"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/baro"
	"firn/engine/procedure"
)

// chart is an invented RNAV (GPS) approach with a barometric line between -28
// and 47 °C, and a remote additive where it is asked for.
func chart(change func(*approach.Approach)) approach.Approach {
	leg := func(route approach.Route, fix string, role approach.Role, ft engine.Altitude) approach.Leg {
		return approach.Leg{Route: route, Transition: map[bool]string{true: fix}[route == approach.Transition], Fix: fix, Role: role,
			Initial: role == approach.InitialFix, Limit: approach.AtOrAbove, Altitude: ft}
	}
	a := approach.Approach{Ident: "XKLD", Code: "R31", Name: "rnav 31", Title: approach.Title{Kind: approach.RNAV, Runway: "31"},
		Legs: []approach.Leg{
			leg(approach.Transition, "XADLO", approach.InitialFix, 10900), leg(approach.Transition, "XEMBA", approach.InitialFix, 10500),
			leg(approach.FinalRoute, "XOLMI", approach.IntermediateFix, 8200), leg(approach.FinalRoute, "XIRTU", approach.FinalFix, 7400),
			leg(approach.FinalRoute, "XUPEN", approach.StepDown, 6100), leg(approach.MissedRoute, "XORLI", approach.MissedHold, 10200),
		},
		Minimums: []approach.Minimum{
			{Name: "LPV", Role: procedure.DecisionAltitude, Altitude: 5100},
			{Name: "LNAV/VNAV", Role: procedure.DecisionAltitude, Altitude: 5340, Barometric: true},
			{Name: "LNAV", Role: procedure.MinimumDescent, Altitude: 5460},
		},
		VerticalAngle: 3.1, HasAngle: true, Baro: baro.Limits{Low: -28, High: 47, HasLow: true, HasHigh: true},
	}
	if change != nil {
		change(&a)
	}
	a.Settle()
	return a
}

func charted(t *testing.T, config string, change func(*approach.Approach)) *bot.Bot {
	t.Helper()
	b := botOf(t, config)
	b.Use(bot.Ports{Procedures: charts{chart(change)}})
	return b
}

func rowOf(t *testing.T, r reply.Reply, label string) reply.Row {
	t.Helper()
	i := slices.IndexFunc(r.Altitudes, func(a reply.Row) bool { return a.Label == label || a.Fix == label })
	if i < 0 {
		t.Fatalf("no row %s: %s", label, state(r))
	}
	return r.Altitudes[i]
}

// What forbids, what it forbids, and what lifts it. Sources: AIM 7-3-3 a
// (strictly outside the limits), 5-4-5 (SBAS, remote source included).
func TestStops(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for _, c := range []struct {
		name, config, text string
		change             func(*approach.Approach)
		stops              string
		state              reply.State // of LNAV/VNAV
		call               bool
	}{
		{"at the low limit", plain, "XKLD rnav 31 -28", nil, "", reply.StateRequired, true},
		{"a tenth below it", plain, "XKLD rnav 31 -28.1", nil, "baro-limit", reply.StateNotUsable, true},
		{"at the high limit", plain, "XKLD rnav 31 +47", nil, "", reply.StateUnchanged, false},
		{"a tenth above it", plain, "XKLD rnav 31 +47.1", nil, "baro-limit", reply.StateNotUsable, false},
		{"a high limit that was not typed", plain, "XKLD rnav 31 +46", func(a *approach.Approach) { a.Baro.HasHigh = false }, "baro-limit", reply.StateNotUsable, false},
		{"SBAS in the message", plain, "XKLD rnav 31 -38 sbas", nil, "", reply.StateRequired, true},
		{"SBAS of the fleet", "aircraft: {sbas: true}\n" + plain, "XKLD rnav 31 -38", nil, "", reply.StateRequired, true},
		{"not this aircraft", "aircraft: {sbas: true}\n" + plain, "XKLD rnav 31 -38 sbas no", nil, "baro-limit", reply.StateNotUsable, true},
		{"compensated, by the fleet", "aircraft: {compensated: true}\n" + plain, "XKLD rnav 31 -38", nil, "", reply.StateRequired, true},
		{"remote by the chart", plain, "XKLD rnav 31 -26", func(a *approach.Approach) { a.Remote = true }, "remote-source", reply.StateNotUsable, true},
		{"remote by the station", strings.Replace(plain, "restriction_c", "remote: true, restriction_c", 1), "XKLD rnav 31 -26", nil, "remote-source", reply.StateNotUsable, true},
		{"remote, compensated", plain, "XKLD rnav 31 -26 compensated yes", func(a *approach.Approach) { a.Remote = true }, "remote-source", reply.StateNotUsable, true},
		{"remote, SBAS", plain, "XKLD rnav 31 -26 sbas", func(a *approach.Approach) { a.Remote = true }, "", reply.StateRequired, true},
		{"both", plain, "XKLD rnav 31 -38", func(a *approach.Approach) { a.Remote = true }, "baro-limit remote-source", reply.StateNotUsable, true},
		{"every line", plain, "XKLD rnav 31 -38", func(a *approach.Approach) { a.Minimums = a.Minimums[1:2] }, "baro-limit", reply.StateNotUsable, false},
		{"every line, compensated", plain, "XKLD rnav 31 -38 compensated yes", func(a *approach.Approach) { a.Minimums = a.Minimums[1:2] }, "", reply.StateRequired, true},
		{"an edition that has ended", plain, "XKLD rnav 31 -26", func(a *approach.Approach) { a.Effective, a.End = noon.AddDate(-1, 0, 0), noon.AddDate(0, -1, 0) }, "edition", reply.StateRequired, false},
		{"an edition not yet in force", plain, "XKLD rnav 31 -26", func(a *approach.Approach) { a.Effective, a.End = noon.AddDate(0, 1, 0), noon.AddDate(0, 2, 0) }, "edition", reply.StateRequired, false},
		// By which fix, where nothing is flown, is no question to hide it behind.
		{"ended, without radar", strings.Replace(plain, "restriction_c", "radar: false, restriction_c", 1), "XKLD rnav 31 -26", func(a *approach.Approach) { a.Effective, a.End = noon.AddDate(-1, 0, 0), noon.AddDate(0, -1, 0) }, "edition", reply.StateRequired, false},
		{"every line, without radar", strings.Replace(plain, "restriction_c", "radar: false, restriction_c", 1), "XKLD rnav 31 -38", func(a *approach.Approach) { a.Minimums = a.Minimums[1:2] }, "baro-limit", reply.StateNotUsable, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := say(t, charted(t, c.config, c.change), c.text)
			var codes []string
			for _, s := range r.Stops {
				codes = append(codes, s.Code)
			}
			if got := strings.Join(codes, " "); got != c.stops || (r.Call != nil) != c.call {
				t.Errorf("stops %q, call %+v, want %q, a call: %v (%+v)", got, r.Call, c.stops, c.call, r.Stops)
			}
			if a := rowOf(t, r, "LNAV/VNAV"); a.State != c.state || a.CorrectedFt == 0 {
				t.Errorf("row %+v, want %s", a, c.state)
			}
			if lpv := slices.ContainsFunc(r.Altitudes, func(a reply.Row) bool { return a.Label == "LPV" }); strings.Contains(c.text, "sbas no") == lpv && c.stops != "" && !strings.Contains(c.name, "every line") {
				t.Errorf("%s: a row of LPV, which SBAS flies: %v", c.text, lpv)
			} else if lpv && rowOf(t, r, "LPV").State == reply.StateNotUsable {
				t.Error("LPV is stopped by a barometric limit")
			}
			if r.Call == nil && c.stops != "" && r.Required == reply.Yes && len(r.Requests) > 0 {
				t.Errorf("nothing is to be flown, and %q is asked for", r.Requests[0].Text)
			}
		})
	}
}

// TestWhoSaidIt: what the aircraft has is the configuration's or the message's,
// each for itself.
func TestWhoSaidIt(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for _, c := range []struct{ aircraft, said, want string }{
		{"{sbas: true, compensated: true}", "", "With SBAS and compensation, as configured."},
		{"{sbas: true, compensated: true}", "compensated no", "With SBAS, as configured."},
		{"{sbas: true, compensated: true}", "sbas no", "With compensation, as configured."},
		{"{sbas: true}", "compensated yes", "With SBAS, as configured, and compensation, as you said."},
		{"{compensated: true}", "sbas", "With SBAS, as you said, and compensation, as configured."},
		{"{sbas: true}", "sbas yes compensated yes", "With SBAS and compensation, as you said."},
		{"{}", "compensated no sbas yes", "With SBAS, as you said."},
		{"{}", "sbas no compensated yes", "With compensation, as you said."},
	} {
		r := say(t, charted(t, "aircraft: "+c.aircraft+"\n"+plain, nil), "XKLD rnav 31 -38 "+c.said)
		if !slices.Contains(r.Notes, c.want) {
			t.Errorf("%s, %q: notes %q, problem %+v, want %q", c.aircraft, c.said, r.Notes, r.Problem, c.want)
		}
	}
}

// The chart's additive comes before the cold correction: 5460 + 80 is 738 ft
// up, and 658 ft without; at -26 °C 119 and 107 ft of AIM TBL 7-3-1, by hand.
func TestAdditive(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	with := rowOf(t, say(t, charted(t, plain, func(a *approach.Approach) { a.Remote, a.RemoteAdditive = true, 80 }), "XKLD rnav 31 -26"), "LNAV")
	without := rowOf(t, say(t, charted(t, plain, nil), "XKLD rnav 31 -26"), "LNAV")
	if with.CorrectedFt != 5460+80+130 || without.CorrectedFt != 5460+120 || with.PublishedFt != 5460 {
		t.Errorf("got %v with the additive, %v without", with.CorrectedFt, without.CorrectedFt)
	}
}

// How the crew comes in, and what is asked where that cannot be.
func TestWaysIn(t *testing.T) {
	const radar = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	none := strings.Replace(radar, "restriction_c", "radar: false, restriction_c", 1)
	for _, c := range []struct{ config, text, way, asks string }{
		{radar, "XKLD rnav 31 -38", "vectors", ""},
		{radar, "XKLD rnav 31 -38 via XEMBA", "via", ""},
		{radar, "XKLD rnav 31 -38 vectors inside XOLMI", "vectors-inside", ""},
		{radar, "XKLD rnav 31 -38 traffic", "traffic", ""},
		{none, "XKLD rnav 31 -38", "", "Via which fix? There is no radar at XKLD; the ways in are XADLO, XEMBA."},
		{none, "XKLD rnav 31 -38 via XADLO", "via", ""},
		{none, "XKLD rnav 31 -38 vectors", "vectors", ""},
		{radar, "XKLD rnav 31 -38 full procedure", "", "Via which fix? The ways in are XADLO, XEMBA."},
		{radar, "XKLD rnav 31 -38 own navigation via XEMBA", "via", ""},
		{radar, "XKLD rnav 31 -38 via XIMLO", "", "XIMLO is no fix on the way in here; the ways in are XADLO, XEMBA."},
		{radar, "XKLD rnav 31 -38 hold", "", "There is no hold in lieu of a procedure turn among the altitudes."},
		{radar, "XKLD rnav 31 -38 circling", "", "rnav 31 has no CIRCLING line; it has LPV, LNAV/VNAV, LNAV."},
	} {
		r := say(t, charted(t, c.config, nil), c.text)
		switch {
		case c.asks != "":
			if r.Problem == nil || r.Problem.Text != c.asks || r.Problem.Try != "" {
				t.Errorf("%q: %+v, want %q and no line", c.text, r.Problem, c.asks)
			}
		case r.Call == nil || r.Call.Way != c.way:
			t.Errorf("%q: call %+v, problem %+v, want %s", c.text, r.Call, r.Problem, c.way)
		}
	}
	one := charted(t, radar, func(a *approach.Approach) {
		a.Legs = slices.DeleteFunc(a.Legs, func(l approach.Leg) bool { return l.Fix == "XADLO" || l.Transition == "XADLO" })
	})
	if r := say(t, one, "XKLD rnav 31 -38 full procedure"); r.Call == nil || !strings.HasPrefix(r.Call.Text, "Request RNAV runway 31 via XEMBA. For cold temperature request 11100 at XEMBA;") {
		t.Errorf("the only way in: got %+v, %v", r.Call, r.Problem)
	}
}

// TestStepBehindTheWay: who comes in by a step-down inside the intermediate fix
// has the branches behind.
func TestStepBehindTheWay(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n", func(a *approach.Approach) {
		leg := func(route approach.Route, fix string, ft engine.Altitude) approach.Leg {
			return approach.Leg{Route: route, Transition: map[bool]string{true: "XADLO"}[route == approach.Transition], Fix: fix, Role: approach.StepDown, Limit: approach.AtOrAbove, Altitude: ft}
		}
		at := slices.IndexFunc(a.Legs, func(l approach.Leg) bool { return l.Fix == "XIRTU" })
		a.Legs = slices.Insert(a.Legs, at, leg(approach.FinalRoute, "XANDO", 7800))
		a.Legs = slices.Insert(a.Legs, 1, leg(approach.Transition, "XUBRI", 9400))
	})
	for text, want := range map[string]bool{"XKLD rnav 31 -38 via XADLO": true, "XKLD rnav 31 -38 via XUBRI": true, "XKLD rnav 31 -38 via XOLMI": false, "XKLD rnav 31 -38 via XANDO": false} {
		r := say(t, b, text)
		if has := slices.ContainsFunc(r.Altitudes, func(a reply.Row) bool { return a.Fix == "XUBRI" }); has != want || r.Problem != nil {
			t.Errorf("%s: XUBRI has a row: %v, want %v (%v)", text, has, want, r.Problem)
		}
	}
}

// The record's line asks the same again: way, line and aircraft too.
func TestLineKeepsTheWay(t *testing.T) {
	rd := parse.NewReader(anyPlace{}, []string{"faa-all-segments", "faa-each-fix"})
	for _, text := range []string{
		"XKLD rnav 31 -38 via XEMBA", "XKLD rnav 31 -38 vectors inside XOLMI", "XKLD rnav 31 -38 lnav/vnav sbas", "XKLD rnav 31 -38 traffic via XEMBA",
		"XKLD rnav 31 -38 each fix", "XKLD -38 IF 8200 FAF 7400 vectors inside the IF", "XKLD -38 IAF between 8900 and 9800, FAF 7400, missed 8000 climb in hold 10200",
	} {
		req, p := rd.Parse(text)
		if p != nil {
			t.Errorf("%q: %v", text, p)
			continue
		}
		again, p := rd.Parse(req.Line())
		if p != nil || again.Line() != req.Line() || again.Way != req.Way || again.Minima != req.Minima || again.SBAS != req.SBAS || !slices.Equal(again.Altitudes, req.Altitudes) {
			t.Errorf("%q: its line %q reads as %+v, %v", text, req.Line(), again, p)
		}
	}
}

type anyPlace struct{}

func (anyPlace) Place(word string) (string, bool) {
	return strings.ToUpper(word), strings.EqualFold(word, "XKLD")
}
func (anyPlace) Nearest(string, int) []string { return nil }
func (anyPlace) Slip(string) (string, bool)   { return "", false }
