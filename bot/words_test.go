package bot_test

import (
	"slices"
	"strings"
	"testing"

	"firn/bot/approach"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// At a low field under strict only the final segment is required: the other
// figures say that they are the crew's choice, or where the published temperature is not
// known that they are needed if it asks for them, and the call that it depends on it.
// AIM TBL 7-3-1 at -5 °C, by hand: 227 ft at 2955 ft, 133 at 1655.
func TestMoreThanIsRequired(t *testing.T) {
	const field = "stations: [{ident: XSEL, elevation_ft: 45, restriction_c: -20, mountainous: false}, {ident: XSIL, elevation_ft: 45, mountainous: false}]\n"
	b := botOf(t, field)
	for ident, when := range map[string]string{
		"XSEL": "if you choose to correct more than is required: all or none, and tell ATC",
		"XSIL": "if a correction is required here, or you choose to correct: all or none, and tell ATC",
	} {
		mark := map[string]string{"XSEL": "if you choose", "XSIL": "if required"}[ident]
		r := askOf(t, b, ident+" -5 IAF 3000 IF 2500 FAF 1700 MDA 480 missed 3000 strict")
		for label, want := range map[string]float64{"IAF": 3300, "FAF": 1900, "missed": 3300} {
			if a := rowOf(t, r, label); a.CorrectedFt != want || a.Required || a.Mark != mark {
				t.Errorf("%s %s: got %+v, want %v, %s", ident, label, a, want, mark)
			}
		}
		if a := rowOf(t, r, "MDA"); !a.Required || a.Mark != "" {
			t.Errorf("%s: got %+v, want it required", ident, a)
		}
		if r.Call == nil || r.Call.When != when || !strings.Contains(r.Call.Text, "request 3300 for the missed approach hold") ||
			strings.Contains(r.Call.Text, "unable") || strings.Contains(r.Call.Text, "require ") {
			t.Errorf("%s: got call %+v, want one %s", ident, r.Call, when)
		}
	}
}

// A turn or a hold alone in a thread chooses the way in, or is asked about; a
// question about it does not.
func TestTurnAloneInAThread(t *testing.T) {
	const typed = "XKLD -38 IAF 9000, PT 8500, FAF 7000, MDA 5400, missed 9000"
	for _, c := range []struct{ lines, way, says string }{
		{typed, "vectors", ""},
		{typed + "|procedure turn", "procedure-turn", ""},
		{typed + "|in the procedure turn", "procedure-turn", ""},
		{typed + "|full procedure", "procedure-turn", ""},
		{typed + "|in the procedure turn|own navigation", "procedure-turn", ""},
		{typed + "|what is the procedure turn", "vectors", ""},
		{typed + "|hold", "", "There is no hold in lieu of a procedure turn among the altitudes."},
		{"XKLD -38 hold 8500, FAF 7000|hold", "hold", ""},
		{typed + "|traffic|procedure turn", "traffic", ""}, // nobody controls there, whichever way it is
		{typed + "|traffic|vectors", "vectors", ""},
	} {
		r := say(t, newBot(t), strings.Split(c.lines, "|")...)
		switch {
		case c.says != "":
			if r.Problem == nil || r.Problem.Text != c.says {
				t.Errorf("%s: got %s", c.lines, state(r))
			}
		case r.Call == nil || r.Call.Way != c.way:
			t.Errorf("%s: got %s %+v, want by %s", c.lines, state(r), r.Call, c.way)
		}
	}
}

// A remote altimeter source that the message names stops the barometric lines as
// the station's does; "remote no" is the local setting.
func TestRemoteInTheMessage(t *testing.T) {
	plain := "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	far := strings.Replace(plain, "restriction_c", "remote: true, restriction_c", 1)
	for _, c := range []struct{ config, text, stop string }{
		{plain, "XKLD rnav 31 -26 remote", "Baro LNAV/VNAV NA with a remote altimeter source (as you say): SBAS, LPV, or LNAV."},
		{plain, "XKLD rnav 31 -26 remote sbas", ""},
		{far, "XKLD rnav 31 -26 remote", "Baro LNAV/VNAV NA with a remote altimeter source (station): SBAS, LPV, or LNAV."},
		{far, "XKLD rnav 31 -26 remote no", ""},
	} {
		r := askOf(t, charted(t, c.config, nil), c.text)
		got := ""
		for _, s := range r.Stops {
			got += s.Text
		}
		if got != c.stop || c.stop != "" && rowOf(t, r, "LNAV/VNAV").State != reply.StateNotUsable {
			t.Errorf("%s: got %q, want %q", c.text, got, c.stop)
		}
	}
}

// A minimum of a line that the chart has: a higher one takes the chart's place,
// and says so; a lower one is asked about.
func TestTypedLineOfTheChart(t *testing.T) {
	plain := "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	for _, c := range []struct{ text, notes, asks string }{
		{"XKLD rnav 31 -26 LNAV 5500", "LNAV 5500 as you typed it; the chart has 5460.", ""},
		{"XKLD rnav 31 -26 MDA 5500", "LNAV 5500 as you typed it; the chart has 5460.", ""},
		{"XKLD rnav 31 -26 LNAV 1680m", "LNAV 1680 m as you typed it; the chart has 5460.", ""},
		{"XKLD rnav 31 -26 LNAV 5460", "", ""},
		{"XKLD rnav 31 -26 lnav MDA 5500", "LNAV 5500 as you typed it; the chart has 5460.", ""},
		{"XKLD rnav 31 -26 LNAV 5400", "", "Which one: the chart of rnav 31 has LNAV at 5460, and you wrote LNAV MDA 5400?"},
		{"XKLD rnav 31 -26 circling 5700", "", ""},
	} {
		r := askOf(t, charted(t, plain, nil), c.text)
		if c.asks != "" {
			if r.Problem == nil || !strings.HasPrefix(r.Problem.Text, c.asks) {
				t.Errorf("%s: got %s", c.text, state(r))
			}
			continue
		}
		n := 0
		for _, a := range r.Altitudes {
			if a.Label == "LNAV" || a.Label == "MDA" || a.Label == "LNAV MDA" {
				n++
			}
		}
		if n != 1 || strings.Join(r.Notes, " ") != c.notes {
			t.Errorf("%s: got %d rows, notes %q, want one and %q", c.text, n, r.Notes, c.notes)
		}
	}
}

