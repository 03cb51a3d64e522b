package parse

import (
	"fmt"
	"strings"
)

// Everything that the reader says about a message; sentencesbot.go has what is
// said behind it. Each is one or two short sentences, about the words that were typed.

const (
	sayUnits         = "Answers are in feet, and so is every figure without a unit; write m behind each that is in metres, such as 2500m."
	sayTwoElevations = "I see two elevations. Which is right?"
	sayInsideFinal   = "Nobody is vectored inside the final approach fix; write “vectors”, or “vectors inside IF”."
	sayNoStops       = "Which station, and what time (UTC)? For example brief XKLD 1805Z."
	sayForecast      = "A TAF is a forecast: type the temperature that you plan with, and correct again for the one reported on arrival."
	sayTwoReports    = "There is more than one report in the message; paste one."
	sayBytes         = "The message holds bytes that are no text; type it again by hand."
	sayOutsideNeeds  = "Which outside air temperature?"
	saySnoozeNeeds   = "“snooze” takes a station and how long, such as 2h or 30m."
	sayAckNeeds      = "“ack” takes one station, or all."
	sayOneChange     = "Please one change at a time: which altitude, and what is it now?"
	sayPast          = "What was is not looked up here. Write the time of arrival with its day, or the station alone for what is now."
	sayWhichArc      = "At which fix does the arc begin? Write via with it."
	sayBaseNeeds     = "Which base? Give its ident, as in “base add XKLD 06:00” or “base drop XKLD”."
	sayChartAgain    = "Which figure is the chart's again? Write it with its label, as in FAF 7400."
	sayColdNeeds     = "At which temperature? Give it with its sign, as in “" + ColdExample + "”."
)

func sayTooLong() string {
	return fmt.Sprintf("The message is longer than %d characters; a question fits in one line.", MaxBytes)
}

func sayUnread(words []string) string {
	quoted := make([]string, len(words))
	for i, w := range words {
		quoted[i] = "“" + w + "”"
	}
	if len(quoted) == 1 {
		return "I don't know " + quoted[0] + "."
	}
	last := len(quoted) - 1
	return "I don't know " + strings.Join(quoted[:last], ", ") + " and " + quoted[last] + "."
}

func sayDidYouMean(word, near string) string {
	return fmt.Sprintf("I don't know “%s”; did you mean “%s”?", word, near)
}

func sayNoSign(bare string) string { return fmt.Sprintf("Is it -%s or +%s?", bare, bare) }

func sayScale(word string) string {
	return fmt.Sprintf("Which temperature is “%s”? Write the figure with its sign and its unit, such as -38C or -36F.", word)
}

func sayHowMany(minus bool) string {
	if minus {
		return "Minus how many degrees?"
	}
	return "Plus how many degrees?"
}

func sayTwoTemperatures(a, b string) string {
	return fmt.Sprintf("I see two temperatures, %s and %s. Which is right?", a, b)
}

func sayNoClock(word string) string {
	return fmt.Sprintf("%s is no time of day.", word)
}

func sayEndOfDay(word string) string {
	return fmt.Sprintf("%s is the 0000 of the next day: write that, with its day.", word)
}

func sayBlock(name, one, other string) string {
	return fmt.Sprintf("Is the %s %s, %s, or between the two?", name, one, other)
}

func sayBygone(figure string) string {
	return fmt.Sprintf("%s is of a time that has gone by. What is the temperature now?", figure)
}

func sayStandsTwice(figure string) string {
	return fmt.Sprintf("%s stands there twice. Is it flown?", figure)
}

func sayTwoRules(a, b string) string {
	return fmt.Sprintf("I see two rule sets, %s and %s. Which is to be used?", a, b)
}

func sayTwoStations(a, b string) string {
	return fmt.Sprintf("I see two stations, %s and %s. Ask for one at a time.", a, b)
}

func sayUnknownStation(word string, near []string) string {
	word = strings.ToUpper(abbreviate(word))
	if len(near) == 0 {
		return fmt.Sprintf("I don't know the station %s; give its field elevation, as in “elev 4802”.", word)
	}
	return fmt.Sprintf("I don't know the station %s; nearest: %s.", word, strings.Join(near, ", "))
}

