package ruleset

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// one corrects an altitude without a label, from its own height.
func one(t testing.TB, s *Set, h engine.Height, air correction.Air) Line {
	t.Helper()
	return evaluate(t, s, Input{Air: air, Points: []procedure.Point{{Altitude: h.Over(air.Source)}}}).Lines[0]
}

// changed is a built-in rule set but for one thing.
func changed(t testing.TB, id string, change func(*Document)) *Set {
	t.Helper()
	d := builtinSet(t, id).Document
	change(&d)
	s, err := Compile(d)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func within(t *testing.T, what string, got engine.Feet, want, margin float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= margin) {
		t.Errorf("%s: got %.3f ft, want %.3f within %g", what, float64(got), want, margin)
	}
}

// At sea level and -20 °C the true need is 853, 1148 and 1448 ft at 6000, 8000
// and 10 000 ft: the accurate equation (ESDU 77022), computed once in Python,
// independent of this module. The 5000 ft column, 710 ft (AIM TBL 7-3-1), may
// stand for them all (AIM 7-3-5).
func TestAboveTheLastColumn(t *testing.T) {
	air := correction.Air{Temperature: -20}
	for height, need := range map[engine.Height]float64{6000: 853, 8000: 1148, 10000: 1448} {
		for _, id := range []string{"faa-all-segments", "faa-individual-segments"} {
			l := one(t, builtinSet(t, id), height, air)
			what := fmt.Sprintf("%s at %.0f ft", id, float64(height))
			if l.Note != LastColumn || l.Method != correction.MethodTable || l.Unrounded != 710 {
				t.Errorf("%s: got note %d, %s, %v, want note %d, table, 710", what, l.Note, l.Method, l.Unrounded, LastColumn)
			}
			within(t, what+", the true need", l.ShortOf, need, 0.5)
		}
		for _, id := range []string{"icao", "canada", "strict"} {
			l := one(t, builtinSet(t, id), height, air)
			what := fmt.Sprintf("%s at %.0f ft", id, float64(height))
			if l.Note != AboveTable || l.Method != correction.MethodAccurate || l.ShortOf != 0 {
				t.Errorf("%s: got note %d, %s, short of %v, want note %d, accurate, short of nothing", what, l.Note, l.Method, l.ShortOf, AboveTable)
			}
			within(t, what, l.Unrounded, need, 0.5)
		}
	}
}

// At an elevated field the accurate equation gives less than the table does at
// 5000 ft, which assumes the sea: over 8000 ft at -20 °C 386 ft against 710
// (testdata/published/comparison_grid.csv). A higher altitude never gets less.
func TestAboveTheLastColumnNeverLessThanIt(t *testing.T) {
	for _, id := range []string{"icao", "canada", "strict"} {
		for _, h := range []engine.Height{5000, 5000.1, 6000} {
			if l := one(t, builtinSet(t, id), h, correction.Air{Temperature: -20, Source: 8000}); l.Unrounded != 710 {
				t.Errorf("%s at %g ft: got %v, want the last column's 710", id, float64(h), l.Unrounded)
			}
		}
	}
}

// At 5000 ft the column is a figure of the table like any other. Of the seven
// in it one is short of the true need at sea level: -40 °C, 1210 ft against
// 1211.7 (testdata/published/comparison_grid.csv).
func TestAtTheLastColumn(t *testing.T) {
	for _, id := range []string{"faa-all-segments", "faa-individual-segments", "icao", "canada", "strict"} {
		s := builtinSet(t, id)
		for _, height := range []struct {
			name string
			h    engine.Height
		}{
			{"5000", 5000}, {"1524 m", engine.Height(engine.Metres(1524).Feet())},
			{"9206.3 - 4206.3", engine.Altitude(9206.3).Above(4206.3)}, // 4999.999999999999 in binary fractions
		} {
			l := one(t, s, height.h, correction.Air{Temperature: -20})
			if l.Note != NoNote || l.Method != correction.MethodTable || l.Corrected != height.h.Over(0).Add(710) {
				t.Errorf("%s at %s ft, -20 °C: got note %d, %s, %v, want no note, table, 5710 ft", id, height.name, l.Note, l.Method, l.Corrected)
			}
			if l.ShortOf != 0 {
				t.Errorf("%s at %s ft, -20 °C: got short of %v, want 0", id, height.name, l.ShortOf)
			}
			within(t, id+" at "+height.name+" ft, -40 °C, the true need", one(t, s, height.h, correction.Air{Temperature: -40}).ShortOf, 1211.7, 0.05)
		}
		if l := one(t, s, 5000.1, correction.Air{Temperature: -20}); l.Note == NoNote {
			t.Errorf("%s at 5000.1 ft: got no note, want one", id)
		}
	}
}

