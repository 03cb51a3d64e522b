package parse

import "math"

// fieldAt says that the word at i is "field", and gives its elevation: no station
// is named, or one whose field lies near it, and the figure behind it is set off and
// lower than every other.
func (rd *reading) fieldAt(i int) bool {
	switch rd.tokens[i].word {
	case "field", "airfield", "airport", "aerodrome", "apt", "platz", "flyplass", "terrain", "campo":
	default:
		return false
	}
	at := i + 1
	if rd.wordAt(at) == "is" && rd.wordAt(at+1) == "at" {
		at++
	}
	if w := rd.wordAt(at); w == "is" || w == "at" || w == "=" || w == "auf" || w == "a" || at < len(rd.tokens) && rd.tokens[at].kind == bindToken {
		at++
	} else if w := rd.wordAt(i - 1); w == "the" || w == "at" { // "-38 at the field 5340"
		return false
	}
	if rd.has(elevationWord) || !rd.numberAt(at) || !rd.figureFollows(at) || rd.thousands(at) || rd.home != "" && !rd.atField(rd.tokens[at].value) {
		return false
	}
	for k, t := range rd.tokens {
		slashed := k > 0 && t.tight && rd.tokens[k-1].kind == sepToken // 4580/200
		if k != at && !slashed && t.kind == numberToken && t.sign == 0 && t.value >= 100 && t.value <= rd.tokens[at].value {
			return false
		}
	}
	next := at + 1
	if rd.means(next) == feetWord {
		next++
	}
	m := rd.means(next)
	return next == len(rd.tokens) || rd.tokens[next].kind == sepToken || rd.tokens[next].sign != 0 || m == roleWord || m == minusWord || m == temperatureWord
}

// underField says that a figure lies below the station's field.
func (rd *reading) underField(v float64) bool {
	if rd.elevation == nil || rd.home == "" {
		return false
	}
	field, ok := rd.elevation(rd.home)
	return ok && v < field
}

// atField says that a figure is about the elevation of the station's field: an
// altitude of an approach lies higher, ours.
func (rd *reading) atField(v float64) bool {
	if rd.elevation == nil || rd.home == "" {
		return false
	}
	field, ok := rd.elevation(rd.home)
	return ok && math.Abs(v-field) <= 100
}

// highField says that the station's field lies above any figure of two digits.
func (rd *reading) highField() bool {
	if rd.elevation == nil || rd.req.Station == "" {
		return false
	}
	field, ok := rd.elevation(rd.req.Station)
	return ok && field >= 100
}

// onGround says that a figure is no altitude of an approach to the station: it lies
// less than 100 ft above the field, where no minimum is, ours.
func (rd *reading) onGround(v float64) bool {
	if rd.elevation == nil || rd.req.Station == "" {
		return false
	}
	field, ok := rd.elevation(rd.req.Station)
	return ok && v < field+100
}

// timeBefore says that of the figures at two items the first is a time, which lies below
// the field as an altitude, and the second none: it is asked about by itself.
func (rd *reading) timeBefore(a, b int) bool {
	first := rd.tokens[rd.items[a].token]
	if len(first.word) != 4 || !rd.underField(first.value) || rd.underField(rd.tokens[rd.items[b].token].value) {
		return false
	}
	_, ok := clockDigits(first.word)
	return ok
}
