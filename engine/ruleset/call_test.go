package ruleset

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// kaldmoor is the demo's approach at -38 °C: invented fixes, and corrections
// from AIM TBL 7-3-1, at -38 °C by hand: 598 ft at 2598 ft, 158 at 658, 1158
// at 5000 (the last column).
func kaldmoor(via string) Input {
	points := []procedure.Point{
		{Fix: "XADLO", Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 10900},
		{Fix: "XEMBA", Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 10500},
		{Fix: "XUBRI", Role: procedure.StepDown, Segment: procedure.Initial, Altitude: 9400, From: "XADLO"},
		{Fix: "XOLMI", Role: procedure.IntermediateFix, Segment: procedure.Initial, Altitude: 8200},
		{Fix: "XIRTU", Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 7400},
		{Fix: "XUPEN", Role: procedure.StepDown, Segment: procedure.Final, Altitude: 6100},
		{Label: "LNAV", Role: procedure.MinimumDescent, Segment: procedure.Final, Altitude: 5460},
		{Fix: "XORLI", Role: procedure.MissedHold, Segment: procedure.Missed, Altitude: 10200},
	}
	if via != "" {
		points = procedure.Along(points, via)
	}
	return Input{Air: correction.Air{Temperature: -38, Source: 4802}, Restriction: -25, HasPublished: true, Points: points}
}

func withPoints(in Input, more ...procedure.Point) Input {
	in.Points = append(slices.Clone(in.Points), more...)
	return in
}

var rnav31 = CallOptions{Name: "RNAV runway 31", SpokenName: "RNAV runway three one", Air: correction.Air{Temperature: -38, Source: 4802}}