// Colder than the last row: the equation at sea level; above it, where the
// equation gives less than the table, never less than the row of -50 °C (AIM
// TBL 7-3-1: 300 ft at 1000 ft).
func TestColderThanTheTable(t *testing.T) {
	for _, id := range []string{"faa-all-segments", "faa-individual-segments", "icao", "canada", "strict"} {
		s := builtinSet(t, id)
		if l := one(t, s, 1000, correction.Air{Temperature: -50}); l.Note != NoNote || l.Unrounded != 300 {
			t.Errorf("%s at -50 °C: got note %d, %v, want no note, 300", id, l.Note, l.Unrounded)
		}
		// 1000 * 75 / (273 - 60 - 0.99) = 353.76, the equation by hand.
		l := one(t, s, 1000, correction.Air{Temperature: -60})
		if l.Note != ColderTable || l.Method != correction.MethodEquation {
			t.Errorf("%s at -60 °C: got note %d, %s, want note %d, equation", id, l.Note, l.Method, ColderTable)
		}
		within(t, id+" at -60 °C", l.Unrounded, 353.76, 0.005)
		for _, c := range []engine.Celsius{-50.1, -52} { // the equation has 214 ft at -50 °C and 8000 ft elevation
			if l := one(t, s, 1000, correction.Air{Temperature: c, Source: 8000}); l.Unrounded != 300 || l.Note != ColderTable {
				t.Errorf("%s at %g °C over 8000 ft: got %v, note %d, want the last row's 300, note %d", id, float64(c), l.Unrounded, l.Note, ColderTable)
			}
		}
		for source := engine.Altitude(0); source <= 8000; source += 1000 {
			for _, h := range []engine.Height{100, 200, 950, 1000, 3000, 4999, 5000, 5001, 8000} {
				last := engine.Feet(0)
				for tenths := -450; tenths >= -600; tenths-- {
					c := engine.Celsius(tenths) / 10
					got := one(t, s, h, correction.Air{Temperature: c, Source: source}).Unrounded
					if got < last {
						t.Fatalf("%s, %.0f ft over %.0f ft, %g °C: got %v, want no less than %v, a tenth warmer", id, float64(h), float64(source), float64(c), got, last)
					}
					last = got
				}
			}
		}
	}
}

// Between the first row, +10 °C, and the standard temperature: the equation.
// At 1000 ft and sea level 1000 * 3 / (273 + 12 - 0.99) = 10.56 ft at +12 °C,
// by hand. The first row has 20 ft there.
func TestWarmerThanTheTable(t *testing.T) {
	for _, id := range []string{"faa-all-segments", "faa-individual-segments", "icao", "canada", "strict"} {
		s := builtinSet(t, id)
		if l := one(t, s, 1000, correction.Air{Temperature: 10}); l.Note != NoNote || l.Unrounded != 20 {
			t.Errorf("%s at +10 °C: got note %d, %v, want no note, 20", id, l.Note, l.Unrounded)
		}
		l := one(t, s, 1000, correction.Air{Temperature: 12})
		if l.Note != WarmerTable || l.Method != correction.MethodEquation {
			t.Errorf("%s at +12 °C: got note %d, %s, want note %d, equation", id, l.Note, l.Method, WarmerTable)
		}
		within(t, id+" at +12 °C", l.Unrounded, 10.56, 0.005)
	}
}

