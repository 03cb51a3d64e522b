package parse

import (
	"slices"

	"firn/engine/procedure"
)

// fill gives the altitudes their labels and fixes, and the request its
// elevation.
func (rd *reading) fill() {
	rd.kindApart()
	rd.items = crossed(paired(rd.items))
	items := rd.items
	rd.charted(items)
	for k := range items {
		items[k].boundTo = -1
	}
	gone := rd.takes()
	for _, trouble := range rd.bindLeft(items, gone) {
		if trouble.doubt || !gone {
			rd.unbound(items[trouble.item], trouble.doubt)
		}
	}
	for k := range items {
		if items[k].kind == fixItem {
			rd.bindFix(k)
		}
	}
	for _, it := range rd.items {
		if s := &rd.req.Slot; it.kind == labelItem && it.role == s.Role && it.fix != "" {
			s.Fix = it.fix // "FAF XIRTU"
		}
	}
	elevation := rd.attach(rd.items[:len(items)]) // behind them are breaks of refused words
	rd.labelPlaced()
	rd.bindApproach(items)
	rd.mixedUnits()
	if elevation >= 0 {
		rd.req.Elevation, rd.req.HasElevation = rd.req.Altitudes[elevation], true
		rd.unlist(elevation)
	}
	// Only a field lies below the sea: what stood behind the label of another, which
	// is asked about, is no altitude.
	for k := len(rd.req.Altitudes) - 1; k >= 0; k-- {
		if a := rd.req.Altitudes[k]; a.Value < 0 {
			if rd.problem == nil {
				rd.refuse(0, &Problem{Word: a.figure(), Text: saySignedAltitude(a.figure())})
			}
			rd.unlist(k)
		}
	}
}

// unlist takes a figure out of the altitudes.
func (rd *reading) unlist(altitude int) {
	if rd.req.Altitudes = slices.Delete(rd.req.Altitudes, altitude, altitude+1); len(rd.req.Altitudes) == 0 {
		rd.req.Altitudes = nil
	}
	for k := range rd.items {
		switch it := &rd.items[k]; {
		case it.kind == numberItem && it.altitude == altitude:
			it.altitude = -1
		case it.kind == numberItem && it.altitude > altitude:
			it.altitude--
		}
	}
}

// bindLeft binds the labels, but those that a word before them takes away and
// that have no altitude behind them: the DA of "FAF 8200 without DA".
func (rd *reading) bindLeft(items []item, gone bool) []trouble {
	if !gone && !rd.has(notWord, noWord) {
		return bindLabels(items, true)
	}
	left := slices.Clone(items)
	for k := range left {
		if left[k].kind == labelItem && (rd.takenAway(left[k].token) || rd.noBefore(left[k].token)) && (k+1 == len(left) || left[k+1].kind == breakItem || left[k+1].kind == labelItem) {
			if items[k].gone = !gone && !left[k].elev && len(rd.req.Altitudes) > 0 && !rd.place(); gone || items[k].gone {
				left[k].kind = breakItem
			}
		}
	}
	out := bindLabels(left, !gone)
	for k := range left {
		items[k].boundTo = left[k].boundTo
	}
	return out
}

// noBefore says that the message begins with a no to the label at i, and that nothing
// but what separates stands behind it: "no DA, MDA 5460".
func (rd *reading) noBefore(i int) bool {
	next := i + max(rd.tags[i].n, 1)
	return i == 1 && rd.means(0) == noWord && next < len(rd.tokens) && rd.tokens[next].kind == sepToken
}

// paired puts labels that stand in a row before as many altitudes each before its
// own: "IF/FAF/MDA 8200/7400/5460".
func paired(items []item) []item {
	var labels, numbers []int
	for k, it := range items {
		switch {
		case it.kind == breakItem:
		case it.kind == labelItem && !it.elev && len(numbers) == 0:
			labels = append(labels, k)
		case it.kind == numberItem && len(labels) > 1:
			numbers = append(numbers, k)
		case it.kind == numberItem && len(labels) == 0:
			return items // an altitude before them
		default:
			return items
		}
	}
	if len(labels) < 2 || len(labels) != len(numbers) {
		return items
	}
	out := make([]item, 0, 3*len(labels))
	for k := range labels {
		out = append(out, items[labels[k]], items[numbers[k]], item{kind: breakItem, token: items[numbers[k]].token})
	}
	return out
}

