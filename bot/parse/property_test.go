package parse

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
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
