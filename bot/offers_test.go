package bot_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
)

// Records are offered that are open and that the log would show to the person at
// the place: another person's direct results never.
func TestOfferRecords(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{Linked: [][]string{{"slack:BO", "discord:7"}}})
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Team: &board{channels: []string{"slack:C1"}}})
		own := r.name(r.says("anna", "t1", "XKLD -38 8200"))
		brun := r.name(r.says("bo", "t2", "XRUN -30 FAF 6200"))
		direct := r.name(r.directly("bo", "XKLD -31 7400"))
		checked := r.name(r.says("cara", "t3", "XKLD -28 8200"))
		r.says("bo", "t3", "check")
		differs := r.name(r.says("cara", "t4", "XKLD -29 8200"))
		r.says("anna", "t4", "check "+differs+" 8300")
		r.says("cara", "t5", "XKLD -38 8200")
		before := r.name(r.says("cara", "t6", "XKLD -40 8200"))
		after := r.name(r.says("cara", "t6", "-41"))
		_ = r.says("cara", "t7", "XKLD -38")

		offered := func(person string, direct, toCheck bool, typed string, n int) (ids []string) {
			t.Helper()
			all, err := r.bot.OfferRecords(t.Context(), bot.Message{Surface: "slack", Person: person, Direct: direct, At: time.Now()}, toCheck, typed, n)
			if err != nil {
				t.Fatal(err)
			}
			for _, o := range all {
				if !strings.HasPrefix(o.Label, o.Value+": ") || strings.Contains(o.Label, " to ") {
					t.Errorf("%s is labelled %q", o.Value, o.Label)
				}
				ids = append(ids, o.Value)
			}
			return ids
		}
		for _, c := range []struct {
			person  string
			direct  bool
			toCheck bool
			typed   string
			n       int
			first   []string
			never   []string
		}{
			{"slack:ANNA", false, false, "", 25, []string{after}, []string{direct, checked, before, differs}},
			{"slack:ANNA", false, true, "", 25, []string{after}, []string{direct, checked, before, differs, own}},
			{"slack:ANNA", true, false, "", 25, []string{after}, []string{direct}},
			{"slack:BO", true, false, strings.ToLower(direct[:6]), 25, []string{direct}, []string{own, brun}},
			{"slack:BO", false, false, direct, 25, nil, []string{direct}}, // all read the answer
			{"discord:7", true, true, "", 25, []string{after}, []string{direct, brun}},
			{"slack:CARA", false, true, "XRUN", 25, []string{brun}, []string{own, after}},
			{"slack:CARA", false, true, "anna", 25, []string{own}, []string{brun, after}},
			{"slack:CARA", false, false, "", 1, []string{brun}, []string{own}},
			{"slack:CARA", false, false, "zzzz", 25, nil, []string{own, brun, after}},
		} {
			got := offered(c.person, c.direct, c.toCheck, c.typed, c.n)
			what := fmt.Sprintf("%s, direct %v, to check %v, typed %q", c.person, c.direct, c.toCheck, c.typed)
			if len(got) < len(c.first) || !slices.Equal(got[:len(c.first)], c.first) || len(got) > c.n || c.first == nil && got != nil {
				t.Errorf("%s: offered %v, want %v first", what, got, c.first)
			}
			for _, id := range c.never {
				if slices.Contains(got, id) {
					t.Errorf("%s: %s is offered", what, id)
				}
			}
		}
		if all := offered("slack:ANNA", false, false, "", 25); all[len(all)-1] != own || !slices.Contains(all, brun) {
			t.Errorf("offered %v, want the own %s behind the others", all, own)
		}
	})
}
