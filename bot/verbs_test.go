package bot

import (
	"fmt"
	"strings"
	"testing"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/bot/watch"
)

// TestEveryVerb: one that do has no case for would be worked as a correction, in
// silence; and help names each that people type.
func TestEveryVerb(t *testing.T) {
	t.Parallel()
	b := listing(t)
	for v := range parse.Note {
		req := parse.Request{Verb: v, Station: "XKLD", HasTemperature: true, Temperature: -38, Altitudes: []parse.Altitude{{Value: 8200}}}
		r, err := b.do(t.Context(), &req, nil, Message{Surface: "console", At: beforeEnd}, follow{})
		if corrects := v == parse.Correct || v == parse.Why || v == parse.Same; err != nil || (r.Kind == reply.KindCorrection) != corrects {
			t.Errorf("%s: a %s, %v; want a correction: %v", v, r.Kind, err, corrects)
		}
	}
	b.ports = Ports{Observer: struct{ Observer }{}, Forecasts: struct{ watch.Forecaster }{}, Pictures: true,
		Observations: struct{ Observations }{}, Bases: struct{ Bases }{}, Book: struct{ Book }{}}
	help := fmt.Sprint(b.help().Sections)
	for v := range parse.Note {
		if v != parse.Correct && !strings.Contains(help, v.String()) {
			t.Errorf("help does not name %q", v)
		}
	}
}