func sayTimeOrAltitude(word string) string {
	return fmt.Sprintf("Is %s a time or an altitude? Write %sZ, or %s ft.", word, word, word)
}

func sayTwoNumbers(word, sign string) string {
	return fmt.Sprintf("“%s” could be two numbers, or one and a %s; put a space before the %s.", word, sign, sign)
}

func sayDashOrMinus(word string) string {
	if strings.HasPrefix(word, "+") {
		return fmt.Sprintf("“%s” could be a temperature, or something to add; write the plus against the number, or “remote” before it.", word)
	}
	return fmt.Sprintf("“%s” could be a dash or a minus; write the minus against the number.", word)
}

func sayThousands(word, whole, a, b string, sign bool) string {
	if sign {
		return fmt.Sprintf("“%s” could be %s, or %s and %s; a temperature has its sign.", word, whole, a, b)
	}
	return fmt.Sprintf("“%s” could be %s, or %s and %s; write it without the space, or with a comma between the two.", word, whole, a, b)
}

func sayMetresOrMinus(word, figure string) string {
	return fmt.Sprintf("“%s” could be minus %s, or metres and %s.", word, figure, figure)
}

func sayNotATemperature(word string) string {
	return word + " is no temperature; give it with its sign, such as -38."
}

func sayNoTemperature(word string) string {
	return fmt.Sprintf("%s is no temperature that occurs at an airfield.", word)
}

func saySignedAltitude(word string) string {
	return fmt.Sprintf("%s has a sign; an altitude has none, and no temperature is that far from zero.", word)
}

func sayAltitudeWithDegrees(word string) string {
	return fmt.Sprintf("%s is no temperature that occurs at an airfield; an altitude has no degrees.", word)
}

func saySmall(word string) string {
	return fmt.Sprintf("%s could be an altitude or a second temperature; write %s ft if it is an altitude.", word, word)
}

func sayTooHigh(word string) string {
	return fmt.Sprintf("%s is too high for a published altitude.", word)
}

func sayFlightLevel(word string) string {
	return fmt.Sprintf("%s is a flight level: it is flown on the standard setting and is not corrected here.", strings.ToUpper(word))
}

func sayDottedTime(word, figure string) string {
	return fmt.Sprintf("Is “%s” a time or the altitude %s?", word, figure)
}

func sayFigureSlip(word, figure string) string { return fmt.Sprintf("Is “%s” %s?", word, figure) }

func sayNumberWords(word string) string {
	return fmt.Sprintf("I can't tell the numbers in “%s” apart; write them in figures.", word)
}

func sayHeightBehind(word string) string {
	return fmt.Sprintf("“%s” must stand behind the height that it belongs to.", word)
}

func sayHeightMinimum(word, label string) string {
	return fmt.Sprintf("%s is a height above the threshold; give the %s, an altitude.", strings.ToUpper(word), label)
}

func sayHeightOrAltitude(word string) string {
	return fmt.Sprintf("Is %s a height, or an altitude?", word)
}

func sayNotCorrected(word string) string {
	return fmt.Sprintf("“%s”: departures, arrivals, vectoring and assigned altitudes are not corrected by the crew; ask air traffic control for the altitude you need.", word)
}

func sayClimb(word string) string {
	return fmt.Sprintf("“%s”: the missed approach's? Then write “missed”; the climb of a departure or of a clearance is not corrected by the crew.", word)
}

func sayEnroute(word string) string {
	return fmt.Sprintf("“%s” is a minimum of the way, not of the approach; ask for it alone, with the station.", word)
}

func sayFinal(word string) string {
	return fmt.Sprintf("“%s” could be the final approach fix or the minimums; write FAF, DA or MDA.", word)
}

func sayMissedPoint(word string) string {
	return fmt.Sprintf("“%s” could be the missed approach altitude or the minimums; write missed, DA or MDA.", word)
}

func sayLabelBetween(word string, colon bool) string {
	if colon {
		return fmt.Sprintf("“%s” stands between two altitudes; put a colon between it and its own.", word)
	}
	return fmt.Sprintf("“%s” stands between two altitudes; part them with a comma.", word)
}

func sayLabelAlone(word string) string {
	return fmt.Sprintf("“%s” has no altitude beside it.", word)
}