// Warmer air never asks for more: at +10 °C the first row holds (AIM TBL
// 7-3-1: 90 ft at 5000 ft), and a tenth warmer no more than it. The equation
// alone would give 114 ft at 5000 ft over a source 1000 ft below the sea, and
// 10 000 * 4.9 / (283.1 - 9.9) = 179 ft at 10 000 ft, by hand, where the last
// column stands for every height.
func TestAcrossTheFirstRow(t *testing.T) {
	for _, tt := range []struct {
		id     string
		h      engine.Height
		source engine.Altitude
	}{{"faa-all-segments", 5000, -1000}, {"strict", 5000, -1000}, {"faa-all-segments", 10000, 0}} {
		s := builtinSet(t, tt.id)
		for _, c := range []engine.Celsius{10, 10.1} {
			l := one(t, s, tt.h, correction.Air{Temperature: c, Source: tt.source})
			if l.Unrounded != 90 {
				t.Errorf("%s, %.0f ft over %.0f ft, %g °C: got %v, want 90", tt.id, float64(tt.h), float64(tt.source), float64(c), l.Unrounded)
			}
		}
	}
	// What the last column is short of is said in that air too.
	if l := one(t, builtinSet(t, "faa-all-segments"), 10000, correction.Air{Temperature: 10.1}); l.ShortOf < 170 || l.ShortOf > 190 {
		t.Errorf("10 000 ft, +10.1 °C: got short of %v, want about 179", l.ShortOf)
	}
}

// Warmer than standard: zero, unless a published temperature asks for it; then
// the table's figure as published, and beyond the table zero again.
func TestWarmerThanStandard(t *testing.T) {
	s := builtinSet(t, "faa-all-segments")
	over := func(c engine.Celsius, source engine.Altitude, restriction engine.Celsius, published bool) Line {
		return evaluate(t, s, Input{
			Air: correction.Air{Temperature: c, Source: source}, Restriction: restriction, HasPublished: published,
			Points: []procedure.Point{{Role: procedure.MissedHold, Segment: procedure.Missed, Altitude: source + 1000}},
		}).Lines[0]
	}
	// At 8000 ft the standard temperature is -0.85 °C, by hand; at 0 °C and
	// 1000 ft the table has 60 ft.
	for _, tt := range []struct {
		name      string
		line      Line
		note      Note
		unrounded engine.Feet
		corrected engine.Altitude
		report    bool
	}{
		{"standard at sea level", over(15, 0, 0, false), WarmAir, 0, 1000, false},
		{"hot", over(40, 0, 0, false), WarmAir, 0, 1000, false},
		{"0 °C at 8000 ft", over(0, 8000, 0, false), WarmAir, 0, 9000, false},
		{"0 °C at 8000 ft, restriction 0 °C", over(0, 8000, 0, true), NoNote, 60, 9100, true},
		{"0 °C at 8000 ft, restriction -1 °C", over(0, 8000, -1, true), WarmAir, 0, 9000, false},
		{"12 °C at 8000 ft, restriction 20 °C", over(12, 8000, 20, true), WarmerTable, 0, 9000, false},
	} {
		l := tt.line
		if l.Note != tt.note || l.Unrounded != tt.unrounded || l.Corrected != tt.corrected || l.Report != tt.report {
			t.Errorf("%s: got note %d, %v, %v, report %v, want note %d, %v, %v, report %v", tt.name,
				l.Note, l.Unrounded, l.Corrected, l.Report, tt.note, tt.unrounded, tt.corrected, tt.report)
		}
	}
}

// At and below the source nothing is added; the altitude stays.
func TestBelowTheSource(t *testing.T) {
	for _, h := range []engine.Height{0, -1, -500} {
		l := one(t, builtinSet(t, "canada"), h, correction.Air{Temperature: -30, Source: 1234})
		if l.Correction != 0 || l.Corrected != h.Over(1234) || l.Report {
			t.Errorf("%v ft: got %v, %v, report %v, want the altitude as published", h, l.Correction, l.Corrected, l.Report)
		}
	}
}

func TestNoSuchInput(t *testing.T) {
	for _, id := range []string{"faa-all-segments", "icao"} {
		s := builtinSet(t, id)
		for _, tt := range []struct {
			name     string
			air      correction.Air
			altitude engine.Altitude
			want     error
		}{
			{"colder than any air", correction.Air{Temperature: -101}, 1000, correction.ErrNoSuchAir},
			{"warmer than any air", correction.Air{Temperature: 61}, 1000, correction.ErrNoSuchAir},
			{"no temperature", correction.Air{Temperature: engine.Celsius(math.NaN())}, 1000, correction.ErrNoSuchAir},
			{"higher than any aerodrome", correction.Air{Temperature: 50, Source: 30001}, 31000, correction.ErrNoSuchAir},
			{"higher than any approach", correction.Air{Temperature: -20}, 60001, correction.ErrTooHigh},
			{"higher than any approach, warm", correction.Air{Temperature: 20}, 60001, correction.ErrTooHigh},
			{"no altitude", correction.Air{Temperature: -20}, engine.Altitude(math.NaN()), correction.ErrTooHigh},
		} {
			res, err := s.Evaluate(Input{Air: tt.air, Points: []procedure.Point{{Altitude: 500}, {Altitude: tt.altitude}}})
			if !errors.Is(err, tt.want) || res.Lines != nil {
				t.Errorf("%s, %s: got %v, %d lines, want %v and none", id, tt.name, err, len(res.Lines), tt.want)
			}
		}
	}
}

