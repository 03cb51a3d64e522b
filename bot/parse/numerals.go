package parse

import "strings"

// numerals are numbers as people say and dictate them, with the spoken digits
// of ICAO Doc 4444, 12.2.4 (from memory), where they are words of their own;
// then the common ones of Norwegian, German, French and Spanish.
var numerals = map[string]int{
	"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
	"tree": 3, "fower": 4, "fife": 5, "niner": 9,
	"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
	"eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
	"eighty": 80, "ninety": 90, "hundred": 100, "thousand": 1000, "tousand": 1000,
}

// numeralsElsewhere are the common ones of Norwegian, German, French, Spanish
// and Italian.
var numeralsElsewhere = map[string]int{
	"tre": 3, "fem": 5, "seks": 6, "sju": 7, "syv": 7, "atte": 8, "ni": 9, "elleve": 11, "tolv": 12, "tretten": 13, "fjorten": 14, "femten": 15,
	"seksten": 16, "sytten": 17, "atten": 18, "nitten": 19, "tjue": 20, "tyve": 20, "tretti": 30, "tredve": 30, "forti": 40, "femti": 50, "seksti": 60,
	"sytti": 70, "atti": 80, "nitti": 90, "hundre": 100, "tusen": 1000,

	"null": 0, "zwei": 2, "zwo": 2, "drei": 3, "vier": 4, "funf": 5, "fuenf": 5, "sechs": 6, "sieben": 7, "acht": 8, "neun": 9, "zehn": 10, "elf": 11,
	"zwolf": 12, "zwoelf": 12, "dreizehn": 13, "vierzehn": 14, "funfzehn": 15, "fuenfzehn": 15, "sechzehn": 16, "siebzehn": 17, "achtzehn": 18,
	"neunzehn": 19, "zwanzig": 20, "dreissig": 30, "vierzig": 40, "funfzig": 50, "fuenfzig": 50, "sechzig": 60, "siebzig": 70, "achtzig": 80,
	"neunzig": 90, "hundert": 100, "tausend": 1000,

	"deux": 2, "trois": 3, "quatre": 4, "cinq": 5, "sept": 7, "huit": 8, "neuf": 9, "dix": 10, "onze": 11, "douze": 12, "treize": 13, "quatorze": 14,
	"quinze": 15, "seize": 16, "vingt": 20, "trente": 30, "quarante": 40, "cinquante": 50, "soixante": 60, "cent": 100, "cents": 100, "mille": 1000,

	"cero": 0, "dos": 2, "tres": 3, "cuatro": 4, "cinco": 5, "seis": 6, "siete": 7, "ocho": 8, "nueve": 9, "diez": 10, "doce": 12, "trece": 13,
	"catorce": 14, "quince": 15, "dieciseis": 16, "diecisiete": 17, "dieciocho": 18, "diecinueve": 19, "veinte": 20, "veinti": 20, "treinta": 30,
	"cuarenta": 40, "cincuenta": 50, "sesenta": 60, "cien": 100, "mil": 1000,

	"quattro": 4, "cinque": 5, "sette": 7, "otto": 8, "nove": 9, "dieci": 10, "undici": 11, "dodici": 12, "tredici": 13, "quattordici": 14, "quindici": 15,
	"sedici": 16, "diciassette": 17, "diciotto": 18, "diciannove": 19, "venti": 20, "ventuno": 21, "ventotto": 28, "trenta": 30, "trentuno": 31, "trentotto": 38,
	"quaranta": 40, "quarantuno": 41, "quarantotto": 48, "cinquanta": 50, "cento": 100,
}

// numeralOf is the number that a word stands for in one of the languages.
func numeralOf(w string) (v int, ok bool) {
	if v, ok = numerals[w]; !ok {
		v, ok = numeralsElsewhere[w]
	}
	return v, ok
}

// unsure are numbers that are other words, too: they count directly behind tens
// of their languages, and behind a minus all but the commonest words do.
var unsure = map[string]int{
	"en": 1, "ett": 1, "ein": 1, "eins": 1, "un": 1, "une": 1, "uno": 1, "una": 1, "to": 2, "fire": 4, "ti": 10, "once": 11,
}

// numeralJoins stand between tens and ones: treinta y uno, trente et un.
var numeralJoins = []string{"y", "et", "und", "og", "i"}

// longestRun is how many numerals in a row are looked at.
const longestRun = 32

// numeral is one word of a number, and the token behind it when it is the
// last of its own ("ninety-two" is one token), else 0.
type numeral struct{ value, next int }

func isTens(v int) bool { return v >= 20 && v <= 90 && v%10 == 0 }

