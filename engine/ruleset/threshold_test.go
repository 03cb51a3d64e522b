package ruleset

import (
	"slices"
	"strings"
	"testing"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// The approaches of this file are made up: an altitude of every role, over a
// source at 1000 ft. In the low one nothing that the strict rule set looks at
// is more than 3000 ft above the source.
const fieldElevation engine.Altitude = 1000

func lowApproach() []procedure.Point {
	return []procedure.Point{
		{Label: "MSA", Role: procedure.SectorAltitude, Altitude: 5500},
		{Label: "TAA", Role: procedure.ArrivalArea, Altitude: 5000},
		{Label: "IAF", Role: procedure.InitialFix, Altitude: 4500}, // an initial fix is no procedure turn
		{Label: "PT", Role: procedure.ProcedureTurn, Altitude: 3900},
		{Label: "hold", Role: procedure.Hold, Altitude: 3900},
		{Label: "IF", Role: procedure.IntermediateFix, Altitude: 3500},
		{Label: "step", Role: procedure.StepDown, Altitude: 3200},
		{Label: "FAF", Role: procedure.FinalFix, Altitude: 3000},
		{Label: "inner", Role: procedure.StepDown, Altitude: 2200},
		{Label: "DA", Role: procedure.DecisionAltitude, Altitude: 1300},
		{Label: "MDA", Role: procedure.MinimumDescent, Altitude: 1500},
		{Label: "circling", Role: procedure.Circling, Altitude: 1700},
		{Label: "missed", Role: procedure.MissedHold, Altitude: 5000},
		{Label: "other", Altitude: 3700},
		{Label: "lower", Altitude: 2000},
	}
}

// at is the low approach with some altitudes moved, at a temperature.
func at(temperature engine.Celsius, moved map[string]engine.Altitude) Input {
	in := Input{Air: correction.Air{Temperature: temperature, Source: fieldElevation}, Points: lowApproach()}
	for i := range in.Points {
		if a, ok := moved[in.Points[i].Label]; ok {
			in.Points[i].Altitude = a
		}
	}
	if err := procedure.AssignSegments(in.Points); err != nil {
		panic(err)
	}
	return in
}

func labels(res Result, want func(*Line) bool) string {
	var names []string
	for i := range res.Lines {
		if want(&res.Lines[i]) {
			names = append(names, res.Lines[i].Label)
		}
	}
	return strings.Join(names, " ")
}

const (
	everything  = "MSA TAA IAF PT hold IF step FAF inner DA MDA circling missed other lower"
	noSector    = "TAA IAF PT hold IF step FAF inner DA MDA circling missed other lower"
	finalOnly   = "inner DA MDA circling other lower" // and what has no segment
	toldOutside = "TAA IAF PT hold IF step FAF missed other"
)

// Every condition of the rule sets, at its limit, a tenth above and a
// tenth below. Sources stand in the rule sets; AIM 7-3-5 b says "at or below".
func TestThresholds(t *testing.T) {
	all := []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}
	published := func(in Input, restriction engine.Celsius, designated ...procedure.Segment) Input {
		in.Restriction, in.HasPublished, in.Designated = restriction, true, designated
		return in
	}
	mountainous := func(in Input) Input { in.Mountainous = true; return in }
	low := func(c engine.Celsius) Input { return at(c, nil) }
	// The standard temperature at 1000 ft: 15 - 1000 * 0.0065 * 0.3048, by hand.
	const standard engine.Celsius = 13.0188
	over := func(source engine.Altitude, c engine.Celsius) Input { in := low(c); in.Air.Source = source; return in }
	moved := func(c engine.Celsius, label string, a engine.Altitude) Input {
		return at(c, map[string]engine.Altitude{label: a})
	}
	for _, tt := range []struct {
		name     string
		set      string
		in       Input
		required string
		report   string // of the required ones; of none all, as advice
	}{
		{"at the restriction temperature", "faa-all-segments", published(low(-12), -12), noSector, toldOutside},
		{"a tenth warmer than the restriction", "faa-all-segments", published(low(-11.9), -12), "", toldOutside},
		{"a tenth colder than the restriction", "faa-all-segments", published(low(-12.1), -12), noSector, toldOutside},
		{"no restriction published, very cold", "faa-all-segments", low(-45), "", toldOutside},
		{"a restriction that is not published", "faa-all-segments", Input{Air: low(-12).Air, Restriction: -12, Points: low(-12).Points}, "", toldOutside},
		{"10.4 F at -12 C", "faa-all-segments", published(low(engine.Fahrenheit(10.4).Celsius()), -12), noSector, toldOutside},
		{"-12 C at 10.4 F", "faa-all-segments", published(low(-12), engine.Fahrenheit(10.4).Celsius()), noSector, toldOutside},
		{"10.5 F at -12 C", "faa-all-segments", published(low(engine.Fahrenheit(10.5).Celsius()), -12), "", toldOutside},
		{"-38.38 F at -39.1 C", "faa-all-segments", published(low(engine.Fahrenheit(-38.38).Celsius()), -39.1), noSector, toldOutside}, // a hair warmer in binary fractions
		{"5 F at -15 C", "faa-all-segments", published(low(engine.Fahrenheit(5).Celsius()), -15), noSector, toldOutside},

		{"all listed, at the restriction temperature", "faa-individual-segments", published(low(-12), -12, all...), noSector, toldOutside},
		{"all listed, a tenth warmer", "faa-individual-segments", published(low(-11.9), -12, all...), "", toldOutside},
		{"all listed, a tenth colder", "faa-individual-segments", published(low(-12.1), -12, all...), noSector, toldOutside},
		{"initial listed", "faa-individual-segments", published(low(-12), -12, procedure.Initial), "TAA IAF PT hold IF", "TAA IAF PT hold IF"},
		{"intermediate listed", "faa-individual-segments", published(low(-12), -12, procedure.Intermediate), "step FAF", "step FAF"},
		{"final listed", "faa-individual-segments", published(low(-12), -12, procedure.Final), "inner DA MDA circling", ""},
		{"missed listed", "faa-individual-segments", published(low(-12), -12, procedure.Missed), "missed", "missed"},
		{"none listed, no label", "faa-individual-segments", published(low(-12), -12), "other lower", "other"},
		{"no restriction published, all listed", "faa-individual-segments", Input{Air: low(-45).Air, Designated: all, Points: low(-45).Points}, "", toldOutside},

		{"at the operator's threshold", "icao", low(-5), everything, toldOutside},
		{"a tenth warmer than the operator's threshold", "icao", low(-4.9), "", toldOutside},
		{"at the standard temperature", "icao", low(standard), "", ""},
		{"a tenth warmer than standard", "icao", low(standard + 0.1), "", ""},
		{"at the standard temperature over 200 ft", "icao", over(200, 14.60376), "", ""}, // 15 - 200 * 0.0019812; a hair colder in binary fractions
		{"a tenth colder than standard", "icao", low(standard - 0.1), "", toldOutside},
		{"the station's restriction does not matter", "icao", published(low(standard), 40), "", ""},

		{"at 0 C", "canada", low(0), everything, "PT hold FAF missed other"},
		{"at 0.1 C", "canada", low(0.1), "", "PT hold FAF missed other"},
		{"at -0.1 C", "canada", low(-0.1), everything, "PT hold FAF missed other"},
		{"32 F", "canada", low(engine.Fahrenheit(32).Celsius()), everything, "PT hold FAF missed other"},

		{"at 0 C", "strict", low(0), finalOnly, "other"},
		{"at 0.1 C", "strict", low(0.1), "", toldOutside},
		{"at -0.1 C", "strict", low(-0.1), finalOnly, "other"},
		{"at -30 C", "strict", low(-30), everything, toldOutside},
		{"at -29.9 C", "strict", low(-29.9), finalOnly, "other"},
		{"at -30.1 C", "strict", low(-30.1), everything, toldOutside},
		{"-22 F", "strict", low(engine.Fahrenheit(-22).Celsius()), everything, toldOutside},
		{"mountainous at 0 C", "strict", mountainous(low(0)), everything, toldOutside},
		{"mountainous at 0.1 C", "strict", mountainous(low(0.1)), "", toldOutside},
		{"mountainous at -0.1 C", "strict", mountainous(low(-0.1)), everything, toldOutside},
		{"procedure turn 3000 ft up at 0 C", "strict", moved(0, "PT", 4000), finalOnly, "other"},
		{"procedure turn 3000.1 ft up at 0 C", "strict", moved(0, "PT", 4000.1), everything, toldOutside},
		{"procedure turn 2999.9 ft up at 0 C", "strict", moved(0, "PT", 3999.9), finalOnly, "other"},
		{"procedure turn 3001 ft up at 0 C", "strict", moved(0, "PT", 4001), everything, toldOutside},
		{"procedure turn 3001 ft up at 0.1 C", "strict", moved(0.1, "PT", 4001), "", toldOutside},
		{"hold 3000 ft up at 0 C", "strict", moved(0, "hold", 4000), finalOnly, "other"},
		{"hold 3001 ft up at 0 C", "strict", moved(0, "hold", 4001), everything, toldOutside},
		{"intermediate fix 3000 ft up at 0 C", "strict", moved(0, "IF", 4000), finalOnly, "other"},
		{"intermediate fix 3001 ft up at 0 C", "strict", moved(0, "IF", 4001), everything, toldOutside},
		{"no label, 3000 ft up at 0 C", "strict", moved(0, "other", 4000), finalOnly, "other"},
		{"no label, 3001 ft up at 0 C", "strict", moved(0, "other", 4001), everything, toldOutside},
		{"procedure turn 914.4 m, 3000 ft, up at 0 C", "strict", moved(0, "PT", fieldElevation.Add(engine.Metres(914.4).Feet())), finalOnly, "other"},
		{"procedure turn at 4096.6 over 1096.6, 3000 ft, at 0 C", "strict", Input{Air: correction.Air{Source: 1096.6}, Points: moved(0, "PT", 4096.6).Points}, finalOnly, "other"}, // a hair more in binary fractions
		{"restriction +3 C, at +3 C", "strict", published(low(3), 3), everything, toldOutside},
		{"restriction +3 C, at +3.1 C", "strict", published(low(3.1), 3), "", toldOutside},
		{"restriction +3 C, at +2.9 C", "strict", published(low(2.9), 3), everything, toldOutside},
		{"37.4 F, restriction +3 C", "strict", published(low(engine.Fahrenheit(37.4).Celsius()), 3), everything, toldOutside},
	} {
		t.Run(tt.set+"/"+tt.name, func(t *testing.T) {
			s := builtinSet(t, tt.set)
			if threshold, has := map[string]engine.Celsius{"icao": -5, "canada": 0}[tt.set]; has {
				s = operated(t, tt.set, threshold)
			}
			res := evaluate(t, s, tt.in)
			if got := labels(res, func(l *Line) bool { return l.Required }); got != tt.required {
				t.Errorf("%g °C: got required %q, want %q", float64(tt.in.Air.Temperature), got, tt.required)
			}
			if got := labels(res, func(l *Line) bool { return l.Report }); got != tt.report {
				t.Errorf("%g °C: got reported %q, want %q", float64(tt.in.Air.Temperature), got, tt.report)
			}
			for _, l := range res.Lines {
				if l.Required != (l.Rule >= 0) {
					t.Errorf("%s: got rule %d, want one only where required", l.Label, l.Rule)
				}
			}
		})
	}
}

