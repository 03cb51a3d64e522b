package bot

import (
	"slices"

	"firn/bot/parse"
)

// restored reads a figure, or a label said alone, that stood in the request before
// this one as what brings it back: "5340 was right" behind a DA of 5430, "put the DA
// back" behind one that was dropped.
func restored(before []parse.Request, now, next *parse.Request) *parse.Request {
	if len(before) == 0 || next.Also || next.Station != "" || next.HasTemperature || next.Procedure != "" || len(next.Gone) > 0 || len(next.Altitudes) > 1 {
		return next
	}
	was := before[len(before)-1].Altitudes
	has := func(list []parse.Altitude, a parse.Altitude) bool { return slices.Contains(list, a) }
	if slot := next.Slot; len(next.Altitudes) == 0 && slot.Role != 0 && slot.Fix == "" {
		labelled := func(a parse.Altitude) bool { return a.SameLabel(slot) }
		if slices.ContainsFunc(now.Altitudes, labelled) {
			return next
		}
		for _, earlier := range slices.Backward(before) { // something else may have changed since
			if at := slices.IndexFunc(earlier.Altitudes, labelled); at >= 0 && len(earlier.Altitudes) > len(now.Altitudes) && earlier.Station == now.Station {
				return &parse.Request{Altitudes: []parse.Altitude{earlier.Altitudes[at]}, Also: true}
			}
		}
		return next
	}
	if len(next.Altitudes) != 1 || !bareFigures(next) || len(was) != len(now.Altitudes) {
		return next
	}
	other, changed := -1, 0
	for i, a := range was {
		if !has(now.Altitudes, a) {
			other, changed = i, changed+1
		}
	}
	if changed != 1 || figure(was[other]) != figure(next.Altitudes[0]) || figure(was[other]) == figure(now.Altitudes[other]) || was[other].Height != next.Altitudes[0].Height || has(was, now.Altitudes[other]) {
		return next
	}
	return &parse.Request{Verb: next.Verb, NotUsed: next.NotUsed, Gone: []parse.Altitude{now.Altitudes[other]}, Altitudes: []parse.Altitude{was[other]}}
}

// givesBack reads what was said as giving back what stood before: the chart's figures
// ("chart is right", "the NOTAM expired"), what was dropped ("no, keep it"), or the
// other lines of minimums ("both").
func givesBack(th *thread, said parse.Answer) (next parse.Request, ok bool) {
	now := &th.request
	if !th.answered {
		return next, false
	}
	if now.Procedure != "" && len(now.Altitudes) > 0 && (said.ByChart() || said.RemovesNotam()) {
		gone := slices.DeleteFunc(slices.Clone(now.Altitudes), func(a parse.Altitude) bool {
			return !a.Instead && len(now.Altitudes) > 1 || said.Label && a.Role != said.Slot.Role // "FAF back to chart"
		})
		return parse.Request{Gone: gone}, len(gone) > 0
	}
	if th.question.Asked {
		return next, false
	}
	was := parse.Request{}
	if n := len(th.before); n > 0 {
		was = th.before[n-1]
	}
	switch {
	case said.Lacks() && len(th.before) > 0 && optionsOnly(was, *now): // "we don't have that" behind "what if we had SBAS"
		if was.SBAS != now.SBAS {
			next.SBAS = "no"
		}
		if was.Compensated != now.Compensated {
			next.Compensated = "no"
		}
		return next, true
	case (len(was.Altitudes) > len(now.Altitudes) || len(was.Without) < len(now.Without)) && said.Keeps():
		return parse.Request{Verb: parse.Undo}, true
	case now.Minima != "" && said.Both() && was.Minima == "":
		return parse.Request{Minima: now.Minima, Also: true}, true
	case now.Minima != "" && said.Both() && was.Minima != now.Minima && was.Procedure == now.Procedure:
		return parse.Request{Minima: was.Minima, Also: true}, true
	}
	return next, false
}

// carried says what a follow-up took from the message before it.
func carried(earlier, next, merged *parse.Request) string {
	var taken []string
	if next.Station == "" && !next.HasElevation && merged.Station != "" {
		taken = append(taken, "station "+merged.Station)
	}
	if !next.HasElevation && merged.HasElevation {
		taken = append(taken, "the elevation")
	}
	if !next.HasTemperature && merged.HasTemperature {
		typedFor := earlier.Station
		if merged.Station == typedFor {
			typedFor = ""
		}
		taken = append(taken, parse.TakenTemperature(merged.TemperatureWord(), typedFor))
	}
	if len(next.Altitudes) == 0 && len(merged.Altitudes) > 0 {
		taken = append(taken, "the altitudes")
	}
	if len(taken) == 0 {
		return ""
	}
	return parse.FromBefore(taken)
}
