package chartyaml

import (
	"encoding/csv"
	"errors"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/strictyaml"
	"firn/engine"
	"firn/engine/baro"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

const good = `station: XKLD
procedure: RNAV (GPS) RWY 31
effective: 2026-01-22
end: 2036-01-22
source: demo chart
fixes:
  - {fix: XADLO, role: IAF, above: 10900}
  - {fix: XOLMI, role: IF, above: 8200}
  - {fix: XIRTU, role: FAF, above: 7400}
  - {fix: XUPEN, role: step, above: 6100}
minimums:
  - {name: LNAV/VNAV, da: 5340}
  - {name: LNAV, mda: 5460}
vertical_angle_deg: 3.1
baro_low_c: -28
baro_high_c: 47
missed_fix: XADLO
missed_ft: 10200
`

// XKLD and XRUN of config.example.yaml.
var fields = Fields{"XKLD": 4802, "XRUN": 4380}

// whole reads a file of which nothing is left out.
func whole(name string, data []byte, fields Fields) ([]approach.Approach, error) {
	all, _, err := read(name, data, fields, false)
	return all, err
}

func TestRead(t *testing.T) {
	all, err := whole("xkld.yaml", []byte(good), fields)
	if err != nil || len(all) != 1 {
		t.Fatalf("got %v, %v", all, err)
	}
	day := func(y int) time.Time { return time.Date(y, 1, 22, 0, 0, 0, 0, time.UTC) }
	above := func(route approach.Route, transition string, sequence int, fix string, role approach.Role, seg procedure.Segment, a engine.Altitude) approach.Leg {
		return approach.Leg{Route: route, Transition: transition, Sequence: sequence, Fix: fix, Role: role, Initial: role == approach.InitialFix,
			Segment: seg, Limit: approach.AtOrAbove, Altitude: a}
	}
	a := all[0]
	legs := []approach.Leg{
		above(approach.Transition, "XADLO", 10, "XADLO", approach.InitialFix, procedure.Initial, 10900),
		above(approach.FinalRoute, "", 10, "XOLMI", approach.IntermediateFix, procedure.Initial, 8200),
		above(approach.FinalRoute, "", 20, "XIRTU", approach.FinalFix, procedure.Intermediate, 7400),
		above(approach.FinalRoute, "", 30, "XUPEN", approach.StepDown, procedure.Final, 6100),
		above(approach.MissedRoute, "", 10, "XADLO", approach.MissedHold, procedure.Missed, 10200),
	}
	if !slices.Equal(a.Legs, legs) {
		t.Errorf("got legs\n%+v, want\n%+v", a.Legs, legs)
	}
	minimums := []approach.Minimum{{Name: "LNAV/VNAV", Role: procedure.DecisionAltitude, Altitude: 5340, Barometric: true}, {Name: "LNAV", Role: procedure.MinimumDescent, Altitude: 5460}}
	if !slices.Equal(a.Minimums, minimums) {
		t.Errorf("got minimums %+v, want %+v", a.Minimums, minimums)
	}
	if want := (baro.Limits{Low: -28, High: 47, HasLow: true, HasHigh: true}); a.Baro != want || a.VerticalAngle != 3.1 || !a.HasAngle {
		t.Errorf("got %+v, %v, want %+v and 3.1", a.Baro, a.VerticalAngle, want)
	}
	if a.Ident != "XKLD" || a.Name != "rnav 31" || a.Code != "R31" || a.Source != "demo chart" || a.Effective != day(2026) || a.End != day(2036) ||
		a.MissedFix != "XADLO" || a.MissedAltitude != 10200 || !a.HasMissed {
		t.Errorf("got %+v", a)
	}
	if gaps := a.Gaps(); gaps != nil {
		t.Errorf("got gaps %q, want none", gaps)
	}
}

// What a crew may write in another way and mean the same or as little.
func TestReadAlso(t *testing.T) {
	for _, tt := range []struct{ name, from, to string }{
		{"block style", "  - {fix: XIRTU, role: FAF, above: 7400}", "  - fix: xirtu\n    role: faf\n    above: 7400"},
		{"no missed fix", "missed_fix: XADLO\n", ""},
		{"no temperature limits", "baro_low_c: -28\nbaro_high_c: 47\n", ""},
		{"a fix at the altitude before", "above: 7400", "above: 8200"},
		{"an initial fix without altitude", "XADLO, role: IAF, above: 10900", "XADLO, role: IAF"},
		{"cycle", "source:", "cycle: 2609\nsource:"},
		{"station in lower case", "XKLD", "xkld"},
		{"line ends of another system", "\n", "\r\n"},
		{"a line that is barometric by its own word", "{name: LNAV/VNAV, da: 5340}", "{name: VNAV, da: 5340, baro: true}"},
		{"beginning of a document", "station: XKLD", "---\nstation: XKLD"},
	} {
		if _, err := whole("xkld.yaml", []byte(strings.ReplaceAll(good, tt.from, tt.to)), fields); err != nil {
			t.Errorf("%s: got %v", tt.name, err)
		}
	}
	if _, err := whole("kmso.yaml", []byte(strings.ReplaceAll(good, "XKLD", "KMSO")), nil); err != nil {
		t.Errorf("elevations not handed in: got %v", err)
	}
}

// What the answer must know of a chart: branches, and a remote altimeter source.
func TestReadForTheAnswer(t *testing.T) {
	text := strings.Replace(good, "  - {fix: XOLMI", "  - {fix: XEMBA, role: IAF, above: 10500}\n  - {fix: XUBRI, role: step, from: XADLO, above: 10800}\n  - {fix: XOLMI", 1) + "remote: true\nremote_additive_ft: 80\n"
	all, err := whole("xkld.yaml", []byte(text), fields)
	if err != nil {
		t.Fatal(err)
	}
	a := all[0]
	if !a.Remote || a.RemoteAdditive != 80 || a.PlainRNP {
		t.Errorf("got remote %v, additive %v, plain %v", a.Remote, a.RemoteAdditive, a.PlainRNP)
	}
	var got []string
	for _, p := range procedure.Along(a.Points(), "XEMBA") {
		got = append(got, p.Fix)
	}
	if want := "XEMBA XOLMI XIRTU XUPEN   XADLO"; strings.Join(got, " ") != want {
		t.Errorf("via XEMBA: got %q, want %q", got, want)
	}
	if written, spoken := a.Radio(""); written != "RNAV runway 31" || spoken != "RNAV runway three one" {
		t.Errorf("got %q, %q", written, spoken)
	}
	all, err = whole("xkld.yaml", []byte(strings.Replace(good, "RNAV (GPS) RWY 31", "RNP Z RWY 31L", 1)), fields)
	if err != nil {
		t.Fatal(err) // where a chart says RNP alone it has the lines of RNAV (GPS)
	}
	if written, spoken := all[0].Radio(""); written != "RNP Zulu runway 31 left" || spoken != "RNP Zulu runway three one left" {
		t.Errorf("got %q, %q", written, spoken)
	}
}

func TestProblems(t *testing.T) {
	for _, tt := range []struct{ name, from, to, want string }{
		// The answer's words.
		{"from no initial fix", "XUPEN, role: step,", "XUPEN, role: step, from: XADLA,", `xkld.yaml:10:36: from XADLA is no initial approach fix of this chart; did you mean XADLO?`},
		{"from at the final fix", "role: FAF,", "role: FAF, from: XADLO,", `xkld.yaml:9:35: XIRTU has a from, which is for a fix between`},
		{"an additive without a remote source", "missed_fix: XADLO", "remote_additive_ft: 80\nmissed_fix: XADLO", `xkld.yaml:17:21: an additive without a remote altimeter source; add "remote: true"`},
		{"an additive that is none", "missed_fix: XADLO", "remote: true\nremote_additive_ft: 5\nmissed_fix: XADLO", `"remote_additive_ft" must be from 10 to 2000 feet, not 5`},
		{"remote by another word", "missed_fix: XADLO", "remote: yes\nmissed_fix: XADLO", `xkld.yaml:17:9: "remote" must be true or false, not the text "yes"; write true`},
		{"RNAV (RNP) with an LNAV line", "RNAV (GPS) RWY 31", "RNAV (RNP) RWY 31", `xkld.yaml:13:5: LNAV is no line of an RNAV (RNP) chart, which has RNP lines; with it the title is RNAV (GPS)`},
		{"LPV with a descent altitude", "{name: LNAV, mda: 5460}", "{name: LPV, mda: 5460}", `xkld.yaml:13:5: LPV has a decision altitude; write da`},
		{"LP with a decision altitude", "{name: LNAV, mda: 5460}", "{name: LP, da: 5460}", `xkld.yaml:13:5: LP has a minimum descent altitude; write mda`},
		{"LPV that is barometric", "{name: LNAV, mda: 5460}", "{name: LPV, da: 5460, baro: true}", `xkld.yaml:13:5: LPV does not follow the altimeter; leave baro out`},
		// Rules, with the fix and the line.
		{"ascending profile", "XOLMI, role: IF, above: 8200", "XOLMI, role: IF, above: 11000", `xkld.yaml:8:5: XOLMI 11000 is above XADLO 10900, which is flown before it: the altitudes of an approach descend`},
		{"ascending step", "above: 6100", "above: 9300", `xkld.yaml:10:5: XUPEN 9300 is above XIRTU 7400, which is flown before it: the altitudes of an approach descend`},
		{"another way in, too low", "  - {fix: XOLMI", "  - {fix: XEMBA, role: IAF, above: 7200}\n  - {fix: XEMBO, role: IAF, above: 10200}\n  - {fix: XOLMI", `xkld.yaml:8:5: XEMBA 7200 is below XOLMI 8200, to which it leads: the altitudes of an approach descend`},
		{"no final fix", "role: FAF", "role: step", `xkld.yaml:7:3: no fix has "role: FAF"; where the chart has no final approach fix, write "final_fix: none"`},
		{"two final fixes", "XUPEN, role: step", "XUPEN, role: FAF", `xkld.yaml:10:5: XUPEN is a second final approach fix; an approach has one, and XIRTU is given already`},
		{"two intermediate fixes", "XIRTU, role: FAF", "XIRTU, role: IF", `xkld.yaml:9:5: XIRTU is a second intermediate fix, and XOLMI is given already`},
		{"final fix beside none", "source:", "final_fix: none\nsource:", `xkld.yaml:5:12: final_fix is none, and XIRTU is one; remove the line`},
		{"intermediate fix behind", "XUPEN, role: step", "XUPEN, role: IF", `xkld.yaml:10:5: XUPEN is an intermediate fix after the final approach fix XIRTU; write the fixes in the order they are flown`},
		{"initial fix behind", "XUPEN, role: step", "XUPEN, role: IAF", `xkld.yaml:10:5: XUPEN is an initial-fix after the final approach fix XIRTU; write the fixes in the order they are flown`},
		{"minimum below the field", "da: 5340", "da: 4802", `xkld.yaml:12:5: LNAV/VNAV 4802 is not above the field at 4802`},
		{"minimum at the final fix", "mda: 5460", "mda: 7400", `xkld.yaml:13:5: LNAV 7400 is not below the final approach fix XIRTU at 7400`},
		{"minimum twice", "name: LNAV,", "name: LNAV/VNAV,", `xkld.yaml:13:5: LNAV/VNAV is given twice; remove one of them`},
		{"step below the minimums", "above: 6100", "above: 5300", `xkld.yaml:10:5: XUPEN 5300 is below every minimum, the lowest is 5340`},
		{"fix below the field", "above: 6100", "above: 790", `xkld.yaml:10:5: XUPEN 790 is not above the field at 4802`},
		{"missed approach below the minimums", "missed_ft: 10200", "missed_ft: 5400", `xkld.yaml:18:12: missed_ft 5400 is below LNAV 5460 on line 13`},
		{"missed approach below the field", "missed_ft: 10200", "missed_ft: 1200", `xkld.yaml:18:12: missed_ft 1200 is not above the field at 4802`},
		{"dates the other way round", "end: 2036", "end: 2016", `xkld.yaml:4:6: end 2016-01-22 is not after effective 2026-01-22: end is the day the next edition begins`},
		{"one day", "end: 2036", "end: 2026", `xkld.yaml:4:6: end 2026-01-22 is not after effective 2026-01-22: end is the day the next edition begins`},
		{"no angle for the path", "vertical_angle_deg: 3.1\n", "", `xkld.yaml:12:5: LNAV/VNAV is barometric and vertical_angle_deg is missing; add the angle of its path, such as vertical_angle_deg: 3`},
		{"limits without a line", "{name: LNAV/VNAV, da: 5340}", "{name: LPV, da: 5340}", `xkld.yaml:15:13: a temperature limit without a barometric line; name the line LNAV/VNAV or RNP, or add baro: true to it`},
		{"limits the other way round", "baro_high_c: 47", "baro_high_c: 10\nx: 1", `unknown key "x"`},
		{"low not below high", "baro_low_c: -28\nbaro_high_c: 47", "baro_low_c: 12\nbaro_high_c: 11", `xkld.yaml:15:13: baro_low_c 12 is not below baro_high_c 11`},
		{"between, higher first", "above: 10900", "between: [11200, 10200]", `xkld.yaml:7:38: between 11200 and 10200: the lower altitude comes first`},
		{"fixes empty", good[strings.Index(good, "  - {fix: XADLO"):strings.Index(good, "minimums:")], "  []\n", `xkld.yaml:7:3: no fix has "role: FAF"`},
		{"baro of a descent altitude", "{name: LNAV, mda: 5460}", "{name: LNAV, mda: 5460, baro: true}", `xkld.yaml:13:5: LNAV is barometric and has no decision altitude; write da, or leave baro out`},
		{"circling with a decision altitude", "{name: LNAV, mda: 5460}", "{name: circling, da: 5460}", `xkld.yaml:13:5: circling has a minimum descent altitude; write mda`},
		// Words.
		{"misspelt key", "vertical_angle_deg", "vertical_angel_deg", `xkld.yaml:14:1: unknown key "vertical_angel_deg"; did you mean "vertical_angle_deg"?`},
		{"misspelt key of a fix", "role: FAF, above", "role: FAF, abov", `xkld.yaml:9:29: unknown key "abov"; did you mean "above"?`},
		{"unknown key", "source:", "colour: red\nsource:", `xkld.yaml:5:1: unknown key "colour"; the keys of a procedure are station, procedure,`},
		{"doubled key", "source:", "end: 2036-01-22\nsource:", `xkld.yaml:5:1: "end" is given twice, first on line 4; remove one of them`},
		{"missing key", "source: demo chart\n", "", `xkld.yaml:1:1: "source" is missing; add "source: chart of 3 SEP 2026"`},
		{"key without value", "source: demo chart", "source:", `xkld.yaml:5:1: "source" has no value; write one or remove the line`},
		{"unknown station", "XKLD", "XKLT", `xkld.yaml:1:10: station XKLT is not in the configuration; did you mean XKLD?`},
		{"station far from any", "XKLD", "ABCD", `xkld.yaml:1:10: station ABCD is not in the configuration; add it there with its elevation`},
		{"no station's code", "station: XKLD", "station: Kaldmoor", `xkld.yaml:1:10: station "Kaldmoor" must be 3 or 4 letters or figures with a letter among them, such as XKLD`},
		{"figures alone", "station: XKLD", "station: 1234", `xkld.yaml:1:10: station "1234" must be 3 or 4 letters or figures with a letter among them, such as XKLD`},
		{"no title", "RNAV (GPS) RWY 31", "the usual one", `xkld.yaml:2:12: procedure: "usual" is no word of an approach's title; write the chart's title, such as`},
		{"no role", "role: FAF, ", "", `xkld.yaml:9:5: XIRTU has no role; write IAF, IF, FAF,`},
		{"misspelt role", "role: FAF", "role: FAV", `xkld.yaml:9:24: unknown role "FAV"; did you mean "FAF"?`},
		{"no altitude", ", above: 7400", "", `xkld.yaml:9:5: XIRTU has no altitude; add it, such as "above: 7400"; only an initial approach fix may have none`},
		{"two altitudes", "above: 7400", "above: 7400, at: 7400", `xkld.yaml:9:46: XIRTU has two altitudes; a fix has one of at, above, below and between`},
		{"no name", "fix: XIRTU, ", "", `xkld.yaml:9:5: a fix has no name; add it, such as "fix: XIRTU"`},
		{"altitude with a comma", "above: 7400", `above: "7,400"`, `xkld.yaml:9:36: "above" must be a plain number of feet, not "7,400"; write 7400`},
		{"altitude out of the world", "above: 10900", "above: 127000", `xkld.yaml:7:36: "above" must be from -1500 to 30000 feet, not 127000`},
		{"date of another form", "2026-01-22", "22 JAN 2026", `xkld.yaml:3:12: "effective" must be a day as 2026-09-03, not the text "22 JAN 2026"`},
		{"no such day", "2026-01-22", "2026-02-30", `xkld.yaml:3:12: "effective" must be a day as 2026-09-03, not the text "2026-02-30"`},
		{"cycle", "source:", "cycle: 2620\nsource:", `xkld.yaml:5:8: "cycle" must be four figures, year and number, such as 2609, not the number "2620"`},
		{"a line without an altitude", "{name: LNAV, mda: 5460}", "{name: LNAV}", `xkld.yaml:13:5: LNAV has no altitude; add it, such as "mda: 5460"`},
		{"final_fix that is no none", "source:", "final_fix: XIRTU\nsource:", `xkld.yaml:5:12: "final_fix" is only ever none`},
		{"twice in a file", good, good + "---\n" + good, `xkld.yaml:20:1: XKLD rnav 31 is given twice, first on line 1; remove one of them`},
		// The file itself.
		{"empty", good, "", `xkld.yaml:1:1: the file holds no procedure; begin with "station: XKLD"`},
		{"comments alone", good, "# to do\n", `xkld.yaml:1:1: the file holds no procedure`},
		{"a list", good, "- a\n", `xkld.yaml:1:1: this is not a procedure`},
		{"a tab", "  - {fix: XOLMI", "\t- {fix: XOLMI", `a tab indents this line; indent with spaces`},
		{"not text", "demo", "\xff", `xkld.yaml:5:9: this byte is not UTF-8 text`},
		{"anchor", "station: XKLD", "station: &a XKLD", `xkld.yaml:1:10: anchors and aliases (& and *) are not used here`},
		{"bracket left open", "{fix: XIRTU, role: FAF, above: 7400}", "{fix: XIRTU, role: FAF, above: 7400", `a bracket opened before here is not closed, or a comma is missing; write lists as [a, b]`},
		{"fixes as text", good[strings.Index(good, "  - {fix: XADLO"):strings.Index(good, "minimums:")], "  none\n", `xkld.yaml:7:3: "fixes" must be a list, not the text "none"`},
		{"too deep", good, strings.Repeat("[", 20) + strings.Repeat("]", 20), "nested more than 12 deep"},
		{"too long", good, strings.Repeat("#", form.Bytes+1), "at most 262144 are read"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text := strings.ReplaceAll(good, tt.from, tt.to)
			if text == good {
				t.Fatalf("%q is not in the good one", tt.from)
			}
			all, err := whole("xkld.yaml", []byte(text), fields)
			var ps strictyaml.Problems
			if all != nil || !errors.As(err, &ps) {
				t.Fatalf("got %v, %v, want Problems alone", all, err)
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got\n%v\nwant %s", err, tt.want)
			}
		})
	}
}

