package reply

import (
	"time"
	"unicode/utf8"

	"firn/engine/coldwatch"
)

// short is the alert in one line: the base, how cold it gets and when in its
// own time, its line, and in a word what else the alert is.
//
//	XKLD −31 tonight (line −25), amended
func (sc AlertScene) short() string {
	j := sc.Judgement
	low, when, line := "", "", ""
	switch {
	case j.State == coldwatch.NoForecast:
		low = ": no forecast"
	case j.LowAt.IsZero():
		low = ": " + StateWord(j.State.String())
	case sc.bound():
		low = " no colder than " + Degrees(j.Low) // at no hour of the duty window
	default:
		low, when = " "+Degrees(j.Low), " "+sc.when(j.LowAt)
	}
	if sc.Base.Restricted {
		line = " (line " + Degrees(sc.Base.Restriction) + ")"
	}
	words := sc.inAWord()
	for _, text := range [...]string{
		sc.Base.Ident + low + when + line + words,
		sc.Base.Ident + low + line + words,
		sc.Base.Ident + low + words,
	} {
		if utf8.RuneCountInString(text) <= headlineMost {
			return text
		}
	}
	return sc.Base.Ident + words
}

// inAWord is what an alert is, besides one of the cold.
func (sc AlertScene) inAWord() string {
	var out string
	over := sc.Kind == "all-clear" || sc.Kind == "ended"
	switch {
	case over:
	case sc.Judgement.State == coldwatch.Near:
		out = ", near"
	case sc.Judgement.State == coldwatch.PartForecast:
		out = ", part forecast"
	}
	switch sc.Kind {
	case "amended", "escalated":
		out += ", " + sc.Kind
	case "repeated":
		out += ", reminder"
	case "all-clear":
		out += ", all clear"
	case "ended":
		out += ", watch ended"
	}
	return out
}

// when is an instant in the base's time as people say it on the day of the
// alert: tonight, this morning, Sun afternoon. A night begins at 18:00 and is
// that of its evening until 06:00; common practice, no source.
func (sc AlertScene) when(t time.Time) string {
	local, now := t.In(sc.Zone), sc.Now.In(sc.Zone)
	if h := local.Hour(); h >= 6 && h < 18 {
		part := "morning"
		if h >= 12 {
			part = "afternoon"
		}
		if date(local) == date(now) {
			return "this " + part
		}
		return local.Format("Mon ") + part
	}
	evening := eveningOf(local)
	switch {
	case evening == eveningOf(now):
		return "tonight"
	case evening == date(now.AddDate(0, 0, -1)):
		return "last night"
	}
	return evening.Format("Mon ") + "night"
}

// date is the calendar day of an instant, in its own zone.
func date(t time.Time) time.Time {
	y, m, d := t.Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
}

// eveningOf is the day on which the night of an instant begins.
func eveningOf(t time.Time) time.Time {
	if t.Hour() < 6 {
		return date(t).AddDate(0, 0, -1)
	}
	return date(t)
}
