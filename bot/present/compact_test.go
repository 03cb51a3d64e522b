package present

import (
	"reflect"
	"testing"

	"firn/bot/reply"
)

// A shorter working has every figure: what is left out stands above.
func TestCompact(t *testing.T) {
	row, between := reply.Step{Text: "row −30 °C: 493.6", Source: "the table"}, reply.Step{Text: "between them: 597.5 ft", Source: "interpolated"}
	own := func(text string) reply.Step { return reply.Step{Text: text, Source: "the table"} }
	methods := []reply.MethodFigure{{Method: "table", CorrectionFt: 597.5}, {Method: "four-percent", CorrectionFt: 452}}
	got := Compact([]Block{
		Line{Text: "XKLD"},
		Steps{Title: "Working for IAF 10900 ft", Steps: []reply.Step{row, between, own("10900 + 600 = 11500 ft")}, Methods: methods},
		Steps{Title: "Working for DA 5340 ft", Steps: []reply.Step{own("5340 + 130 = 5470 ft"), {Text: "no source"}}},
		Steps{Title: "Working for IF 8200 ft", Steps: []reply.Step{row, between, own("8200 + 600 = 8800 ft")}},
	})
	want := []Block{
		Line{Text: "XKLD"},
		Line{Text: compactText},
		Steps{Title: "Working for IAF 10900 ft", Steps: []reply.Step{{Text: "row −30 °C: 493.6 (1)"}, {Text: "between them: 597.5 ft (2)"}, {Text: "10900 + 600 = 11500 ft (1)"},
			{Text: "its own height by every method, in feet: table 597.5, four-percent 452.0 (no answer)"}}},
		Steps{Title: "Working for DA 5340 ft", Steps: []reply.Step{{Text: "5340 + 130 = 5470 ft (1)"}, {Text: "no source"}}},
		Steps{Title: "Working for IF 8200 ft", Steps: []reply.Step{{Text: "as for IAF 10900 ft"}, {Text: "8200 + 600 = 8800 ft (1)"}}},
		List{Title: "Sources", Lines: []string{"(1) the table", "(2) interpolated"}},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("Compact = %+v\nwant %+v", got, want)
	}
}
