package ruleset

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"

	"pgregory.net/rapid"
)

// tolerance: rounding lets a figure stand that is a step but for this much.
const tolerance = 1e-6

// ruleSets are the built-in ones, and one for each other method and rounding
// that a document may ask for.
func ruleSets(t testing.TB) []*Set {
	t.Helper()
	sets, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []correction.Method{correction.MethodTableNext, correction.MethodEquation, correction.MethodAccurate, correction.MethodColumn} {
		for _, above := range []string{"last-column", "accurate"} {
			sets = append(sets, changed(t, "strict", func(d *Document) {
				d.ID = fmt.Sprintf("%s-%s", m, above)
				d.Method, d.AboveTable = string(m), above
			}))
		}
	}
	return append(sets,
		changed(t, "faa-individual-segments", func(d *Document) {
			d.ID = "nearest"
			d.Round.Outside = Rounding{Correction: NearestHundred}
			d.Round.Final = Rounding{Correction: UpTen, Altitude: UpTen}
		}),
		changed(t, "faa-all-segments", func(d *Document) {
			d.ID = "exact"
			d.Round = Roundings{}
		}))
}

// anApproach draws an approach that AssignSegments accepts: what fits none is
// taken out until the rest does. Elevations, temperatures and heights are
// those of any aerodrome, and past the ends of the table.
func anApproach(t *rapid.T) Input {
	in := Input{
		Air:          correction.Air{Temperature: aTemperature().Draw(t, "temperature"), Source: engine.Altitude(rapid.IntRange(-1000, 10000).Draw(t, "elevation"))},
		Restriction:  engine.Celsius(rapid.IntRange(-60, 40).Draw(t, "restriction")),
		HasPublished: rapid.Bool().Draw(t, "published"),
		Mountainous:  rapid.Bool().Draw(t, "mountainous"),
		Designated:   rapid.SliceOf(rapid.SampledFrom([]procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed})).Draw(t, "designated"),
		Outside:      rapid.SampledFrom([]Step{UpHundred, NearestHundred, Exact, ""}).Draw(t, "outside"),
	}
	heights := rapid.OneOf(
		rapid.Map(rapid.IntRange(50, 12000), func(ft int) float64 { return float64(ft) }),
		rapid.Map(rapid.IntRange(1, 120), func(hundreds int) float64 { return float64(hundreds * 100) }),
		rapid.Float64Range(50, 12000),
	)
	for i := range rapid.IntRange(1, 12).Draw(t, "altitudes") {
		p := procedure.Point{
			Fix:      fmt.Sprintf("FIX%c", 'A'+i),
			Role:     procedure.Role(rapid.IntRange(0, procedure.RoleCount-1).Draw(t, "role")),
			Altitude: engine.Height(heights.Draw(t, "height")).Over(in.Air.Source),
			Meaning:  rapid.SampledFrom([]procedure.Meaning{procedure.At, procedure.AtOrAbove, procedure.AtOrBelow, procedure.Between}).Draw(t, "meaning"),
		}
		if p.Meaning == procedure.Between {
			p.Upper = p.Altitude + 1000
		}
		in.Points = append(in.Points, p)
	}
	for {
		err := procedure.AssignSegments(in.Points)
		var m *procedure.Misfit
		if !errors.As(err, &m) {
			return in
		}
		in.Points = slices.Delete(in.Points, m.Index, m.Index+1)
		for i := range in.Points { // what was assigned stood beside the misfit
			in.Points[i].Segment = procedure.NoSegment
		}
	}
}

func aTemperature() *rapid.Generator[engine.Celsius] {
	return rapid.OneOf(
		rapid.Map(rapid.IntRange(-600, 400), func(tenths int) engine.Celsius { return engine.Celsius(tenths) / 10 }),
		rapid.Map(rapid.IntRange(-76, 104), func(f int) engine.Celsius { return engine.Fahrenheit(f).Celsius() }),
		rapid.Map(rapid.Float64Range(-60, 40), func(c float64) engine.Celsius { return engine.Celsius(c) }),
	)
}

// eachSet runs a property on random approaches under every rule set.
func eachSet(t *testing.T, property func(t *rapid.T, s *Set, in Input)) {
	sets := ruleSets(t)
	rapid.Check(t, func(t *rapid.T) {
		property(t, rapid.SampledFrom(sets).Draw(t, "rule set"), anApproach(t))
	})
}