// operated is a built-in rule set with the operator's threshold.
func operated(t testing.TB, id string, c engine.Celsius) *Set {
	t.Helper()
	s, err := builtinSet(t, id).WithThreshold(c)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Whether a correction is required is not known where a rule waits for a
// temperature that nobody has given, and it is cold; the figures stand.
func TestNotKnown(t *testing.T) {
	published := func(in Input) Input { in.Restriction, in.HasPublished = -12, true; return in }
	for _, tt := range []struct {
		name, set         string
		in                Input
		required, unknown bool
	}{
		{"no restriction temperature is known", "faa-all-segments", at(-20, nil), false, true},
		{"none is known, in summer", "faa-all-segments", at(25, nil), false, false},
		{"it is known", "faa-all-segments", published(at(-20, nil)), true, false},
		{"it is known, warmer", "faa-all-segments", published(at(-5, nil)), false, false},
		{"the operator has given no threshold", "icao", at(-20, nil), false, true},
		{"the operator has given none, warmer than standard", "icao", at(14, nil), false, false},
		{"the operator has given none", "canada", at(-20, nil), false, true},
		{"strict, by its own figure", "strict", at(-30, nil), true, false},
		{"strict, warmer than its own figures", "strict", at(1, nil), false, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			res := evaluate(t, builtinSet(t, tt.set), tt.in)
			if res.Required != tt.required || res.Unknown != tt.unknown {
				t.Errorf("%s: got required %v, unknown %v, want %v, %v", tt.set, res.Required, res.Unknown, tt.required, tt.unknown)
			}
			for _, l := range res.Lines {
				// Under the FAA's sets nothing ever asks for the sector altitude.
				if l.Segment == procedure.Sector && strings.HasPrefix(tt.set, "faa") {
					if l.Correction > 0 && l.State != Advised || l.Report {
						t.Errorf("MSA: got state %d, report %v, want advised and not told", l.State, l.Report)
					}
					continue
				}
				if tt.unknown && l.Note != Left && l.Correction > 0 && l.State != Unknown {
					t.Errorf("%s: got state %d, want unknown", l.Label, l.State)
				}
			}
		})
	}
	if _, err := builtinSet(t, "strict").WithThreshold(-5); err == nil {
		t.Error("a threshold for a rule set that has none of the operator's: got no error")
	}
	if !builtinSet(t, "icao").Waits() || operated(t, "icao", -5).Waits() || builtinSet(t, "strict").Waits() {
		t.Error("Waits: want icao alone, until it is given a threshold")
	}
}