// country is the demo region's elevations, as config.example.yaml has them.
func country(t *testing.T) Fields {
	t.Helper()
	data, err := os.ReadFile("../../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c, err := config.Parse("config.example.yaml", data, config.Known{Rules: []string{"faa-all-segments"}})
	if err != nil {
		t.Fatal(err)
	}
	all := Fields{}
	for _, s := range c.Stations {
		all[s.Ident] = s.Elevation
	}
	return all
}

// Every demo procedure is right and is found by what its README says of it.
func TestDemo(t *testing.T) {
	read, err := ReadFS(os.DirFS("../../testdata/demo-procedures"), country(t))
	if err != nil || len(read.Left) > 0 {
		t.Fatal(read.Left, err)
	}
	all := read.All
	now := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	for _, tt := range []struct {
		ident, words, want string
		points             int
		standing           approach.Standing
	}{
		{"XKLD", "rnav 31", "rnav 31", 9, approach.Current},
		{"XRUN", "ils 12", "ils 12", 9, approach.Current},
		{"XRUN", "loc 12", "ils 12", 9, approach.Current},
		{"XGLN", "vor a", "vor a", 7, approach.Current},
		{"XFRN", "ndb 7", "ndb 07", 5, approach.Current},
		{"XHGH", "rnav y 35", "rnav y 35", 10, approach.Current},
		{"XHGH", "rnp z 35", "rnp z 35", 6, approach.Current},
		{"XSLT", "vor dme 16", "vor/dme 16", 9, approach.Current},
		{"XMBL", "rnav 3", "rnav 03", 9, approach.Current},
		{"XTAR", "loc 21", "loc 21", 7, approach.Expired},
	} {
		var here []approach.Approach
		for i := range all {
			if all[i].Ident == tt.ident {
				here = append(here, all[i])
			}
		}
		a, ok := approach.Find(here, tt.words).One()
		if !ok || a.Name != tt.want {
			t.Errorf("%s %s: got %v, want %s", tt.ident, tt.words, a, tt.want)
			continue
		}
		if got := a.Points(); len(got) != tt.points {
			t.Errorf("%s %s: got %d altitudes %+v, want %d", tt.ident, tt.words, len(got), got, tt.points)
		}
		if got := a.At(now); got != tt.standing {
			t.Errorf("%s %s: got standing %v, want %v", tt.ident, tt.words, got, tt.standing)
		}
		if gaps := a.Gaps(); gaps != nil {
			t.Errorf("%s %s: got gaps %q", tt.ident, tt.words, gaps)
		}
	}
	var hgh []approach.Approach
	for i := range all {
		if all[i].Ident == "XHGH" {
			hgh = append(hgh, all[i])
		}
	}
	if got := approach.Find(hgh, "rnav 35"); len(got.Fits) != 2 {
		t.Errorf("XHGH rnav 35: got %d, want to be asked which of two", len(got.Fits))
	}
}

// FAA AIM 7-3-6, editions of 6/17/21, 4/20/23 and 10/5/23: the worked example
// as a stored procedure gives its numbers, to the nearest hundred outside the
// final segment as the example has it.
func TestPublishedExample(t *testing.T) {
	data, err := os.ReadFile("../../testdata/published/aim_7-3-6_procedure.yaml")
	if err != nil {
		t.Fatal(err)
	}
	all, err := whole("aim_7-3-6_procedure.yaml", data, Fields{"KMSO": 3206})
	if err != nil {
		t.Fatal(err)
	}
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	want := example(t)
	for _, set := range sets {
		individual := set.ID == "faa-individual-segments"
		if !individual && set.ID != "faa-all-segments" {
			continue
		}
		res, err := set.Evaluate(ruleset.Input{Air: correction.Air{Temperature: -12, Source: 3206}, Restriction: -12, HasPublished: true,
			Designated: []procedure.Segment{procedure.Intermediate, procedure.Final, procedure.Missed}, Outside: ruleset.NearestHundred, Points: all[0].Points()})
		if err != nil {
			t.Fatal(err)
		}
		if len(res.Lines) != len(want) {
			t.Fatalf("%s: got %d altitudes, want the example's %d", set.ID, len(res.Lines), len(want))
		}
		for _, l := range res.Lines {
			name := l.Fix
			if l.Role == procedure.MinimumDescent {
				name = "MDA"
			}
			w, ok := want[name]
			if !ok || l.Altitude != w.published {
				t.Errorf("%s: %s %.0f is not in the example", set.ID, name, l.Altitude)
			}
			if individual && l.Segment == procedure.Initial { // neither is corrected there
				if l.Required {
					t.Errorf("%s: %s: got required, want the initial segment left alone", set.ID, name)
				}
				continue
			}
			if l.Corrected != w.corrected || !l.Required {
				t.Errorf("%s: %s %.0f: got %.0f, required %v, want %.0f", set.ID, name, l.Altitude, l.Corrected, l.Required, w.corrected)
			}
		}
	}
}

type exampleRow struct{ published, corrected engine.Altitude }

// example reads the worked example from testdata/published.
func example(t *testing.T) map[string]exampleRow {
	t.Helper()
	f, err := os.Open("../../testdata/published/worked_examples.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	altitude := func(s string) engine.Altitude {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return engine.Altitude(f)
	}
	rows := map[string]exampleRow{}
	for _, r := range records[1:] {
		if r[0] == "AIM 7-3-6 all segments" {
			rows[r[1]] = exampleRow{altitude(r[5]), altitude(r[9])}
		}
	}
	return rows
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(good))
	f.Add([]byte("station: XKLD\nfixes:\n  - {fix: A, role: IAF hold, between: [1, 2]}\n---\nstation: {a: b}\n"))
	f.Add([]byte("minimums: [{name: LNAV, mda: 5460}, circling]\nfinal_fix: none\n"))
	f.Add([]byte("? a\n: &b [*c, !d e]\n<<: {}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := whole("x.yaml", data, fields)
		if err == nil && len(all) == 0 {
			t.Error("got neither a procedure nor a problem")
		}
		var ps strictyaml.Problems
		if err != nil && !errors.As(err, &ps) {
			t.Fatalf("got %T, want Problems", err)
		}
		lines := strings.Count(strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(string(data)), "\n") + 1 // as an editor counts them
		for _, p := range ps {
			if p.Line < 1 || p.Line > lines || p.Column < 1 || strings.ContainsAny(p.Text, "\n\r") || p.Text == "" {
				t.Errorf("got %+v, want a line of the file's %d and one line of text", p, lines)
			}
		}
		for i := range all {
			a := &all[i]
			finals := 0
			for _, l := range a.Legs {
				if l.Role == approach.FinalFix {
					finals++
				}
			}
			if finals > 1 || a.Name == "" || len(a.Minimums) == 0 || !a.End.After(a.Effective) || a.MissedAltitude <= fields[a.Ident] {
				t.Errorf("got %+v", a)
			}
			for _, m := range a.Minimums {
				if m.Altitude <= fields[a.Ident] {
					t.Errorf("got minimum %+v at %v", m, a.Ident)
				}
			}
		}
	})
}
