package parse

import (
	"strconv"
	"strings"
	"time"
)

// timeNumber reads bare figures that a word beside them says are a time.
func (rd *reading) timeNumber(i int) int {
	t := rd.tokens[i]
	if t.grouped || t.unit != noUnit && !(t.unit == metreUnit && (rd.hasVerb && rd.lead == Snooze || rd.means(i-1) == inWord)) {
		return 0
	}
	if next := rd.hours(i); next > 0 {
		return next
	}
	brief := rd.hasVerb && rd.lead == Brief
	next := i + 1
	hours := rd.means(next) == clockUnit && rd.tags[next].label == "h" && rd.tokens[next].word == "h" && rd.means(i-1) != inWord
	if rd.hasVerb && rd.lead == Snooze || brief && rd.means(i-1) == inWord || rd.arriving && !hours || rd.means(i-1) == inWord && rd.means(next) == clockUnit {
		if d, n := durationIn(t.word, rd.wordAt(next)); d > 0 {
			if rd.lead == Snooze {
				rd.req.For += d
			} else {
				rd.keepClock(i, Clock{Said: true, In: d, Later: rd.delayed && rd.means(i-1) != inWord})
			}
			return i + n
		}
	}
	zone := rd.means(next) == zoneWord && rd.tokens[next].word != "l"
	dated := zone && len(t.word) == 6 // 300600 local
	said := brief || rd.arriving || rd.nextStop(i) || t.word[0] == '0' && len(t.word) == 4 && !rd.cold || len(t.word) == 4 && rd.wordAt(next) == "auto" || len(t.word) == 4 && (rd.wordAt(next) == "obs" || rd.wordAt(next) == "observed") || zone && len(t.word) == 4 || rd.means(i-1) == dayWord && len(t.word) == 4 && rd.day != DayUnsaid || rd.means(next) == dayWord && len(t.word) == 4 && len(rd.req.Altitudes) == 0
	hour, dotted := dottedClock(t.word)
	if dotted && rd.arriving { // kl 14.30
		hour.Unzoned = true
		return rd.clock(i, hour, next)
	}
	if dotted && len(t.word) == len("14.30") && t.unit == noUnit && (brief || rd.wordAt(i-1) == "at") && !rd.behindLabel() && !rd.cold && len(rd.req.Altitudes) == 0 {
		hour.Unzoned = true // XKLD rnav 31 at 14.30
		return rd.clock(i, hour, next)
	}
	if hour := rd.means(next) == clockUnit && rd.tags[next].label == "h"; hour && t.value < 24 && len(t.word) <= 2 && rd.means(i-1) != inWord {
		if rd.day != DayUnsaid || rd.arriving && rd.byClock { // demain 7h, vers 19h
			return rd.clock(i, Clock{Said: true, Hour: int(t.value), Unzoned: true}, next+1)
		}
		rd.refuse(t.start, &Problem{Word: rd.typed(i, next), Text: sayArrival(rd.typed(i, next)), Either: true})
		rd.apart(i)
		return next + 1
	}
	minutes := rd.wordAt(next) == "min" || rd.wordAt(next) == "mins"
	if (rd.means(next) == clockUnit || minutes) && t.value < 100 && t.sign == 0 && rd.means(i-1) != inWord && !(rd.hasVerb && rd.lead == Snooze) {
		rd.refuse(t.start, &Problem{Word: rd.typed(i, next), Text: sayArrival(rd.typed(i, next)), Either: true})
		rd.apart(i)
		return next + rd.tags[next].n
	}
	if c, ok := clockDigits(t.word); ok && (said && len(t.word) == 4 || dated) {
		rd.arriving, c.Unzoned = false, true
		return rd.clock(i, c, next)
	}
	if rd.means(next) == meridiemWord && (brief || rd.arriving || rd.tags[next].n > 1) {
		if c, ok := meridiem(t.word, rd.tags[next].label == "pm"); ok {
			return rd.clock(i, c, next+rd.tags[next].n)
		}
	}
	if rd.arriving && rd.wordAt(i-1) == "landing" && rd.runwayAt(i) && len(t.word) == 2 && (next == len(rd.tokens) || rd.tokens[next].kind == sepToken) {
		rd.arriving = false
		rd.named1(i, next, approachName{runway: t.word}) // an ATIS: "landing 31"
		return next
	}
	if rd.arriving && t.sign == 0 && t.value < 100 {
		rd.refuse(t.start, &Problem{Word: rd.typed(i, i), Text: sayArrival(rd.typed(i, i)), Either: true})
		rd.arriving = false
		rd.apart(i)
		return next
	}
	return 0
}