// The words of a call, for each way in and manner.
func TestCalls(t *testing.T) {
	hold := procedure.Point{Fix: "XIMLO", Role: procedure.Hold, Segment: procedure.Initial, Altitude: 8600}
	turn := procedure.Point{Fix: "XIMLO", Role: procedure.ProcedureTurn, Segment: procedure.Initial, Altitude: 8600}
	step := procedure.Point{Fix: "XAVEN", Role: procedure.StepDown, Segment: procedure.Intermediate, Altitude: 7900}
	second := procedure.Point{Fix: "XALDE", Role: procedure.StepDown, Segment: procedure.Intermediate, Altitude: 7600}
	holdAtIF := procedure.Point{Fix: "XOLMI", Role: procedure.Hold, Segment: procedure.Initial, Altitude: 8600}
	lifted := withPoints(kaldmoor("XEMBA"), step)
	lifted.Designated = []procedure.Segment{procedure.Intermediate, procedure.Final}
	for i := range lifted.Points {
		if lifted.Points[i].Role == procedure.IntermediateFix {
			lifted.Points[i].Altitude = 8000 // below the step-down at 7900 and the 600 ft that it needs
		}
	}
	ceiling := kaldmoor("")
	for i := range ceiling.Points {
		if ceiling.Points[i].Role == procedure.IntermediateFix {
			ceiling.Points[i].Meaning = procedure.AtOrBelow
		}
	}
	between := kaldmoor("XEMBA")
	between.Points = slices.DeleteFunc(between.Points, func(p procedure.Point) bool { return p.Role == procedure.IntermediateFix })
	between = withPoints(between, procedure.Point{Fix: "XAVEN", Role: procedure.StepDown, Segment: procedure.Intermediate, Altitude: 7600, Meaning: procedure.Between, Upper: 8500})
	before := procedure.Point{Fix: "XIMLO", Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 9300}
	// A low field, not mountainous: only the final segment is required by strict.
	// AIM TBL 7-3-1 at -5 °C by hand: 227 ft at 2955, 192 at 2455, 133 at 1655.
	low := Input{Air: correction.Air{Temperature: -5, Source: 45}, Points: []procedure.Point{
		{Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 3000},
		{Role: procedure.IntermediateFix, Segment: procedure.Initial, Altitude: 2500},
		{Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 1700},
		{Role: procedure.MinimumDescent, Segment: procedure.Final, Altitude: 480},
		{Role: procedure.MissedHold, Segment: procedure.Missed, Altitude: 3000},
	}}
	lowWarm := low
	lowWarm.HasPublished, lowWarm.Restriction = true, -20
	atFinal := kaldmoor("") // the beacon is initial and final approach fix
	atFinal.Points = []procedure.Point{
		{Fix: "XIRTU", Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 9300},
		{Fix: "XIRTU", Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 7400},
	}
	sector := procedure.Point{Role: procedure.SectorAltitude, Segment: procedure.Sector, Altitude: 14000}
	warm := kaldmoor("")
	warm.Restriction = -40
	unknown := kaldmoor("")
	unknown.HasPublished = false
	listed := func(designated ...procedure.Segment) Input {
		in := kaldmoor("")
		in.Designated = designated
		return in
	}
	for _, tt := range []struct {
		name, set string
		in        Input
		opt       CallOptions
		when      string
		want      string
	}{
		{"vectors", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8800 until established; require 11400 for the missed approach hold."},
		{"inside the intermediate fix", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectorsInside, Fix: "XOLMI"}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix; require 11400 for the missed approach hold."},
		{"inside it, a step-down before the final approach fix", "faa-all-segments", withPoints(kaldmoor(""), step), CallOptions{Way: WayVectorsInside, Fix: "XOLMI"}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8500 until the final approach fix; require 11400 for the missed approach hold."},
		{"inside an initial fix", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectorsInside, Fix: "XEMBA"}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8800 until established; require 11400 for the missed approach hold."},
		// 10000 at XUBRI is left for 8800 at XOLMI: nobody holds it to the final approach fix.
		{"inside an initial fix, a step-down before the intermediate fix", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectorsInside, Fix: "XADLO", Extra: 1000}, "",
			"Request RNAV runway 31. For cold temperature request 1600 ft added to vectored altitudes, unable below 10000 until established; require 11400 for the missed approach hold."},
		{"via a fix", "faa-all-segments", kaldmoor("XEMBA"), CallOptions{Way: WayVia, Fix: "XEMBA"}, "",
			"Request RNAV runway 31 via XEMBA. For cold temperature request 11100 at XEMBA; require 11400 for the missed approach hold."},
		{"the hold", "strict", withPoints(kaldmoor(""), hold), CallOptions{Way: WayHold}, "",
			"Request RNAV runway 31. For cold temperature request 9500 in the hold at XIMLO; require 11400 for the missed approach hold."},
		{"the procedure turn", "faa-all-segments", withPoints(kaldmoor(""), turn), CallOptions{Way: WayTurn}, "",
			"Request RNAV runway 31. For cold temperature request 9200 in the procedure turn; require 11400 for the missed approach hold."},
		{"the procedure turn behind its initial fix", "faa-all-segments", withPoints(kaldmoor(""), before, turn), CallOptions{Way: WayTurn}, "",
			"Request RNAV runway 31. For cold temperature request 9900 at XIMLO, 9200 in the procedure turn; require 11400 for the missed approach hold."},
		{"the hold behind its initial fix, ICAO", "icao", withPoints(kaldmoor(""), before, hold), CallOptions{Way: WayHold}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 with cold temperature corrections: 10400 at XIMLO, 9500 in the hold at XIMLO, 8000 at XIRTU, 11400 on the missed approach."},
		{"one beacon, initial and final", "icao", atFinal, CallOptions{Way: WayVia, Fix: "XIRTU"}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 via XIRTU with cold temperature corrections: 10400 at XIRTU, 8000 at the final approach fix."},
		{"only the final segment required", "strict", lowWarm, CallOptions{Way: WayVectors}, "if you choose to correct more than is required: all or none, and tell ATC",
			"Request RNAV runway 31. For cold temperature request 200 ft added to vectored altitudes; request 3300 for the missed approach hold."},
		{"only the final segment required, as far as is known", "strict", low, CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. For cold temperature request 200 ft added to vectored altitudes; request 3300 for the missed approach hold."},
		{"no controller", "faa-all-segments", kaldmoor("XEMBA"), CallOptions{Way: WayTraffic, Fix: "XEMBA"}, "",
			"traffic, cold temperature altitudes: 11100 at XEMBA, missed approach hold 11400"},
		{"no controller, by which fix is not said", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayTraffic}, "",
			"traffic, cold temperature altitudes: 11500 at XADLO, 11100 at XEMBA, missed approach hold 11400"},
		{"no controller, each way in", "faa-all-segments", withPoints(kaldmoor("XEMBA"), before, turn), CallOptions{Way: WayTraffic}, "",
			"traffic, cold temperature altitudes: 11100 at XEMBA, 9900 at XIMLO, 9200 in the procedure turn, missed approach hold 11400"},
		{"no controller, a hold alone", "faa-all-segments", withPoints(Input{Air: kaldmoor("").Air, Restriction: -25, HasPublished: true}, hold, procedure.Point{Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 7400}),
			CallOptions{Way: WayTraffic}, "", "traffic, cold temperature altitudes: 9200 in the hold at XIMLO"},
		{"via the fix of a hold", "faa-all-segments", withPoints(kaldmoor(""), hold), CallOptions{Way: WayVia, Fix: "XIMLO"}, "",
			"Request RNAV runway 31 via XIMLO. For cold temperature request 9200 at XIMLO; require 11400 for the missed approach hold."},
		{"a valley's extra is in the amount", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectors, Extra: 1000}, "",
			"Request RNAV runway 31. For cold temperature request 1600 ft added to vectored altitudes, unable below 8800 until established; require 11400 for the missed approach hold."},
		{"and ends at the intermediate fix", "faa-all-segments", kaldmoor(""), CallOptions{Way: WayVectorsInside, Fix: "XOLMI", Extra: 1000}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix; require 11400 for the missed approach hold."},
		{"a sector altitude is in none", "faa-all-segments", withPoints(kaldmoor(""), sector), CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8800 until established; require 11400 for the missed approach hold."},
		{"a ceiling at the intermediate fix: no more than it is refused", "faa-all-segments", ceiling, CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix; require 11400 for the missed approach hold."},
		{"nor more than the upper bound of one further in", "faa-all-segments", between, CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8200 until the final approach fix; require 11400 for the missed approach hold."},
		{"not required", "faa-all-segments", warm, CallOptions{Way: WayVectors}, "if you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes; request 11400 for the missed approach hold."},
		{"not known", "faa-all-segments", unknown, CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes; request 11400 for the missed approach hold."},
		{"intermediate and final listed", "faa-individual-segments", listed(procedure.Intermediate, procedure.Final), CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix."},
		{"those listed, via a fix", "faa-individual-segments", listed(procedure.Intermediate, procedure.Final), CallOptions{Way: WayVia, Fix: "XEMBA"}, "",
			"Request RNAV runway 31 via XEMBA. For cold temperature request 8000 at XIRTU."},
		{"a lifted intermediate fix", "faa-individual-segments", lifted, CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8500 until the final approach fix."},
		{"a lifted intermediate fix, via a fix", "faa-individual-segments", lifted, CallOptions{Way: WayVia, Fix: "XOLMI"}, "",
			"Request RNAV runway 31 via XOLMI. For cold temperature request 8500 at XAVEN."},
		{"inside the intermediate fix with a hold", "faa-all-segments", withPoints(kaldmoor(""), holdAtIF), CallOptions{Way: WayVectorsInside, Fix: "XOLMI", Extra: 1000}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix; require 11400 for the missed approach hold."},
		{"inside the hold before the intermediate fix in the list", "faa-all-segments", withPoints(Input{Air: kaldmoor("").Air, Restriction: -25, HasPublished: true, Points: []procedure.Point{holdAtIF}}, kaldmoor("").Points...),
			CallOptions{Way: WayVectorsInside, Fix: "XOLMI"}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8000 until the final approach fix; require 11400 for the missed approach hold."},
		{"inside the first of two step-downs", "faa-all-segments", withPoints(kaldmoor(""), step, second), CallOptions{Way: WayVectorsInside, Fix: "XAVEN"}, "",
			"Request RNAV runway 31. For cold temperature request 600 ft added to vectored altitudes, unable below 8200 until the final approach fix; require 11400 for the missed approach hold."},
		{"the missed approach alone listed", "faa-individual-segments", listed(procedure.Missed), CallOptions{Way: WayVectors}, "",
			"Request RNAV runway 31. For cold temperature require 11400 for the missed approach hold."},
		{"the final segment alone listed", "faa-individual-segments", listed(procedure.Final), CallOptions{Way: WayVectors}, "", ""},
		{"Canada", "canada", kaldmoor(""), CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. Applying cold temperature corrections: 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"Canada, a procedure turn", "canada", withPoints(kaldmoor(""), turn), CallOptions{Way: WayVia, Fix: "XIMLO"}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 via XIMLO. Applying cold temperature corrections: 900 ft in the procedure turn, 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"Canada, the hold", "canada", withPoints(kaldmoor(""), hold), CallOptions{Way: WayHold}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. Applying cold temperature corrections: 900 ft in the hold at XIMLO, 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"Canada, a hold that the crew does not come by", "canada", withPoints(kaldmoor(""), hold), CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31. Applying cold temperature corrections: 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"Canada, via the fix of a hold", "canada", withPoints(kaldmoor(""), hold), CallOptions{Way: WayVia, Fix: "XIMLO"}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 via XIMLO. Applying cold temperature corrections: 900 ft at XIMLO, 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"Canada, via an initial fix before the hold", "canada", withPoints(kaldmoor(""), hold), CallOptions{Way: WayVia, Fix: "XEMBA"}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 via XEMBA. Applying cold temperature corrections: 600 ft at XIRTU, 1200 ft on the missed approach."},
		{"ICAO", "icao", kaldmoor(""), CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 with cold temperature corrections: 8000 at XIRTU, 11400 on the missed approach."},
		{"Canada, no controller", "canada", kaldmoor(""), CallOptions{Way: WayTraffic}, "if a correction is required here, or you choose to correct: all or none, and tell traffic",
			"traffic, cold temperature altitudes: 12100 at XADLO, 11700 at XEMBA, missed approach hold 11400"},
		{"ICAO, a procedure turn", "icao", withPoints(kaldmoor(""), turn), CallOptions{Way: WayVectors}, "if a correction is required here, or you choose to correct: all or none, and tell ATC",
			"Request RNAV runway 31 with cold temperature corrections: 9500 in the procedure turn, 8000 at XIRTU, 11400 on the missed approach."},
		{"altitudes without a label", "faa-all-segments", Input{Air: kaldmoor("").Air, Restriction: -25, HasPublished: true,
			Points: []procedure.Point{{Altitude: 8200}, {Altitude: 5340}}}, CallOptions{Way: WayVectors}, "if 8200 is before the final approach fix",
			"Request 9000 for cold temperature operations."},
		{"altitudes without a label, no controller", "faa-all-segments", Input{Air: kaldmoor("").Air, Restriction: -25, HasPublished: true,
			Points: []procedure.Point{{Altitude: 8200}, {Altitude: 5340}}}, CallOptions{Way: WayTraffic}, "if 8200 is before the final approach fix",
			"traffic, cold temperature altitude 9000"},
		// 782 ft at 3398 ft, as above; Canada says the amount (TC AIM RAC 9.17.1).
		{"altitudes without a label, Canada", "canada", Input{Air: kaldmoor("").Air, Points: []procedure.Point{{Altitude: 8200}}}, CallOptions{Way: WayVectors},
			"if a correction is required here, or you choose to correct: all or none, and tell ATC; if 8200 is before the final approach fix", "Applying cold temperature correction, 800 ft."},
		{"minimums without a label", "faa-all-segments", Input{Air: kaldmoor("").Air, Restriction: -25, HasPublished: true,
			Points: []procedure.Point{{Altitude: 5340}}}, CallOptions{Way: WayVectors}, "", ""},
		{"the transition altitude", "faa-all-segments", kaldmoor("XEMBA"), CallOptions{Way: WayVia, Fix: "XEMBA", Transition: 11000}, "",
			"Request RNAV runway 31 via XEMBA. For cold temperature request altitude 11100 ft at XEMBA; require altitude 11400 ft for the missed approach hold."},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := builtinSet(t, tt.set)
			opt := tt.opt
			opt.Name, opt.SpokenName, opt.Air = rnav31.Name, rnav31.SpokenName, rnav31.Air
			c, ok := s.CallFor(evaluate(t, s, tt.in), opt)
			if ok != (tt.want != "") || c.Text != tt.want || c.When != tt.when {
				t.Errorf("got %v\n%s (%s)\nwant\n%s (%s)", ok, c.Text, c.When, tt.want, tt.when)
			}
			if ok && (c.Spoken == "" || strings.ContainsAny(c.Spoken, "0123456789") || c.Source == "") {
				t.Errorf("got spoken %q, source %q, want words and a source", c.Spoken, c.Source)
			}
		})
	}
	s := builtinSet(t, "faa-all-segments")
	c, _ := s.CallFor(evaluate(t, s, kaldmoor("")), CallOptions{Way: WayVectors, Name: rnav31.Name, SpokenName: rnav31.SpokenName, Air: rnav31.Air})
	if want := "Request RNAV runway three one. For cold temperature request six hundred feet added to vectored altitudes, unable below eight thousand eight hundred until established; require one one thousand four hundred for the missed approach hold."; c.Spoken != want {
		t.Errorf("got %s, want %s", c.Spoken, want)
	}
	// Of a ceiling at the final approach fix nothing is refused, which is told with
	// a call and without one.
	for _, alone := range []bool{false, true} {
		low := kaldmoor("")
		low.Points = slices.DeleteFunc(low.Points, func(p procedure.Point) bool { return alone && p.Segment == procedure.Missed })
		for i := range low.Points {
			if low.Points[i].Role == procedure.FinalFix {
				low.Points[i].Meaning = procedure.AtOrBelow
			}
		}
		s := builtinSet(t, "faa-all-segments")
		for _, way := range []string{WayVectors, WayVia} {
			c, ok := s.CallFor(evaluate(t, s, low), CallOptions{Way: way, Fix: "XEMBA", Air: rnav31.Air})
			want, most := "FAF XIRTU", engine.Altitude(8000)
			if way == WayVia {
				want, most = "", 0
			} else if ok == alone {
				t.Errorf("a call %v, want %v", ok, !alone)
			}
			if c.CeilingAt != want || c.Ceiling != most {
				t.Errorf("%s: ceiling %q, %.0f, want %q, %.0f", way, c.CeilingAt, float64(c.Ceiling), want, float64(most))
			}
		}
	}
	// Where flight levels begin higher, 18 100 ft is an altitude like any other;
	// where they begin is what is said to be one. 17 500 and the fix's 600 ft.
	high := withPoints(kaldmoor(""), procedure.Point{Fix: "XIMLO", Role: procedure.InitialFix, Segment: procedure.Initial, Altitude: 17500})
	for transition, want := range map[engine.Altitude]string{0: "altitude one eight one zero zero feet", 19000: "one eight thousand one hundred", 18100: "altitude one eight one zero zero feet"} {
		res := evaluate(t, s, high)
		c, _ := s.CallFor(res, CallOptions{Way: WayVia, Fix: "XIMLO", Transition: transition, Air: rnav31.Air})
		if !strings.Contains(c.Spoken, "request "+want+" at XIMLO") {
			t.Errorf("transition at %.0f: got %s, want %s", float64(transition), c.Spoken, want)
		}
		q := s.RequestsFor(res, transition)[0]
		if want = strings.TrimPrefix(strings.TrimSuffix(want, " feet"), "altitude "); q.Spoken != "Request "+want+" feet for cold temperature operations." {
			t.Errorf("transition at %.0f: got %s, want %s", float64(transition), q.Spoken, want)
		}
	}
	// ICAO's manner has no end of whole hundreds (Annex 10 Vol II 5.2.1.4.1).
	icao := builtinSet(t, "icao")
	if c, _ := icao.CallFor(evaluate(t, icao, withPoints(kaldmoor(""), procedure.Point{Role: procedure.ProcedureTurn, Segment: procedure.Initial, Altitude: 17000})), CallOptions{Way: WayVectors}); !strings.Contains(c.Text, "altitude 19500 ft in") || !strings.Contains(c.Spoken, "altitude one niner thousand five hundred feet in") {
		t.Errorf("ICAO, above the transition altitude, the same figure in words: %s, %s", c.Text, c.Spoken)
	}
	// 600 ft are what the accurate equation asks for at 7993 ft (600 / 0.188 over
	// 4802, by hand), and 590 at 7940.
	if !strings.Contains(c.Source, "common practice, no source; it covers vectors to about 7900 ft") {
		t.Errorf("got source %q, want how far the amount reaches", c.Source)
	}
}

// figures of a call.
var (
	refused = regexp.MustCompile(`unable below (?:altitude )?(-?\d+)`)
	added   = regexp.MustCompile(`request (\d+) ft added`)
	amounts = regexp.MustCompile(`(\d+) ft (?:at|in|on)`)
	applied = regexp.MustCompile(`correction, (\d+) ft`)
	whole   = regexp.MustCompile(`-?\d+`)
)

func figureIn(t *rapid.T, re *regexp.Regexp, text string) (engine.Altitude, bool) {
	m := re.FindStringSubmatch(text)
	if m == nil {
		return 0, false
	}
	n, err := strconv.Atoi(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return engine.Altitude(n), true
}

// atOneFix has neighbours share a fix, as a hold and the intermediate fix do.
func atOneFix(t *rapid.T, in Input) Input {
	in.Points = slices.Clone(in.Points)
	for i := 1; i < len(in.Points); i++ {
		if rapid.IntRange(0, 3).Draw(t, "shares") == 0 {
			in.Points[i].Fix = in.Points[i-1].Fix
		}
	}
	return in
}

// aWay draws a way in, with the altitudes of the others left out.
func aWay(t *rapid.T, in Input) (Input, CallOptions) {
	opt := CallOptions{Way: rapid.SampledFrom(ways[:6]).Draw(t, "way"), Air: in.Air, Extra: engine.Feet(rapid.SampledFrom([]int{0, 1000}).Draw(t, "extra"))}
	if rapid.Bool().Draw(t, "named") {
		opt.Name, opt.SpokenName = "RNAV runway thirty", "RNAV runway thirty"
	}
	if opt.Way == WayVia || opt.Way == WayTraffic || opt.Way == WayVectorsInside {
		p := rapid.SampledFrom(in.Points).Draw(t, "by")
		opt.Fix = p.Fix
		if opt.Way != WayVectorsInside && p.Role == procedure.InitialFix {
			in.Points = procedure.Along(in.Points, p.Fix)
		}
	}
	return in, opt
}

// What every call holds to, under every rule set and for every way in.
func TestEveryCall(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		in, opt := aWay(t, atOneFix(t, in))
		res := evaluate(t, s, in)
		if rapid.Bool().Draw(t, "compensated") {
			res = res.CrossCheck(in.Air)
		}
		c, ok := s.CallFor(res, opt)
		if !ok {
			return
		}
		bare := strings.NewReplacer("FIX", "", "runway thirty", "").Replace(c.Text)
		lower := strings.ToLower(bare)
		asks := requires(res)
		if !asks && (strings.Contains(lower, "unable") || strings.Contains(lower, "require ")) {
			t.Errorf("%s: got %q, want no unable and no require where nothing that is told is required", s.ID, c.Text)
		}
		if chooses := strings.Contains(c.When, "choose"); chooses == asks {
			t.Errorf("%s: got when %q, required %v", s.ID, c.When, asks)
		}
		// Every altitude is that of a row that is told, in whole hundreds.
		told := map[engine.Altitude]bool{}
		sums := map[engine.Altitude]bool{}
		for i := range res.Lines {
			l := &res.Lines[i]
			if !l.Report && (opt.Way != WayTraffic || l.Correction == 0 || l.Lifted()) || asks && !l.Required && !l.ByPlace || l.Meaning == procedure.AtOrBelow {
				continue
			}
			sums[engine.Altitude(upTo(float64(l.Correction), 100))] = true
			sums[engine.Altitude(upTo(float64(l.Correction+opt.Extra), 100))] = true
			if l.Segment == procedure.Sector && strings.HasPrefix(s.ID, "faa") {
				continue // a US sector altitude enters no call
			}
			told[engine.Altitude(upTo(float64(l.Corrected), 100))] = true
		}
		inAmounts := slices.Concat(amounts.FindAllStringSubmatch(bare, -1), added.FindAllStringSubmatch(bare, -1), applied.FindAllStringSubmatch(bare, -1))
		isAmount := map[string]bool{}
		for _, m := range inAmounts {
			isAmount[m[1]] = true
		}
		low, refuses := figureIn(t, refused, bare)
		for _, f := range whole.FindAllString(bare, -1) {
			n, _ := strconv.Atoi(f)
			a := engine.Altitude(n)
			switch {
			case n%100 != 0:
				t.Errorf("%s: got %q, want whole hundreds", s.ID, c.Text)
			case refuses && a == low:
			case isAmount[f] && sums[a]:
			case told[a]:
			default:
				t.Errorf("%s: got %q: %d is the figure of no row that is told", s.ID, c.Text, n)
			}
		}
		amount, has := figureIn(t, added, bare)
		if refuses != (has && asks) && strings.Contains(opt.Way, WayVectors) && s.manner == 0 {
			t.Errorf("%s: got %q, want what is refused below with the amount", s.ID, c.Text)
		}
		if refuses {
			refusal(t, s, in, res, opt, c, low, amount)
		}
		placed(t, s, res, opt, c)
		if refuses && opt.Way == WayVectorsInside {
			inside(t, s, res, opt, c, low)
		}
	})
}

// requires says that something that air traffic control is told is required.
func requires(res Result) bool {
	return slices.ContainsFunc(res.Lines, func(l Line) bool { return l.Report && (l.Required || l.ByPlace) })
}

// placed holds that an altitude is asked for at a row that the rule set
// corrects, and that no such row there is flown higher by the way in.
func placed(t *rapid.T, s *Set, res Result, opt CallOptions, c Call) {
	m := regexp.MustCompile(`request (\d+) at (FIX.)`).FindStringSubmatch(c.Text)
	if m == nil {
		return
	}
	n, _ := strconv.Atoi(m[1])
	asks := false
	for i := range res.Lines {
		l := &res.Lines[i]
		if l.Fix != m[2] || inward(&l.Point) == 0 || !asked(l) {
			continue
		}
		asks = asks || !l.Lifted() && engine.Altitude(n) >= l.Corrected-tolerance
		if opt.Fix == l.Fix && inward(&l.Point) < 6 && engine.Altitude(n) < l.Corrected-tolerance {
			t.Errorf("%s: got %q, and %s %s is flown at %v", s.ID, c.Text, l.Role, l.Fix, l.Corrected)
		}
	}
	if !asks {
		t.Errorf("%s: got %q, and nothing is corrected there", s.ID, c.Text)
	}
}

// inside holds that vectors inside the intermediate fix are refused below what
// comes after it and no higher, whatever else stands at the fix.
func inside(t *rapid.T, s *Set, res Result, opt CallOptions, c Call, low engine.Altitude) {
	at, highest := 0, engine.Altitude(0)
	for i := range res.Lines {
		l := &res.Lines[i]
		n := inward(&l.Point)
		if l.Fix == opt.Fix && n < 5 {
			at = max(at, n)
		}
		if n > 3 && n <= 5 && l.Meaning != procedure.AtOrBelow {
			highest = max(highest, l.Corrected)
		}
	}
	if at == 3 && low > engine.Altitude(upTo(float64(highest), 100)) {
		t.Errorf("%s: got %q, and nothing after %s is flown above %v", s.ID, c.Text, opt.Fix, highest)
	}
}

// What is only lifted is never told, and its amount is that of no call.
func TestLiftedIsNotTold(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		res := evaluate(t, s, in)
		final := engine.Feet(0)
		for i := range res.Lines {
			l := &res.Lines[i]
			if l.Lifted() && l.Report {
				t.Errorf("%s: %s %s is only lifted, and told", s.ID, l.Role, l.Fix)
			}
			if l.Role == procedure.FinalFix && asked(l) {
				final = max(final, l.Correction)
			}
		}
		lifts := slices.ContainsFunc(res.Lines, func(l Line) bool { return l.Role == procedure.IntermediateFix && l.Lifted() })
		c, ok := s.CallFor(res, CallOptions{Way: WayVectors, Air: in.Air})
		if amount, has := figureIn(t, added, c.Text); ok && has && lifts && !strings.Contains(c.Text, "until established") && amount < engine.Altitude(final) {
			t.Errorf("%s: got %q, and %v are added at the final approach fix", s.ID, c.Text, final)
		}
	})
}

// A ceiling before the final approach fix is no floor, and nothing above it is one:
// 8600 at most at XUSTI, which comes behind XUBRI's 9600.
func TestFloorUnderCeiling(t *testing.T) {
	for way, fix := range map[string]string{WayVectors: "", WayVectorsInside: "XADLO"} {
		in := kaldmoor("")
		for i := range in.Points {
			if p := &in.Points[i]; p.Fix == "XOLMI" || p.Fix == "XUBRI" {
				p.Role, p.Segment, p.From, p.Altitude = procedure.StepDown, procedure.Intermediate, "", 9000
			}
		}
		at := slices.IndexFunc(in.Points, func(p procedure.Point) bool { return p.Role == procedure.FinalFix })
		in.Points = slices.Insert(slices.Clone(in.Points), at, procedure.Point{Fix: "XUSTI", Role: procedure.StepDown, Segment: procedure.Intermediate, Meaning: procedure.AtOrBelow, Altitude: 8000})
		s := builtinSet(t, "faa-all-segments")
		if c, _ := s.CallFor(evaluate(t, s, in), CallOptions{Way: way, Fix: fix, Air: in.Air}); !strings.Contains(c.Text, "unable below 8000 until the final approach fix") {
			t.Errorf("%s: got %q", way, c.Text)
		}
	}
}

// Avionics that correct for temperature: the rows are what they fly, by the accurate
// equation from each altitude's own height, and the call is of the rows under every
// rule set: XOLMI 8840, XIRTU 7890, XORLI 11230 over 4802 ft at -38 (640, 490 and
// 1030 ft up to ten, by hand). Over 1000 ft the hold is at 12270, where the table's
// last column has 11358.
func TestCompensated(t *testing.T) {
	const faa = "Request RNAV runway 31. For cold temperature request 700 ft added to vectored altitudes, unable below 8900 until established; require 11300 for the missed approach hold."
	for set, want := range map[string][2]string{
		"faa-all-segments": {faa, "require 12300 for"}, "faa-individual-segments": {faa, "require 12300 for"}, "faa-each-fix": {faa, "require 12300 for"}, "strict": {faa, "require 12300 for"},
		"icao":   {"Request RNAV runway 31 with cold temperature corrections: 7900 at XIRTU, 11300 on the missed approach.", "12300 on the missed"},
		"canada": {"Request RNAV runway 31. Applying cold temperature corrections: 500 ft at XIRTU, 1100 ft on the missed approach.", "2100 ft on the missed"},
	} {
		s := builtinSet(t, set)
		in := kaldmoor("")
		in.Designated = Segments[:]
		res := evaluate(t, s, in).CrossCheck(in.Air)
		if c, _ := s.CallFor(res, CallOptions{Way: WayVectors, Name: rnav31.Name, SpokenName: rnav31.SpokenName, Air: in.Air}); c.Text != want[0] {
			t.Errorf("%s: got %q, want %q", set, c.Text, want[0])
		}
		in.Air.Source = 1000
		res = evaluate(t, s, in).CrossCheck(in.Air)
		if c, _ := s.CallFor(res, CallOptions{Way: WayVia, Fix: "XEMBA", Air: in.Air}); !strings.Contains(c.Text, want[1]) {
			t.Errorf("%s: got %q, want %s", set, c.Text, want[1])
		}
	}
}

// refusal holds what is refused below: not under any row from the place that
// it is of to the final approach fix, of no ceiling, and never with the
// valley's extra.
func refusal(t *rapid.T, s *Set, in Input, res Result, opt CallOptions, c Call, low, amount engine.Altitude) {
	matches := false
	for i := range res.Lines {
		l := &res.Lines[i]
		n := inward(&l.Point)
		if n == 0 || n > 5 || l.Meaning == procedure.AtOrBelow || !l.Report {
			continue
		}
		extra := engine.Feet(0)
		if opt.Way == WayVectors || strings.Contains(c.Text, "until established") {
			extra = opt.Extra
		}
		if engine.Altitude(upTo(float64(l.Correction+extra), 100)) == amount && engine.Altitude(upTo(float64(l.Corrected), 100)) <= low {
			matches = true
		}
	}
	if !matches {
		t.Errorf("%s: got %q: %v is added at no row that is refused below", s.ID, c.Text, amount)
	}
	established := strings.Contains(c.Text, "until established")
	for i := range res.Lines {
		l := &res.Lines[i]
		n := inward(&l.Point)
		within := n == 5 && l.Report || n >= 3 && n <= 5 && established && opt.Way == WayVectors && l.Report
		if within && l.Meaning != procedure.AtOrBelow && l.Corrected > low+tolerance {
			t.Errorf("%s: got %q, want nothing refused below a row at %v", s.ID, c.Text, l.Corrected)
		}
	}
}

// A request for outside the initial fixes is at or above every one of them,
// and there is none without one; none is for a ceiling or a row that the rule
// leaves, and nothing is required where the crew merely chooses.
func TestEveryRequest(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		res := evaluate(t, s, in)
		for _, q := range s.RequestsFor(res, 0) {
			if lower := strings.ToLower(q.Text); !requires(res) && (strings.Contains(lower, "unable") || strings.Contains(lower, "require ")) {
				t.Errorf("%s: got %q where nothing is required", s.ID, q.Text)
			}
			if strings.Contains(q.When, "lower") {
				lowerAhead(t, s, res, q)
			}
			if !strings.Contains(q.When, "outside") && !strings.Contains(q.When, "on own navigation") || strings.Contains(q.When, "lower") {
				continue
			}
			f, ok := figureIn(t, regexp.MustCompile(`(-?\d+) ft`), q.Text)
			opens := false
			for i := range res.Lines {
				l := &res.Lines[i]
				if !l.Role.Opens() || l.NoAltitude || l.Meaning == procedure.AtOrBelow {
					continue
				}
				opens = true
				if !ok || f < l.Corrected-tolerance {
					t.Errorf("%s: got %q: %s %s is flown at %v", s.ID, q.Text, l.Role, l.Fix, l.Corrected)
				}
			}
			if !opens {
				t.Errorf("%s: got %q, and there is no initial fix, hold or procedure turn", s.ID, q.Text)
			}
		}
	})
}

// lowerAhead holds that what is refused below before the final approach fix says
// from where on, wherever a row before it is flown higher, and that nothing
// between there and the final approach fix is.
func lowerAhead(t *rapid.T, s *Set, res Result, q Request) {
	f, _ := figureIn(t, regexp.MustCompile(`(-?\d+) ft`), q.Text)
	_, inside, says := strings.Cut(q.When, ", inside ")
	at, higher := 0, false
	for i := range res.Lines {
		l := &res.Lines[i]
		n := inward(&l.Point)
		if n == 0 || n >= 5 || l.Meaning == procedure.AtOrBelow {
			continue
		}
		if strings.HasPrefix(inside, place(l)) || strings.HasPrefix(inside, "the "+l.Role.Phrase()) {
			at = max(at, n)
		}
		higher = higher || l.Corrected > f
	}
	if higher && !says {
		t.Errorf("%s: got %q %q, and a row before it is flown higher", s.ID, q.When, q.Text)
	}
	for i := range res.Lines {
		if l := &res.Lines[i]; says && inward(&l.Point) > at && inward(&l.Point) < 5 && l.Meaning != procedure.AtOrBelow && l.Corrected > f {
			t.Errorf("%s: got %q %q: %s %s is flown at %v", s.ID, q.When, q.Text, l.Role, l.Fix, l.Corrected)
		}
	}
}

// A corrected step-down still ahead is not flown through: the refusal counts
// from there.
func TestRefusalInsideTheStep(t *testing.T) {
	step := procedure.Point{Fix: "XAVEN", Role: procedure.StepDown, Segment: procedure.Intermediate, Altitude: 7900}
	s := builtinSet(t, "faa-all-segments")
	for want, in := range map[string]Input{"inside XOLMI": kaldmoor(""), "inside XAVEN": withPoints(kaldmoor(""), step)} {
		found := false
		for _, q := range s.RequestsFor(evaluate(t, s, in), 0) {
			found = found || q.When == "if assigned lower before the final approach fix, "+want && strings.Contains(q.Text, "8000 ft")
		}
		if !found {
			t.Errorf("nothing is refused %s: %+v", want, s.RequestsFor(evaluate(t, s, in), 0))
		}
	}
}

// A turn and the missed approach hold at a fix where another altitude is told are
// not called by the fix alone. Canada: 8600 is 3798 ft up, 872 ft at -38 °C of AIM
// TBL 7-3-1, 9500 in whole hundreds.
func TestRequestsTellPlacesApart(t *testing.T) {
	in := withPoints(kaldmoor(""), procedure.Point{Fix: "XORLI", Role: procedure.ProcedureTurn, Segment: procedure.Initial, Altitude: 8600})
	for set, want := range map[string]string{
		"canada":           "Applying 900 ft cold temperature correction at the procedure turn, 9500 ft.",
		"faa-all-segments": "Request 9200 ft for cold temperature operations at the procedure turn.",
	} {
		s := builtinSet(t, set)
		var all []string
		for _, q := range s.RequestsFor(evaluate(t, s, in), 0) {
			all = append(all, q.Text)
		}
		if !slices.Contains(all, want) || set == "canada" && !slices.Contains(all, "Applying 1200 ft cold temperature correction at the missed approach hold, 11400 ft.") {
			t.Errorf("%s: got %q", set, all)
		}
	}
}

// Nothing on the way in is flown lower than what comes further in, and what is
// left as published keeps its figure else.
func TestNothingIsFlownLowerThanFurtherIn(t *testing.T) {
	eachSet(t, func(t *rapid.T, s *Set, in Input) {
		res := evaluate(t, s, in)
		for i := range res.Lines {
			l := &res.Lines[i]
			if l.State == Unchanged && l.Corrected != l.Altitude {
				t.Errorf("%s: %s %s is unchanged at %v, want as published, %v", s.ID, l.Role, l.Fix, l.Corrected, l.Altitude)
			}
			for j := range res.Lines {
				m := &res.Lines[j]
				if n := inward(&l.Point); n == 0 || inward(&m.Point) <= n || m.Meaning == procedure.AtOrBelow || m.Altitude > l.Altitude || !sameWay(&l.Point, &m.Point) {
					continue
				}
				if m.Corrected > l.Corrected+tolerance {
					t.Errorf("%s: %s %s at %v, and %s %s, further in, at %v", s.ID, l.Role, l.Fix, l.Corrected, m.Role, m.Fix, m.Corrected)
				}
			}
		}
	})
}

// The listed segments: an intermediate fix that is left as published is flown
// at the corrected final approach fix's figure where that is higher.
func TestRaised(t *testing.T) {
	in := kaldmoor("")
	in.Designated = []procedure.Segment{procedure.Intermediate}
	in.Points[3].Altitude = 7600 // 7400 + 600 is higher
	s := builtinSet(t, "faa-individual-segments")
	res := evaluate(t, s, in)
	l := res.Lines[3]
	if l.Corrected != 8000 || l.Raised != 4 || l.State != Required || res.Lines[1].State != Unchanged {
		t.Errorf("got %v, raised by %d, state %d, and the initial fix %d", l.Corrected, l.Raised, l.State, res.Lines[1].State)
	}
	if c, _ := s.CallFor(res, CallOptions{Way: WayVectors}); !strings.Contains(c.Text, "unable below 8000") {
		t.Errorf("got %q", c.Text)
	}
}

// Several altitudes of the missed approach: the FAA's methods correct the
// holding altitude alone, the others every one.
func TestMissedAltitudes(t *testing.T) {
	points := []procedure.Point{
		{Role: procedure.MissedAltitude, Segment: procedure.Missed, Altitude: 6600},
		{Role: procedure.MissedHold, Segment: procedure.Missed, Altitude: 9100},
	}
	in := Input{Air: correction.Air{Temperature: -34, Source: 3120}, Restriction: -18, HasPublished: true, Points: points,
		Designated: []procedure.Segment{procedure.Missed}}
	sets, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		res := evaluate(t, s, in)
		left := res.Lines[0].Corrected == 6600 && res.Lines[0].State == Unchanged
		if left != strings.HasPrefix(s.ID, "faa") || res.Lines[1].Correction == 0 {
			t.Errorf("%s: got %+v", s.ID, res.Lines)
		}
	}
}

func TestBadCalls(t *testing.T) {
	for _, tt := range []struct {
		change func(*CallDoc)
		want   string
	}{
		{func(c *CallDoc) { c.Way = nil }, "call 1: way is missing: one of vectors, vectors-inside, via, hold, procedure-turn, traffic, unlabelled"},
		{func(c *CallDoc) { c.Way = []string{"direct"} }, `call 1: way "direct": one of vectors,`},
		{func(c *CallDoc) { c.Clauses = nil }, "call 1: clauses is missing: say what is said"},
		{func(c *CallDoc) { c.Begin = "Request {runway}" }, `call 1: begin: "{runway}" is not {`},
		{func(c *CallDoc) { c.Tell = []string{"fix"} }, `call 1: tell: "fix" is no segment, no role, and neither all, designated nor unlabelled, nor way`},
		{func(c *CallDoc) { c.Clauses[0].Say = "" }, "call 1: clause 1: say is missing"},
		{func(c *CallDoc) { c.Clauses[0].Only = "always" }, `call 1: clause 1: only "always": required or advised`},
	} {
		d := builtinSet(t, "icao").Document
		c := CallDoc{Way: []string{"vectors"}, Clauses: []Clause{{Say: "{altitudes}"}}}
		tt.change(&c)
		d.Calls = []CallDoc{c}
		if _, err := Compile(d); err == nil || !strings.HasPrefix(err.Error(), "icao: "+tt.want) {
			t.Errorf("got %v, want %s", err, tt.want)
		}
	}
	d := builtinSet(t, "icao").Document
	for want, change := range map[string]func(){
		`icao: leaves: "msa" is no segment`:                  func() { d.Leaves = []string{"msa"} },
		"icao: mark 1: altitudes and mark are both needed":   func() { d.Marks = []Mark{{Altitudes: []string{"all"}}} },
		`icao: request 1: only "never": required or advised`: func() { d.Requests = []RequestDoc{{When: "x", Altitude: "told", Say: "y", Only: "never"}} },
	} {
		d = builtinSet(t, "icao").Document
		change()
		if _, err := Compile(d); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}
