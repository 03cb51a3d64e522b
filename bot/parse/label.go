package parse

import "firn/engine/procedure"

// itemKind is a piece of the message as the binding of labels sees it.
type itemKind uint8

const (
	breakItem  itemKind = iota // a separator, or something that is neither
	numberItem                 // an altitude
	labelItem                  // a label, or "elev"
	fixItem                    // a word that may name a fix
)

type item struct {
	kind     itemKind
	token    int // where it stands
	altitude int // of a number: index into the request's altitudes
	role     procedure.Role
	label    string
	elev     bool
	approach bool // names an approach, perhaps for its minimums
	forward  bool // a colon follows: the altitude stands behind
	fix      string
	from     string
	is       bool // its altitude stands in place of the chart's
	gone     bool // of a label: its altitude is taken away
	boundTo  int  // of a label: item index of its altitude
}

// trouble is a label that could not be bound: in doubt between two altitudes,
// or without one.
type trouble struct {
	item  int
	doubt bool
}

// bindLabels ties each label to the one altitude beside it. A label may stand
// before or after its altitude; where the separators and neighbours leave
// more than one way, or none, the label is given as trouble. reach says that
// a label which stands alone between separators reaches over them.
func bindLabels(items []item, reach bool) []trouble {
	var out []trouble
	bind := func(run []int) {
		if at, doubt, missing := bindRun(items, run); doubt || missing {
			out = append(out, trouble{at, doubt})
		}
	}
	// Between separators first; a label that stands alone there reaches over
	// them, provided that leaves a single way for all.
	if reach && lonely(items) {
		bind(joined(items))
		return out
	}
	for i := 0; i < len(items); {
		if items[i].kind == breakItem {
			i++
			continue
		}
		j := i
		for j < len(items) && items[j].kind != breakItem {
			j++
		}
		run := make([]int, 0, 16)
		for k := i; k < j; k++ {
			if items[k].kind != fixItem {
				run = append(run, k)
			}
		}
		bind(run)
		i = j
	}
	return out
}

// lonely says that some part between separators has a label and no altitude.
func lonely(items []item) bool {
	labels, numbers := 0, 0
	for i := 0; i <= len(items); i++ {
		if i == len(items) || items[i].kind == breakItem {
			if labels > numbers {
				return true
			}
			labels, numbers = 0, 0
			continue
		}
		switch items[i].kind {
		case labelItem:
			labels++
		case numberItem:
			numbers++
		}
	}
	return false
}

func joined(items []item) []int {
	run := make([]int, 0, len(items))
	for i := range items {
		if items[i].kind == numberItem || items[i].kind == labelItem {
			run = append(run, i)
		}
	}
	return run
}

// bindRun counts the ways in which every label of the run can have an
// altitude next to it, no altitude two labels, and takes the way if it is
// the only one.
func bindRun(items []item, run []int) (at int, doubt, missing bool) {
	n := len(run)
	if n == 0 {
		return 0, false, false
	}
	// ways[k][free]: the ways to bind the labels from k on, at most two
	// counted; free: the item before k is an altitude without a label.
	var small [33][2]uint8
	ways := small[:]
	if n+1 > len(small) {
		ways = make([][2]uint8, n+1)
	}
	ways[n] = [2]uint8{1, 1}
	before := func(k int, free int) uint8 {
		if free == 0 || items[run[k]].forward {
			return 0
		}
		return ways[k+1][0]
	}
	behind := func(k int) uint8 {
		if k+1 < n && items[run[k+1]].kind == numberItem {
			return ways[k+2][0]
		}
		return 0
	}
	for k := n - 1; k >= 0; k-- {
		switch items[run[k]].kind {
		case labelItem:
			for free := range 2 {
				ways[k][free] = min(2, before(k, free)+behind(k))
			}
		case numberItem:
			ways[k] = [2]uint8{ways[k+1][1], ways[k+1][1]}
		}
	}
	if ways[0][0] == 0 {
		return unmatched(items, run), false, true
	}
	free := 0
	for k := 0; k < n; k++ {
		i := run[k]
		switch items[i].kind {
		case numberItem:
			free = 1
			continue
		case labelItem:
			b, a := before(k, free), behind(k)
			switch {
			case b > 0 && a > 0:
				return i, true, false
			case b > 0:
				items[i].boundTo = run[k-1]
			default:
				items[i].boundTo = run[k+1]
				k++
			}
		}
		free = 0
	}
	return 0, false, false
}

// unmatched is the label to name when not all can have an altitude: one with
// none beside it, or the last.
func unmatched(items []item, run []int) int {
	last := run[0]
	for k, i := range run {
		if items[i].kind != labelItem {
			continue
		}
		last = i
		beside := k > 0 && items[run[k-1]].kind == numberItem || k+1 < len(run) && items[run[k+1]].kind == numberItem
		if !beside {
			return i
		}
	}
	return last
}

// namesLine takes the line of minimums behind a minimum that has none: "DA 5340
// lnav/vnav".
func (rd *reading) namesLine(p phrase) bool {
	at := rd.labelBefore()
	if at < 0 {
		return false
	}
	label := &rd.items[at]
	plain := label.label == "minimums" || label.label == "" && (label.role == p.role || label.role == procedure.MinimumDescent && p.role == procedure.Circling)
	if label.elev || !plain {
		return false
	}
	label.role, label.label = p.role, p.label
	return true
}

// labelBefore is the label before the figure just read, a fix may stand between
// them; -1 where it has none, or one that an unlabelled figure before both might
// have as well.
func (rd *reading) labelBefore() int {
	kind := func(i int) itemKind {
		if i < 0 {
			return breakItem
		}
		return rd.items[i].kind
	}
	at := len(rd.items) - 1
	if kind(at) != numberItem {
		return -1
	}
	if at--; kind(at) == fixItem {
		at--
	}
	before := kind(at - 2)
	if kind(at) != labelItem || kind(at-1) == numberItem && before != labelItem && before != fixItem {
		return -1
	}
	return at
}