// An arc is of the initial segment (answers to the height of the final approach
// fix: 7000 is 2198 ft up, 506 ft at -38 °C of AIM TBL 7-3-1 by hand), and stands
// in the table where it is flown.
func TestArc(t *testing.T) {
	plain := "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	a := rowOf(t, askOf(t, newBot(t), "XKLD -38 arc 9000, IF 8000, FAF 7000"), "arc")
	if a.Segment != "initial" || a.CorrectedFt != 9600 {
		t.Errorf("got %+v, want an initial row at 9600", a)
	}
	var order []string
	for _, row := range askOf(t, charted(t, plain, nil), "XKLD rnav 31 -26, arc 9000, circling 5700").Altitudes {
		order = append(order, row.Label)
	}
	if got := strings.Join(order, " "); got != "IAF IAF arc IF FAF step LPV LNAV/VNAV LNAV circling missed" {
		t.Errorf("got the rows %s", got)
	}
}

// A ceiling stays one, wherever its words stand: nothing is refused below it.
func TestCeilingBehindItsFigure(t *testing.T) {
	for _, words := range []string{"IAF at or below 9000", "IAF 9000 at or below", "IAF 9000 at most"} {
		r := askOf(t, newBot(t), "XKLD -38 "+words+" FAF 7400 MDA 5460")
		if a := rowOf(t, r, "IAF"); a.Meaning != "at-or-below" || r.Call == nil || !strings.Contains(r.Call.Text, "unable below 8000 until the final approach fix") {
			t.Errorf("%s: got %+v, call %+v", words, a, r.Call)
		}
	}
}

