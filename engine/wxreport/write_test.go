package wxreport

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"firn/engine"

	"pgregory.net/rapid"
)

// Reports written from values, for the properties.

func code(c Temp) string {
	switch n := int(c.C); {
	case !c.OK:
		return ""
	case n < 0:
		return fmt.Sprintf("M%02d", -n)
	default:
		return fmt.Sprintf("%02d", n)
	}
}

func signed(prefix string, c Temp) string {
	if !c.OK {
		return ""
	}
	n := int(float64(c.C)*10 + 0.5)
	if c.C < 0 {
		n = -int(-float64(c.C)*10 + 0.5)
		return fmt.Sprintf("%s1%03d", prefix, -n)
	}
	return fmt.Sprintf("%s0%03d", prefix, n)
}

func (m Metar) write() string {
	var w []string
	add := func(when bool, format string, args ...any) {
		if word := fmt.Sprintf(format, args...); when && word != "" {
			w = append(w, word)
		}
	}
	add(m.Type != "", "%s", m.Type)
	add(true, "%s", m.Ident)
	add(m.HasTime, "%02d%02d%02dZ", m.Day, m.Hour, m.Minute)
	add(m.Auto, "AUTO")
	add(m.Corrected, "COR")
	add(true, "24012G20KT 9999 -SN BKN020")
	add(m.Body.OK, "%s/%s", code(m.Body), code(m.Dewpoint))
	add(m.AltimeterHPa != 0, "Q%04.0f", float64(m.AltimeterHPa))
	add(m.AltimeterInHg != 0, "A%04.0f", float64(m.AltimeterInHg)*100)
	add(true, "RMK AO2 %s%s", signed("T", m.Tenths), signed("", m.TenthsDewpoint))
	add(true, "%s", signed("1", m.Max6))
	add(true, "%s", signed("2", m.Min6))
	add(true, "%s%s", signed("4", m.Max24), signed("", m.Min24))
	return strings.TrimSpace(strings.Join(w, " "))
}

func drawIdent(t *rapid.T) string { return rapid.StringMatching(`X[A-Z0-9]{3}`).Draw(t, "ident") }

func drawWhole(t *rapid.T, name string) Temp { return whole(rapid.IntRange(-99, 99).Draw(t, name)) }

func drawMetar(t *rapid.T) Metar {
	maybe := func(name string) Temp {
		if !rapid.Bool().Draw(t, name+" given") {
			return Temp{}
		}
		return inTenths(rapid.IntRange(-999, 999).Draw(t, name))
	}
	m := Metar{
		Type:  rapid.SampledFrom([]string{"", "METAR", "SPECI"}).Draw(t, "type"),
		Ident: drawIdent(t),
		Auto:  rapid.Bool().Draw(t, "auto"), Corrected: rapid.Bool().Draw(t, "corrected"),
		Tenths: maybe("tenths"), Max6: maybe("max6"), Min6: maybe("min6"), Max24: maybe("max24"),
	}
	if m.HasTime = rapid.Bool().Draw(t, "timed"); m.HasTime {
		m.Day = rapid.IntRange(1, 31).Draw(t, "day")
		m.Hour = rapid.IntRange(0, 23).Draw(t, "hour")
		m.Minute = rapid.IntRange(0, 59).Draw(t, "minute")
	}
	if rapid.Bool().Draw(t, "body given") {
		m.Body = drawWhole(t, "body")
		if rapid.Bool().Draw(t, "dew point given") {
			m.Dewpoint = drawWhole(t, "dew point")
		}
	}
	if m.Tenths.OK {
		m.TenthsDewpoint = maybe("tenths of the dew point")
	}
	if m.Max24.OK {
		m.Min24 = inTenths(rapid.IntRange(-999, 999).Draw(t, "min24"))
	}
	if rapid.Bool().Draw(t, "hectopascals given") {
		m.AltimeterHPa = engine.Hectopascals(rapid.IntRange(850, 1090).Draw(t, "hectopascals"))
	}
	if rapid.Bool().Draw(t, "inches given") {
		m.AltimeterInHg = engine.InchesOfMercury(float64(rapid.IntRange(2500, 3200).Draw(t, "inches")) / 100)
	}
	return m
}

