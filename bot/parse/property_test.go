package parse

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firn/engine"
)

// genFigure draws a figure with what may stand around it, and the figure as it
// must come back.
func genFigure(t *rapid.T, i int) (text, figure string) {
	n := rapid.IntRange(1010, 29990).Draw(t, "figure")
	plain := strconv.Itoa(n)
	grouped := fmt.Sprintf("%d,%03d", n/1000, n%1000)
	forms := []string{
		plain, plain + " ft", plain + "'", grouped, "FAF " + plain, "step " + plain, plain + " DA", "IAF XADLO " + plain, "alt=" + plain, "(" + plain + ")",
		"qnh " + plain, "rvr " + plain, "wind " + plain, "blah " + plain, plain + " blah", "not " + plain, "without " + plain, "below " + plain, plain + " or below",
		"mda 9990/" + plain, plain + " nm", "cat c " + plain, "at " + plain, "eta " + plain, plain + " tomorrow", "missed " + plain, "mea " + plain, "elev " + plain,
		"change " + plain, "minus " + plain, "plus " + plain, "why " + plain, "FL" + plain, plain + "z", "lnav " + plain, "vectors " + plain, "via " + plain, "if " + plain,
		"between " + plain, "the " + plain, plain + "m", "-" + plain, plain + "ish", "sid " + plain, "agl " + plain, plain + " agl", "dew point " + plain, "or " + plain,
		"maintain " + plain, "direct XADLO at " + plain, "circling cat b " + plain, "now " + plain, "is " + plain, "should be " + plain, "missed " + plain + " hold", "climbing to " + plain + " missed",
		"alt " + plain, "make it " + plain, "kl " + plain, "sin " + plain, "sans gps " + plain, plain + " auto", "arc " + plain, "notam missed " + plain, "remote altimeter " + plain, plain + "=" + plain,
	}
	return rapid.SampledFrom(forms).Draw(t, fmt.Sprint("form ", i)), plain
}

// TestNoFigureIsLost: every figure of a message is used, told as not used, or
// asked about.
func TestNoFigureIsLost(t *testing.T) {
	rd := demoReader()
	rapid.Check(t, func(t *rapid.T) {
		parts := []string{}
		var figures []string
		if rapid.Bool().Draw(t, "with a place") {
			parts = append(parts, "XKLD")
		}
		if rapid.Bool().Draw(t, "with a temperature") {
			parts = append(parts, "-38")
		}
		for i := range rapid.IntRange(1, 4).Draw(t, "figures") {
			text, figure := genFigure(t, i)
			parts, figures = append(parts, text), append(figures, figure)
		}
		text := strings.Join(parts, rapid.SampledFrom([]string{" ", ", ", "; "}).Draw(t, "between"))
		req, p := rd.Parse(text)
		if p != nil {
			return
		}
		back := reads(req, nil) + strings.Join(req.NotUsed, " ")
		for _, a := range append(append([]Altitude{req.Elevation}, req.Altitudes...), req.Gone...) {
			back += fmt.Sprintf(" %.0f %.0f", a.Value, a.Upper)
		}
		back = strings.ReplaceAll(back, ",", "")
		for _, f := range figures {
			if !strings.Contains(back, f) {
				t.Fatalf("Parse(%q): %s is lost in:\n%s", text, f, back)
			}
		}
	})
}

// TestOfferReadsAsItself: what is offered reads without a question, and as the
// same request.
func TestOfferReadsAsItself(t *testing.T) {
	rd := demoReader()
	rapid.Check(t, func(t *rapid.T) {
		parts := []string{rapid.SampledFrom([]string{"XKLD", "XKLE", "", "kaldmor", "XKLD XRUN"}).Draw(t, "place"), rapid.SampledFrom([]string{"-38", "38", "", "-38 or -40", "m38", "minus 38"}).Draw(t, "temperature")}
		for i := range rapid.IntRange(0, 3).Draw(t, "figures") {
			text, _ := genFigure(t, i)
			parts = append(parts, text)
		}
		text := strings.Join(parts, " ")
		if _, p := rd.Parse(text); p != nil {
			sound(t, text, p)
			mends(t, rd, text, p)
		}
	})
}

// TestTalkIsNoRequest: thanks and small words alone ask for nothing.
func TestTalkIsNoRequest(t *testing.T) {
	rd := demoReader()
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.SampledFrom(thankWords), 1, 4).Draw(t, "words")
		text := strings.Join(words, rapid.SampledFrom([]string{" ", ", ", "! "}).Draw(t, "between"))
		if req, p := rd.Parse(text); p != nil || req.Verb != Note {
			t.Fatalf("Parse(%q) = %v, problem %v", text, req.Verb, p)
		}
	})
}