// Where a procedure turn, or a hold, is all there is outside the final segment,
// it is what is asked for.
func TestTurnIsTheOnlyWay(t *testing.T) {
	for text, want := range map[string]string{
		"XKLD -38 PT 9000 MDA 5460":                   " in the procedure turn",
		"XKLD -38 hold in lieu 9000 MDA 5460":         " in the hold",
		"XKLD -38 PT 9000 FAF 7400 MDA 5460":          " added to vectored altitudes, unable below ",
		"XKLD -38 vectors PT 9000 FAF 7400, MDA 5460": " added to vectored altitudes, unable below ",
		// 4198 ft up at -38 °C is 974 ft of AIM TBL 7-3-1, by hand.
		"XKLD -38 vectors PT 9000 MDA 5460":               " request 1000 ft added to vectored altitudes, unable below 10000 until established",
		"XKLD -38 vectors hold in lieu 9000 MDA 5460":     " request 1000 ft added to vectored altitudes, unable below 10000 until established",
		"XKLD -38 IAF 9500 PT 9000 MDA 5460 missed 10200": " added to vectored altitudes, unable below ",
	} {
		r := askOf(t, newBot(t), text)
		if r.Call == nil || !strings.Contains(r.Call.Text, want) {
			t.Errorf("%s: got %+v, want one with %q", text, r.Call, want)
		}
	}
}

// The call asks for the approach that is flown: who calls it by its localizer
// line, chooses that, or has no glideslope, is not given the glidepath.
func TestWhatIsAskedFor(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n", func(a *approach.Approach) {
		a.Name, a.Code, a.Title = "ils 31", "I31", approach.Title{Kind: approach.ILS, Runway: "31"}
		a.Minimums = []approach.Minimum{
			{Name: "ILS 31", Role: procedure.DecisionAltitude, Altitude: 5100},
			{Name: "LOC 31", Role: procedure.MinimumDescent, Altitude: 5460},
			{Name: "circling", Role: procedure.Circling, Altitude: 5600},
		}
	})
	for text, want := range map[string]string{
		"XKLD ils 31 -38": "ILS", "XKLD ils 31 -38 circling": "ILS", "XKLD loc 31 -38 circling": "localizer", "XKLD loc 31 -38": "localizer", "XKLD ils 31 -38 loc": "localizer",
		"XKLD ils 31 -38 gs out": "localizer", "XKLD ils 31 -38 without loc": "ILS",
	} {
		if r := askOf(t, b, text); r.Call == nil || !strings.HasPrefix(r.Call.Text, "Request "+want+" runway 31.") {
			t.Errorf("%s: got %+v, want the %s", text, r.Call, want)
		}
	}
}

// The headline calls the approach as the crew does; the procedure is the one
// that is stored, and is found again.
func TestHeadlineIsTheLineFlown(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n", func(a *approach.Approach) {
		a.Name, a.Code, a.Title = "ils 31", "I31", approach.Title{Kind: approach.ILS, Runway: "31"}
		a.Minimums = []approach.Minimum{
			{Name: "ILS 31", Role: procedure.DecisionAltitude, Altitude: 5100},
			{Name: "LOC 31", Role: procedure.MinimumDescent, Altitude: 5460},
		}
	})
	for text, want := range map[string]string{"XKLD loc 31 -38": "loc 31", "XKLD ils 31 -38": "ils 31"} {
		r := say(t, b, text)
		again := say(t, b, text, "-41")
		if r.Procedure != "ils 31" || r.ApproachName() != want || !strings.HasPrefix(r.Headline, "XKLD "+want+", ") || !strings.HasPrefix(again.Headline, "XKLD "+want+", −41 °C") {
			t.Errorf("%s: %q of %q, then %q, want %s", text, r.Headline, r.Procedure, again.Headline, want)
		}
	}
}

// Vectors lead to the intermediate fix; any other that is named is asked about.
func TestVectorsTo(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n", func(*approach.Approach) {})
	if r := askOf(t, b, "XKLD rnav 31 -38 vectors to XOLMI"); r.Call == nil || r.Call.Way != "vectors" {
		t.Errorf("to the intermediate fix: %s, %+v", state(r), r.Call)
	}
	if r := askOf(t, b, "XKLD rnav 31 -38 vectors to XIRTU"); r.Problem == nil || r.Problem.Word != "XIRTU" {
		t.Errorf("to the final approach fix: %s", state(r))
	}
}

