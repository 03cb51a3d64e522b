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
