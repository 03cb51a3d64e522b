package weather

import "testing"

// Two reports on one line, with and without a space between them, are two.
func TestSplitOneLine(t *testing.T) {
	for _, text := range []string{
		"METAR XBBB 151153Z 00000KT 9999 M29/M33=METAR XRUN 151153Z 00000KT 9999 M02/M05=",
		"METAR XBBB 151153Z 00000KT 9999 M29/M33= METAR XRUN 151153Z 00000KT 9999 M02/M05=\n",
		"TAF XBBB 151130Z 1512/1612 9999 TXM20/1521Z TNM29/1606Z=TAF XRUN 151130Z 1512/1612 9999 TXM01/1521Z TNM05/1606Z=",
	} {
		got := Split(text)
		if len(got) != 2 || got[0].Line != 1 || got[1].Line != 1 || got[0].Text[:4] == "XRUN" || got[0].Taf != got[1].Taf {
			t.Errorf("%q is %+v", text, got)
		}
	}
}
