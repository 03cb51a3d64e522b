package wxreport

import (
	"strconv"
	"strings"

	"firn/engine"
)

// Temperature is the colder of Body and Tenths. A body group rounds halves
// toward the warmer degree (AFMAN 15-111 remark 30: 2.6 and -1.5 are written
// 03/M01) and may hide half a degree of cold; the T group cannot make a
// temperature warmer than the body says.
// Of two groups of a kind the colder counts.
func (m Metar) Temperature() Temp { return colder(colder(m.Body, m.Other), m.Tenths) }

// mostDewpoint is how far a dew point may stand above its temperature: each is
// rounded by itself, and instruments differ. Of 3318 real reports with both
// (testdata/wx) one has more than 1 °C, a dew point of M11 at M17.
const mostDewpoint = 2

// mostSpread is how far a dew point below zero may lie under a temperature that
// would be a likely one with a minus. The figure is ours: of 413 real
// reports above zero with such a dew point the widest spread is 34 °C (15/M19).
const mostSpread = 35

// coldest and warmest are the ends of what is believed: −89.2 °C was measured at
// Vostok in 1983 and 56.7 °C in Death Valley in 1913, which a report rounds to 57
// (WMO's archive of extremes, from memory).
const (
	coldest = -89.2
	warmest = 57
)

// noAir says of a temperature that no air has had it; empty where air has.
func noAir(c engine.Celsius) string {
	switch {
	case c < coldest:
		return "no air is so cold as " + plain(c) + " °C"
	case c > warmest:
		return "no air is so warm as " + plain(c) + " °C"
	}
	return ""
}

// Doubt says why the temperature may not be what was measured: no air has had it,
// or the dew point stands more than 2 °C above it, which air cannot have, as in
// 30/33 for M30/M33. It is empty where nothing speaks against it. Each group is held
// against its own dew point.
func (m Metar) Doubt() string {
	if m.Other.OK {
		first := m.Body
		if !first.OK {
			first = m.Tenths
		}
		return "it has two temperatures, " + plain(first.C) + " and " + plain(m.Other.C) + " °C"
	}
	if t := m.Temperature(); t.OK && noAir(t.C) != "" {
		return noAir(t.C)
	}
	for _, g := range [...][2]Temp{{m.Body, m.Dewpoint}, {m.Tenths, m.TenthsDewpoint}} {
		t, d := g[0], g[1]
		if t.OK && d.OK && d.C.Sub(t.C) > mostDewpoint+1e-9 {
			return "its dew point, " + plain(d.C) + " °C, is above its temperature, " + plain(t.C) + " °C, which air cannot have: a minus may be missing"
		}
		if t.OK && d.OK && d.C < 0 && t.C.Sub(d.C) > mostSpread && (-t.C).Sub(d.C) >= 0 {
			return "its dew point, " + plain(d.C) + " °C, is far below its temperature, " + plain(t.C) + " °C: a minus may be missing"
		}
	}
	return ""
}

// Believed says whether the temperature may be used: not one that no air has had,
// and a doubtful one above zero may be a cold one without its minus.
func (m Metar) Believed() bool {
	t := m.Temperature()
	return t.OK && noAir(t.C) == "" && (t.C <= 0 || m.Doubt() == "")
}

// Doubt says why a TAF's temperatures are not believed: an extreme is colder or
// warmer than any air has been. It is empty where nothing speaks against them.
func (t Taf) Doubt() string {
	for _, e := range t.Extremes {
		if text := noAir(e.C); text != "" {
			return text
		}
	}
	return ""
}

func plain(c engine.Celsius) string {
	return strings.Replace(strconv.FormatFloat(float64(c), 'f', -1, 64), "-", "−", 1)
}
