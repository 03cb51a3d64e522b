package parse

// whereNow are the words before the altitude that an aeroplane has now, and that no
// chart shows: "passing 11000", "we're at 9000".
var whereNow = wordList("passing", "passing through", "leaving", "vacating", "level", "level at", "leveled at", "levelled at", "currently", "currently at", "out of", "out at", "inbound at", "cruising", "cruising at",
	"descending from", "descending through", "descending thru", "climbing through", "climbing thru", "climbing from", "down from",
	"im at", "i'm at", "i am at", "we're at", "we are at", "were at", "we are now at", "we're now at", "im level at", "we are level at", "we're level at", "we are level", "we're level",
	"wir sind auf", "wir sind in", "sind auf", "bin auf", "ich bin auf", "wir fliegen auf", "vi er pa", "vi er i", "er pa", "vi ligger pa", "jeg er pa",
	"nous sommes a", "on est a", "je suis a", "estamos a", "estamos en", "estoy a", "siamo a", "sono a")

// position is the last token of the altitude that the aeroplane has now, with the
// words for it from token i on; -1 where there is none. An altitude with a label
// behind it is the chart's: "leaving 9000 IAF".
func (rd *reading) position(i int) int {
	n := rd.longest(whereNow, i)
	if n == 0 && rd.wordAt(i) == "at" && rd.wordAt(i-1) == "out" { // "15 miles out at 9000"
		n = 1
	}
	if n == 0 || !rd.altitudeAt(i+n) || rd.behindLabel() {
		return -1
	}
	last := i + n
	if _, words := inWords(rd.tokens, last); words > 0 {
		last += words - 1
	}
	for rd.means(last+1) == feetWord || rd.means(last+1) == metreWord {
		last++
	}
	if next := last + 1; rd.means(next) == roleWord && !rd.figureFollows(next+rd.tags[next].n) {
		return -1
	}
	return last
}
