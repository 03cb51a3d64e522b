package coldwatch

import (
	"fmt"
	"strings"

	"firn/engine"
)

// Choose makes one judgement out of those of several sources for one window
// and line, in the configured order.
//
// The first that has its low inside the window and covers all of it is used;
// after those, the first that covers a part; a mere bound last. Another source
// disagrees when its low is more than limit away, or colder by less and worse
// in state. The coldest of them is then used, and Note tells what each says.
// One that is warmer and covers only a part does not disagree, since its low
// may lie in the rest; neither does a bound beside a low that is known.
func Choose(w Window, limit engine.CelsiusDelta, js ...Judgement) Judgement {
	first := -1
	for i := range js {
		if js[i].State != NoForecast && (first < 0 || js[i].rank(w) < js[first].rank(w)) {
			first = i
		}
	}
	if first < 0 {
		return none(js)
	}
	used := first
	says := []string{js[first].says()}
	for i := range js {
		o := &js[i]
		if i == first || o.State == NoForecast || o.Bound(w) && !js[first].Bound(w) {
			continue
		}
		warmer := o.Low.Sub(js[first].Low)
		switch {
		case warmer < -limit-noise, warmer < 0 && o.State > js[first].State:
		case warmer > limit+noise && o.Covered:
		default:
			continue
		}
		says = append(says, o.says())
		if o.Low < js[used].Low {
			used = i
		}
	}
	j := js[used]
	if len(says) > 1 {
		note := fmt.Sprintf("sources disagree: %s; the colder is used", strings.Join(says, ", "))
		if j.Note != "" {
			note += "; " + j.Note
		}
		j.Note = note
	}
	return j
}

// rank orders judgements by how much they know of the window.
func (j Judgement) rank(w Window) int {
	switch {
	case j.Bound(w):
		return 2
	case !j.Covered:
		return 1
	}
	return 0
}

func (j Judgement) says() string { return j.Source + " " + degrees(j.Low) }

// none is the judgement when no source says anything, with every reason.
func none(js []Judgement) Judgement {
	if len(js) == 0 {
		return Judgement{State: NoForecast, Note: "there is no forecast"}
	}
	j := js[0]
	if len(js) == 1 {
		return j
	}
	var notes []string
	for _, o := range js {
		if o.Source != "" {
			o.Note = o.Source + ": " + o.Note
		}
		notes = append(notes, o.Note)
	}
	j.Note = strings.Join(notes, "; ")
	return j
}