// A block of altitudes is corrected at both its ends; with a reference of
// another altitude by the same amount. Cells of AIM TBL 7-3-1 at -20 °C, sea
// level: 2000 ft 280, 3000 ft 420, 4000 ft 570; up to the next hundred.
func TestBetween(t *testing.T) {
	points := []procedure.Point{
		{Role: procedure.InitialFix, Segment: procedure.Initial, Meaning: procedure.Between, Altitude: 3000, Upper: 4000},
		{Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 2000},
	}
	for id, want := range map[string][2]engine.Altitude{"faa-all-segments": {3300, 4300}, "icao": {3500, 4600}} {
		l := evaluate(t, builtinSet(t, id), Input{Air: correction.Air{Temperature: -20}, Points: points}).Lines[0]
		if got := [2]engine.Altitude{l.Corrected, l.UpperCorrected}; got != want {
			t.Errorf("%s: got %v, want %v", id, got, want)
		}
	}
}

// The figures are made up; the rules are those of AIM 7-3-5 (nearest hundred
// or up; never down in the final segment). Halves go up, and what is a step
// but for the noise of binary fractions stays that step.
func TestSteps(t *testing.T) {
	third := 0.1 + 0.2 // 0.30000000000000004
	for _, tt := range []struct {
		step     Step
		ft, want float64
	}{
		{UpTen, 0, 0}, {UpTen, 0.1, 10}, {UpTen, 10, 10}, {UpTen, 10.01, 20}, {UpTen, 141.9, 150}, {UpTen, 500.0000000001, 500}, {UpTen, 499.9999999999, 500}, {UpTen, 1000 * third, 300},
		{UpHundred, 0, 0}, {UpHundred, 0.1, 100}, {UpHundred, 100, 100}, {UpHundred, 100.01, 200}, {UpHundred, 315.4, 400}, {UpHundred, 500.0000000001, 500}, {UpHundred, 499.9999999999, 500}, {UpHundred, 1000 * third, 300},
		{NearestHundred, 0, 0}, {NearestHundred, 49.9, 0}, {NearestHundred, 50, 100}, {NearestHundred, 149.9, 100}, {NearestHundred, 150, 200}, {NearestHundred, 149.9999999999, 200}, {NearestHundred, 130, 100}, {NearestHundred, 280, 300}, {NearestHundred, 534, 500},
		{Exact, 315.4, 315.4}, {"", 315.4, 315.4}, {Exact, 0, 0},
		{UpHundred, -50, 0}, {UpTen, -5, 0}, // of an altitude below the sea
	} {
		got := tt.step.round(tt.ft)
		if got != tt.want || math.Signbit(got) {
			t.Errorf("%q of %v: got %v, want %v", tt.step, tt.ft, got, tt.want)
		}
	}
}

func TestRoundingOfCorrectionAndAltitude(t *testing.T) {
	for _, tt := range []struct {
		r         Rounding
		published engine.Altitude
		c         engine.Feet
		want      engine.Altitude
	}{
		{Rounding{Correction: UpTen}, 2840, 173.4, 3020},
		{Rounding{Correction: UpTen, Altitude: UpHundred}, 4000, 516.6, 4600},
		{Rounding{Altitude: UpHundred}, 4000, 516.6, 4600},
		{Rounding{Correction: Exact, Altitude: Exact}, 4000, 516.6, 4516.6},
		{Rounding{Correction: UpHundred}, 4020, 0, 4020},
		{Rounding{Correction: UpTen, Altitude: UpHundred}, 4020, 0, 4020}, // nothing to add, nothing to round
		{Rounding{Correction: UpTen, Altitude: UpHundred}, 4020, 80, 4100},
		{Rounding{Correction: UpTen, Altitude: UpHundred}, 4020, 80.0000000001, 4100},
		{Rounding{Correction: UpTen, Altitude: UpHundred}, 4020, 80.1, 4200},
		{Rounding{Correction: NearestHundred}, 4000, 130, 4100},
		{Rounding{Correction: UpTen, Altitude: UpHundred}, -300, 250, 0},
	} {
		got := tt.r.apply(tt.published, tt.c)
		if math.Abs(float64(got-tt.want)) > 1e-9 || math.Signbit(float64(got)) != math.Signbit(float64(tt.want)) {
			t.Errorf("%+v of %v and %v: got %v, want %v", tt.r, float64(tt.published), float64(tt.c), float64(got), float64(tt.want))
		}
	}
}