// dottedClock reads "14.30".
func dottedClock(w string) (Clock, bool) {
	if strings.IndexByte(w, '.') < 0 {
		return Clock{}, false
	}
	return clockDigits(strings.Replace(w, ".", ":", 1))
}

// nextStop says that the figure at i stands behind the second of two stations, of
// which the first has its time: "eta XKLD 1430z XRUN 1515".
func (rd *reading) nextStop(i int) bool {
	n := len(rd.stops)
	return n > 1 && !rd.stops[n-1].At.Said && rd.stops[n-2].At.Said && !rd.cold && len(rd.tokens[i].word) == 4 && rd.wordAt(i-1) != "" && rd.tags[i-1].n == 0
}

func (rd *reading) wordAt(i int) string {
	if i >= 0 && i < len(rd.tokens) && rd.tokens[i].kind == wordToken {
		return rd.tokens[i].word
	}
	return ""
}

// clock keeps a time, with the zone and the day that stand beside it.
func (rd *reading) clock(i int, c Clock, next int) int {
	if m := rd.means(next); m == zoneWord {
		if c.Unzoned = false; rd.tags[next].label == "utc" {
			c.Zone = UTC
		}
		next += rd.tags[next].n
	} else if m == meridiemWord && c.Hour <= 12 {
		c.Hour %= 12
		if rd.tags[next].label == "pm" {
			c.Hour += 12
		}
		next += rd.tags[next].n
	}
	if c.Day == DayUnsaid {
		if rd.means(next) == dayWord {
			rd.later = rd.later || rd.tags[next].label == "later"
			c.Day = rd.tags[next].day
			next += rd.tags[next].n
		} else {
			c.Day = rd.day
		}
	}
	rd.day = DayUnsaid
	rd.arriving = false
	rd.keepClock(i, c)
	return next
}

// endOfDay makes 24:00 the midnight that it is: the next one, today's is
// tomorrow's 00:00. That of another day is asked about.
func (rd *reading) endOfDay(c *clockAtToken) {
	switch c.ends = false; c.Day {
	case DayUnsaid:
	case Today:
		c.Day = Tomorrow
	default:
		t := rd.tokens[c.token]
		rd.refuse(t.start, &Problem{Word: rd.typed(c.token, c.token), Text: sayEndOfDay(rd.typed(c.token, c.token)), Either: true})
	}
}

// zoned gives the times that name no zone the one that the message names before
// them, else behind them, and UTC where it names none: crews and forecasts count
// in it.
func (rd *reading) zoned() {
	said := func(i, step int) (Zone, bool) {
		for ; i >= 0 && i < len(rd.clocks); i += step {
			if c := rd.clocks[i]; c.In == 0 && !c.Unzoned {
				return c.Zone, true
			}
		}
		return UTC, false
	}
	for i := range rd.clocks {
		c := &rd.clocks[i].Clock
		was, ok := *c, false
		if c.Unzoned {
			if c.Zone, ok = said(i-1, -1); !ok {
				c.Zone, ok = said(i+1, 1)
			}
			c.Unzoned = !ok
		}
		if c.ends {
			rd.endOfDay(&rd.clocks[i])
		}
		for k := range rd.stops {
			if rd.stops[k].At == was {
				rd.stops[k].At = *c
			}
		}
	}
}

