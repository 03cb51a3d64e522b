package speech

import (
	"fmt"
	"strconv"

	"firn/engine"
)

// Manner is whose words are used.
type Manner uint8

// The manners. They differ in how far up an altitude is said in whole hundreds: to
// the transition altitude (FAA AIM 4-2-9), or without an end (ICAO Annex 10 Vol II
// 5.2.1.4.1 names none). Rule sets say which.
const (
	FAA Manner = iota
	ICAO
)

var manners = [...]string{FAA: "faa", ICAO: "icao"}

// String is the manner's id in rule sets.
func (m Manner) String() string { return manners[m] }

// ParseManner reads a manner's id: faa or icao.
func ParseManner(id string) (Manner, error) {
	for i := range manners {
		if manners[i] == id {
			return Manner(i), nil
		}
	}
	return 0, fmt.Errorf("manner %q: faa or icao", id)
}

// digits are the words; nine is niner in both manners (FAA Order JO 7110.65
// 2-4-17; ICAO Annex 10 Vol II and Doc 9432).
var digits = [...]string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "niner"}

// transition is where altitudes end and flight levels begin in the United
// States (FAA AIM 4-2-9).
const transition = 18000

// room is space on the stack for any number that is said.
const room = 96

// Altitude says an altitude in feet: whole hundreds below 18 000 as the digits
// of the thousands and the hundreds, "one two thousand five hundred", anything
// else digit by digit, "four niner niner zero". A part of a foot is said as
// the next foot up. Source: FAA AIM 4-2-8 and 4-2-9, FAA Order JO 7110.65
// 2-4-17 b, ICAO Annex 10 Vol II 5.2.1.4.1.
func Altitude(ft engine.Altitude) string {
	return string(AppendAltitudeBelow(make([]byte, 0, room), ft, 0))
}

// AppendAltitudeBelow appends what Altitude says, where flight levels begin at
// another altitude: one that is higher has whole hundreds below it said as such
// (ICAO Annex 10 Vol II 5.2.1.4.1).
func AppendAltitudeBelow(dst []byte, ft, begin engine.Altitude) []byte {
	return appendFeet(dst, wholeFeet(ft), max(transition, wholeFeet(begin)))
}

// AppendAmount appends a number of feet to add, as Altitude says it.
func AppendAmount(dst []byte, ft engine.Feet) []byte {
	return appendFeet(dst, wholeFeet(ft), transition)
}

// Digits says a whole number digit by digit, "four six seven zero"; below
// zero with "minus" before it.
func Digits(n int) string { return string(AppendDigits(make([]byte, 0, room), n)) }

// AppendDigits appends what Digits says.
func AppendDigits(dst []byte, n int) []byte {
	var buf [20]byte
	for i, c := range strconv.AppendInt(buf[:0], int64(n), 10) {
		if i > 0 {
			dst = append(dst, ' ')
		}
		if c == '-' {
			dst = append(dst, "minus"...)
			continue
		}
		dst = append(dst, digits[c-'0']...)
	}
	return dst
}

func wholeFeet[T ~float64](ft T) int { return int(engine.UpToFoot(float64(ft))) }

func appendFeet(dst []byte, n, begin int) []byte {
	if n <= 0 || n >= begin || n%100 != 0 {
		return AppendDigits(dst, n)
	}
	thousands, hundreds := n/1000, n/100%10
	if thousands > 0 {
		dst = AppendDigits(dst, thousands)
		dst = append(dst, " thousand"...)
	}
	if hundreds > 0 {
		if thousands > 0 {
			dst = append(dst, ' ')
		}
		dst = append(dst, digits[hundreds]...)
		dst = append(dst, " hundred"...)
	}
	return dst
}
