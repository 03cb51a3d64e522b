package parse

import (
	"testing"

	"firn/engine/procedure"
)

// What chooses: the way in, the line of minimums, what the aircraft has.
func TestChosen(t *testing.T) {
	rd := demoReader()
	rd.Fixes(func(_, word string) bool { return word == "XOLMI" || word == "XEMBA" })
	for _, c := range []struct {
		text  string
		way   Way
		line  string
		sbas  string
		alone bool // no altitude is read
	}{
		{"XKLD rnav 31 -38 vectors", Way{Kind: Vectors}, "", "", true},
		{"XKLD rnav 31 -38 vectors inside XOLMI", Way{Kind: VectorsInside, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 vectors inside the IF", Way{Kind: VectorsInside}, "", "", true},
		{"XKLD rnav 31 -38 vectors to XOLMI", Way{Kind: Vectors, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 vectors to the IF", Way{Kind: Vectors}, "", "", true},
		{"XKLD -38 vectors inside IF 8100 FAF 7400", Way{Kind: VectorsInside}, "", "", false},
		{"XKLD -38 vectors to the IF 8100 FAF 7400", Way{Kind: Vectors}, "", "", false},
		{"XKLD rnav 31 via XEMBA -38", Way{Kind: Via, Fix: "XEMBA"}, "", "", true},
		{"XKLD rnav 31 -38 hold", Way{Kind: InHold}, "", "", true},
		{"XKLD rnav 31 -38 in the hold", Way{Kind: InHold}, "", "", true},
		{"XKLD rnav 31 -38 procedure turn", Way{Kind: InTurn}, "", "", true},
		{"XKLD rnav 31 -38 hold XOLMI", Way{Kind: InHold, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 in the hold at XOLMI", Way{Kind: InHold, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 via the hold over XOLMI", Way{Kind: InHold, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 PT XOLMI", Way{Kind: InTurn, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 hilpt", Way{Kind: InHold}, "", "", true},
		{"XKLD rnav 31 -38 hold in lieu at XOLMI", Way{Kind: InHold, Fix: "XOLMI"}, "", "", true},
		{"XKLD rnav 31 -38 full procedure", Way{Kind: Via}, "", "", true},
		{"XKLD rnav 31 full approach -38", Way{Kind: Via}, "", "", true},
		{"XKLD rnav 31 -38 own navigation via XEMBA", Way{Kind: Via, Fix: "XEMBA"}, "", "", true},
		{"XKLD rnav 31 -38 direct XEMBA, own nav", Way{Kind: Via, Fix: "XEMBA"}, "", "", true},
		{"XKLD rnav 31 -38 traffic, full procedure", Way{Kind: Traffic}, "", "", true},
		{"XKLD rnav 31 -38 full procedure, in the hold", Way{Kind: InHold}, "", "", true},
		{"XKLD rnav 31 -38 traffic XEMBA", Way{Kind: Traffic, Fix: "XEMBA"}, "", "", true},
		{"XKLD rnav 31 -38 traffic via XEMBA", Way{Kind: Traffic, Fix: "XEMBA"}, "", "", true},
		{"XKLD rnav 31 -38 sbas", Way{}, "", "yes", true},
		{"XKLD rnav 31 -38 sbas no", Way{}, "", "no", true},
		{"XKLD rnav 31 -38 lnav/vnav", Way{}, "lnav/vnav", "", true},
		{"XKLD rnav 31 lnav -38", Way{}, "lnav", "", true},
		{"XKLD rnav 31 -38 circling", Way{}, "circling", "", true},
		{"XRUN ils 12 -38 loc", Way{}, "loc", "", true},
		{"XKLD -38 hold 7400", Way{}, "", "", false},
		{"XKLD -38 LNAV 7400", Way{}, "", "", false},
		{"XKLD -38 hold XIMLO 7400", Way{}, "", "", false},
		{"XKLD -38 FAF 7400 hilpt 8200", Way{}, "", "", false},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Way != c.way || req.Minima != c.line || req.SBAS != c.sbas || (len(req.Altitudes) == 0) != c.alone {
			t.Errorf("%s: got %+v, line %q, sbas %q, %d altitudes, problem %v", c.text, req.Way, req.Minima, req.SBAS, len(req.Altitudes), p)
			continue
		}
		if again, p := rd.Parse(req.Line()); p != nil || again.Line() != req.Line() || again.Way != req.Way || again.Minima != req.Minima || again.SBAS != req.SBAS {
			t.Errorf("%s: its line %q reads as %q, problem %v", c.text, req.Line(), again.Line(), p)
		}
	}
}

// How an altitude is to be flown, and heights beside it that are none.
func TestMeanings(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct {
		text string
		want Altitude
	}{
		{"XKLD -38 IAF below 8000", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.AtOrBelow}},
		{"XKLD -38 IAF 8000 at most", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.AtOrBelow}},
		{"XKLD -38 IAF 8000 (at or below)", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.AtOrBelow}},
		{"XKLD -38 8000 max IAF", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.AtOrBelow}},
		{"XKLD IAF 8000 ft not above -38", Altitude{Value: 8000, Role: procedure.InitialFix}}, // “not above −38”
		{"XKLD -38 at or below IAF 8000", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.AtOrBelow}},
		{"XKLD IAF 8000 -38 at most", Altitude{Value: 8000, Bare: true, Role: procedure.InitialFix}},
		{"XKLD -38 IAF between 7100 and 8000", Altitude{Value: 7100, Upper: 8000, Bare: true, Role: procedure.InitialFix, Meaning: procedure.Between}},
		{"XKLD -38 climb in hold 9100", Altitude{Value: 9100, Bare: true, Role: procedure.MissedHold, Label: MissedHoldLabel}},
		{"XKLD -38 missed hold 9100", Altitude{Value: 9100, Bare: true, Role: procedure.MissedHold, Label: MissedHoldLabel}},
		{"XKLD -38 DA 5340 HAT 538", Altitude{Value: 5340, Bare: true, Role: procedure.DecisionAltitude}},
		{"XKLD -38 DA(H) 5340/538", Altitude{Value: 5340, Bare: true, Role: procedure.DecisionAltitude}},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || len(req.Altitudes) != 1 || req.Altitudes[0] != c.want {
			t.Errorf("%s: got %+v, problem %v", c.text, req.Altitudes, p)
			continue
		}
		if again, p := rd.Parse(req.Line()); p != nil || len(again.Altitudes) != 1 || again.Altitudes[0] != c.want {
			t.Errorf("%s: its line %q reads as %+v, problem %v", c.text, req.Line(), again.Altitudes, p)
		}
	}
}