// keepClock gives a time to the stop that is being read.
func (rd *reading) keepClock(i int, c Clock) {
	rd.apart(i)
	rd.clocks = append(rd.clocks, clockAtToken{c, i})
	if n := len(rd.stops); n > 0 {
		switch s := &rd.stops[n-1]; {
		case !s.At.Said:
			s.At = c
		case rd.twoTimes == nil && s.At != c:
			rd.twoTimes = &Problem{Word: rd.typed(i, i), Text: sayTwoTimes(s.Station, s.At.String(), c.String()), Either: true, Try: rd.instead(i, i, "")}
		}
	}
}

// timeWord reads the words that times are said with.
func (rd *reading) timeWord(i int) int {
	p := rd.tags[i]
	next := i + p.n
	switch p.meaning {
	case arriveWord:
		rd.arriving, rd.byClock = true, p.label == "clock"
		rd.moved, rd.delayed = rd.moved || p.label == "moved" || p.label == "late", rd.delayed || p.label == "late"
	case noonWord:
		c, _ := clockDigits(p.label + "00")
		return rd.clock(i, c, next)
	case dayWord:
		rd.day = p.day
		rd.later = rd.later || p.label == "later"
		n, k := len(rd.clocks), len(rd.stops)
		if n == 0 || rd.clocks[n-1].Day != DayUnsaid || rd.clocks[n-1].In > 0 || k > 0 && !rd.stops[k-1].At.Said {
			break // of the time that follows
		}
		rd.clocks[n-1].Day = p.day
		if k > 0 {
			rd.stops[k-1].At.Day = p.day
		}
		rd.day = DayUnsaid
	case inWord:
		for { // in about 50 min, in about an hour
			if d, end := rd.durationInWords(next); d > 0 {
				rd.keepClock(i, Clock{Said: true, In: d})
				return end
			}
			if !rd.isSmall(next) || rd.tags[next].n == 0 {
				break
			}
			next += rd.tags[next].n
		}
		if d, n := durationIn(rd.figureWord(next), rd.wordAt(next+1)); d > 0 {
			rd.keepClock(i, Clock{Said: true, In: d})
			return next + n
		}
	}
	return next
}

// durationInWords reads "half an hour" and "two hours", and gives the token
// behind it.
func (rd *reading) durationInWords(i int) (time.Duration, int) {
	w := rd.wordAt(i)
	half := w == "half"
	if half {
		i++
		w = rd.wordAt(i)
	}
	v, ok := numerals[w]
	if w == "an" || w == "a" {
		v, ok = 1, true
	}
	if ok {
		i++
	} else if v = 1; !half {
		return 0, 0
	}
	d, _ := durationIn("1", rd.wordAt(i))
	if half {
		d /= 2
	}
	return d * time.Duration(v), i + 1
}

// figureWord is the number at i as typed, with a unit that is tight behind it
// already cut off by the lexer.
func (rd *reading) figureWord(i int) string {
	if i < len(rd.tokens) && rd.tokens[i].sign == 0 {
		return rd.tokens[i].word
	}
	return ""
}

// durationIn reads "2h", "2 hours", "90min", and how many words it is.
func durationIn(first, second string) (time.Duration, int) {
	digits := digitsAt(first, 0)
	if k := digits; k > 0 && k+1 < len(first) && (first[k] == '.' || first[k] == ',') && digitsAt(first, k+1) == 1 {
		digits += 2 // 1.5 h
	}
	if digits == 0 || digits > 3 {
		return 0, 0
	}
	v, err := strconv.ParseFloat(strings.Replace(first[:digits], ",", ".", 1), 64)
	if err != nil {
		return 0, 0
	}
	unit, n := first[digits:], 1
	if unit == "" {
		unit, n = second, 2
	}
	switch unit {
	case "h", "hr", "hrs", "hour", "hours", "timer", "stunden":
		return time.Duration(v * float64(time.Hour)), n
	case "m", "min", "mins", "minutes", "minute":
		return time.Duration(v * float64(time.Minute)), n
	}
	return 0, 0
}