// crossed puts labels in a row behind as many altitudes before its own each.
func crossed(items []item) []item {
	labels, numbers := 0, 0
	for i := range items {
		switch items[i].kind {
		case numberItem:
			if labels > 0 {
				return items
			}
			numbers++
		case labelItem:
			labels++
		case fixItem:
			return items
		}
	}
	if labels < 2 || labels != numbers {
		return items
	}
	items = slices.DeleteFunc(slices.Clone(items), func(it item) bool { return it.kind != numberItem && it.kind != labelItem })
	out := make([]item, 0, 3*labels)
	for k := range labels {
		out = append(out, items[numbers+k], items[k], item{kind: breakItem, token: items[k].token})
	}
	return out
}

// takes says that the message takes altitudes away, so that a label needs no
// figure.
func (rd *reading) takes() bool {
	return rd.taking || rd.hasVerb && rd.lead == Remove || rd.anyVerb && rd.verb == Remove
}

// attach gives each label's meaning to its altitude; the result is the index
// of the altitude that is the field's elevation, -1 without one.
func (rd *reading) attach(items []item) (elevation int) {
	elevation = -1
	for k := range items {
		it := &items[k]
		if it.kind != labelItem {
			continue
		}
		if it.boundTo < 0 {
			if it.gone || rd.takes() && !it.elev { // "remove DA", "MDA 5460 instead of the DA"
				rd.req.Gone = append(rd.req.Gone, Altitude{Role: it.role, Label: it.label, Fix: it.fix, Bare: true})
			}
			continue
		}
		number := &items[it.boundTo]
		if number.altitude < 0 {
			continue // refused
		}
		if !it.elev {
			a := &rd.req.Altitudes[number.altitude]
			a.Role, a.Label, a.Fix, a.From, a.Instead = it.role, it.label, it.fix, it.from, it.is || rd.notam
			if number.from != "" {
				a.From = number.from
			}
			continue
		}
		if elevation >= 0 {
			first, last := min(it.token, number.token), max(it.token, number.token)
			rd.refuse(rd.tokens[it.token].start, &Problem{Word: rd.typed(it.token, it.token), Text: sayTwoElevations, Either: true, Try: rd.instead(first, last, "")})
			continue
		}
		elevation = number.altitude
	}
	rd.alike(items)
	return elevation
}

// alike gives a figure without a label that of the one before it, where there may be
// several of it and an "and" joins them: "IAF 10500 and 10900".
func (rd *reading) alike(items []item) {
	for k := 3; k < len(items); k++ {
		label, first, and, it := &items[k-3], &items[k-2], &items[k-1], &items[k]
		joined := label.kind == labelItem && label.boundTo == k-2 && first.kind == numberItem && first.altitude >= 0 && it.kind == numberItem && it.altitude >= 0 &&
			and.kind == breakItem && rd.means(and.token) == andWord && it.token == and.token+1 && (k+1 == len(items) || items[k+1].kind == breakItem)
		if !joined || label.fix != "" || label.role != procedure.InitialFix && (label.role != procedure.StepDown || label.label != "") {
			continue
		}
		if a := &rd.req.Altitudes[it.altitude]; a.Role == procedure.NoRole && !bound(items, k) {
			a.Role, a.Label, a.Instead = label.role, label.label, label.is || rd.notam
		}
	}
}

// bound says that a label is bound to the item at k.
func bound(items []item, k int) bool {
	for i := range items {
		if it := &items[i]; it.kind == labelItem && it.boundTo == k {
			return true
		}
	}
	return false
}

// bindFix gives the fix at k to the label beside it, or to that of the
// altitude beside it. Where two could have it, the one that has the fix
// between itself and its altitude does.
func (rd *reading) bindFix(k int) {
	items := rd.items
	token := items[k].token
	word := rd.typed(token, token)
	before, after := rd.labelAt(k-1), rd.labelAt(k+1)
	if before < 0 && k > 0 && items[k-1].kind == numberItem && (k+1 == len(items) || items[k+1].kind != labelItem) {
		after = -1 // "3000 at BEDNO then 2200 at the FAF": it is that of the altitude before it
	}
	switch {
	case before >= 0 && after >= 0 && before != after && items[before].boundTo == k+1:
		after = -1
	case before >= 0 && after >= 0 && before != after && items[after].boundTo == k-1:
		before = -1
	}
	switch {
	case before >= 0 && after >= 0 && before != after:
		rd.refuse(rd.tokens[token].start, &Problem{Word: word, Text: sayFixBetween(word), Try: rd.instead(token, token, ", "+word)})
	case before >= 0:
		items[before].fix = items[k].fix
	case after >= 0:
		items[after].fix = items[k].fix
	case k > 0 && items[k-1].kind == numberItem || k+1 < len(items) && items[k+1].kind == numberItem:
		rd.refuse(rd.tokens[token].start, &Problem{Word: word, Text: sayFixAlone(word)})
	default:
		rd.unread = append(rd.unread, unread{token, k})
		items[k].kind = breakItem
	}
}