// An altimeter setting off the scale is told alike, typed or reported, and
// of the message that has it alone.
func TestSettingOffTheScale(t *testing.T) {
	has := func(r reply.Reply, code reply.CautionCode) (n int) {
		for _, c := range r.Cautions {
			if c.Code == code {
				n++
			}
		}
		return n
	}
	for text, code := range map[string]reply.CautionCode{
		"XKLD -38 8200 7400; QNH 1051": "altimeter-high", "XKLD -38 8200 7400 altimeter 31.05": "altimeter-high",
		"XKLD -38 8200 7400 A2795": "altimeter-low", "XKLD -38 8200 7400 qnh 947": "altimeter-low",
		"METAR XKLD 151153Z 00000KT M38/M42 Q1051; 8200 7400; QNH 1051": "altimeter-high",
	} {
		b := newBot(t)
		if r := say(t, b, text); has(r, code) != 1 {
			t.Errorf("%s: %+v, %+v, want one %s", text, r.Problem, r.Cautions, code)
		}
		if r := say(t, b, "-41"); has(r, code) != 0 && !strings.HasPrefix(text, "METAR") {
			t.Errorf("%s, then another temperature: %+v", text, r.Cautions)
		}
	}
	for _, text := range []string{"XKLD -38 8200 7400; QNH 1013", "XKLD -38 8200 7400 altimeter 31.00", "XKLD -38 8200 7400 qnh 948"} {
		if r := say(t, newBot(t), text); has(r, "altimeter-high")+has(r, "altimeter-low") != 0 {
			t.Errorf("%s: %+v", text, r.Cautions)
		}
	}
}

// A hold is where the chart has it.
func TestHoldAtItsFix(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n", func(a *approach.Approach) {
		a.Legs = slices.Insert(a.Legs, 2, approach.Leg{Route: approach.FinalRoute, Fix: "XOLMI", Role: approach.Hold, Limit: approach.AtOrAbove, Altitude: 8200})
	})
	for text, asks := range map[string]string{
		"XKLD rnav 31 -38 in the hold at XOLMI": "",
		"XKLD rnav 31 -38 hold XOLMI":           "",
		"XKLD rnav 31 -38 hold XEMBA":           "The hold in lieu of a procedure turn is at XOLMI, not at XEMBA.",
	} {
		r := askOf(t, b, text)
		if asks != "" && (r.Problem == nil || r.Problem.Text != asks) || asks == "" && (r.Call == nil || !strings.Contains(r.Call.Text, "in the hold at XOLMI")) {
			t.Errorf("%s: got %s, call %+v, want %q", text, state(r), r.Call, asks)
		}
	}
}

// The call names a figure as it was typed.
func TestMetresInTheCall(t *testing.T) {
	r := askOf(t, newBot(t), "XKLD -38 3050m 2800m")
	if r.Call == nil || r.Call.When != "if 3050 m is before the final approach fix" {
		t.Errorf("got %+v", r.Call)
	}
	if r.Call != nil && (!strings.HasPrefix(r.Call.Text, "Request 11200 ft for") || !strings.Contains(r.Call.Spoken, "two hundred feet for")) {
		t.Errorf("got %q, %q, want the altitude with its unit", r.Call.Text, r.Call.Spoken)
	}
}

// The state of a station says what forbids at its usual procedures.
func TestStatusSaysWhatForbids(t *testing.T) {
	b := charted(t, "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25, usual: [rnav 31]}]\n", nil)
	for text, stop := range map[string]string{
		"XKLD -28":   "",
		"XKLD -28.1": "rnav 31: Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, LPV, or LNAV.",
		"XKLD +48":   "rnav 31: Baro LNAV/VNAV NA above 47 (chart): SBAS, compensation, LPV, or LNAV.",
	} {
		r := askOf(t, b, text)
		if r.Kind != reply.KindStatus || (len(r.Stops) > 0) != (stop != "") || stop != "" && r.Stops[0].Text != stop {
			t.Errorf("%s: got %s, stops %+v, want %q", text, state(r), r.Stops, stop)
		}
	}
}

// A time behind a brief changes its arrival: of several it is asked which, and a
// correction between ends it.
func TestTimeBehindABrief(t *testing.T) {
	night := forecasts{"XKLD": {curve("hourly", 48, -30)}, "XRUN": {curve("hourly", 48, -25)}}
	for _, c := range []struct{ lines, says string }{
		{"brief XKLD ils 31 1430Z|make it 1500z", "(15:00Z)"},
		{"brief XKLD ils 31 1430Z|1500z|1530z", "(15:30Z)"},
		{"brief XKLD ils 31 1430Z tomorrow|1500z", "(15:00Z), tomorrow"},
		{"brief XKLD ils 31 1430Z|1500z", "XKLD ils 31"},
		{"brief XKLD 1430Z XRUN 1515Z|1600z", "Which arrival is at 1600Z: XKLD or XRUN? Write the station with it."},
		{"brief XRUN 1430Z|XKLD ils 31 -30|1600z", "XKLD ils 31"},
	} {
		b := briefBot(t, night)
		r := say(t, b, strings.Split(c.lines, "|")...)
		got := words(r)
		if r.Problem != nil {
			got = r.Problem.Text
		}
		if !strings.Contains(got, c.says) {
			t.Errorf("%s: got %s, want %s", c.lines, got, c.says)
		}
	}
}

