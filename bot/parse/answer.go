package parse

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"firn/engine/procedure"
)

// Pick takes one of the answers that a question names by where it stands, by its
// size, or by what is to become of it, and not by its name.
type Pick uint8

// The picks; NoPick is the zero value.
const (
	NoPick Pick = iota
	First
	Second
	Third
	Last
	Other   // of two, the one that was named last
	Lower   // also the colder
	Higher  // also the warmer
	Middle  // of three
	Both    // all that were named
	Neither // none of them
	New     // what was typed now, in place of what is there
	Old     // what is there
	Drop    // what was asked about is left out
)

// pickWords are common ones of five languages. They choose only where a question
// names what can be chosen, and are small or unknown words elsewhere.
var pickWords = [...][]string{
	First:   {"first", "1st", "former", "forste", "erste", "erster", "ersten", "erstes", "premier", "premiere", "1er", "1ere", "primero", "primera", "primer", "primo", "prima"},
	Second:  {"second", "2nd", "andre", "zweite", "zweiter", "zweiten", "zweites", "deuxieme", "seconde", "segundo", "segunda", "secondo"},
	Third:   {"third", "3rd", "tredje", "dritte", "dritten", "troisieme", "tercero", "tercera"},
	Middle:  {"middle", "middle one", "mid one", "midterste", "mellomste", "mittlere", "mittleren", "milieu", "medio", "del medio", "mezzo"},
	Last:    {"last", "latter", "siste", "letzte", "letzten", "letzter", "dernier", "derniere", "ultimo", "ultima"},
	Other:   {"other", "other one", "l'autre", "autre", "das andere", "otro", "otra"},
	Lower:   {"bottom", "bottom one", "lower", "lowest", "low one", "smaller", "colder", "coldest", "cold side", "lavere", "laveste", "kaldere", "kaldeste", "niedriger", "niedrigere", "niedrigste", "tiefere", "tiefste", "kalter", "kaltere", "kalteste", "plus bas", "plus basse", "plus froid", "plus froide", "mas bajo", "mas baja", "mas frio", "mas fria", "menor"},
	Higher:  {"top", "top one", "upper", "upper one", "higher", "highest", "high one", "bigger", "larger", "warmer", "warmest", "warm side", "hoyere", "hoyeste", "varmere", "varmeste", "hoher", "hohere", "hochste", "warmere", "warmste", "plus haut", "plus haute", "plus chaud", "plus chaude", "mas alto", "mas alta", "mas calido", "mayor"},
	Both:    {"both", "all", "all of them", "begge", "begge to", "beide", "les deux", "tous les deux", "ambos", "ambas", "los dos", "las dos", "entrambi", "alle"},
	Neither: {"neither", "none", "none of them", "ingen", "ingen av dem", "keine", "keiner", "keins", "keines", "weder noch", "aucun", "aucune", "ni l'un ni l'autre", "ninguno", "ninguna"},
	New:     {"new", "new one", "new value", "instead", "replace", "replace it", "replaces", "replaced", "replace that", "swap", "swap it", "change", "change it", "overwrite", "mine", "my figure", "typed", "what i typed", "as typed", "use mine", "erstatt", "bytt", "bytt ut", "nye", "den nye", "ersetzen", "ersetze", "neu", "neue", "neuer", "neuen", "remplace", "remplacer", "nouveau", "nouvelle", "reemplaza", "reemplazar", "nuevo", "nueva", "cambiar"},
	Old:     {"old", "old one", "keep", "keep it", "keep that", "keep mine", "keep ours", "stick with mine", "stay with mine", "leave it", "stays", "stay", "as it is", "as it was", "unchanged", "behold", "gamle", "den gamle", "behalten", "alte", "alten", "garde", "garder", "ancien", "ancienne", "mantener", "viejo", "vieja", "anterior"},
	Drop:    {"drop", "drop it", "drop that", "drop that one", "leave out", "leave it out", "leave that out", "remove", "remove it", "remove that", "delete it", "skip", "skip it", "skip that", "lose it", "take it out", "without", "without it", "forget that one", "not needed", "ta bort", "fjern", "fjern den", "uten", "dropp", "dropp den", "weglassen", "lass weg", "ohne", "enleve", "enlever", "sans", "quita", "quitalo", "sin"},
}

