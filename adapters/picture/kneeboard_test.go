package picture

import (
	"slices"
	"strings"
	"testing"

	"firn/bot/drawing"
	"firn/bot/present"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// What is read in flight has its size on both papers, also of a procedure of
// nine altitudes below a stop.
func TestCardSizes(t *testing.T) {
	a := artist(t)
	r := answer(t, "faa-all-segments", -38, false, long()[:9]...)
	r.Call = call
	r.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."}}
	r.Notes = []string{"Remote altimeter: add the chart's additive first, none is stored."}
	for _, paper := range []drawing.Paper{drawing.A5, drawing.HalfLetter, drawing.Letter} {
		c, ok := drawing.KneeboardOf(r, standing(paper))
		if !ok || len(c.Table.Rows) != 9 {
			t.Fatalf("%v, %d rows", ok, len(c.Table.Rows))
		}
		on, err := record(a, c)
		if err != nil {
			t.Fatal(err)
		}
		for begins, want := range map[string]float64{
			"11500": 24, "10100–11800": 24, "10900": 14, "IAF XADLO": 14, "Baro LNAV/VNAV": 12, "Remote altimeter": 12, "“Request RNAV": 12, "KALOMI-RUTA · checked": 11, "emergency": 9,
		} {
			i := slices.IndexFunc(on.texts, func(x text) bool { return strings.HasPrefix(x.s, begins) })
			if i < 0 || on.texts[i].size < want {
				t.Errorf("%v: %q is not written at %v points in\n%s", paper, begins, want, on.all())
			}
		}
	}
}

// TestCardOnPaper: on every paper every card is one page of black on white,
// with nothing under nine points; the table is whole on it.
func TestCardOnPaper(t *testing.T) {
	a := artist(t)
	black := map[tone]bool{ink: true, white: true, ghost: true} // NOT VALID across it is grey, not a colour
	for _, rows := range []int{1, 9, 24} {
		var points []procedure.Point
		for len(points) < rows {
			points = append(points, long()...)
		}
		r := answer(t, "faa-all-segments", -38, false, points[:rows]...)
		r.Call = call
		for _, paper := range []drawing.Paper{drawing.A5, drawing.HalfLetter, drawing.Letter} {
			for _, void := range []string{"", "The temperature has moved: −45 °C now."} {
				s := standing(paper)
				s.Void = void
				c, ok := drawing.KneeboardOf(r, s)
				if !ok {
					t.Fatal("no card")
				}
				on, err := record(a, c)
				if err != nil {
					t.Errorf("%v, %d rows, void %q: %v", paper, rows, void, err)
					continue
				}
				flown := 0
				for _, x := range on.texts {
					if x.size < leastSize-1e-9 {
						t.Errorf("%v, %d rows: %q is of %.1f points", paper, rows, x.s, x.size)
					}
					if slices.ContainsFunc(c.Table.Rows, func(r present.Row) bool { return r.Fly == x.s }) {
						flown++
					}
				}
				if flown < rows {
					t.Errorf("%v: %d of %d rows are on the page", paper, flown, rows)
				}
				for tone := range on.tones {
					if !black[tone] {
						t.Errorf("%v, %d rows: a tone that is not black or white, %d", paper, rows, tone)
					}
				}
			}
		}
	}
}
