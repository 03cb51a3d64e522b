package parse

import "testing"

// BenchmarkParse reads three messages: figures alone, labels, and a sentence.
func BenchmarkParse(b *testing.B) {
	rd := demoReader()
	for _, c := range []struct{ name, text string }{
		{"figures", "XKLD -38 8200 7400 5340"},
		{"labels", "xkld m38 FAF 8200, step 7400, DA 5340, missed 10200"},
		{"sentence", "hey firn, what's 8200 corrected at XKLD, it's -38 there"},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				rd.Parse(c.text)
			}
		})
	}
}
