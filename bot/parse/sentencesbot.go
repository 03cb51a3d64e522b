package parse

import (
	"cmp"
	"fmt"
	"strings"
)

// What the bot says about a message where it holds it against its thread, the
// chart and the field.

// UnknownStation is for an ident that is in no list.
func UnknownStation(ident string) string { return ident + " is not a station firn knows." }

// NotWatched is for a question about the forecast of a field that is no base.
func NotWatched(station string) string {
	return fmt.Sprintf("%s is not watched: ask “brief %s” with the time of arrival.", station, station)
}

// WhichOne asks what a word points at that answers no question.
func WhichOne(word string) string {
	return fmt.Sprintf("Which do you mean by “%s”? Write its label or its figure.", abbreviate(word))
}

// WhichRunway asks for the runway that was only called the other one; name is the
// approach that is flown, empty where none is.
func WhichRunway(name string) string {
	if name == "" {
		return "Which runway? Write its number, as in rwy 31."
	}
	return fmt.Sprintf("Which runway? Write its number or its approach; the answer was for %s.", name)
}

// NothingAsked is for a message without anything to work out.
const NothingAsked = "There is no station, temperature or altitude in the message."

// Of a follow-up without what it follows, or without what it needs.
const (
	NoAnswerYet    = "There is no answer here yet."
	AddNeeds       = "“add” needs an altitude behind it."
	WhichSwap      = "Which two altitudes change places? Write both figures."
	RemoveNeeds    = "“remove” needs one of the altitudes behind it."
	NothingToPrint = "There are no altitudes to print; put them, or a procedure, behind it."
)

// ChangesNothing is for a verb that changes an earlier message, where none is.
func ChangesNothing(v Verb) string {
	return fmt.Sprintf("“%s” changes an earlier message, and there is none here.", v)
}

// NothingToShow is for a verb that Shows, alone and without an answer before it.
func NothingToShow(v Verb) string {
	does := map[Verb]string{Why: "shows the working of", Card: "prints", Picture: "draws"}[v]
	return fmt.Sprintf("“%s” %s the answer before it, and there is none here; put a message behind it.", v, does)
}

// FlownAlready is for figures of the answer before, which are corrected: chart are
// the published ones that they were made of.
func FlownAlready(said, chart, neither []string) string {
	pairs := make([]string, len(said))
	for i := range said {
		pairs[i] = said[i] + " (chart " + chart[i] + ")"
	}
	other := ""
	if len(neither) > 0 {
		other = strings.Join(neither, ", ") + " is neither published nor to be flown in the last answer. "
	}
	return fmt.Sprintf("Corrected already: %s; nothing more is added. %sIf the chart shows that figure, say “published”.", strings.Join(pairs, ", "), other)
}

// AddedAlready says of a figure that it is the chart's with the additive in it, and
// what comes of that in the cold.
func AddedAlready(chart, additive, fly float64) string {
	return fmt.Sprintf("%.0f is the chart's %.0f with the additive of %.0f ft, which is in already: in the cold fly %.0f. If the chart shows %.0f, say “published”.", chart+additive, chart, additive, fly, chart+additive)
}

// AdditiveIn says of a chart's additive that it is in the minimums.
func AdditiveIn(feet float64) string {
	return fmt.Sprintf("Remote altimeter: the chart's +%.0f ft, as you said, added first.", feet)
}

// AdditiveLost says of a chart's additive that there is no minimum to add it to.
func AdditiveLost(feet float64) string {
	return fmt.Sprintf("Not used: additive %.0f, no altitude is labelled a minimum (DA, MDA).", feet)
}

// OffTheWay says of a figure for a fix that it is not used on a way that does not come
// by it.
func OffTheWay(fix, shown, way string) string {
	return fmt.Sprintf("Not used: %s for %s, which is not on the way via %s.", shown, fix, way)
}

// WhichArrival asks which of the briefed arrivals a time is of.
func WhichArrival(clock string, stations []string) string {
	return fmt.Sprintf("Which arrival is at %s: %s? Write the station with it.", clock, strings.Join(stations, " or "))
}

