package approach

import (
	"slices"
	"strconv"
	"strings"
)

// Found is what a line of words means among some approaches.
type Found struct {
	// Fits are the approaches that the words mean, best first: one is the
	// answer, several are a question to the crew, none is neither.
	Fits []*Approach
	// Near are others to offer when nothing fits: to that runway, or of that
	// kind.
	Near []*Approach
	// Unknown are the words that are none of an approach's; with one of them
	// nothing fits.
	Unknown []string
	// Line is the line of minimums that the words choose, as loc: "loc 12" of a
	// chart ILS or LOC. Empty: none.
	Line string
}

// One is the approach, when the words mean exactly one.
func (f Found) One() (*Approach, bool) {
	if len(f.Fits) != 1 {
		return nil, false
	}
	return f.Fits[0], true
}

// Find looks an approach up by what crews say: "rnp y 31", "ils 12", "loc
// 12", "vor a", or the coded identifier itself. The approaches are those of
// one station; which source comes first where two hold the same procedure is
// the caller's to decide beforehand.
//
// Words that leave several open return them all: nothing is picked for the
// crew but what has exactly the name that they said, or is an ILS with a
// localizer line where no localizer approach is stored.
func Find(all []Approach, words string) Found {
	said := strings.TrimSpace(words)
	for i := range all {
		if strings.EqualFold(all[i].Code, said) {
			return Found{Fits: sameCode(all, all[i].Code)}
		}
	}
	w := wordsOf(words)
	f := Found{Unknown: w.unknown}
	if w.said == 0 && w.runway == 0 && w.letter == "" && w.course == "" {
		return f
	}
	var named, fits, lines []*Approach
	for i := range all {
		a := &all[i]
		switch {
		case !w.place(a):
		case w.means(a.Kind):
			fits = append(fits, a)
			if w.names(a) {
				named = append(named, a)
			}
		case a.Kind == ILS && w.only(wordLOC) && a.Lines("loc") != nil:
			lines = append(lines, a)
		}
	}
	switch {
	case len(named) > 0:
		fits = named
	case len(fits) == 0:
		if fits = lines; len(fits) > 0 {
			f.Line = "loc"
		}
	}
	slices.SortStableFunc(fits, w.order)
	if len(w.unknown) == 0 {
		f.Fits = fits
	} else {
		f.Near = fits
	}
	if len(f.Fits) == 0 && len(f.Near) == 0 {
		f.Near = w.near(all)
	}
	return f
}

func sameCode(all []Approach, code string) []*Approach {
	var fits []*Approach
	for i := range all {
		if all[i].Code == code {
			fits = append(fits, &all[i])
		}
	}
	return fits
}

// place says whether the runway, side, letter and course that were said are
// the approach's.
func (w *asked) place(a *Approach) bool {
	if w.runway != 0 {
		n, side := runway(a.Runway)
		if n != w.runway || w.side != "" && w.side != side {
			return false
		}
	}
	return (w.letter == "" || w.letter == a.Letter) && (w.course == "" || w.course == a.Course) && (!w.copter || a.Course != "")
}

// names says whether the words are the approach's name and nothing less.
func (w *asked) names(a *Approach) bool {
	k, ok := w.kind()
	n, side := runway(a.Runway)
	return ok && k == a.Kind && w.letter == a.Letter && w.runway == n && w.side == side && w.course == a.Course
}

// runway takes "31L" apart.
func runway(s string) (number int, side string) {
	if len(s) < 2 {
		return 0, ""
	}
	number, err := strconv.Atoi(s[:2])
	if err != nil {
		return 0, ""
	}
	return number, s[2:]
}

// order puts the kind that was named before its relations.
func (w *asked) order(a, b *Approach) int {
	k, _ := w.kind()
	rank := func(x *Approach) int {
		if x.Kind == k {
			return 0
		}
		return 1
	}
	if d := rank(a) - rank(b); d != 0 {
		return d
	}
	return strings.Compare(a.Name, b.Name)
}

// near are the approaches to the runway that was said, or else those of the
// kind.
func (w *asked) near(all []Approach) []*Approach {
	var there, kind []*Approach
	for i := range all {
		a := &all[i]
		if n, _ := runway(a.Runway); w.runway != 0 && n == w.runway {
			there = append(there, a)
		}
		if w.said != 0 && w.means(a.Kind) {
			kind = append(kind, a)
		}
	}
	if len(there) > 0 {
		return there
	}
	return kind
}

// SameKind says that the kind and the letter that words say, as far as they do,
// are an approach's: "ils 31" means no RNAV.
func SameKind(words string, a *Approach) bool {
	w := wordsOf(words)
	return (w.said == 0 || w.means(a.Kind)) && (w.letter == "" || w.letter == a.Letter)
}

// ToldBy are the words that tell an approach from the others of a list, in lower
// case: its letter, as written and as said, or what else no other's name has.
func (a *Approach) ToldBy(list []*Approach) (words []string) {
	own := func(w string) bool {
		return !slices.ContainsFunc(list, func(o *Approach) bool { return o != a && slices.Contains(strings.Fields(o.Name), w) })
	}
	letter := strings.ToLower(a.Letter)
	if letter != "" && own(letter) {
		words = append(words, letter)
		for said, l := range spoken {
			if strings.EqualFold(l, letter) {
				words = append(words, said)
			}
		}
		slices.Sort(words)
		return words
	}
	for _, w := range strings.Fields(strings.ToLower(a.Name)) {
		if own(w) {
			words = append(words, w)
		}
	}
	return words
}
