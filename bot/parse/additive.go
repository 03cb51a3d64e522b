package parse

import (
	"math"

	"firn/engine"
)

// mostAdditive is more than any chart adds to its minimums. Ours.
const mostAdditive = 1000

// additive reads what the chart adds to its minimums with another place's altimeter
// setting: "additive 80", "80 ft additive", "25 m additive", "remote, add 80", "remote +80". It gives
// the next token to read; 0 where the figure at i is none.
func (rd *reading) additive(i int) int {
	t, next := rd.tokens[i], i+1
	if t.sign < 0 || t.value < 1 || t.value >= mostAdditive || t.unit != noUnit && t.unit != feetUnit && t.unit != metreUnit || t.pair {
		return 0
	}
	if m := rd.means(next); m == feetWord || m == metreWord {
		if m == metreWord {
			t.unit = metreUnit
		}
		next += rd.tags[next].n
	}
	before := i - 1
	for before >= 0 && (rd.tokens[before].kind == bindToken || rd.means(before) == small && rd.isSmall(before)) {
		before--
	}
	second := t.value >= 20 && rd.req.HasTemperature && rd.req.Temperature < 0 && rd.behindMinimum() // "-19, MDA 5400 plus 60"
	more := t.value > hottest || t.value > Warm && rd.endsRemote(before) || second
	adds := t.sign > 0 && more || rd.means(i-1) == verbWord && rd.tags[i-1].verb == Add || rd.means(i-1) == addWord
	switch {
	case before >= 0 && rd.endsAdditive(before):
	case rd.means(next) == additiveWord:
		next += rd.tags[next].n
	case adds && rd.first(remoteWord) >= 0:
	default:
		return 0
	}
	if t.unit == metreUnit {
		t.value = math.Ceil(float64(engine.Metres(t.value).Feet()))
	}
	rd.req.Additive = math.Round(t.value*100) / 100 // a third decimal reads back as thousands
	if rd.req.Remote == "" {
		rd.req.Remote = "yes"
	}
	rd.apart(i)
	return next
}

// Warm is above what crews type for a temperature beside a remote setting, in °C: nobody
// flies in it who corrects for the cold. Ours.
const Warm = 40

// endsRemote says that the words for a remote altimeter setting end at token i.
func (rd *reading) endsRemote(i int) bool {
	for k := max(0, i-2); k <= i && i >= 0; k++ {
		if rd.means(k) == remoteWord && k+rd.tags[k].n == i+1 {
			return true
		}
	}
	return false
}

// endsAdditive says that the words for an additive end at token i.
func (rd *reading) endsAdditive(i int) bool {
	for k := max(0, i-2); k <= i; k++ {
		if rd.means(k) == additiveWord && k+rd.tags[k].n == i+1 {
			return true
		}
	}
	return false
}

// onlyAdditive says that what is added is no altitude: "add 80 for the remote".
func (rd *reading) onlyAdditive() bool { return rd.req.Additive > 0 && len(rd.req.Altitudes) == 0 }