// NotTypedHere is for what cannot be taken away, since the procedure has it.
func NotTypedHere(name string) string {
	return name + " was not typed here; what a stored procedure has is changed in the procedure. To use another figure, send the altitudes with their labels."
}

// Empty is for a message that says nothing.
const Empty = "The message is empty."

// WhoseSetting asks whether a station's altimeter setting is another's.
func WhoseSetting(station, other string) string {
	return fmt.Sprintf("Is %s flown with the altimeter setting of %s? Then its source is remote, and the chart may add to its minimums.", station, other)
}

// NotAmongThem is for what cannot be taken away, since it is not there.
func NotAmongThem(name string) string { return name + " is not among the altitudes here." }

// FromBefore says what an answer took from the message before it.
func FromBefore(taken []string) string {
	return "From your message before: " + strings.Join(taken, ", ") + "."
}

// TakenTemperature is one of FromBefore; typedFor is the other station that it
// was typed for, empty for none.
func TakenTemperature(word, typedFor string) string {
	if typedFor != "" {
		typedFor = " (typed for " + typedFor + ")"
	}
	return "temperature " + word + typedFor
}

// Unused tells what was read and not used.
func Unused(words []string) string { return "Not used: " + strings.Join(words, ", ") + "." }

// AsTyped tells of a figure that was typed in place of the chart's, in feet.
func AsTyped(name, typed string, chart float64) string {
	return fmt.Sprintf("%s %s as you typed it; the chart has %.0f.", name, typed, chart)
}

// AsSaid tells of a figure that was said in place of the approach's, in feet.
func AsSaid(name string, said, was float64, approach string) string {
	return fmt.Sprintf("%s %.0f as you said, in place of %.0f in %s.", name, said, was, approach)
}

// ChartOrTyped asks about an altitude that contradicts the chart's, in feet.
func ChartOrTyped(approach, row string, chart float64, name string, typed float64) string {
	return fmt.Sprintf("Which one: the chart of %s has %s at %.0f, and you wrote %s %.0f? Leave it out, or type all altitudes without the procedure.", approach, row, chart, name, typed)
}

// ChartOrLimit asks whether the chart's limit of a figure holds, or the one that was
// typed; in feet.
func ChartOrLimit(approach, row, limit string, chart float64, typed string) string {
	return fmt.Sprintf("Which one: the chart of %s has %s %s %.0f, and you wrote %s? Leave it out, or type all altitudes without the procedure.", approach, row, limit, chart, typed)
}

// WhichOfChart asks which of a chart's rows a figure is to stand for.
func WhichOfChart(feet float64, rows []string) string {
	return fmt.Sprintf("Which one is %.0f: %s? Write its name or its fix before it.", feet, strings.Join(rows, ", "))
}

// WhichLine asks which line of a chart's minimums a figure is of.
func WhichLine(typed, approach string, lines []string) string {
	return fmt.Sprintf("Which line is %s of? The chart of %s has %s; write the line's name before it.", typed, approach, strings.Join(lines, ", "))
}

// WhichHold asks which of two holds one is.
func WhichHold(figure string) string {
	return fmt.Sprintf("Is the hold at %s in lieu of a procedure turn, or that of the missed approach? Write “hold in lieu” or “missed hold” with it.", figure)
}

// IsHold asks whether an altitude behind that of the missed approach is its hold.
func IsHold(figure string) string {
	return fmt.Sprintf("Is %s the hold of the missed approach? Write “missed hold” with it, or put it before “missed”.", figure)
}

// AboveLevels is for an altitude among the flight levels.
func AboveLevels(figure string) string {
	return figure + " is at or above 18 000 ft, where flight levels begin: they are flown on the standard setting and are not corrected. Is it a slip?"
}

// FitsNoSegment is for a label that stands where none such can.
func FitsNoSegment(why string) string { return why + "; the label fits no segment there." }

// NoHeight is for a height that is not above the field, at ground in feet.
func NoHeight(figure string, ground float64) string {
	return fmt.Sprintf("%s is no height above the field at %.0f ft.", figure, ground)
}