// Which rule of rounding an altitude has; one that is or may be in the final
// segment never the nearest hundred, whatever is configured.
func TestRoundingOf(t *testing.T) {
	plain := builtinSet(t, "faa-all-segments")
	lax := changed(t, "faa-all-segments", func(d *Document) { d.Round.Outside = Rounding{Correction: NearestHundred} })
	canada := builtinSet(t, "canada")
	point := func(r procedure.Role, s procedure.Segment) procedure.Point {
		return procedure.Point{Role: r, Segment: s}
	}
	for _, tt := range []struct {
		name    string
		set     *Set
		p       procedure.Point
		outside Step
		want    Rounding
	}{
		{"final approach fix", plain, point(procedure.FinalFix, procedure.Intermediate), "", Rounding{Correction: UpHundred}},
		{"final approach fix, nearest", plain, point(procedure.FinalFix, procedure.Intermediate), NearestHundred, Rounding{Correction: NearestHundred}},
		{"final approach fix, exact", plain, point(procedure.FinalFix, procedure.Intermediate), Exact, Rounding{Correction: Exact}},
		{"final approach fix, nearest in the rule set", lax, point(procedure.FinalFix, procedure.Intermediate), "", Rounding{Correction: NearestHundred}},
		{"final approach fix, Canada", canada, point(procedure.FinalFix, procedure.Intermediate), "", Rounding{Correction: UpTen, Altitude: UpHundred}},
		{"minimum, nearest", plain, point(procedure.MinimumDescent, procedure.Final), NearestHundred, Rounding{Correction: UpTen}},
		{"inner step-down fix, nearest", lax, point(procedure.StepDown, procedure.Final), NearestHundred, Rounding{Correction: UpTen}},
		{"minimum that its source puts elsewhere", lax, point(procedure.DecisionAltitude, procedure.Intermediate), NearestHundred, Rounding{Correction: UpTen}},
		{"no label, nearest", lax, point(procedure.NoRole, procedure.NoSegment), NearestHundred, Rounding{Correction: UpTen}},
		{"step-down fix that cannot be placed", plain, point(procedure.StepDown, procedure.NoSegment), "", Rounding{Correction: UpHundred}},
		{"step-down fix that cannot be placed, nearest", plain, point(procedure.StepDown, procedure.NoSegment), NearestHundred, Rounding{Correction: UpHundred}},
		{"step-down fix that cannot be placed, nearest in the rule set", lax, point(procedure.StepDown, procedure.NoSegment), "", Rounding{Correction: UpHundred}},
		{"step-down fix that cannot be placed, exact", plain, point(procedure.StepDown, procedure.NoSegment), Exact, Rounding{Correction: Exact}},
	} {
		if got := tt.set.RoundingOf(&tt.p, tt.outside); got != tt.want {
			t.Errorf("%s: got %+v, want %+v", tt.name, got, tt.want)
		}
	}
}

func TestRoundingInWords(t *testing.T) {
	for r, want := range map[Rounding]string{
		{}:                      "exact",
		{Correction: UpTen}:     "up to the next 10 ft",
		{Correction: UpHundred}: "up to the next 100 ft",
		{Correction: NearestHundred, Altitude: Exact}: "to the nearest 100 ft",
		{Altitude: UpHundred}:                         "altitudes up to the next 100 ft",
		{Correction: UpTen, Altitude: UpHundred}:      "up to the next 10 ft, then altitudes up to the next 100 ft",
		{Correction: Exact, Altitude: UpTen}:          "altitudes up to the next 10 ft",
	} {
		if got := r.Describe(); got != want {
			t.Errorf("%+v: got %q, want %q", r, got, want)
		}
	}
}
