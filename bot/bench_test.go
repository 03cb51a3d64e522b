package bot_test

import (
	"testing"

	"firn/bot"
)

// BenchmarkHandle is a message in and a platform-neutral reply out, without a
// network. To reach: 20 us and 60 allocations.
func BenchmarkHandle(b *testing.B) {
	for _, c := range []struct{ name, text string }{
		{"four altitudes", "XKLD -38 8200 7400 5340"},
		{"labels and a report", "FAF 8200, step 7400, DA 5340, missed 10200 XKLD 151153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13781422"},
	} {
		b.Run(c.name, func(b *testing.B) {
			firn := newBot(b)
			m := bot.Message{Surface: "console", Thread: "1", Text: c.text, At: noon}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := firn.Handle(b.Context(), m); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
