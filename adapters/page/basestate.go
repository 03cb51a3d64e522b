package page

import (
	"cmp"
	"math"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine"
)

// Observed is the latest observation of a base.
type Observed struct {
	C      engine.Celsius
	At     time.Time
	Source string // for people: METAR (folder), typed by duty officer
}

// base is one of the board: the forecast that the watch judged, what is
// observed, and who knows.
type base struct {
	reply.Cold
	observed Observed // of zero time: there is none
	seen     watch.Seen
}

// decides is how old an observation may be that makes a base's state; an older
// one is shown with its age alone. The figure is ours: a report is made every
// hour, and one may be missed.
const decides = 2*time.Hour + 10*time.Minute

// state is the worse of the forecast's and the observation's.
func (b *base) state(now time.Time) string {
	if b.seenCold(now) {
		return "below"
	}
	return b.State
}

// waits says that somebody is to see what the watch said of it, and nobody has: a
// base near its line is told alone, as in the watch's posts.
func (b *base) waits() bool {
	return b.seen.Open && b.seen.At.IsZero() && b.State != "near"
}

// seenCold says that what is observed is at or below the line.
func (b *base) seenCold(now time.Time) bool {
	o := b.observed
	return !o.At.IsZero() && now.Sub(o.At) <= decides && b.RestrictionC.OK && float64(o.C) <= b.RestrictionC.Value
}

// over is how far above its line the coldest of a base is, in degrees; what has
// no line or no figure comes last.
func (b *base) over(now time.Time) float64 {
	cold := math.Inf(1)
	if b.LowC.OK && (b.LowAt.IsZero() || !b.past(now)) {
		cold = b.LowC.Value
	}
	if o := b.observed; !o.At.IsZero() && now.Sub(o.At) <= decides {
		cold = math.Min(cold, float64(o.C))
	}
	if !b.RestrictionC.OK {
		return math.Inf(1)
	}
	return cold - b.RestrictionC.Value
}

// past says that the low has gone by: there is none to come in what is
// forecast. An hour's value stands until the next.
func (b *base) past(now time.Time) bool { return now.Sub(b.LowAt) > time.Hour }

var stateOrder = []string{"below", "no-forecast", "part-forecast", "near", "clear"}

// stateWords are the board's; the word alone must be enough.
var stateWords = map[string]string{
	"below":         "At or below",
	"near":          "Near",
	"clear":         "Clear",
	"part-forecast": "Part forecast",
	"no-forecast":   "No forecast",
}

func stateWord(state string) string { return cmp.Or(stateWords[state], state) }

// changedStates says which bases are in another state than before.
func changedStates(was, is []base, now time.Time) string {
	before := map[string]string{}
	for i := range was {
		before[was[i].Ident] = was[i].state(now)
	}
	var out []string
	for i := range is {
		state := is[i].state(now)
		if b, had := before[is[i].Ident]; had && b != state {
			out = append(out, is[i].Ident+" is now: "+strings.ToLower(stateWord(state))+".")
		}
	}
	return strings.Join(out, " ")
}
