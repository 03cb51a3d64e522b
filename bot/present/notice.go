package present

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"firn/bot/reply"
)

// NoticeMost is how much of a message a locked screen shows, in characters.
const NoticeMost = 150

// notice is headline, stop and the figures to fly, whole figures only:
// XKLD −38: 8200→8990, 7400→8000. Not checked. Figures that are not asked for are not
// shown without that: XKLD −20: no correction required; 8200→8680. Not checked.
func notice(r reply.Reply, d Document) string {
	if r.Problem == nil && len(r.Altitudes) > 0 && r.Kind == reply.KindCorrection {
		return cut(figures(r), NoticeMost) // names may be of any length
	}
	var words []string
	if r.Alert != nil && r.Alert.Ident != "" && r.Headline == "" {
		words = append(words, baseLine(r.Alert)+".") // it was stored without a headline: the figures before the sentence
	}
	for _, b := range d.Short {
		switch b := b.(type) {
		case Headline:
			text := b.Text
			if (r.Kind == reply.KindAlert || r.Kind == reply.KindDigest) && !strings.HasSuffix(text, ".") {
				text += "." // sentences follow
			}
			words = append(words, text)
		case Stop:
			words = append(words, b.Text)
		case Question:
			words = append(words, b.Text)
			if b.Try != "" {
				words = append(words, "Type: "+b.Try)
			}
		case Line:
			words = append(words, b.Text)
		case List:
			for i, line := range b.Lines {
				if i+1 < len(b.Lines) && !strings.HasSuffix(line, ".") {
					line += "."
				}
				words = append(words, line)
			}
		}
	}
	return cut(strings.Join(strings.Fields(strings.Join(words, " ")), " "), NoticeMost)
}

// figures is the notice of a correction.
func figures(r reply.Reply) string {
	text := r.Where() + " " + reply.Degrees(r.TemperatureC.Value)
	if holdsNoMore(r.Record) { // its figures are not to be flown
		return text + ": " + StateWord(r.Record.State) + "."
	}
	sep := ": "
	if word := unasked(r); word != "" {
		text += sep + word
		sep = "; "
	}
	if len(r.Stops) > 0 {
		text += sep + cut(r.Stops[0].Text, 70)
		sep = " "
	}
	end := ""
	if c := r.Record; c != nil {
		s := Document{}
		s.state(c)
		word := s.Short[0].(State).Word
		end = strings.ToUpper(word[:1]) + word[1:] + "."
	}
	var all []string
	for i := range r.Altitudes {
		if a := &r.Altitudes[i]; !a.NoAltitude && a.State != reply.StateNotUsable {
			all = append(all, published(a)+"→"+flown(a))
		}
	}
	for n := len(all); n > 0; n-- {
		some := text + sep + strings.Join(all[:n], ", ")
		if n < len(all) {
			some += fmt.Sprintf(", and %d more", len(all)-n)
		}
		if some += ". " + end; utf8.RuneCountInString(some) <= NoticeMost {
			return strings.TrimSpace(some)
		}
	}
	return strings.TrimSpace(strings.TrimSuffix(text, ".") + ". " + end)
}

// unasked is the verdict of a correction that is not required, or of which nobody
// knows; empty where it is.
func unasked(r reply.Reply) string {
	if r.Required == reply.Yes {
		return ""
	}
	if len(r.Stops) > 0 { // the headline says what stops
		r.Headline = ""
	}
	_, verdict, _ := strings.Cut(headline(r), ": ")
	return verdict
}