// pick is a phrase that picks, as its words.
type pick struct {
	words []string
	Pick
}

// picks are all that pick, by their first word.
var picks = func() map[string][]pick {
	out := map[string][]pick{}
	for p, list := range pickWords {
		for _, s := range list {
			words := strings.Fields(fold(s))
			out[words[0]] = append(out[words[0]], pick{words, Pick(p)})
		}
	}
	return out
}()

// Answer is a message read as an answer to a question that names its answers.
type Answer struct {
	Pick    Pick
	Figures []string // without their unit
	Words   []string // folded; idents for the names of stations, letters for how they are said, "yes" and "no"
	Weighty []string // those of them that say something of their own
	Slot    Altitude // that label
	Label   bool     // it has one label of an altitude
	Said    string   // of Slot, as it was typed
	Thanks  bool     // it is talk, too
	Vague   bool     // it says what one of them is, and not which is taken: "the first is in lieu"
	Asks    bool     // it is a question
	Not     bool     // it says what it is not
	Drops   Pick     // which of several it takes away, and then nothing else: "remove that last one"
	Else    bool     // it says more than an answer does
}

// Alone says that an answer is a pick and nothing else.
func (a Answer) Alone() bool {
	return a.Pick != NoPick && !a.Else && !a.Thanks && len(a.Figures)+len(a.Weighty) == 0
}

// Points says that an answer points at one of several by where it stands, or by
// its size, and says nothing else.
func (a Answer) Points() bool {
	return a.Alone() && (a.Pick <= Middle || a.Pick == Both)
}

// Keeps says that an answer keeps what there is, or was, and says nothing else.
func (a Answer) Keeps() bool {
	return a.Pick == Old && !a.Else && !a.Thanks && !a.Asks && len(a.Figures) == 0 && !slices.ContainsFunc(a.Weighty, func(w string) bool { return w != "yes" && w != "no" })
}

// Both says that an answer takes both, and says nothing else.
func (a Answer) Both() bool {
	return a.Pick == Both && !a.Else && !a.Thanks && len(a.Figures) == 0 && !slices.ContainsFunc(a.Weighty, func(w string) bool { return w != "yes" && w != "no" })
}

// ByChart says that an answer leaves it at what the chart has: "chart is right",
// "as published".
func (a Answer) ByChart() bool {
	chart := func(w string) bool { return slices.Contains(ChartWords, w) }
	if !a.Asks && len(a.Figures) == 0 && a.Notam() {
		return a.NotamEnded()
	}
	return !a.Else && !a.Thanks && !a.Asks && len(a.Figures) == 0 && (a.Pick == NoPick || a.Pick == Old) && slices.ContainsFunc(a.Words, chart) &&
		!slices.ContainsFunc(a.Weighty, func(w string) bool {
			return !chart(w) && !(a.Label && w == a.Said) && !slices.Contains([]string{"yes", "no", "right", "correct", "use", "trust", "go", "stick", "riktig", "richtig", "stimmt", "correcta", "correcto", "bonne", "juste", "back"}, w)
		})
}

// ChartWords are what crews call the chart.
var ChartWords = []string{"chart", "chart's", "charts", "charted", "published", "plate", "kartet", "karte", "carte", "carta"}

// Labels says which of the altitudes, from 0 on, an answer gives a label: "the first
// is the FAF", "the lowest is the DA"; -1 where it gives none.
func (a Answer) Labels(list []Altitude) int {
	switch {
	case !a.OnlyLabel() || a.Thanks || a.Slot.Role == 0:
		return -1
	case (a.Pick == Lower || a.Pick == Higher) && len(list) > 1:
		at := 0
		for i := range list {
			if (list[i].Feet() < list[at].Feet()) == (a.Pick == Lower) && list[i].Feet() != list[at].Feet() {
				at = i
			}
		}
		return at
	case a.Pick == Other:
		return onlyBare(list)
	}
	return a.Pick.Place(len(list))
}

