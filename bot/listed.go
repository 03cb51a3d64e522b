package bot

import (
	"fmt"
	"time"

	"firn/bot/airports"
	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/ruleset"
)

// places lets the message reader look stations up.
type places struct{ *config.Config }

// Place finds a station by ident or one-word name. A field that only a list
// knows is found by its ident, and not where the ident is a word of the trade or
// of the language: crews mean the word.
func (p places) Place(word string) (string, bool) {
	if s, ok := p.Named(word); ok && !p.Configured(word) {
		return s.Ident, true
	}
	s, ok := p.Station(word)
	if !ok || s.Listed != nil && parse.IsWord(word) {
		return "", false
	}
	return s.Ident, true
}

// Listed says that only a list of airports knows a field.
func (p places) Listed(ident string) bool { return !p.Configured(ident) }

// elevationOf is the field elevation of a station, where it is known.
func (b *Bot) elevationOf(ident string) (float64, bool) {
	s, ok := b.stations.Station(ident)
	if !ok || s.NoElevation() {
		return 0, false
	}
	return float64(s.Elevation), true
}

// elevate gives a field whose list has no elevation the one that was typed.
func elevate(s *config.Station, typed engine.Altitude, has bool) *parse.Problem {
	switch {
	case !s.NoElevation():
		return nil
	case !has:
		return &parse.Problem{Word: s.Ident, Text: fmt.Sprintf("The field elevation of %s is on no list; add it from the chart, as in “elev 4802”.", s.Ident)}
	}
	s.Elevation, s.SourceElevation = typed, typed
	return nil
}

// listFacts says where the elevation of a field that a list knows is from.
func listFacts(s *config.Station) []string {
	if s == nil || s.Listed == nil || s.NoElevation() {
		return nil
	}
	return []string{fmt.Sprintf("%s is not configured: elevation by %s.", s.Ident, s.Listed.From)}
}

// assumed says that a rule asked whether the field is mountainous, and that it
// is not known: the stricter reading was taken.
func assumed(set *ruleset.Set, res ruleset.Result, s *config.Station) []string {
	if s != nil && s.Mountainous != airports.NotKnown {
		return nil
	}
	for i := range res.Lines {
		if l := &res.Lines[i]; l.Required && set.Require[l.Rule].When.Mountainous {
			place := "the field"
			if s != nil {
				place = s.Ident
			}
			return []string{fmt.Sprintf("Whether %s lies in designated mountainous terrain is not known: the rule is taken as if it did.", place)}
		}
	}
	return nil
}

// evaluate is the rule set's word. For a field that is on no list of restricted
// ones nobody knows that no correction is required, however warm it is.
func evaluate(set *ruleset.Set, s *config.Station, in ruleset.Input) (ruleset.Result, error) {
	res, err := set.Evaluate(in)
	if s != nil && s.Listed != nil && s.Restriction == nil && !res.Required && set.AsksByRestriction() {
		res.Unknown = true
	}
	return res, err
}

// told puts into a reply what must be read beside the figures of its field.
func told(r *reply.Reply, set *ruleset.Set, res ruleset.Result, s *config.Station, at time.Time) {
	r.Notes = append(r.Notes, assumed(set, res, s)...)
	r.Notes = append(r.Notes, s.ListNotes(at)...)
	if facts := listFacts(s); len(facts) > 0 && len(r.Facts) > 0 {
		r.Facts = append(r.Facts[:1:1], append(facts, r.Facts[1:]...)...)
	}
}
