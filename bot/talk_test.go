package bot_test

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"firn/bot"
	"firn/bot/reply"
)

// TestTalkChangesNothing: whatever thread there is, talk in it leaves the next
// follow-up as it was.
func TestTalkChangesNothing(t *testing.T) {
	starts := []string{"XKLD -38 8200 7400", "XKLD 38 8200", "-38 8200", "XKLD -38 FAF 7400 DA 5340", "XKLE -38 8200", "XKLD 8200", "garble", "brief XKLD", "XKLD -38 additive 80, DA 5340", "XKLD -38 FAF 7400 DA 5340 lnav", "XKLD -38 FAF 7400 8200 DA 5340"}
	follow := []string{"8200 is the IF", "not 5340", "remove the last one", "the middle one is the FAF", "dang its -43", "swap them", "5340 was right", "both", "keep it", "gs is back", "8000?", "additive 60", "-41", "minus", "add DA 5340", "XKLD", "8200", "why", "FAF 8000", "icao", "yes"}
	talk := []string{"dang", "woops", "thanks", "ok", "roger", "👍", "lol", "blah blah", "no", "help", "rules", "what about it", "nice one mate", "hmm", "hold on", "agreed thx"}
	talker = newBot(t)
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.SampledFrom(starts).Draw(t, "start")
		next := rapid.SampledFrom(follow).Draw(t, "follow-up")
		said := rapid.SliceOfN(rapid.SampledFrom(talk), 1, 3).Draw(t, "talk")
		quiet := state(talkTo(t, start, next))
		if got := state(talkTo(t, append(append([]string{start}, said...), next)...)); got != quiet {
			t.Fatalf("%q, then %q: %q, and after %q it is %q", start, next, quiet, said, got)
		}
	})
}

// TestCompleteStandsAlone: a message that is complete is read the same in any
// thread.
func TestCompleteStandsAlone(t *testing.T) {
	starts := []string{"XKLD -38 8200 7400", "XKLD 38 8200", "-38 8200", "XRUN -38 FAF 7400 DA 5340 icao", "XKLE -38 8200", "XKLD 8200", "why XKLD -38 9000", "brief XKLD", "XKLD -38 additive 80, DA 5340", "XKLD -38 FAF 7400 DA 5340 lnav"}
	whole := []string{"XKLD -38 DA 5340 remote", "XKLD -38 additive 60, DA 5340", "XKLD -38 FAF 8000 DA 5470", "XRUN -30 9000", "XKLD -41 FAF 8200, DA 5400", "-38 elev 4802 8200", "XKLD -38 8200 7400 icao", "why XRUN -30 9000", "ok and XRUN -30 9000 please", "XSLT -14 MDA 480"}
	talker = newBot(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.SampledFrom(whole).Draw(t, "message")
		before := rapid.SliceOfN(rapid.SampledFrom(starts), 1, 3).Draw(t, "before")
		alone, after := talkTo(t, text), talkTo(t, append(before, text)...)
		if state(alone) != state(after) || alone.Rules != after.Rules || len(alone.Working) != len(after.Working) {
			t.Fatalf("%q is %q alone, and %q behind %q", text, state(alone), state(after), before)
		}
	})
}

// TestOrdinaryWordsLoseNoThread: a word that is in no table, before a temperature,
// is no station: it is passed over or asked about, and what was there is there for
// the next message.
func TestOrdinaryWordsLoseNoThread(t *testing.T) {
	starts := map[string][]int{"XKLD -38 8200 7400": {8200, 7400}, "XKLD -38 FAF 7400 DA 5340": {7400, 5340}, "XRUN FAF 6400 -26": {6400}}
	words := []string{"dang", "flip", "bugger", "blimey", "ouch", "spec", "poof", "sapp", "fitte", "hopp", "oida", "puta", "zut"}
	forms := []string{"%s its -43", "%s -43", "%s now -43", "%s -43 now", "%s, -43", "well %s -43", "%s minus 43"}
	names := slices.Sorted(maps.Keys(starts))
	talker = newBot(t)
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.SampledFrom(names).Draw(t, "start")
		text := fmt.Sprintf(rapid.SampledFrom(forms).Draw(t, "form"), rapid.SampledFrom(words).Draw(t, "word"))
		if r := talkTo(t, start, text); r.Problem == nil && (r.Kind != reply.KindCorrection || r.TemperatureC.Value != -43 || r.Station.Ident != start[:4]) {
			t.Fatalf("%q behind %q: %s", text, start, state(r))
		}
		r := talkTo(t, start, text, "-44")
		for _, n := range starts[start] {
			if r.Station.Ident != start[:4] || r.TemperatureC.Value != -44 || !slices.ContainsFunc(r.Altitudes, func(a reply.Row) bool { return a.PublishedFt == float64(n) }) {
				t.Fatalf("%q, %q and then -44: %s", start, text, state(r))
			}
		}
	})
}

// TestFollowUpsLoseNothing: what is added to an answer is there with what was
// there before, or it is asked about.
func TestFollowUpsLoseNothing(t *testing.T) {
	starts := map[string][]int{"XKLD -38 8200 7400": {8200, 7400}, "XKLD -38 FAF 7400 DA 5340": {7400, 5340}, "XKLD -38 IF 8200 FAF 7400 missed 10200": {8200, 7400, 10200}, "XKLD -38 8200 7400 blah": {8200, 7400}}
	forms := []string{"and %d", "also %d", "step %d", "missed %d", "add %d", "%d too", "lnav/vnav as well %d", "plus %d", "and the missed %d hold", "iaf %d", "legg til %d", "und noch %d", "y %d", "if %d", "pt %d", "and IAF XADLO %d", "circling %d", "mins %d", "and lnav %d"}
	names := slices.Sorted(maps.Keys(starts))
	talker = newBot(t)
	rapid.Check(t, func(t *rapid.T) {
		start := rapid.SampledFrom(names).Draw(t, "start")
		said, want := []string{start}, slices.Clone(starts[start])
		for i := range rapid.IntRange(1, 3).Draw(t, "follow-ups") {
			n := rapid.IntRange(50, 130).Draw(t, fmt.Sprint("altitude ", i)) * 100
			said, want = append(said, fmt.Sprintf(rapid.SampledFrom(forms).Draw(t, fmt.Sprint("form ", i)), n)), append(want, n)
			r := talkTo(t, said...)
			if r.Problem != nil {
				return
			}
			for _, n := range want {
				if !slices.ContainsFunc(r.Altitudes, func(a reply.Row) bool { return math.Round(a.PublishedFt) == float64(n) }) {
					t.Fatalf("%q: %d is gone: %s", said, n, state(r))
				}
			}
		}
	})
}

// talkTo sends lines to a new thread and gives the last answer.
func talkTo(t *rapid.T, lines ...string) (r reply.Reply) {
	talks++
	for _, line := range lines {
		var err error
		if r, err = talker.Handle(context.Background(), bot.Message{Surface: "console", Thread: fmt.Sprint("talk ", talks), Text: line, At: noon}); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
	}
	return r
}

var (
	talker *bot.Bot
	talks  int
)