// numeralsAt are the numerals that begin at token i, one behind the other.
// signed says that a minus stands before them.
func numeralsAt(tokens []token, i int, signed bool, into []numeral) []numeral {
	elsewhere := false // the number before is a word of another language than English
	for ; i < len(tokens) && tokens[i].kind == wordToken && len(into) < longestRun; i++ {
		from := len(into)
		if from > 0 && joinsNumerals(tokens, i, into) {
			continue
		}
		behind := elsewhere && isTens(into[from-1].value) || i+1 < len(tokens) && manyElsewhere(tokens[i+1].word)
		into = wordNumerals(tokens[i].word, behind || signed && from == 0 && tokens[i].word != "to" && tokens[i].word != "en", into)
		if len(into) == from {
			break
		}
		into[len(into)-1].next = i + 1
		_, elsewhere = numeralsElsewhere[tokens[i].word]
		into = ordered(into, from, tokens, i)
	}
	return into
}

// joinsNumerals says that the word at i stands between tens and ones, in
// whichever order a language has them.
func joinsNumerals(tokens []token, i int, into []numeral) bool {
	if !isJoin(tokens[i].word) || i+1 >= len(tokens) || tokens[i+1].kind != wordToken {
		return false
	}
	before, word := into[len(into)-1].value, tokens[i+1].word
	next, ok := numeralOf(word)
	if !ok {
		next, ok = unsure[word]
	}
	return ok && (isTens(before) && next > 0 && next < 10 || tokens[i].word == "und" && before > 0 && before < 10 && isTens(next))
}

// manyElsewhere says that a word is a hundred or a thousand of another language
// than English: what stands before it counts, "to hundre".
func manyElsewhere(w string) bool { return numeralsElsewhere[w] >= 100 }

// manyIn says that a word is a hundred or a thousand.
func manyIn(w string) bool {
	v, _ := numeralOf(fold(strings.ToLower(w)))
	return v >= 100
}

func isJoin(w string) bool {
	for _, j := range numeralJoins {
		if w == j {
			return true
		}
	}
	return false
}

// wordNumerals appends the numerals of one word: thirty, thirty-one, trente-et-un,
// trettien, achtunddreissig. unsureToo says that the first may be an unsure one.
func wordNumerals(w string, unsureToo bool, into []numeral) []numeral {
	from := len(into)
	for part := range strings.SplitSeq(w, "-") {
		at := len(into)
		v, ok := numeralOf(part)
		if !ok && (unsureToo && at == from || at > from && isTens(into[at-1].value)) {
			v, ok = unsure[part]
		}
		switch {
		case ok:
			into = append(into, numeral{value: v})
		case at > from && isJoin(part):
		default:
			if into = fusedNumerals(part, into); len(into) == at {
				return into[:from]
			}
		}
	}
	return into
}

// fusedNumerals appends the numerals of a word that is written without gaps;
// none where it is not all numerals.
func fusedNumerals(w string, into []numeral) []numeral {
	from := len(into)
	for rest := w; rest != ""; {
		at, n := len(into), min(len(rest), len("fuenfzehn"))
		for ; n > 1; n-- {
			v, ok := numeralOf(rest[:n])
			if !ok && (n == len(rest) || strings.HasPrefix(rest[n:], "und")) {
				v, ok = unsure[rest[:n]]
			}
			if ok {
				into = append(into, numeral{value: v})
				break
			}
		}
		if n <= 1 {
			return into[:from]
		}
		rest = rest[n:]
		last := into[at].value
		switch { // ein-und-dreissig, trettiogen, treintayuno
		case last < 10 && strings.HasPrefix(rest, "und"):
			tens := rest[len("und"):]
			k := len(tens)
			for k > 0 && !isTens(numeralsElsewhere[tens[:k]]) {
				k--
			}
			if k == 0 {
				return into[:from]
			}
			into = append(into[:at], numeral{value: numeralsElsewhere[tens[:k]]}, numeral{value: last})
			rest = tens[k:]
		case isTens(last) && rest != "" && (rest[0] == 'y' || rest[0] == 'i'):
			if _, ok := numeralOf(rest[1:]); ok || unsure[rest[1:]] > 0 {
				rest = rest[1:]
			}
		}
	}
	if len(into)-from < 2 {
		return into[:from]
	}
	return into
}

// ordered puts ones that stand before their tens behind them (acht und
// dreissig), and adds what French counts on from sixty and eighty.
func ordered(into []numeral, from int, tokens []token, i int) []numeral {
	n := len(into)
	if from == 0 || n != from+1 {
		return into
	}
	last, before := &into[n-1], &into[n-2]
	switch {
	case tokens[i-1].word == "und" && before.value < 10 && isTens(last.value):
		before.value, last.value = last.value, before.value
		before.next = 0
	case (tokens[i].word == "vingt" || tokens[i].word == "vingts") && tokens[i-1].word == "quatre":
		before.value, before.next = 80, last.next
		return into[:n-1]
	case (tokens[i-1].word == "soixante" || tokens[i-1].word == "vingt") && last.value >= 10 && last.value < 20 && before.value >= 60:
		before.value, before.next = before.value+last.value, last.next
		return into[:n-1]
	}
	return into
}