func sayFixBetween(word string) string {
	return fmt.Sprintf("“%s” stands between two labels; part them with a comma.", word)
}

func sayFixAlone(word string) string {
	return fmt.Sprintf("I don't know “%s”; if it is a fix, write IAF, IF, FAF or step with it.", word)
}

func sayApproachOrMinimums(word, label string) string {
	return fmt.Sprintf("“%s” could name the approach or its minimums; write %s for the minimums, or leave it out.", word, label)
}

func sayNoUnit(word string) string {
	return fmt.Sprintf("%s has no unit, and another figure is in metres; write m or ft behind it.", word)
}

func sayWhatTime(station string) string {
	return fmt.Sprintf("What time (UTC) at %s? For example 1805Z.", station)
}

func sayHourOrChart(word, clock, name string) string {
	return fmt.Sprintf("Is “%s” a time or an approach? Write %s, or %s.", word, clock, name)
}

func sayOneTime(word, station string) string {
	if station == "" {
		return fmt.Sprintf("What time (UTC) of “%s”? For example 1805Z.", word)
	}
	return fmt.Sprintf("What time (UTC) of “%s” at %s? For example 1805Z.", word, station)
}

func saySettingOr(word string) string {
	return fmt.Sprintf("Is %s the altimeter setting or an altitude? Write A%s, or %s ft.", word, word, word)
}

func sayTwoTimes(station, a, b string) string {
	return fmt.Sprintf("I see two times for %s, %s and %s. Which is right?", station, a, b)
}

func sayNoTime(word string) string {
	return fmt.Sprintf("%s is no time: write four figures, such as 0730, with a Z for UTC.", word)
}

func sayBriefTemperature(word string) string {
	return fmt.Sprintf("A brief takes its temperature from the forecasts; for %s ask without “brief” and the time.", word)
}

func sayReportUnread(why string) string { return "The pasted report could not be read: " + why + "." }

// WhichIsIt asks which altitude a figure stands for.
func WhichIsIt(word string, names []string) string {
	return fmt.Sprintf("What is %s: %s, or one more altitude?", word, strings.Join(names, ", "))
}

// WhichHas asks which of the altitudes has a label.
func WhichHas(label string, figures []string) string {
	last := len(figures) - 1
	return fmt.Sprintf("Which is the %s: %s or %s?", label, strings.Join(figures[:last], ", "), figures[last])
}

// OutOfOrder is for a figure in place of a chart's that another row makes
// impossible.
func OutOfOrder(name string, feet float64, other string, otherFeet float64) string {
	side := "above"
	if feet < otherFeet {
		side = "below"
	}
	return fmt.Sprintf("%s %.0f would be %s %s, %.0f.", name, feet, side, other, otherFeet)
}

// TwoOf asks which of two altitudes a label has.
func TwoOf(label, a, b string) string { return fmt.Sprintf("Is the %s %s or %s?", label, a, b) }

// MissedHoldAt says that the hold at a fix is no way in.
func MissedHoldAt(fix string) string {
	return fmt.Sprintf("The hold at %s is the missed approach's, and no way in. How do you come in? Write “vectors”, or via with the fix.", fix)
}

func sayEither(a, b string) string { return fmt.Sprintf("Is it %s or %s?", a, b) }

func sayBoth(label, a, b string) string {
	return fmt.Sprintf("Are %s and %s both %s? Write %s before each.", a, b, label, label)
}

func saySettingAlone() string {
	return "That altimeter setting is off the usual scale: special procedures apply, and no altitude is corrected for it. For which station and altitudes do you ask?"
}

func sayWhichApproach(station string) string {
	if station == "" {
		return "Which approach?"
	}
	return fmt.Sprintf("Which approach at %s?", station)
}

func sayControl(r rune) string { return fmt.Sprintf("The message holds a control character (%U).", r) }

func sayCheckWord(word string) string {
	return word + " is no altitude; enter the corrected altitudes alone, in the order of the card."
}

func sayCheckFigure(word string) string { return word + " is no altitude that can be flown." }

func sayNoRecord(word string) string {
	return fmt.Sprintf("%s is no name of a record; it is two words, such as KALOMI-RUTA, and stands on the card.", word)
}

func sayRecordAlone(name string) string {
	return fmt.Sprintf("%s is the name of a record: put “log” before it to see it, “check” to check it.", name)
}