// What a question names answers it: a fix, or which hold it is. Another figure
// does not.
func TestTheAnswerToAQuestion(t *testing.T) {
	none := "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25, radar: false}]\n"
	for _, c := range []struct{ config, lines, says string }{
		{stations, "XKLD -38 FAF 7400, hold 9300|missed hold", "require 10400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, hold 9300|it's the missed one", "require 10400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, hold 9300|thanks|missed hold 9300", "require 10400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, hold 9300|in lieu|in the hold", "request 9900 in the hold"},
		{stations, "XKLD -38 FAF 7400, hold 9300|missed hold 9400", "Is the hold at 9300 in lieu"},
		{stations, "XKLD -38 FAF 7400, missed 8000 then 10200|yes", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 8000|and 10200|hold", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 8000, 10200|no", "require 8800 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 10200, 5340", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 8000 then 10200 at XORLI", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed climb 8000 then XORLI 10200", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 10200 XORLI", "require 11400 for the missed approach hold"},
		{stations, "XKLD -38 FAF 7400, missed 8000, XADLO 10900", "require 8800 for the missed approach hold"},
		{none, "XKLD rnav 31 -38|XEMBA", "via XEMBA. For cold temperature request 11100 at XEMBA"},
		{none, "XKLD rnav 31 -38|from xadlo please", "via XADLO. For cold temperature request 11500 at XADLO"},
		{none, "XKLD rnav 31 -38|-41|XEMBA", "via XEMBA"},
		{none, "XKLD rnav 31 -38|XEMBA or XADLO", "I don't know"},
		{stations, "XKLD rnav 31 -38|inside XOLMI", "unable below 8000 until the final approach fix"},
	} {
		r := say(t, charted(t, c.config, nil), strings.Split(c.lines, "|")...)
		got := state(r)
		switch {
		case r.Problem != nil:
			got = r.Problem.Text
		case r.Call != nil:
			got = r.Call.Text
		}
		if !strings.Contains(got, c.says) {
			t.Errorf("%s: got %s, want %s", c.lines, got, c.says)
		}
	}
}

// A brief that lacks everything is shown with bases that are there.
func TestBriefOffersOwnBases(t *testing.T) {
	b := botOf(t, "stations: [{ident: XRUN, elevation_ft: 4380}, {ident: XDUL, elevation_ft: 45}]\n")
	r := say(t, b, "brief please")
	if p := r.Problem; p == nil || p.Try != "brief XRUN 1430Z XDUL 1515Z" || strings.Contains(p.Text, "XKLD") {
		t.Errorf("got %+v", r.Problem)
	}
}

// Traffic hears of the hold alone that the crew says it comes in by.
func TestTrafficInTheHold(t *testing.T) {
	const plain = "stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}]\n"
	held := func(a *approach.Approach) {
		a.Legs = slices.Insert(a.Legs, 2, approach.Leg{Route: approach.FinalRoute, Fix: "XOLMI", Role: approach.Hold, Limit: approach.AtOrAbove, Altitude: 8200})
	}
	b := charted(t, plain, held)
	for _, text := range []string{"XKLD rnav 31 -38 hold traffic", "XKLD rnav 31 -38 traffic in the hold", "XKLD rnav 31 -38 traffic, in the hold at XOLMI"} {
		r := askOf(t, b, text)
		if r.Call == nil || !strings.Contains(r.Call.Text, "8800") || strings.Contains(r.Call.Text, "XADLO") || strings.Contains(r.Call.Text, "XEMBA") {
			t.Errorf("%s: got %s, %+v", text, state(r), r.Call)
		}
	}
	if r := askOf(t, charted(t, plain, nil), "XKLD rnav 31 -38 hold traffic"); r.Problem == nil {
		t.Errorf("a hold that the chart has not: got %s", state(r))
	}
}
