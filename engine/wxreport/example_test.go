package wxreport_test

import (
	"fmt"
	"time"

	"firn/engine/wxreport"
)

// A crew member has pasted a report and typed altitudes behind it.
func ExampleParseMetar() {
	m, left, err := wxreport.ParseMetar("XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 FAF 8200, step 7400")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Ident, m.Temperature().C, m.AltimeterInHg)
	for _, l := range left {
		fmt.Println(l.Text, l.Start, l.End)
	}
	// Output:
	// XKLD -38 29.92
	// FAF 44 47
	// 8200, 48 53
	// step 54 58
	// 7400 59 63
}

func ExampleParseTaf() {
	at := time.Date(2026, time.January, 31, 19, 0, 0, 0, time.UTC)
	taf, err := wxreport.ParseTaf("TAF XKLD 311800Z 3118/0206 24012KT CAVOK TXM05/0104Z TNM09/3120Z", at)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(taf.Ident, taf.ValidFrom.Format(time.RFC3339), taf.ValidTo.Format(time.RFC3339))
	for _, e := range taf.Extremes {
		fmt.Println(e.Max, e.C, e.At.Format(time.RFC3339))
	}
	// Output:
	// XKLD 2026-01-31T18:00:00Z 2026-02-02T06:00:00Z
	// true -5 2026-02-01T04:00:00Z
	// false -9 2026-01-31T20:00:00Z
}