// Place is which of n things a pick takes by where it stands, from 0 on; -1 where it
// takes none so.
func (p Pick) Place(n int) int {
	at := -1
	switch {
	case p >= First && p <= Third:
		at = int(p - First)
	case p == Last:
		at = n - 1
	case p == Middle && n == 3:
		at = 1
	}
	if at >= n {
		return -1
	}
	return at
}

// Denies says that an answer says of one figure that it is not so, and nothing else:
// "not 5430".
func (a Answer) Denies() bool {
	return a.Not && !a.Else && a.Pick == NoPick && len(a.Figures) == 1 && len(a.Weighty) == 1
}

// OnlyLabel says that an answer is the label of an altitude and nothing else: a
// message that says more stands for itself.
func (a Answer) OnlyLabel() bool {
	return a.Label && !a.Else && a.Pick != Drop && len(a.Figures) == 0 && len(a.Weighty) == 1
}

// mostAnswered is the longest answer, in words and figures: longer ones say more.
const mostAnswered = 7

// Answer reads a message as an answer.
func (r *Reader) Answer(text string) (a Answer) {
	if len(text) > MaxBytes {
		return Answer{Else: true}
	}
	s, p := clean(text)
	if p != nil {
		return Answer{Else: true}
	}
	rd := reading{Reader: r, req: &Request{}, text: s, tokens: lex(s, lowerASCII(s))}
	rd.tag()
	n := 0
	a.Asks = strings.Contains(s, "?")
	for i := 0; i < len(rd.tokens); i++ {
		switch t := rd.tokens[i]; t.kind {
		case sepToken, bindToken:
			continue
		case numberToken:
			a.Else = a.Else || t.sign != 0 || t.unit == celsiusUnit || t.unit == fahrenheitUnit
			a.Figures = append(a.Figures, strconv.FormatFloat(t.value, 'f', -1, 64))
		case wordToken:
			if n := rd.tags[i].n; n > 1 && rd.means(i) == thanks { // "all good"
				a.Thanks = true
				i += n - 1
				break
			}
			if p, words := picked(rd.tokens[i:]); words > 0 {
				if a.Else = a.Else || a.Pick != NoPick && a.Pick != p; a.Pick == Drop && p.Place(3) >= 0 {
					a.Drops = p
				}
				a.Pick = p
				for _, w := range rd.tokens[i : i+words] {
					a.Words = append(a.Words, w.word)
				}
				i += words - 1
				if next := i + 1; p <= Last && next < len(rd.tokens) && slices.Contains(isWords, rd.wordAt(next)) {
					a.Vague = true
				}
				break
			}
			rd.answering(&a, i)
			if m := rd.means(i); m == addWord || m == changeWord || m == notWord {
				i += rd.tags[i].n - 1 // "one more", "i mean"
			}
		default:
			a.Else = true
		}
		n++
	}
	a.Else = a.Else || n > mostAnswered
	return a
}

// isWords stand between a thing and what it is.
var isWords = []string{"is", "er", "ist", "est", "es", "was"}