func sayOneRecord(first, second string) string {
	return fmt.Sprintf("One record at a time: %s, or %s?", first, second)
}

func sayObserveNeeds(station string) string {
	if station == "" {
		return "“obs” takes a station and its temperature, such as obs XKLD -38."
	}
	return fmt.Sprintf("What is the temperature at %s?", station)
}

const sayObserveTime = "The time of an observation is in UTC: write it with a Z, such as 0730Z."

func sayWhatZone(example string) string {
	return fmt.Sprintf("What time (UTC)? For example %s.", example)
}

func sayTemperatureThen(clock string) string {
	if !strings.HasPrefix(clock, "in ") {
		clock = "at " + clock
	}
	return fmt.Sprintf("What is the temperature %s?", clock)
}

// RouteNeeds says what a route takes.
const RouteNeeds = "“route” takes one minimum altitude, the station whose altimeter setting is used, and its temperature."

func sayMinusZero(word string) string {
	return fmt.Sprintf("“%s” is zero with a minus; is a digit missing?", word)
}

func sayNothingLeft(word string) string {
	return fmt.Sprintf("%s is taken away, and no other altitude is there.", word)
}

func sayDenied(word string) string {
	return fmt.Sprintf("%s is there: is it taken away, or right as it stands?", word)
}

func sayUpperBound(word string) string { return fmt.Sprintf("Between %s and what?", word) }

func sayRunwayAndFigure(word string) string {
	return fmt.Sprintf("Where does the runway end in “%s”? Write it in figures, with a comma before the altitude.", word)
}

func sayTwoFigures(a, b string) string {
	return fmt.Sprintf("What is %s: another published altitude, or your own figure for %s?", b, a)
}

func sayWhichDate(day string) string {
	return fmt.Sprintf("Which date is “%s”? Write the day of the month before the time, as 251430Z.", day)
}

func sayHasIt(sbas bool) string {
	if sbas {
		return "Does the aircraft have SBAS now? Write sbas yes, or sbas no."
	}
	return "Does the aircraft compensate now? Write compensated yes, or compensated no."
}

// WhichYes repeats a question that a "yes" does not answer; what is none stays as it is.
func WhichYes(text string) string {
	if !strings.Contains(text, "?") {
		return text
	}
	return "A yes does not say which. " + text
}

// NothingToUndo is for an "undo" without a change before it.
func NothingToUndo() string { return "There is nothing here to take back." }

func sayRunway(word string) string { return fmt.Sprintf("Is %s the runway?", word) }

func sayWhichWay(word string) string {
	return fmt.Sprintf("How do you come in, as it is “%s”? Write via with the fix, or vectors.", word)
}

func sayArrival(word string) string {
	return fmt.Sprintf("At what time is “%s”? Write it as 1430Z, or in 40 min.", word)
}

func sayChangedBy(word string) string {
	return fmt.Sprintf("Is “%s” the temperature, or by how much it changed? Write the temperature with its sign.", word)
}

func sayEitherVia(a, b string) string {
	return fmt.Sprintf("Do you come in via %s or via %s?", a, b)
}

// ComeIn asks whether a fix that was only named is the way in.
func ComeIn(fix string) string { return sayComeIn(fix) }

func sayComeIn(fix string) string { return fmt.Sprintf("Do you come in via %s?", fix) }

func sayStationOut(word string) string {
	return fmt.Sprintf("“%s”: no line of an approach that needs it can be flown. Which approach is flown?", word)
}

func sayWhatIsOut(word string) string {
	return fmt.Sprintf("What does “%s” take away? Write what is so, as “sbas no”, “compensated no”, or the line that is flown.", word)
}

func sayOneBase(a, b string) string {
	return fmt.Sprintf("I see two stations, %s and %s; one base at a time.", a, b)
}

func sayBaseWord(word string) string {
	return fmt.Sprintf("I don't know “%s”; behind the ident stand the local hour (06:00), the hours of the window (window 12) and the channel (slack:C0123ABCD, discord:ID, page or here).", abbreviate(word))
}

func sayFlightOrAltitude(word string) string {
	return fmt.Sprintf("Is %s an altitude, or the number of the flight?", word)
}
