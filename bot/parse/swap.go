package parse

import "slices"

// swapsLabels takes the two labels, without figures, whose altitudes change places:
// "swap FAF and step".
func (rd *reading) swapsLabels() bool {
	if !rd.req.Swap || len(rd.req.Altitudes) > 0 || rd.place() {
		return false
	}
	var two []Altitude
	for _, it := range rd.items {
		if it.kind == labelItem && !it.elev {
			two = append(two, Altitude{Role: it.role, Label: it.label, Fix: it.fix, Bare: true})
		}
	}
	if len(two) != 2 {
		return false
	}
	rd.req.Gone = two
	return true
}

// swapped are the altitudes that change places: those that next names, or the only
// two that are there.
func (r Request) swapped(next Request) (i, j int, ok bool) {
	place := func(g Altitude) int {
		at := slices.IndexFunc(r.Altitudes, g.matches)
		if at >= 0 && slices.ContainsFunc(r.Altitudes[at+1:], g.matches) {
			return -1
		}
		return at
	}
	switch {
	case !next.Swap:
		return 0, 0, false
	case len(next.Gone) == 2: // by their labels
		i, j = place(next.Gone[0]), place(next.Gone[1])
		return i, j, i >= 0 && j >= 0
	case len(next.Altitudes) == 2:
		i, j = slices.IndexFunc(r.Altitudes, next.Altitudes[0].same), slices.IndexFunc(r.Altitudes, next.Altitudes[1].same)
		return i, j, i >= 0 && j >= 0
	}
	return 0, 1, len(r.Altitudes) == 2
}

// Swaps says whether it is known which altitudes next has change places.
func (r Request) Swaps(next Request) bool {
	_, _, ok := r.swapped(next)
	return ok || len(next.Altitudes) == 2 && slices.ContainsFunc(r.Altitudes, next.Altitudes[0].same)
}