// labelAt is the label at i, or that of the altitude at i, which has no fix
// yet; -1 when there is none.
func (rd *reading) labelAt(i int) int {
	if i < 0 || i >= len(rd.items) {
		return -1
	}
	at := -1
	switch rd.items[i].kind {
	case labelItem:
		at = i
	case numberItem:
		at = slices.IndexFunc(rd.items, func(it item) bool { return it.kind == labelItem && it.boundTo == i })
	}
	if at >= 0 && (rd.items[at].elev || rd.items[at].fix != "") {
		return -1
	}
	return at
}

// bindApproach asks about "ILS 10000 9200": the name of the approach, or the
// minimums of its line?
func (rd *reading) bindApproach(items []item) {
	for k := range items {
		if !items[k].approach || items[k].boundTo < 0 {
			continue
		}
		for _, a := range rd.req.Altitudes {
			if a.Role != procedure.NoRole {
				continue
			}
			token := items[k].token
			word := rd.typed(token, token)
			rd.refuse(rd.tokens[token].start, &Problem{Word: word, Text: sayApproachOrMinimums(word, items[k].label), Either: true, Try: rd.instead(token, token, "")})
			return
		}
	}
}

// mixedUnits asks where metres and altitudes without a unit stand side by side.
func (rd *reading) mixedUnits() {
	if !slices.ContainsFunc(rd.req.Altitudes, func(a Altitude) bool { return a.Metric }) {
		return
	}
	for k := range rd.items {
		it := &rd.items[k]
		if it.kind != numberItem || it.altitude < 0 || !rd.req.Altitudes[it.altitude].Bare {
			continue
		}
		word := rd.typed(it.token, it.token)
		rd.refuse(rd.tokens[it.token].start, &Problem{
			Word: word, Text: sayNoUnit(word), Either: true,
			Try: rd.instead(it.token, it.token, word+likelyUnit(rd.req.Altitudes[it.altitude].Value)),
		})
		return
	}
}

func (rd *reading) unbound(it item, doubt bool) {
	t := rd.tokens[it.token]
	word := rd.text[t.start:t.end]
	last := it.token + max(rd.tags[it.token].n, 1) - 1
	leaves := rd.leavesOut(it.token)
	switch {
	case !doubt && rd.swapsLabels():
	case !doubt && !it.elev && leaves < it.token && rd.bare() && len(rd.unread) == 0 && !rd.inquires():
		rd.refuse(t.start, &Problem{Word: rd.typed(leaves, last), Text: RowsStay(rd.typed(leaves, last)), Either: true})
	case !doubt && it.label == ArcLabel && len(rd.req.Altitudes) == 0 && len(rd.unread) == 0 && rd.anyWay() && !rd.inquires():
		rd.arc(it.token, it.token+rd.tags[it.token].n)
	case !doubt && rd.alone(it):
		rd.comesBy(it.role)
	case doubt && !it.elev && rd.between2(it, word):
	case doubt && lonely(rd.items): // commas are there already
		rd.refuse(t.start, &Problem{Word: word, Text: sayLabelBetween(word, true), Either: true, Try: rd.instead(it.token, last, ", "+rd.typed(it.token, last)+":")})
	case doubt:
		rd.refuse(t.start, &Problem{Word: word, Text: sayLabelBetween(word, false), Either: true, Try: rd.instead(it.token, it.token, ", "+word)})
	case rd.hasVerb && rd.lead == Why && !rd.place(), rd.anyVerb && rd.verb == Why && !rd.place():
		rd.repeated = true // "why is the DA not usable"
	case !it.elev && rd.bare() && len(rd.unread) == 0:
		rd.repeated = true // "what is the FAF correction"
		if !rd.inquires() {
			rd.slot(it)
		}
	case !it.elev && !it.approach && rd.req.Procedure == "" && rd.req.Minima == "" && rd.req.Station != "" && len(rd.req.Altitudes) == 0 && it.role == procedure.Circling:
		rd.req.Minima = "circling" // "circling mins?"
	case it.role == procedure.Circling && rd.req.Procedure != "" && rd.req.Minima == "" && !rd.besideNumber(it):
		rd.req.Minima = "circling" // "ils 12 circling mins"
	case !it.elev && !it.approach && rd.req.Procedure != "" && !rd.besideNumber(it) && len(rd.req.Altitudes) == 0: // "how much at the faf, rnav 31"
		rd.notUsed(leaves, last)
	case !it.elev && !it.approach && len(rd.unread) == 0 && rd.asks() && rd.req.HasTemperature && (!rd.place() || rd.wrote("correct")) && len(rd.req.Altitudes) == 0: // "what is the FAF at -27"
		rd.notUsed(it.token, last)
	case it.elev, it.approach, len(rd.req.Altitudes)+len(rd.unread) > 0, rd.req.Station != "":
		p := &Problem{Word: word, Text: sayLabelAlone(word)}
		if !rd.besideNumber(it) && rd.moreLabels() { // else there is an altitude that it may be of
			p.Try = rd.instead(it.token, last, "")
		}
		rd.refuse(t.start, p)
	default:
		rd.refuse(t.start, &Problem{Word: word, Text: sayLabelAlone(word)})
	}
}

