package speech

import (
	"fmt"
	"strings"
	"testing"

	"firn/engine"

	"pgregory.net/rapid"
)

func TestAltitude(t *testing.T) {
	for _, c := range []struct {
		source string
		ft     engine.Altitude
		want   string
	}{
		{"FAA AIM 4-2-8 a", 500, "five hundred"},
		{"FAA AIM 4-2-8 a", 4500, "four thousand five hundred"},
		{"FAA AIM 4-2-8 b", 10000, "one zero thousand"},
		{"FAA AIM 4-2-8 b", 13500, "one three thousand five hundred"},
		{"FAA AIM 4-2-9 a", 12500, "one two thousand five hundred"},
		{"JO 7110.65 2-4-17 b1", 17900, "one seven thousand niner hundred"},
		{"ICAO Annex 10 Vol II 5.2.1.4.1", 800, "eight hundred"},
		{"ICAO Annex 10 Vol II 5.2.1.4.1", 3400, "three thousand four hundred"},
		{"ICAO Annex 10 Vol II 5.2.1.4.1", 12000, "one two thousand"},
		{"AIM 7-3-6, corrected altitude at the initial fixes", 9700, "niner thousand seven hundred"},
		{"AIM 7-3-6, corrected step-down fix BEGPE", 4990, "four niner niner zero"},
		{"AIM 7-3-6, corrected minimum", 4670, "four six seven zero"},
		{"whole thousands", 3000, "three thousand"},
		{"hundreds alone", 900, "niner hundred"},
		{"at the transition, not hundreds any more", 18000, "one eight zero zero zero"},
		{"a part of a foot is the next foot", 9699.5, "niner thousand seven hundred"},
		{"noise is no foot", 9700.0000000001, "niner thousand seven hundred"},
		{"zero", 0, "zero"},
		{"below sea level", -200, "minus two zero zero"},
	} {
		if got := Altitude(c.ft); got != c.want {
			t.Errorf("%s: %v: got %q, want %q", c.source, float64(c.ft), got, c.want)
		}
	}
}

func amount(ft engine.Feet) string { return string(AppendAmount(nil, ft)) }

func TestOtherWords(t *testing.T) {
	for _, c := range []struct{ source, got, want string }{
		{"AIM 7-3-6, correction", amount(300), "three hundred"},
		{"a correction in tens", amount(1210), "one two one zero"},
		{"a correction not rounded", amount(315.4), "three one six"},
		{"Digits", Digits(9052), "niner zero five two"},
		{"Digits", Digits(-40), "minus four zero"},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %q, want %q", c.source, c.got, c.want)
		}
	}
}

func TestManner(t *testing.T) {
	for _, m := range []Manner{FAA, ICAO} {
		if got, err := ParseManner(m.String()); err != nil || got != m {
			t.Errorf("%v: got %v, %v", m, got, err)
		}
	}
	if _, err := ParseManner("raf"); err == nil || !strings.Contains(err.Error(), `"raf": faa or icao`) {
		t.Errorf("raf: got %v, want the word and what to say instead", err)
	}
}

// heard turns words back into a number.
func heard(t *rapid.T, words string) int {
	total, n := 0, 0
	for word := range strings.FieldsSeq(words) {
		switch word {
		case "thousand":
			total, n = n*1000, 0
		case "hundred":
			n *= 100
		default:
			d := -1
			for i, w := range digits {
				if w == word {
					d = i
				}
			}
			if d < 0 {
				t.Fatalf("%q in %q", word, words)
			}
			n = n*10 + d
		}
	}
	return total + n
}

func TestHeardAsSaid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.OneOf(rapid.IntRange(0, 60000), rapid.Map(rapid.IntRange(0, 250), func(h int) int { return h * 100 })).Draw(t, "feet")
		for _, words := range []string{Altitude(engine.Altitude(n)), amount(engine.Feet(n)), Digits(n)} {
			if got := heard(t, words); got != n {
				t.Fatalf("%d said as %q, heard as %d", n, words, got)
			}
		}
	})
}

func TestAppendDoesNotAllocate(t *testing.T) {
	buf := make([]byte, 0, 256)
	if n := testing.AllocsPerRun(100, func() {
		b := AppendAltitudeBelow(buf, 12500, 0)
		_ = AppendAmount(b, 1210)
	}); n != 0 {
		t.Errorf("got %v allocations, want none", n)
	}
	if n := testing.AllocsPerRun(100, func() { _ = Altitude(17777) }); n > 1 {
		t.Errorf("Altitude: got %v allocations, want the string alone", n)
	}
}

func ExampleAltitude() {
	// FAA AIM 7-3-5: "Request 9700 ft for cold temperature operations."
	fmt.Printf("request %s feet for cold temperature operations\n", Altitude(9700))
	// Output: request niner thousand seven hundred feet for cold temperature operations
}

func BenchmarkAppendAltitudeBelow(b *testing.B) {
	buf := make([]byte, 0, 64)
	b.ReportAllocs()
	for b.Loop() {
		buf = AppendAltitudeBelow(buf[:0], 12500, 0)
	}
}
