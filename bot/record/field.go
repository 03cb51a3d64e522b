package record

import (
	"context"
	"fmt"
	"math"

	"firn/bot/reply"
	"firn/engine"
)

// Field is what a result takes from the configuration of its station.
type Field struct {
	ElevationFt float64
	Restriction reply.OptFloat // °C
}

// cent is what an elevation is rounded by in an answer, in feet.
const cent = 0.01

// moved says in one sentence what of a result's station is not what it was
// when the result was made; empty where nothing is. It is said once.
func moved(r Record, set Settings) string {
	ident := r.Station()
	if set.Field == nil || ident == "" {
		return ""
	}
	is, there := set.Field(ident)
	text := ""
	switch was := r.Reply.Station.ElevationFt; {
	case !there:
		text = ident + " is no station here any more: nothing looks at its weather, and its figures may be old. Look them up before they are used."
	case math.Abs(is.ElevationFt-was) > cent:
		text = fmt.Sprintf("The field's figures changed: the elevation of %s is %s ft now, and %s ft was taken: recompute.", ident, reply.WholeUp(is.ElevationFt), reply.WholeUp(was))
	case len(r.Numbers) > 0 && is.Restriction != r.Restriction:
		text = fmt.Sprintf("The field's figures changed: the restriction temperature of %s is %s now, and it was %s: recompute.", ident, lineOf(is.Restriction), lineOf(r.Restriction))
	}
	for _, n := range r.Noticed {
		if n.Text == text {
			return ""
		}
	}
	return text
}

// lineOf is a restriction temperature in words.
func lineOf(f reply.OptFloat) string {
	if !f.OK {
		return "none"
	}
	return reply.Celsius(f.Value)
}

// holdField holds a record against its station; done says that it was told of
// something, so that the weather has time until the next round.
func (r *round) holdField(ctx context.Context, rec Record, at *station) (done bool, err error) {
	text := moved(rec, r.set)
	if text == "" {
		return false, nil
	}
	return true, r.apply(ctx, at, rec, Weather{C: engine.Celsius(rec.Temperature())}, text, "record does not hold any more: its station changed", rec.Station())
}
