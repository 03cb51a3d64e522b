package parse

// inWords reads a number that begins at token i in words, "ten thousand" or
// "tree eight", over n tokens; none when it is no more than one word, which
// may be a name, or when the words can be parted in more than one way.
func inWords(tokens []token, i int) (value, n int) {
	var room [longestRun]numeral
	run := numeralsAt(tokens, i, false, room[:0])
	if len(run) < 2 {
		return 0, 0
	}
	values, ok := partNumbers(run)
	if !ok {
		return 0, 0
	}
	return values[0].value, values[0].next - i
}

// spoken is one number of a run, and the token behind it.
type spoken struct{ value, next int }

// partNumbers parts a run of numerals into altitudes. Of the ways to do so
// those with the fewest numbers count; ok is false where that leaves several.
func partNumbers(run []numeral) (out []spoken, ok bool) {
	type state struct{ count, ways, value, from int }
	best := make([]state, len(run)+1)
	best[0] = state{ways: 1}
	for at := range run {
		if best[at].ways == 0 {
			continue
		}
		for end := at + 1; end <= len(run); end++ {
			if run[end-1].next == 0 {
				continue
			}
			v, whole := oneNumber(run[at:end])
			if !whole || v < 100 || v > highest {
				continue
			}
			switch b := &best[end]; {
			case b.ways == 0 || best[at].count+1 < b.count:
				*b = state{best[at].count + 1, best[at].ways, v, at}
			case best[at].count+1 == b.count:
				b.ways += best[at].ways
			}
		}
	}
	end := len(run)
	if best[end].ways != 1 {
		return nil, false
	}
	out = make([]spoken, best[end].count)
	for k := len(out) - 1; k >= 0; k-- {
		out[k] = spoken{best[end].value, run[end-1].next}
		end = best[end].from
	}
	return out, true
}

// oneNumber reads numerals as a single number: digits, pairs, hundreds and
// thousands, and nothing that would be left over.
func oneNumber(run []numeral) (int, bool) {
	for i := range run {
		if run[i].value != 1000 {
			continue
		}
		front, ok := upToHundred(run[:i])
		if !ok || front == 0 {
			return 0, false
		}
		if i+1 == len(run) {
			return front * 1000, true
		}
		rest, ok := oneNumber(run[i+1:])
		return front*1000 + rest, ok && rest < 1000
	}
	for i := range run {
		if run[i].value != 100 {
			continue
		}
		front, ok := upToHundred(run[:i])
		if !ok || front == 0 {
			return 0, false
		}
		if i+1 == len(run) {
			return front * 100, true
		}
		rest, ok := pair(run[i+1:])
		return front*100 + rest, ok
	}
	if v, ok := digits(run); ok && len(run) > 1 {
		return v, true
	}
	for i := 1; i < len(run); i++ { // fifty three forty; five forty
		a, ok := pair(run[:i])
		b, ok2 := pair(run[i:])
		if ok && ok2 && b >= 10 && run[i].value >= 10 {
			return a*100 + b, true
		}
	}
	return pair(run)
}

// upToHundred is what stands before hundred or thousand: one zero, eighty two.
func upToHundred(run []numeral) (int, bool) {
	if v, ok := digits(run); ok && len(run) <= 2 {
		return v, true
	}
	return pair(run)
}

// pair is a number below a hundred: eight, eighteen, thirty eight.
func pair(run []numeral) (int, bool) {
	switch {
	case len(run) == 1 && run[0].value < 100:
		return run[0].value, true
	case len(run) == 2 && run[0].value >= 20 && run[0].value <= 90 && run[1].value >= 1 && run[1].value <= 9:
		return run[0].value + run[1].value, true
	}
	return 0, false
}

func digits(run []numeral) (v int, ok bool) {
	for _, n := range run {
		if n.value > 9 || v > highest {
			return 0, false
		}
		v = v*10 + n.value
	}
	return v, len(run) > 0
}

// temperatureInWords reads the one or two numerals at token i that can be a
// temperature: forty, thirty eight, three eight.
func temperatureInWords(tokens []token, i int) (value, n int) {
	var room [longestRun]numeral
	run := numeralsAt(tokens, i, true, room[:0])
	for k := min(2, len(run)); k > 0; k-- {
		if run[k-1].next == 0 {
			continue
		}
		v, ok := pair(run[:k])
		if !ok {
			v, ok = digits(run[:k])
		}
		if ok {
			return v, run[k-1].next - i
		}
	}
	return 0, 0
}

// mixed reads an altitude of which only the figures are written in figures: "8
// thousand", "8 thousand two hundred", "82 hundred". next is behind it, 0 where
// none stands at token i; unsure says that what follows may belong to it.
func (rd *reading) mixed(i int) (value float64, next int, unsure bool) {
	t := rd.tokens[i]
	if t.sign != 0 || t.unit != noUnit || t.grouped || t.pair || t.value >= 100 || t.value <= 0 {
		return 0, 0, false
	}
	of, _ := numeralOf(rd.wordAt(i + 1))
	switch {
	case of == 100 && t.value >= 10 && len(t.word) == 2:
		return t.value * 100, i + 2, false
	case of != 1000:
		return 0, 0, false
	}
	value, next = t.value*1000, i+2
	if next == len(rd.tokens) || value != float64(int(t.value))*1000 {
		return value, next, false
	}
	if u := rd.tokens[next]; u.kind == numberToken && u.sign == 0 && u.unit == noUnit && !u.grouped {
		hundreds, _ := numeralOf(rd.wordAt(next + 1))
		switch {
		case hundreds == 100 && len(u.word) == 1:
			return value + u.value*100, next + 2, false
		case digitsAt(u.word, 0) == 3 && len(u.word) == 3:
			return value + u.value, next + 1, false
		case len(u.word) < 3:
			return value, next + 1, true
		}
		return value, next, false
	}
	var room [longestRun]numeral
	run := numeralsAt(rd.tokens, next, false, room[:0])
	for n := len(run); n > 0; n-- {
		if rest, ok := oneNumber(run[:n]); ok && run[n-1].next > 0 && rest >= 100 && rest < 1000 && (n == len(run) || run[n].value < 1000) {
			return value + float64(rest), run[n-1].next, n < len(run)
		}
	}
	return value, next, len(run) > 0
}

// mixedWords takes an altitude that mixed reads, or asks about it; 0 where there
// is none.
func (rd *reading) mixedWords(i int) int {
	v, next, unsure := rd.mixed(i)
	if unsure {
		word := abbreviate(rd.typed(i, next-1))
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayNumberWords(word)})
		rd.lost(i, true)
		return next
	}
	if next == 0 {
		return 0
	}
	return rd.spelled(i, next, v, 0)
}
