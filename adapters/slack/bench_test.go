package slack

import (
	"testing"

	"firn/bot/chat"
	"firn/bot/reply"
)

// BenchmarkRender is a card of six altitudes as blocks.
func BenchmarkRender(b *testing.B) {
	r := reply.Reply{Kind: reply.KindCorrection, Required: reply.Yes, Facts: []string{"XKLD Kaldmoor, elevation 4802 ft. −38 °C, as typed.", "Correction required."}}
	for i := range 6 {
		r.Altitudes = append(r.Altitudes, reply.Row{Label: "step", Segment: "final", PublishedFt: 7400 + float64(i), HeightFt: 2598, CorrectionFt: 130, CorrectedFt: 9330, Required: true})
		r.Cautions = append(r.Cautions, reply.Caution{Text: "Good for −38 °C only; correct again when the temperature changes."})
	}
	b.ReportAllocs()
	for b.Loop() {
		compose(chat.Message{Reply: r})
	}
}