// An altitude without a label may lie in a segment that is listed, or in one that
// is not: unless all are, it is not known whether it is corrected, and it is asked
// for only where each segment before the final approach fix is.
func TestUnlabelledAmongListedSegments(t *testing.T) {
	every := Segments[:]
	for _, tt := range []struct {
		name   string
		listed []procedure.Segment
		at     engine.Celsius
		state  State
		told   bool
	}{
		{"all", every, -20, Required, true},
		{"all before the final segment", every[:2], -20, Unknown, true},
		{"the last two", every[2:], -20, Unknown, false},
		{"one before the final segment", every[1:3], -20, Unknown, false},
		{"one, warmer than published", every[1:3], -5, Advised, true},
	} {
		in := Input{Air: correction.Air{Temperature: tt.at, Source: 4380}, Restriction: -12, HasPublished: true, Designated: tt.listed,
			Points: []procedure.Point{{Altitude: 9000}, {Altitude: 4580}}}
		res := evaluate(t, builtinSet(t, "faa-individual-segments"), in)
		for _, l := range res.Lines {
			if l.State != tt.state || l.Required != (tt.state == Required) || l.Correction <= 0 || l.ByPlace != (tt.state == Unknown) {
				t.Errorf("%s: %.0f: got state %d, required %v, correction %v, want state %d", tt.name, float64(l.Altitude), l.State, l.Required, l.Correction, tt.state)
			}
		}
		if cold := tt.at == -20; res.Required != cold || res.Unknown || res.ToldUnknown || res.Lines[0].Report != tt.told || res.ToldRequired != (cold && tt.told) {
			t.Errorf("%s: got %+v, want required %v, told %v", tt.name, res, cold, tt.told)
		}
	}
}