// What every answer holds to.
func TestEveryAnswer(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		res := evaluate(t, s, in)
		if len(res.Lines) != len(in.Points) {
			t.Fatalf("got %d lines, want one for each of %d points", len(res.Lines), len(in.Points))
		}
		required := false
		for i, l := range res.Lines {
			name := fmt.Sprintf("%s: %s %.1f", s.ID, l.Role, float64(l.Altitude))
			required = required || l.Required || l.ByPlace
			if l.Point != in.Points[i] {
				t.Errorf("line %d: got %+v, want the point %+v", i, l.Point, in.Points[i])
			}
			if l.Unrounded < 0 || l.Correction < 0 || l.ShortOf < 0 || l.Corrected < l.Altitude {
				t.Errorf("%s: got %v unrounded, %v, %v, short of %v, want nothing negative", name, l.Unrounded, l.Correction, l.Corrected, l.ShortOf)
			}
			switch {
			case l.Raised >= 0 && l.Corrected != res.Lines[l.Raised].Corrected:
				t.Errorf("%s: got %v, want the figure that it is raised to, %v", name, l.Corrected, res.Lines[l.Raised].Corrected)
			case l.Raised < 0 && l.Unrounded == 0 && l.Corrected != l.Altitude:
				t.Errorf("%s: got %v, want the altitude as published", name, l.Corrected)
			}
			least := l.Altitude.Add(l.Unrounded) - tolerance
			mayBeFinal := l.Segment == procedure.Final || l.Segment == procedure.NoSegment
			if (mayBeFinal || s.RoundingOf(&l.Point, in.Outside).Correction != NearestHundred) && l.Corrected < least {
				t.Errorf("%s, segment %q: got %v, want no less than %v + %v", name, l.Segment, float64(l.Corrected), float64(l.Altitude), float64(l.Unrounded))
			}
			if l.Corrected < least-50 {
				t.Errorf("%s: got %v, want no further below %v + %v than half a hundred", name, float64(l.Corrected), float64(l.Altitude), float64(l.Unrounded))
			}
			if l.Meaning == procedure.Between && l.UpperCorrected < l.Corrected {
				t.Errorf("%s to %.1f: got %v to %v, want the upper one no lower", name, float64(l.Upper), l.Corrected, l.UpperCorrected)
			}
			if l.Report && (l.Segment == procedure.Final || l.Correction == 0 || requires(res) && !l.Required && !l.ByPlace) {
				t.Errorf("%s, segment %q: got reported, want not (correction %v, required %v of %v)", name, l.Segment, l.Correction, l.Required, res.Required)
			}
			if l.Required != (l.Rule >= 0) || l.Rule >= len(s.Require) {
				t.Errorf("%s: got required %v by rule %d", name, l.Required, l.Rule)
			}
			if l.Method == correction.MethodFourPercent {
				t.Errorf("%s: got the four per cent rule, want never", name)
			}
		}
		if res.Required != required {
			t.Errorf("got required %v, want %v, as some line is or none", res.Required, required)
		}
	})
}

// With every altitude rounded up nothing is below the unrounded figure.
func TestUpEverywhere(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		in.Outside = UpHundred
		for _, l := range evaluate(t, s, in).Lines {
			if l.Corrected < l.Altitude.Add(l.Unrounded)-tolerance {
				t.Errorf("%s: %s: got %v, want no less than %v + %v", s.ID, l.Role, float64(l.Corrected), float64(l.Altitude), float64(l.Unrounded))
			}
		}
	})
}

// Colder air never asks for less, and never stops asking.
func TestColderNeverCorrectsLess(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		warm := evaluate(t, s, in)
		other := aTemperature().Draw(t, "other temperature")
		colder := in
		colder.Air.Temperature = min(other, in.Air.Temperature)
		cold := evaluate(t, s, colder)
		for i := range cold.Lines {
			c, w := &cold.Lines[i], &warm.Lines[i]
			if c.Unrounded < w.Unrounded-tolerance || c.Corrected < w.Corrected-tolerance || c.UpperCorrected < w.UpperCorrected-tolerance {
				t.Errorf("%s: %s %v over %v: got %v (%v unrounded, note %d) at %v °C, want no less than %v (%v unrounded, note %d) at %v °C", s.ID, c.Role, float64(c.Altitude), float64(in.Air.Source),
					float64(c.Corrected), float64(c.Unrounded), c.Note, float64(colder.Air.Temperature), float64(w.Corrected), float64(w.Unrounded), w.Note, float64(in.Air.Temperature))
			}
			if w.Required && !c.Required {
				t.Errorf("%s: %s: got not required at %v °C, want required as at %v °C", s.ID, c.Role, float64(colder.Air.Temperature), float64(in.Air.Temperature))
			}
		}
	})
}