// answering puts the word at i into the answer.
func (rd *reading) answering(a *Answer, i int) {
	labelled := slices.ContainsFunc(rd.tags[:i], func(t tag) bool { return t.n > 0 && (t.meaning == roleWord || t.meaning == lineWord) })
	t := rd.tokens[i]
	word := t.word
	if ident, ok := rd.places.Place(rd.text[t.start:t.end]); ok && (len(rd.tokens) == 1 || !rd.isSmall(i)) {
		word = strings.ToLower(ident)
	}
	switch m := rd.means(i); {
	case m == addWord:
		word = "add"
	case m == thanks && slices.Contains([]string{"ok", "okay", "okey", "oki", "k", "kk"}, t.word):
		return // "ok both": agreed, and no thanks
	case m == thanks:
		a.Thanks = true
	case m == roleWord || m == lineWord:
		a.Label = !labelled
		a.Said = t.word
		a.Slot = Altitude{Role: rd.tags[i].role, Label: rd.tags[i].label, Bare: true}
	case m == letterWord:
		word = rd.tags[i].label
	case m == notWord:
		a.Not = true
	case word == "zulu":
		word = "z"
	case m == yesWord && len(word) > 1:
		word = "yes"
	case m == noWord:
		word = "no"
	}
	a.Words = append(a.Words, word)
	if m := rd.means(i); word == t.word && (rd.isSmall(i) || rd.covered(i) || m == feetWord || m == inWord || m == andWord || m == changeWord && rd.tags[i].label != "change") {
		return
	}
	a.Weighty = append(a.Weighty, word)
}

// picked is the longest phrase that picks at the beginning of tokens, and how
// many words it has.
func picked(tokens []token) (p Pick, n int) {
	for _, c := range picks[tokens[0].word] {
		if len(c.words) > n && begins(tokens, c.words) {
			p, n = c.Pick, len(c.words)
		}
	}
	return p, n
}

// Choose gives the choice that an answer takes; ok is false where it takes none
// of them, or more than one. asked are the word and the figure that the question
// was about, which an answer may repeat.
func (a Answer) Choose(list []Choice, asked ...string) (c Choice, ok bool) {
	if a.Else || a.Vague && len(a.Weighty) > 0 || len(list) == 0 {
		return c, false
	}
	figures := slices.DeleteFunc(slices.Clone(a.Figures), func(f string) bool {
		return slices.Contains(asked, f) && !slices.ContainsFunc(list, func(c Choice) bool { return c.Figure == f })
	})
	covers := func(c *Choice) bool {
		return !slices.ContainsFunc(a.Weighty, func(w string) bool {
			return w != "yes" && w != "no" && !slices.Contains(asked, w) && !slices.Contains(c.Words, w)
		}) &&
			!slices.ContainsFunc(figures, func(f string) bool { return f != c.Figure && !slices.Contains(c.Words, f) })
	}
	var named, whole []Choice
	for _, c := range list {
		says := func(w string) bool { return slices.Contains(a.Words, w) || slices.Contains(figures, w) }
		if !covers(&c) || !slices.ContainsFunc(c.Words, says) && (len(figures) == 0 || c.Figure != figures[0]) {
			continue
		}
		named = append(named, c)
		if !slices.ContainsFunc(c.Words, func(w string) bool { return !says(w) }) {
			whole = append(whole, c) // "lnav", where there is lnav/vnav too
		}
	}
	switch {
	case a.Pick == Drop && len(named) == 1 && !slices.Contains(named[0].Picks, Drop):
		return a.butFor(named[0], list)
	case len(named) == 1:
		return named[0], true
	case len(whole) == 1:
		return whole[0], true
	case len(named) > 1:
		return c, false
	}
	if len(figures) > 0 || slices.ContainsFunc(a.Weighty, func(w string) bool { return w != "yes" && w != "no" }) {
		return c, false
	}
	return a.Pick.of(list)
}

// butFor is what is left of two figures where an answer drops one of them: "drop 5350".
// What a question does not ask about is no answer to it: "drop the step" behind "What is
// 5350: DA, step, or one more altitude?".
func (a Answer) butFor(dropped Choice, list []Choice) (c Choice, ok bool) {
	if len(list) != 2 || len(a.Figures) != 1 || dropped.Figure != a.Figures[0] {
		return c, false
	}
	for _, c := range list {
		if c.Figure != "" && c.Figure != dropped.Figure {
			return c, true
		}
	}
	return c, false
}

