package wxreport

import (
	"testing"
	"time"
)

func BenchmarkParseMetar(b *testing.B) {
	for _, c := range []struct{ name, text string }{
		{"pasted", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13781422"},
		{"lower case", "xkld 251153z 00000kt 10sm clr m38/m42 a2992 rmk ao2 t13781422"},
		{"altitudes behind", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 FAF 8200, step 7400"},
		{"trend", "METAR XKLD 251150Z 24012G22KT 210V280 3000 -SN BKN008 OVC015 M08/M09 Q0988 R04/720095 TEMPO 1200 +SN VV003"},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := ParseMetar(c.text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkLooksLikeMetar(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if LooksLikeMetar("xkld m38 FAF 8200, step 7400, DA 5340, missed 10200") {
			b.Fatal("a typed line looks like a report")
		}
	}
}

func BenchmarkParseTaf(b *testing.B) {
	const text = "TAF AMD XKLD 131141Z 1312/1418 24012KT 9999 BKN020 TXM05/1318Z TNM15/1410Z TEMPO 1312/1318 2000 SN BKN008 BECMG 1400/1402 VRB03KT CAVOK"
	at := time.Date(2026, time.January, 13, 12, 0, 0, 0, time.UTC)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ParseTaf(text, at); err != nil {
			b.Fatal(err)
		}
	}
}