// The same altitude higher up, by its own height, never gets less.
func TestHigherNeverCorrectsLess(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		low := evaluate(t, s, in)
		raised := in
		raised.Points = slices.Clone(in.Points)
		i := rapid.IntRange(0, len(in.Points)-1).Draw(t, "which")
		by := engine.Feet(rapid.OneOf(rapid.Float64Range(0, 5000), rapid.Map(rapid.IntRange(0, 50), func(n int) float64 { return float64(n * 100) })).Draw(t, "by"))
		raised.Points[i].Altitude = raised.Points[i].Altitude.Add(by)
		raised.Points[i].Upper = raised.Points[i].Upper.Add(by)
		l, h := low.Lines[i], evaluate(t, s, raised).Lines[i]
		own := func(l Line) bool { return l.ReferencePoint < 0 || l.ReferencePoint == i }
		if own(l) && own(h) && (h.Unrounded < l.Unrounded-tolerance || h.Corrected < l.Corrected-tolerance) {
			t.Errorf("%s: %s over %v at %v °C: got %v + %v, want no less than at %v + %v", s.ID, l.Role, float64(in.Air.Source), float64(in.Air.Temperature),
				float64(h.Altitude), float64(h.Unrounded), float64(l.Altitude), float64(l.Unrounded))
		}
	})
}

// A request is in whole hundreds and never lower than what it speaks of.
func TestRequestsAreHighEnough(t *testing.T) {
	number := regexp.QuoteMeta
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		res := evaluate(t, s, in)
		var told []*Line
		for i := range res.Lines {
			if res.Lines[i].Report {
				told = append(told, &res.Lines[i])
			}
		}
		requests := s.RequestsFor(res, 0)
		for _, q := range requests {
			if q.When == "" || q.Text == "" || q.Spoken == "" || q.Source == "" {
				t.Errorf("%s: got %+v, want when, text, spoken form and source", s.ID, q)
			}
			said := false
			for _, d := range s.Requests {
				if !strings.HasPrefix(q.When, d.When) {
					continue
				}
				pattern := number(d.Say)
				for field, group := range map[string]string{"altitude": `(?P<altitude>-?\d+) ft`, "amount": `(?P<amount>\d+) ft`, "fixes": `(?P<fixes>.+)`} {
					pattern = strings.Replace(pattern, number("{"+field+"}"), group, 1)
				}
				re := regexp.MustCompile("^" + pattern + "$")
				m := re.FindStringSubmatch(q.Text)
				if m == nil {
					continue
				}
				said = true
				altitude, err := strconv.Atoi(m[re.SubexpIndex("altitude")])
				if err != nil || altitude%100 != 0 {
					t.Errorf("%s: got %q, want whole hundreds", s.ID, q.Text)
				}
				asked := engine.Altitude(altitude)
				low := asked - 100
				spokenOf := func(l *Line) bool { return l.Corrected <= asked+tolerance && l.Corrected > low-tolerance }
				if !slices.ContainsFunc(told, spokenOf) {
					t.Errorf("%s: got %q, want the altitude of one that is told, to the next hundred", s.ID, q.Text)
				}
				for _, l := range told {
					var mine bool
					switch d.Altitude {
					case "initial":
						mine = l.Segment == procedure.Initial || l.Segment == procedure.Intermediate || l.Segment == procedure.NoSegment && l.Role != procedure.NoRole
					case "final-fix":
						mine = l.Role == procedure.FinalFix
					case "missed":
						mine = l.Role == procedure.MissedHold
					case "unlabelled":
						mine = l.Role == procedure.NoRole
					case "initial-fixes", "told":
						mine = strings.Contains(m[re.SubexpIndex("fixes")], l.Fix)
					}
					ceiling := l.Meaning == procedure.AtOrBelow // it asks for nothing
					if mine && !ceiling && l.Corrected > asked+tolerance {
						t.Errorf("%s: got %q, want no lower than %s %s at %v", s.ID, q.Text, l.Role, l.Fix, float64(l.Corrected))
					}
				}
				if i := re.SubexpIndex("amount"); i >= 0 {
					amount, err := strconv.Atoi(m[i])
					added := func(l *Line) bool {
						return spokenOf(l) && engine.Feet(amount) >= l.Correction-tolerance && engine.Feet(amount) < engine.Feet(asked-l.Altitude)+1
					}
					if err != nil || !slices.ContainsFunc(told, added) {
						t.Errorf("%s: got %q, want what is added to the published altitude", s.ID, q.Text)
					}
				}
			}
			if !said {
				t.Errorf("%s: got %q, want a sentence of the rule set", s.ID, q.Text)
			}
		}
		if len(told) == 0 && len(requests) > 0 {
			t.Errorf("%s: got %d requests, want none where nothing is told", s.ID, len(requests))
		}
	})
}