// of is the choice that a pick takes.
func (p Pick) of(list []Choice) (c Choice, ok bool) {
	for _, c := range list {
		if slices.Contains(c.Picks, p) {
			return c, true
		}
	}
	list = slices.DeleteFunc(slices.Clone(list), func(c Choice) bool { return c.Aside })
	n := len(list)
	at := p.Place(n)
	switch {
	case p == Other && n == 2:
		at = 1
	case (p == Lower || p == Higher) && !slices.ContainsFunc(list, func(c Choice) bool { return c.Value == 0 }):
		for i, c := range list {
			if at < 0 || (c.Value < list[at].Value) == (p == Lower) {
				at = i
			}
		}
	}
	if at < 0 || at >= n {
		return c, false
	}
	return list[at], true
}

// With is the request with what a choice says besides, once the question with
// the given text is answered by it.
func (r Request) With(c Request, text string) Request {
	r.Altitudes, r.Gone = slices.Clone(r.Altitudes), slices.Clone(r.Gone)
	r.Open = slices.DeleteFunc(slices.Clone(r.Open), func(p Problem) bool { return p.Text == text })
	if len(r.Open) == 0 {
		r.Open = nil
	}
	if c.Station != "" {
		r.Station, r.Elsewhere, r.HasElevation = c.Station, false, false
	}
	if c.HasTemperature {
		r.amendTemperature(c)
	}
	if signed, ok := r.Signed(c.Sign); ok {
		r = signed
	}
	if c.Rules != "" {
		r.Rules = c.Rules
	}
	if c.SBAS != "" {
		r.SBAS = c.SBAS
	}
	if c.Compensated != "" {
		r.Compensated = c.Compensated
	}
	r.Also, r.Instead = r.Also || c.Also, r.Instead || c.Instead
	if len(c.Gone) == 1 && len(c.Altitudes) == 1 && slices.ContainsFunc(r.Altitudes, c.Gone[0].matches) {
		r.Altitudes = exchange(r.Altitudes, c.Gone[0], c.Altitudes[0])
		return r.timed(c.At)
	}
	for _, g := range c.Gone {
		if slices.ContainsFunc(r.Altitudes, g.matches) {
			r.Altitudes = without(r.Altitudes, []Altitude{g})
		} else {
			r.Gone = append(r.Gone, g)
		}
	}
	for _, a := range c.Altitudes {
		at := slices.IndexFunc(r.Altitudes, func(have Altitude) bool {
			return have.same(a) || a.Role != procedure.NoRole && have.SameLabel(a) && have.Fix == a.Fix
		})
		if at < 0 {
			r.Altitudes = append(r.Altitudes, a)
			continue
		}
		if have := r.Altitudes[at]; a.Role == procedure.NoRole && a.same(have) {
			a.Fix = cmp.Or(a.Fix, have.Fix)
			a.Role, a.Label, a.From, a.Meaning, a.Upper = have.Role, have.Label, have.From, have.Meaning, have.Upper
		}
		r.Altitudes[at] = a
	}
	return r.timed(c.At)
}

// timed is a request of which a figure turned out to be a time: of an arrival,
// where it is about nothing else, else it is not used.
func (r Request) timed(c Clock) Request {
	switch {
	case !c.Said:
	case len(r.Altitudes) == 0 && !r.HasTemperature && r.Station != "" && r.Verb == Correct:
		return Request{Verb: Brief, Stops: []Stop{{Station: r.Station, Procedure: r.Procedure, At: c, By: r.Terms()}}}
	default:
		r.NotUsed = append(slices.Clone(r.NotUsed), c.String())
	}
	return r
}

// two are the choices between two figures of one label, the first and the second
// that was said; with keep the first is what is there already.
func two(slot, first, second Altitude, keep bool) []Choice {
	choice := func(a Altitude, picks ...Pick) Choice {
		a.Role, a.Label, a.Fix, a.From = slot.Role, slot.Label, slot.Fix, slot.From
		return Choice{Figure: strconv.FormatFloat(a.Value, 'f', -1, 64), Value: float64(a.Feet()), Picks: picks, Next: &Request{Altitudes: []Altitude{a}, Instead: true}}
	}
	if !keep {
		return []Choice{choice(first), choice(second, New)}
	}
	return []Choice{choice(first, Old), choice(second, New)}
}
