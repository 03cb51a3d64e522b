package picture

import (
	"slices"
	"strings"
	"testing"

	"firn/bot/drawing"
	"firn/bot/reply"
)

// What is read in flight has its size on both papers, also of a procedure of
// nine altitudes below a stop.
func TestCardSizes(t *testing.T) {
	a := artist(t)
	r := answer(t, "faa-all-segments", -38, false, long()[:9]...)
	r.Call = call
	r.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."}}
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
			"11500": 24, "10100–11800": 24, "10900": 14, "IAF XADLO": 14, "Baro LNAV/VNAV": 12, "“Request RNAV": 12, "KALOMI-RUTA · checked": 11, "emergency": 9,
		} {
			i := slices.IndexFunc(on.texts, func(x text) bool { return strings.HasPrefix(x.s, begins) })
			if i < 0 || on.texts[i].size < want {
				t.Errorf("%v: %q is not written at %v points in\n%s", paper, begins, want, on.all())
			}
		}
	}
}
