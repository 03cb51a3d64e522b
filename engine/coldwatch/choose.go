package coldwatch

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/engine"
)

// reach is how far outside the window a minimum may lie to speak against a low
// that another source has inside: the air is seldom much warmer than three
// hours before. Farther off both may be right. The figure is ours.
const reach = Step

// Choose makes one judgement out of those of several sources for one window
// and line, in the configured order.
//
// The first that has its low inside the window and covers all of it is used;
// after those, the first that covers a part; a mere bound last. Another source
// disagrees when its low is more than limit away, or colder by less and worse
// in state. The coldest of them is then used, and Note tells what each says.
// One that is warmer and covers only a part does not disagree, since its low
// may lie in the rest. A bound beside a low that is known disagrees when it is
// colder by more than limit and no more than three hours outside the window, or
// beside what the same forecast has inside.
//
// What several cover together is covered. A forecast that counts only as far
// as it is colder (Forecast.ColderOnly) is never taken for clear or near.
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
		if i == first || o.State == NoForecast {
			continue
		}
		disagrees, counts := o.against(&js[first], w, limit)
		if disagrees {
			says = append(says, o.says())
		}
		if (disagrees || counts) && o.Low < js[used].Low {
			used = i
		}
	}
	if js[first].colderOnly && js[used].byLow != Below {
		return none(js)
	}
	j := js[used].besides(w, js)
	if len(says) > 1 {
		j.Note = join(fmt.Sprintf("sources disagree: %s; the colder is used", strings.Join(says, ", ")), j.Note)
	}
	for i := range js {
		if i != used && js[i].ofForecast != "" {
			j.Note = join(j.Note, js[i].Source+": "+js[i].ofForecast)
		}
	}
	return j
}

// against says whether a judgement disagrees with the first of all, and
// whether it counts beside it without that.
func (j *Judgement) against(first *Judgement, w Window, limit engine.CelsiusDelta) (disagrees, counts bool) {
	warmer := j.Low.Sub(first.Low)
	colder := warmer < -limit-noise
	switch {
	case j.Bound(w) && !first.Bound(w):
		near := !j.LowAt.Before(w.From.Add(-reach)) && !j.LowAt.After(w.To.Add(reach))
		inside := j.inside.Sub(first.Low)
		return colder && near || j.hasInside && (inside < -limit-noise || inside < 0 && j.insideIs > first.byLow), false
	case j.colderOnly && !first.colderOnly:
		return colder || warmer < 0 && j.byLow > first.byLow, false
	case !first.Covered && !j.Covered && (warmer >= 0 || !first.covers(j.LowAt)):
		return false, true // each knows its own part
	}
	return colder || warmer < 0 && j.byLow > first.byLow || warmer > limit+noise && j.Covered, !first.Covered && !j.Covered
}

func (j *Judgement) covers(t time.Time) bool {
	return !t.Before(j.CoveredFrom) && t.Before(j.CoveredTo)
}

// besides is the judgement with what the others cover of the window.
func (j Judgement) besides(w Window, js []Judgement) Judgement {
	if j.Covered && !j.colderOnly {
		return j
	}
	var known []Judgement
	for _, o := range js {
		if o.State != NoForecast && !o.colderOnly {
			known = append(known, o)
		}
	}
	slices.SortStableFunc(known, func(a, b Judgement) int {
		return cmp.Or(a.CoveredFrom.Compare(b.CoveredFrom), a.CoveredTo.Compare(b.CoveredTo))
	})
	var from, to time.Time
	for _, o := range known {
		switch {
		case from.IsZero():
			from, to = o.CoveredFrom, o.CoveredTo
		case !o.CoveredFrom.After(to):
			to = later(to, o.CoveredTo)
		}
	}
	if from.IsZero() || from.Equal(j.CoveredFrom) && to.Equal(j.CoveredTo) {
		return j
	}
	j.CoveredFrom, j.CoveredTo = from, to
	j.Covered = !from.After(w.From.Add(hold)) && !to.Before(w.To)
	j.Note = strings.TrimSuffix(strings.TrimSuffix(j.Note, j.partly), between)
	if j.State = j.byLow; !j.settled(w) {
		j.State = PartForecast
	}
	if !j.Covered {
		j.Note = join(j.Note, partly(from, to))
	}
	return j
}

// rank orders judgements by how much they know of the window.
func (j Judgement) rank(w Window) int {
	switch {
	case j.colderOnly:
		return 3
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
	for i, o := range js {
		if o.State != NoForecast { // it counts only as far as it is colder
			js = slices.Clone(js)
			js[i] = Judgement{State: NoForecast, Restriction: o.Restriction, Source: o.Source, Issued: o.Issued,
				Note: join(o.ofForecast, "its low, "+degrees(o.Low)+", does not count for clear")}
		}
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
	j.Note = strings.Join(notes, between)
	return j
}