// TestOfferLosesNothing: a line to type instead holds every figure with its
// sign, and every choice of the message.
func TestOfferLosesNothing(t *testing.T) {
	rd := demoReader()
	choices := []string{"", "sbas inop", "no sbas", "temp comp u/s", "without lnav", "via XADLO", "icao", "vectors", "sbas"}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 59).Draw(t, "degrees")
		cold := rapid.SampledFrom([]string{"minus%d", "neg%d", "-%d", "m%d", "minus %d", "%d below", "temp%dbelow", "minus%dC", "below%d", "minus%dx"}).Draw(t, "temperature")
		figure := strconv.Itoa(rapid.IntRange(5200, 17000).Draw(t, "altitude"))
		if figure == "9999" { // without a label a report's visibility, which may go
			figure = "9998"
		}
		choice := rapid.SampledFrom(choices).Draw(t, "choice")
		text := strings.Join([]string{rapid.SampledFrom([]string{"XKLD", "XKLE", "kaldmor"}).Draw(t, "place"), fmt.Sprintf(cold, n), choice, rapid.SampledFrom([]string{"", "blah", "garble FAF", "38"}).Draw(t, "unread"), figure}, " ")
		req, p := rd.Parse(text)
		if p == nil {
			if !req.HasTemperature || req.Temperature != engine.Celsius(-n) {
				t.Fatalf("Parse(%q): temperature %v, %v", text, req.HasTemperature, req.Temperature)
			}
			return
		}
		if p.Try == "" || p.Try == Example {
			return
		}
		again, _ := rd.Parse(p.Try)
		if !again.HasTemperature || again.Temperature != engine.Celsius(-n) && again.Temperature != -38 {
			t.Fatalf("Parse(%q): %q has the temperature %v, %v", text, p.Try, again.HasTemperature, again.Temperature)
		}
		if !strings.Contains(p.Try, figure) {
			t.Fatalf("Parse(%q): %q lacks %s", text, p.Try, figure)
		}
		of, _ := rd.Parse("XKLD -38, " + choice + ", FAF 8200") // "8200 vectors" is the controller's
		if of.SBAS != again.SBAS || of.Compensated != again.Compensated || of.Way != again.Way || of.Rules != again.Rules || len(of.Without) != len(again.Without) {
			t.Fatalf("Parse(%q): %q has other choices", text, p.Try)
		}
	})
}

// TestWeightyWordsAreAsked: a word that is not read is no aside where it holds
// a digit or stands beside what the aircraft has.
func TestWeightyWordsAreAsked(t *testing.T) {
	rd := demoReader()
	rapid.Check(t, func(t *rapid.T) {
		word := rapid.StringMatching("q[jwx][qz][jx]").Draw(t, "word")
		beside := rapid.SampledFrom([]string{"sbas %s", "%s sbas", "temp comp %s", "%s compensated", "lnav %s", "%s lnav", "without lnav %s", "%s7", "7%s4", "blah %s2 blah"}).Draw(t, "beside")
		text := fmt.Sprintf("XKLD rnav 31 -33, "+beside, word)
		if req, p := rd.Parse(text); p == nil {
			t.Fatalf("Parse(%q) is read as %q, not used %q", text, req.Line(), req.NotUsed)
		} else if p.Try != "" {
			t.Fatalf("Parse(%q): %q is offered", text, p.Try)
		}
	})
}

// TestAnyLineReadsBack: whatever words of the tables, figures and marks a message is
// put together from, what is read of it is written as a line that reads as the same.
func TestAnyLineReadsBack(t *testing.T) {
	rd := demoReader()
	words := strings.Fields("XKLD XRUN -38 m38 0 05 31 35 99 100 999 1430 4820 7400 8200 9999 9999m 10,200 8.2k 14.30 0.15 .5 3050m 100agl FL150 31l y35 FAF DA MDA IAF IF step hold missed pt taa msa arc XADLO XORLI XKLE " +
		"below between and or not without at via from is no , ; / : = ( ) elev ft m lnav lnav/vnav lpv ils loc circling sbas remote additive icao rnav rnp vor rwy minus plus only mins vectors inside traffic why to")
	for i := range vocabulary {
		words = append(words, strings.Join(vocabulary[i].words, " "))
	}
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom(words), 1, 8).Draw(t, "words"), " ")
		req, p := rd.Parse(text)
		if p != nil {
			mends(t, rd, text, p)
			return
		}
		if req.HasReport || req.Empty() || req.Verb != Correct && req.Verb != Route && !req.Verb.Shows() {
			return
		}
		line := req.Line()
		again, p := rd.Parse(line)
		if p != nil || again.Line() != line || again.Verb != req.Verb {
			t.Fatalf("Parse(%q): its line %q reads as %q, problem %v", text, line, again.Line(), p)
		}
	})
}