// A final approach fix more than 3000 ft up is an intermediate altitude.
func TestStrictLooksAtTheIntermediateSegment(t *testing.T) {
	s := builtinSet(t, "strict")
	for _, tt := range []struct {
		altitude engine.Altitude
		want     bool
	}{{4000, false}, {4000.1, true}, {4001, true}} {
		points := []procedure.Point{{Role: procedure.FinalFix, Altitude: tt.altitude}}
		if err := procedure.AssignSegments(points); err != nil {
			t.Fatal(err)
		}
		if got := evaluate(t, s, Input{Air: correction.Air{Source: fieldElevation}, Points: points}).Required; got != tt.want {
			t.Errorf("FAF %.1f at 0 °C over %.0f: got required %v, want %v", float64(tt.altitude), float64(fieldElevation), got, tt.want)
		}
	}
}

// Which rule of several is named: the first that holds, as they are written.
func TestRuleIsTheFirstThatHolds(t *testing.T) {
	s := builtinSet(t, "strict")
	in := at(-30, map[string]engine.Altitude{"PT": 4001})
	in.Mountainous, in.Restriction, in.HasPublished = true, -30, true
	for _, want := range []int{0, 1, 2, 3, 4} {
		got := evaluate(t, s, in)
		l := got.Lines[slices.IndexFunc(got.Lines, func(l Line) bool { return l.Label == "DA" })]
		if l.Rule != want {
			t.Errorf("got rule %d, %q, want %d", l.Rule, s.Require[l.Rule].Why, want)
		}
		switch want { // take away what held, one after the other
		case 0:
			in.HasPublished = false
		case 1:
			in.Air.Temperature = -29.9
		case 2:
			in.Mountainous = false
		case 3:
			in.Points = at(0, nil).Points
		}
	}
}

