package bot_test

import (
	"context"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"firn/bot"
	"firn/bot/reply"
)

// TestTalkChangesNothing: whatever thread there is, talk in it leaves the next
// follow-up as it was.
func TestTalkChangesNothing(t *testing.T) {
	starts := []string{"XKLD -38 8200 7400", "XKLD 38 8200", "-38 8200", "XKLD -38 FAF 7400 DA 5340", "XKLE -38 8200", "XKLD 8200", "garble", "brief XKLD"}
	follow := []string{"-41", "minus", "add DA 5340", "XKLD", "8200", "why", "FAF 8000", "icao", "yes"}
	talk := []string{"thanks", "ok", "roger", "👍", "lol", "blah blah", "no", "help", "rules", "what about it", "nice one mate", "hmm"}
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
	starts := []string{"XKLD -38 8200 7400", "XKLD 38 8200", "-38 8200", "XRUN -38 FAF 7400 DA 5340 icao", "XKLE -38 8200", "XKLD 8200", "why XKLD -38 9000", "brief XKLD"}
	whole := []string{"XRUN -30 9000", "XKLD -41 FAF 8200, DA 5400", "-38 elev 4802 8200", "XKLD -38 8200 7400 icao", "why XRUN -30 9000", "ok and XRUN -30 9000 please", "XSLT -14 MDA 480"}
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