// BelowField is for an altitude that is not above the field, at ground in feet.
func BelowField(figure string, ground float64) string {
	return fmt.Sprintf("%s is not above the field at %.0f ft; write agl behind a height above the field, m behind metres.", figure, ground)
}

// NotHere is for a verb that needs what this configuration has not.
func NotHere(v Verb) string {
	const kept = "is about results that are kept, and here none are: it works in firn chat, on the page of firn serve, and in Slack and Discord."
	const store = "needs the store that %s in, and none is open here."
	needs := map[Verb]string{
		Watch:       "needs forecasts, and no weather source is set up.",
		Observe:     "needs a store that keeps observations, and none is open here; put the temperature into the message.",
		Acknowledge: fmt.Sprintf(store, "the watch keeps its alerts"),
		Base:        fmt.Sprintf(store, "bases are kept"),
		Snooze:      fmt.Sprintf(store, "the watch keeps its alerts"),
		Brief:       "needs forecasts, and no weather source is set up; put the temperature that you plan with into the message.",
		Route:       "is not answered here; give a station, a temperature and altitudes.",
	}[v]
	return fmt.Sprintf("“%s” %s", v, cmp.Or(needs, kept))
}

// WhichMinimum asks whose line a category's minimum is.
func WhichMinimum(figure string) string {
	return "Which line is " + figure + " of? Write its name with it, as in “circling " + figure + "”."
}

// WhatThen asks for the figure of a label whose figure is said to be wrong.
func WhatThen(name string) string { return "What is the " + name + ", then?" }

// WhichNo repeats a question that a "no" does not answer; what is none stays as it is.
func WhichNo(text string) string {
	if !strings.Contains(text, "?") {
		return text
	}
	return "A no does not say which. " + text
}

// NotSo asks what a word stands for that is not what it looked like.
func NotSo(word string) string {
	if word == "" {
		return "Then write the message as it is meant, or “forget that”."
	}
	return "Then what is “" + word + "”? Write the message as it is meant, or “forget that”."
}

// AskedAgain repeats what was told already, with the way out of it.
func AskedAgain(text string) string {
	return "As before: " + text + " “forget that” begins anew."
}

// NowhereInAnswer asks about a figure that somebody got, and that is none of the last
// answer's.
func NowhereInAnswer(figure string) string {
	return figure + " is neither published nor to be flown in the last answer. If the chart shows it, say “published”."
}

func sayTwoWays(fix string) string {
	return "I see two ways in, via " + fix + " and vectors. Which is it?"
}

func sayBeside(figure, word string, names []string) string {
	last := len(names) - 1
	return fmt.Sprintf("“%s” is no label of %s. Is it %s or %s?", word, figure, strings.Join(names[:last], ", "), names[last])
}

// What is said before anything is done.

func sayLogWord(word string) string {
	return fmt.Sprintf("“log” takes a station, “today”, “yesterday”, “unchecked” or the name of a record, and not %s.", word)
}

func sayObservedAhead(word string) string {
	return fmt.Sprintf("Nothing is written down: “%s” is still to come, and an observation is of a time that has gone by.", word)
}

func sayImpossible(word, sure string) string {
	return fmt.Sprintf("Is it really %s? Nothing is written down yet; where it is so, write it as %s.", word, sure)
}

func sayDeedWord(v Verb, word string) string {
	return fmt.Sprintf("Nothing is done yet: “%s” takes no “%s”.", v, word)
}

func sayNoBase(verb, word string) string {
	return fmt.Sprintf("Which base? “%s” takes one, or all, and “%s” is none.", verb, word)
}

func sayDeedAsked(v Verb) string {
	return fmt.Sprintf("Is that “%s” to be done? Nothing is, on a question.", v)
}

// RowsStay says that no row of a chart is left out, and what can be.
func RowsStay(word string) string {
	return fmt.Sprintf("“%s”: no altitude of a chart is left out. Choose a line of minimums, as in “only lnav”, or take one away, as in “no circling”.", word)
}
