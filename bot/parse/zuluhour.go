package parse

import (
	"slices"
	"strconv"
	"strings"
	"time"
)

// zuluHour reads an hour in UTC without its minutes, "22z" and "22 zulu", where the
// words beside it say that it is a time; 0 where it may be the runway of a chart with a
// letter.
func (rd *reading) zuluHour(i int) int {
	c, next := rd.hourAt(i)
	if next == 0 || !rd.timeBeside(i, next) {
		return 0
	}
	rd.arriving = false
	return rd.clock(i, c, next)
}

// hourAt is the hour in UTC at token i, and the token behind it; 0 where none stands there.
func (rd *reading) hourAt(i int) (c Clock, next int) {
	if i >= len(rd.tokens) {
		return c, 0
	}
	t, next := rd.tokens[i], i+1
	digits := t.word
	switch {
	case t.kind == wordToken && strings.HasSuffix(digits, "z"):
		digits = digits[:len(digits)-1]
	case t.kind == numberToken && t.sign == 0 && t.unit == noUnit && rd.means(next) == zoneWord && rd.tags[next].label == "utc":
		next += rd.tags[next].n
	default:
		return c, 0
	}
	hour, err := strconv.Atoi(digits)
	if err != nil || len(digits) > 2 || hour < 0 || hour > 23 {
		return c, 0
	}
	return Clock{Said: true, Hour: hour, Zone: UTC}, next
}

// timeBeside says that what stands at tokens i up to next is a time by what stands
// beside it: a word for one before, a day, or an approach that has its runway already.
func (rd *reading) timeBeside(i, next int) bool {
	if rd.arriving || len(rd.clocks) > 0 || rd.day != DayUnsaid || rd.means(next) == dayWord || rd.hasVerb && (rd.lead == Brief || rd.lead == Observe) || rd.means(i-1) == dayWord {
		return true
	}
	for k := next; k < len(rd.tokens); k++ {
		if rd.means(k) == kindWord && rd.runwayAt(k+1) { // 15z rnav 31
			return true
		}
	}
	return slices.Contains(beforeTimes, rd.wordAt(i-1)) || strings.ContainsAny(rd.req.Procedure, "0123456789")
}

// beforeTimes are small words of which a time is what is said behind them, where it
// has its zone.
var beforeTimes = []string{"at", "by", "around", "about", "before", "after", "until", "till", "til", "approx", "ca", "abt", "from", "since"}

// hourOrChart asks whether "22z" is a time or the chart of a runway; 0 where it can be no
// time.
func (rd *reading) hourOrChart(i int) int {
	c, next := rd.hourAt(i)
	if next != i+1 || c.Hour == 0 || rd.means(i-1) == kindWord || rd.means(i-1) == runwayWord || rd.means(i-1) == approachNoun || rd.means(next) == approachNoun || rd.means(next) == kindWord {
		return 0
	}
	own, ok := fused(rd.tokens[i].word)
	if !ok {
		return 0
	}
	word := rd.typed(i, i)
	rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayHourOrChart(word, c.String(), own.String()), Either: true, Choices: []Choice{
		{Words: timeWords, Next: &Request{At: c}, Line: rd.instead(i, i, c.String())},
		{Words: []string{"runway", "rwy", "approach", "chart", "bane", "piste", "bahn", "pista"}, Next: &Request{Procedure: own.String()}, Line: rd.instead(i, i, own.String())},
	}})
	rd.apart(i)
	return next
}

// hours reads an hour, "22 zulu", and asks for one time where two are named between which
// it is, "between 12 and 15z"; 0 where none are.
func (rd *reading) hours(i int) int {
	t := rd.tokens[i]
	if next := rd.zuluHour(i); next > 0 {
		return next
	}
	if t.kind != numberToken || t.sign != 0 || t.unit != noUnit || len(t.word) > 2 || t.value > 23 {
		return 0
	}
	j := i + 1
	switch w := rd.wordAt(j); {
	case w == "and" || w == "to" || w == "til" || w == "till" || w == "until":
	case j < len(rd.tokens) && rd.tokens[j].kind == sepToken && rd.text[rd.tokens[j].start] == '-':
	default:
		return 0
	}
	_, next := rd.hourAt(j + 1)
	if next == 0 {
		return 0
	}
	rd.oneTime(i, next-1)
	return next
}

// oneTime asks for one time instead of the two at tokens first to last.
func (rd *reading) oneTime(first, last int) {
	at := rd.home
	if at == "" {
		at = rd.req.Station
	}
	word := rd.typed(first, last)
	rd.refuse(rd.tokens[first].start, &Problem{Word: word, Text: sayOneTime(word, at), Either: true})
	rd.apart(first)
}

// gluedHours asks for one time where two hours were typed without blanks, "12-15z", and
// takes the time until the arrival, "eta 1+20".
func (rd *reading) gluedHours(i int) bool {
	if h, m, ok := strings.Cut(rd.tokens[i].word, "+"); ok && rd.arriving && len(m) == 2 { // eta 1+20
		if d, err := time.ParseDuration(h + "h" + m + "m"); err == nil && d > 0 && d < 24*time.Hour {
			rd.arriving = false
			rd.keepClock(i, Clock{Said: true, In: d})
			return true
		}
	}
	one, other, ok := strings.Cut(rd.tokens[i].word, "-")
	hour := func(w string) bool {
		v, err := strconv.Atoi(w)
		return err == nil && v >= 0 && v < 24 && len(w) <= 2
	}
	if !ok || !hour(one) || !hour(other) || rd.means(i+1) != zoneWord || !rd.tokens[i+1].tight {
		return false
	}
	rd.oneTime(i, i+1)
	return true
}
