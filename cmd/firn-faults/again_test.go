package main

import (
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/pgtest"
)

// storeStartsAgain has PostgreSQL start again under two replicas that get the
// same messages, and that would wait for it for six seconds if each message were
// not one's own: each has one answer, as soon as ever, and it says that it is not
// kept until it is.
func storeStartsAgain(t *testing.T) {
	t.Parallel()
	w := &weathered{T: t, total: newTally(), rnd: rand.New(rand.NewPCG(1, 8)), pg: pgtest.New(t), dir: t.TempDir(), began: time.Now()}
	w.now = faultClock(w.began, 0)
	w.open(1)
	for range cap(w.replicas) {
		r := &replica{w: w}
		r.start()
		w.replicas = append(w.replicas, r)
	}
	for _, r := range w.replicas {
		r.ready()
	}
	if !w.slack.Wait(20*time.Second, func() bool { return w.slack.Connections() == 2 && w.discord.Connected() == 2 }) {
		t.Fatal("they are not connected")
	}
	time.Sleep(2 * time.Second) // until each has read of the other
	w.people = newCrowd(w)
	const down = 2 * time.Second
	gone := make(chan error)
	go func() { gone <- w.pg.Restart(true, down) }()
	for end := time.Now().Add(time.Minute); len(w.column("SELECT 1")) > 0; time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) { // Restart waits for the server before it ends it
			t.Fatal("the database does not go away")
		}
	}
	time.Sleep(200 * time.Millisecond) // who was connected is cut off a little later than who comes
	for range 4 {
		for _, discord := range []bool{false, true} {
			w.people.ask(w.rnd, discord)
		}
	}
	took := make([]time.Duration, len(w.people.all))
	for left := len(took); left > 0; time.Sleep(5 * time.Millisecond) {
		for i, q := range w.people.all {
			cards, _ := card(w.people.answers(q))
			if took[i] > 0 || len(cards) == 0 {
				continue
			}
			left--
			if took[i] = time.Since(q.at); !strings.Contains(strings.ToLower(cards[0].text), "not kept") {
				t.Errorf("%q on Discord: %v has an answer that does not say that it is not kept:\n%s", q.text, q.discord, cards[0].text)
			}
		}
		if time.Since(w.people.all[0].at) > 30*time.Second {
			t.Fatalf("they are answered after %v", took)
		}
	}
	t.Logf("they are answered after %v", took)
	for i, q := range w.people.all {
		// Half of what the others wait: other tests keep this machine busy.
		if took[i] > 3*time.Second {
			t.Errorf("%q on Discord: %v is answered after %v", q.text, q.discord, took[i])
		}
	}
	if err := <-gone; err != nil {
		t.Fatal(err)
	}
	time.Sleep(time.Until(w.people.all[len(took)-1].at.Add(9 * time.Second))) // the others have looked
	store, err := openStore(t.Context(), w.dir, w.url)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	for _, q := range w.people.all {
		cards, _ := card(w.people.answers(q))
		if len(cards) != 1 {
			t.Errorf("%q on Discord: %v has %d answers", q.text, q.discord, len(cards))
			continue
		}
		if strings.Contains(strings.ToLower(cards[0].text), "not kept") {
			t.Errorf("%q on Discord: %v still says that it is not kept", q.text, q.discord)
		}
		if _, found, err := store.Record(t.Context(), recordName.FindString(cards[0].text)); err != nil || !found {
			t.Errorf("%q on Discord: %v is not in the record: %v", q.text, q.discord, err)
		}
	}
	for _, r := range w.replicas {
		r.kill(anyMoment)
	}
	if t.Failed() {
		for _, r := range w.replicas {
			t.Log(r.said.Tail())
		}
	}
	if err := w.slack.Close(); err != nil {
		t.Error(err)
	}
	w.discord.Close()
	w.wx.server.Close()
}
