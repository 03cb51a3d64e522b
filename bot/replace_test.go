package bot_test

import (
	"testing"
	"testing/synctest"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/record"
	"firn/engine"
)

// twoApproaches are to one runway, with other altitudes.
func twoApproaches() []approach.Approach {
	one := func(code, name string, kind approach.Kind, letter string, faf engine.Altitude) approach.Approach {
		a := approach.Approach{Ident: "XKLD", Code: code, Name: name, Title: approach.Title{Kind: kind, Runway: "31", Letter: letter}, Legs: []approach.Leg{
			{Route: approach.FinalRoute, Fix: "XIRTU", Role: approach.FinalFix, Limit: approach.AtOrAbove, Altitude: faf},
			{Route: approach.MissedRoute, Fix: "XORLI", Role: approach.MissedHold, Limit: approach.AtOrAbove, Altitude: 10200},
		}}
		a.Settle()
		return a
	}
	return []approach.Approach{one("R31", "rnav 31", approach.RNAV, "", 7400), one("H31-Z", "rnp z 31", approach.RNP, "Z", 7600)}
}

// A full question stands alone, and so does one about another approach: the
// card before stays, with its check. A scrap about the same takes its place.
func TestAnotherApproachReplacesNothing(t *testing.T) {
	for _, tt := range []struct {
		name, next string
		want       record.State // of the card before
	}{
		{"a full question about another approach", "XKLD rnp z 31 -38", record.Checked},
		{"a full question about the same", "XKLD rnav 31 -41", record.Checked},
		{"another approach by its name alone", "rnp z 31", record.Checked},
		{"a temperature alone", "-41", record.Replaced},
		{"station and temperature", "XKLD -41", record.Replaced},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newRoom(t, record.Settings{})
				r.bot.Use(bot.Ports{Book: r.book, Observer: r, Procedures: approach.NewCatalog(twoApproaches(), nil)})
				first := r.name(r.says("anna", "t", "XKLD rnav 31 -38"))
				r.says("bo", "t", "check "+first)
				r.state(first, record.Checked)
				out := r.says("anna", "t", tt.next)
				if id := r.name(out); id == first {
					t.Errorf("the answer is %s itself", first)
				}
				r.state(first, tt.want)
				if replaces := r.state(r.name(out), record.Unchecked).Replaces; (replaces == first) != (tt.want == record.Replaced) {
					t.Errorf("the answer replaces %q", replaces)
				}
			})
		})
	}
}
