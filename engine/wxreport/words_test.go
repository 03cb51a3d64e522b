package wxreport

import (
	"strings"
	"testing"
)

// TestShapes: which words have a group's shape. The groups are of the corpus
// or of the code forms that words.go names; the others are near misses.
func TestShapes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		is      func(string) bool
		yes, no string
	}{
		{"wind", isWind, "00000KT 24012G20KT VRB03KT /////KT 32020G//KT E24040G65KT 250P99KT 250120G150KT 18004MPS 36010KMH 240V310",
			"KT 2401KT 24012 24012G20 ABC12KT 24012GKT 240V31 24V310 10000KT1"},
		{"miles", isMiles, "10SM P6SM M1/4SM 1/2SM 11/16SM ////SM 9KM", "SM 100SM 1/SM /2SM 1/100SM 1/2 P/SM"},
		{"visibility with a direction", isDirected, "3000NE 9999NDV 0400N", "3000 3000NNE 300NE"},
		{"visibility in metres", isMetres, "0000 0050 0750 0800 4900 5000 9000 9999", "0825 5340 5500 7400 8200 800 12A4"},
		{"runway", isRunway, "R04/720095 R19/4000FT R10L/3500V4500FT R27R/P2000N R09/D R09/CLRD60 R/SNOCLO SNOCLO 08220356 1519//65 88CLRD70 R16/////// R28/8///99",
			"R R04 R04L RNP R1/2 R/ R/1 1234567 12ABCD78 RAF/12"},
		{"cloud", isCloud, "FEW020 SCT020CB BKN/// OVC002/// BKN030TCU VV002 VV/// CLR SKC NSC NCD CAVOK ///011/// ////// //////CB", "FEW FEW02 FEW0200 VV FEW02A BKN020XX"},
		{"weather", isWeather, "SN -SN +SHRAGS VCSH +VCSH RESHRA RE// // NSW FZFG TSRA BLSN -SHSNRAGS", "S FAF IF DA STEP HOLD RE + -38 -SNX SNRASGICPLGS"},
		{"colour", isColour, "BLU BLU+ WHT GRN YLO YLO1 YLO2 AMB RED BLACK BLKBLU WHTGRN", "BLUE GREEN YLO3 BLACKX"},
		{"sea", isSea, "W15/S3 WM01/H12 W///S9 W15/H/// W15/S/", "W W15 W15/ W15/S W15/S33 W15/H1234 W15/X3 WAA/S3"},
		{"trend time", isTrendTime, "FM1200 TL1330 AT1500", "FM12 FM251200 XX1200 FM12A0"},
		{"humidity", isHumidity, "RH100 RH65", "RH RH1 RH1000 RHXX"},
		{"altimeter setting", isSetting, "A2992 Q1013 QNH2992INS", "A299 A29920 B2992 Q10A3 QNH2992HPA"},
		{"station", isIdent, "XKLD X2F K1MW", "1KLD XK XKLDX XK-D"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for w := range strings.FieldsSeq(c.yes) {
				if !c.is(w) {
					t.Errorf("%s is none", w)
				}
			}
			for w := range strings.FieldsSeq(c.no) {
				if c.is(w) {
					t.Errorf("%s is one", w)
				}
			}
		})
	}
}