// Which altitude's height sets the correction. Sources: AIM 7-3-5 f 1 (a) and
// (10/5/23) page 7-3-5 for the FAA's two; in the others each its own.
func TestReferenceAltitudes(t *testing.T) {
	own := map[string]string{}
	allSegments := map[string]string{"IAF": "FAF", "PT": "FAF", "hold": "FAF", "IF": "FAF", "step": "FAF", "FAF": "FAF", "inner": "circling", "TAA": "FAF"}
	individual := map[string]string{"IAF": "IF", "PT": "IF", "hold": "IF", "IF": "IF", "step": "FAF", "FAF": "FAF", "inner": "circling", "TAA": "IF"}
	for id, want := range map[string]map[string]string{"faa-all-segments": allSegments, "faa-individual-segments": individual, "icao": own, "canada": own, "strict": own} {
		s := builtinSet(t, id)
		in := at(-20, nil)
		in.Designated = []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}
		res := evaluate(t, s, in)
		for _, l := range res.Lines {
			got, height := "", l.Height
			if l.ReferencePoint >= 0 {
				got = res.Lines[l.ReferencePoint].Label
				height = res.Lines[l.ReferencePoint].Height
			}
			if got != want[l.Label] {
				t.Errorf("%s: %s: got the height of %q, want of %q", id, l.Label, got, want[l.Label])
			}
			if l.ReferenceHeight != height {
				t.Errorf("%s: %s: got reference height %v, want %v", id, l.Label, l.ReferenceHeight, height)
			}
			if l.Height != l.Altitude.Above(fieldElevation) {
				t.Errorf("%s: %s: got height %v, want %v", id, l.Label, l.Height, l.Altitude.Above(fieldElevation))
			}
		}
	}
}