// write places the extremes before the change groups or behind them, and AMD
// before the station or behind it.
func (t Taf) write(behind bool) string {
	w := []string{"TAF"}
	if t.Corrected {
		w = append(w, "COR", "TAF")
	}
	if t.Amended && !behind {
		w = append(w, "AMD")
	}
	w = append(w, t.Ident)
	if t.Amended && behind {
		w = append(w, "AMD")
	}
	if t.HasIssue {
		w = append(w, t.Issued.Format("021504Z"))
	}
	w = append(w, t.ValidFrom.Format("0215/")+until(t.ValidTo), "24012KT", "9999", "BKN020")
	change := []string{"TEMPO", t.ValidFrom.Format("0215/") + until(t.ValidTo), "2000", "SN"}
	if behind {
		w = append(w, change...)
	}
	for _, e := range t.Extremes {
		kind := "TN"
		if e.Max {
			kind = "TX"
		}
		w = append(w, kind+code(Temp{e.C, true})+"/"+e.At.Format("0215Z"))
	}
	if !behind {
		w = append(w, change...)
	}
	return strings.Join(w, " ")
}

// until writes midnight as hour 24 of the day before, as validities end.
func until(t time.Time) string {
	if t.Hour() == 0 {
		return t.AddDate(0, 0, -1).Format("02") + "24"
	}
	return t.Format("0215")
}

func drawTaf(t *rapid.T) (taf Taf, at time.Time) {
	hours := func(name string, from, to int) time.Duration {
		return time.Duration(rapid.IntRange(from, to).Draw(t, name)) * time.Hour
	}
	first := time.Date(2023, time.January, 1, 0, 0, 0, 0, time.UTC)
	taf = Taf{
		Ident:    drawIdent(t),
		HasIssue: rapid.Bool().Draw(t, "issue given"),
		Amended:  rapid.Bool().Draw(t, "amended"), Corrected: rapid.Bool().Draw(t, "corrected"),
		Issued: first.Add(time.Duration(rapid.IntRange(0, 3*366*24*60).Draw(t, "issued")) * time.Minute),
	}
	taf.Day, taf.Hour, taf.Minute = taf.Issued.Day(), taf.Issued.Hour(), taf.Issued.Minute()
	// From a day before the issue to one behind it, up to 30 hours.
	taf.ValidFrom = taf.Issued.Truncate(time.Hour).Add(hours("start", -24, 24))
	taf.ValidTo = taf.ValidFrom.Add(hours("length", 1, 30))
	for range rapid.IntRange(0, 4).Draw(t, "extremes") {
		taf.Extremes = append(taf.Extremes, Extreme{
			Max: rapid.Bool().Draw(t, "max"),
			C:   drawWhole(t, "extreme").C,
			// A few hours outside, as an amendment that shortens leaves them.
			At: taf.ValidFrom.Add(hours("at", -6, 36)),
		})
	}
	at = taf.Issued.Add(hours("read", -1, 20*24))
	if !taf.HasIssue {
		at = taf.ValidFrom.Add(hours("read", -5*24, 5*24))
		taf.Issued, taf.Day, taf.Hour, taf.Minute = time.Time{}, 0, 0, 0
	}
	return taf, at
}

// TestTafRoundTrip: a forecast written from values gives the values back.
func TestTafRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		want, at := drawTaf(t)
		want.Raw = want.write(rapid.Bool().Draw(t, "behind"))
		got, err := ParseTaf(want.Raw, at)
		if err != nil || !sameTaf(got, want) {
			t.Fatalf("%q at %v:\ngot  %+v, %v\nwant %+v", want.Raw, at, got, err, want)
		}
	})
}

func sameTaf(a, b Taf) bool {
	return fmt.Sprintf("%+v", a) == fmt.Sprintf("%+v", b)
}