// slot keeps a label that was said alone, with a "not" before it perhaps: "not the
// missed", and "not MDA, DA".
func (rd *reading) slot(it item) {
	a := Altitude{Role: it.role, Label: it.label, Fix: it.fix, Bare: true}
	denied := rd.has(notWord) && rd.takenAway(it.token)
	for _, o := range rd.items {
		if !denied && o.kind == labelItem && !o.elev && o.token > it.token && rd.has(notWord) && rd.takenAway(o.token) { // "MDA not DA"
			rd.req.Gone = append(rd.req.Gone, Altitude{Role: o.role, Label: o.label, Fix: o.fix, Bare: true})
		}
		if denied && o.kind == labelItem && !o.elev && o.token > it.token && !rd.takenAway(o.token) {
			rd.req.Gone = append(rd.req.Gone, a)
			rd.req.Slot = Altitude{Role: o.role, Label: o.label, Fix: o.fix, Bare: true}
			return
		}
	}
	rd.req.Slot, rd.req.Denied = a, denied
}

// leavesOut is where the words begin that say of the label at i that it is all
// that is wanted, or what is not: "only the DA", "no step downs"; i where there
// are none.
func (rd *reading) leavesOut(i int) int {
	k := i - 1
	for k > 0 && (rd.wordAt(k) == "the" || rd.wordAt(k) == "any") {
		k--
	}
	if w := rd.wordAt(k); w == "no" || slices.Contains(onlyWords, w) {
		return k
	}
	return i
}

// alone says that a turn or a hold is all that the message says: it chooses the
// way in.
func (rd *reading) alone(it item) bool {
	turn := it.role == procedure.ProcedureTurn || it.role == procedure.Hold && it.label != LieuLabel
	return turn && !rd.asks() && !rd.hasVerb && rd.bare() && len(rd.unread) == 0
}

// besideNumber says that an altitude stands beside a label.
func (rd *reading) besideNumber(it item) bool {
	at := slices.IndexFunc(rd.items, func(o item) bool { return o.kind == labelItem && o.token == it.token })
	number := func(k, step int) bool {
		for k += step; k >= 0 && k < len(rd.items) && rd.items[k].kind == fixItem; k += step {
		}
		return k >= 0 && k < len(rd.items) && rd.items[k].kind == numberItem
	}
	return at >= 0 && (number(at, -1) || number(at, 1))
}

// between2 asks which of the two altitudes beside a label it names.
func (rd *reading) between2(it item, word string) bool {
	at := slices.IndexFunc(rd.items, func(o item) bool { return o.kind == labelItem && o.token == it.token })
	beside := func(step int) int {
		for k := at + step; k >= 0 && k < len(rd.items); k += step {
			if rd.items[k].kind == numberItem {
				return k
			}
		}
		return -1
	}
	a, b := beside(-1), beside(1)
	if at < 0 || a < 0 || b < 0 || rd.items[a].altitude < 0 || rd.items[b].altitude < 0 {
		return false
	}
	if rd.timeBefore(a, b) { // "XKLD 1430 FAF 7400"
		rd.items[at].boundTo = b
		return true
	}
	label := Altitude{Role: it.role, Label: it.label, Bare: true}
	x, y := rd.req.Altitudes[rd.items[a].altitude], rd.req.Altitudes[rd.items[b].altitude]
	with := ", " + word
	if lonely(rd.items) {
		with += ":"
	}
	last, line := it.token+max(rd.tags[it.token].n, 1)-1, ""
	if rd.means(last+1) != orWord { // "8200 IF or 9000" is as much the one as the other
		line = rd.instead(it.token, last, with)
	}
	rd.refuse(rd.tokens[it.token].start, &Problem{
		Word: word, Text: TwoOf(label.Name(), x.figure(), y.figure()), Either: true, Slot: label, Choices: labelOf(label, x, y), Try: line,
	})
	return true
}