// Where the reference altitude is not given, an altitude is its own; the
// highest of several serves, of the minimums those without vertical guidance,
// circling too.
func TestReferenceAltitudesNotGiven(t *testing.T) {
	for _, tt := range []struct {
		name, set string
		points    []procedure.Point
		want      []int
	}{
		{"initial fix alone", "faa-all-segments", []procedure.Point{{Role: procedure.InitialFix, Altitude: 5000}}, []int{-1}},
		{"no intermediate fix", "faa-individual-segments", []procedure.Point{{Role: procedure.InitialFix, Altitude: 5000}, {Role: procedure.FinalFix, Altitude: 3000}}, []int{-1, 1}},
		{"no minimum", "faa-all-segments", []procedure.Point{{Role: procedure.FinalFix, Altitude: 3000}, {Role: procedure.StepDown, Altitude: 2000}}, []int{0, -1}},
		{"step-down fix that cannot be placed", "faa-all-segments", []procedure.Point{{Role: procedure.StepDown, Altitude: 2000}, {Role: procedure.MinimumDescent, Altitude: 1500}}, []int{-1, -1}},
		{"circling alone", "faa-all-segments", []procedure.Point{{Role: procedure.FinalFix, Altitude: 3000}, {Role: procedure.StepDown, Altitude: 2000}, {Role: procedure.Circling, Altitude: 1700}, {Role: procedure.Circling, Altitude: 1800}}, []int{0, 3, -1, -1}},
		{"a decision altitude alone", "faa-all-segments", []procedure.Point{{Role: procedure.StepDown, Altitude: 2000}, {Role: procedure.FinalFix, Altitude: 3000}, {Role: procedure.DecisionAltitude, Altitude: 1300}}, []int{2, 1, -1}},
		{"circling before straight-in", "faa-all-segments", []procedure.Point{{Role: procedure.FinalFix, Altitude: 3000}, {Role: procedure.StepDown, Altitude: 2000}, {Role: procedure.Circling, Altitude: 1800}, {Role: procedure.DecisionAltitude, Altitude: 1900}, {Role: procedure.MinimumDescent, Altitude: 1500}}, []int{0, 2, -1, -1, -1}},
		{"straight-in before circling", "faa-all-segments", []procedure.Point{{Role: procedure.FinalFix, Altitude: 3000}, {Role: procedure.StepDown, Altitude: 2000}, {Role: procedure.MinimumDescent, Altitude: 1500}, {Role: procedure.Circling, Altitude: 1800}}, []int{0, 3, -1, -1}},
		{"two intermediate fixes", "faa-individual-segments", []procedure.Point{{Role: procedure.IntermediateFix, Altitude: 3500}, {Role: procedure.IntermediateFix, Altitude: 3600}, {Role: procedure.InitialFix, Altitude: 5000}}, []int{1, 1, 1}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if err := procedure.AssignSegments(tt.points); err != nil {
				t.Fatal(err)
			}
			res := evaluate(t, builtinSet(t, tt.set), Input{Air: correction.Air{Temperature: -20, Source: fieldElevation}, Points: tt.points,
				Designated: []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final}})
			for i, l := range res.Lines {
				if l.ReferencePoint != tt.want[i] {
					t.Errorf("%s %.0f: got reference %d, want %d", l.Role, float64(l.Altitude), l.ReferencePoint, tt.want[i])
				}
			}
		})
	}
}

// Designated is the station's own word in a height condition too.
func TestHigherThanInADesignatedSegment(t *testing.T) {
	d := builtinSet(t, "strict").Document
	high := 3000.0
	d.Require = []Require{{When: Condition{Published: true, HigherFt: &high, Over: []string{"designated"}}, Altitudes: []string{"all"}, Why: "test", Source: "test"}}
	s, err := Compile(d)
	if err != nil {
		t.Fatal(err)
	}
	points := []procedure.Point{{Role: procedure.InitialFix, Altitude: 5000}}
	if err := procedure.AssignSegments(points); err != nil {
		t.Fatal(err)
	}
	in := Input{Air: correction.Air{Temperature: -20, Source: fieldElevation}, Restriction: -20, HasPublished: true, Points: points}
	for _, tt := range []struct {
		designated []procedure.Segment
		want       bool
	}{{nil, false}, {[]procedure.Segment{procedure.Missed}, false}, {[]procedure.Segment{procedure.Initial}, true}} {
		in.Designated = tt.designated
		if got := evaluate(t, s, in).Required; got != tt.want {
			t.Errorf("designated %v: got required %v, want %v", tt.designated, got, tt.want)
		}
	}
}

func TestAsksByRestriction(t *testing.T) {
	for id, want := range map[string]bool{"faa-all-segments": true, "faa-individual-segments": true, "faa-each-fix": true, "icao": false, "canada": false, "strict": true} {
		if got := builtinSet(t, id).AsksByRestriction(); got != want {
			t.Errorf("%s: got %v, want %v", id, got, want)
		}
	}
}
