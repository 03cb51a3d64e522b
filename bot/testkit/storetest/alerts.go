package storetest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"sync"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine/coldwatch"
)

func alertOnce(t *testing.T, s Store) {
	ctx := t.Context()
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	other := alert(1)
	other.Kind = watch.Amended
	other.Judgement.Low = -50
	fresh, err := s.Open(ctx, other, []outbox.Item{post(other, "slack:C1")})
	if fresh || err != nil {
		t.Errorf("Open again = %v, %v, want not fresh", fresh, err)
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "alerts", d.Alerts, []watch.Alert{alert(1)})
	same(t, "posts", keys(mustClaim(t, s, long, 10)), []string{"alert/XKLD/2026-01-15/1@page"})
}

func alertRace(t *testing.T, s Store) {
	const callers = 8
	for n := range 5 {
		a := alertOf(fmt.Sprintf("XK%02d", n), 1)
		var wg sync.WaitGroup
		fresh := make([]bool, callers)
		errs := make([]error, callers)
		for i := range callers {
			wg.Go(func() {
				fresh[i], errs[i] = s.Open(t.Context(), a, []outbox.Item{post(a, "page"), post(a, "slack:C1")})
			})
		}
		wg.Wait()
		won := 0
		for i := range callers {
			if errs[i] != nil {
				t.Errorf("Open: %v", errs[i])
			}
			if fresh[i] {
				won++
			}
		}
		if won != 1 {
			t.Errorf("%s was fresh %d times, want once", alertKeyOf(a), won)
		}
	}
	if got := len(mustClaim(t, s, long, 100)); got != 10 {
		t.Errorf("%d posts, want 10", got)
	}
}

func alertAllOrNothing(t *testing.T, s Store) {
	ctx := t.Context()
	broken := post(alert(1), "slack:C1")
	broken.Body.TemperatureC = reply.Some(math.NaN()) // has no JSON
	if fresh, err := s.Open(ctx, alert(1), []outbox.Item{post(alert(1), "page"), broken}); fresh || err == nil {
		t.Errorf("Open with a post that cannot be kept = %v, %v, want an error", fresh, err)
	}
	broken = post(alert(1), "slack:\x00")
	if fresh, err := s.Open(ctx, alert(1), []outbox.Item{post(alert(1), "page"), broken}); fresh || err == nil {
		t.Errorf("Open with a channel that is no text = %v, %v, want an error", fresh, err)
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the day after both", d, watch.Day{})
	same(t, "posts after both", keys(mustClaim(t, s, long, 10)), []string(nil))
	mustOpen(t, s, alert(1), post(alert(1), "page"), post(alert(1), "slack:C1"))
	if got := len(mustClaim(t, s, long, 10)); got != 2 {
		t.Errorf("%d posts, want 2", got)
	}
}

// alertCancelled cancels at moments spread over the time that Open takes.
func alertCancelled(t *testing.T, s Store) {
	start := time.Now()
	mustOpen(t, s, alert(1), post(alert(1), "page"), post(alert(1), "slack:C1"), post(alert(1), "slack:C2"))
	step := time.Since(start) / 20
	for i := range 40 {
		a := alert(i + 2)
		ctx, cancel := context.WithCancel(t.Context())
		timer := time.AfterFunc(time.Duration(i)*step, cancel)
		fresh, err := s.Open(ctx, a, []outbox.Item{post(a, "page"), post(a, "slack:C1"), post(a, "slack:C2")})
		timer.Stop()
		cancel()
		if err == nil && !fresh {
			t.Errorf("Open(%d) is not fresh", a.Seq)
		}
		if err != nil && (fresh || !errors.Is(err, context.Canceled)) {
			t.Errorf("Open(%d) = %v, %v, want context.Canceled", a.Seq, fresh, err)
		}
	}
	d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	b, err := s.Backlog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if b.Waiting != 3*len(d.Alerts) {
		t.Errorf("%d alerts and %d posts, want three each", len(d.Alerts), b.Waiting)
	}
}

func keyForEver(t *testing.T, s Store) {
	ctx := t.Context()
	p := post(alert(1), "page")
	mustOpen(t, s, alert(1), p, p) // a channel that is named twice
	mustHold(t, "Done", true)(s.Done(ctx, mustClaimOne(t, s, long), "ref", later))
	mustOpen(t, s, alert(2), p, post(alert(2), "page"))
	same(t, "posts of the second alert", keys(mustClaim(t, s, long, 10)), []string{"alert/XKLD/2026-01-15/2@page"})
	if fresh, err := s.Open(ctx, alert(1), []outbox.Item{p}); fresh || err != nil {
		t.Errorf("Open of an alert whose post is done = %v, %v, want not fresh", fresh, err)
	}
	same(t, "posts after all", keys(mustClaim(t, s, long, 10)), []string(nil))
}

func keyChannels(t *testing.T, s Store) {
	mustOpen(t, s, alert(1), post(alert(1), "page"), post(alert(1), "slack:C1"))
	claims := mustClaim(t, s, long, 10)
	same(t, "posts", keys(claims), []string{"alert/XKLD/2026-01-15/1@page", "alert/XKLD/2026-01-15/1@slack:C1"})
	mustHold(t, "Done of one", true)(s.Done(t.Context(), claims[0], "ref", later))
	mustHold(t, "Later of the other", true)(s.Later(t.Context(), claims[1], morning, "try again"))
	same(t, "posts that are left", keys(mustClaim(t, s, long, 10)), []string{"alert/XKLD/2026-01-15/1@slack:C1"})
}

func dayInOrder(t *testing.T, s Store) {
	ctx := t.Context()
	for _, seq := range []int{10, 2, 1, 9} {
		mustOpen(t, s, alert(seq))
	}
	elsewhere, tomorrow := alert(3), alert(4)
	elsewhere.Base, tomorrow.Day = "XKLE", "2026-01-16"
	mustOpen(t, s, elsewhere)
	mustOpen(t, s, tomorrow)
	acks := []watch.Ack{
		{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: "first", At: at(1)},
		{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: "second", At: at(2)},
		{Base: "XKLD", Day: "2026-01-15", Seq: 10, By: "third", At: at(3)},
	}
	for _, i := range []int{2, 0, 1} {
		mustHold(t, "Acknowledge", true)(s.Acknowledge(ctx, acks[i], nil))
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "alerts", d.Alerts, []watch.Alert{alert(1), alert(2), alert(9), alert(10)})
	same(t, "acks", d.Acks, acks)
	if d, err = s.Day(ctx, "XKLD", "2026-01-17"); err != nil {
		t.Fatal(err)
	}
	same(t, "a day of which nothing is known", d, watch.Day{})
}

func alertFields(t *testing.T, s Store) {
	a := fullAlert()
	full(t, "Alert", reflect.ValueOf(a))
	mustOpen(t, s, a)
	none := alert(4)
	none.Judgement.State = coldwatch.NoForecast
	mustOpen(t, s, none)
	want := []watch.Alert{a, none}
	for _, state := range []coldwatch.State{coldwatch.Clear, coldwatch.Near, coldwatch.Below, coldwatch.PartForecast} {
		one := alert(5 + int(state))
		one.Judgement.State = state
		mustOpen(t, s, one)
		want = append(want, one)
	}
	d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "alerts", d.Alerts, want)
}

func ackOnce(t *testing.T, s Store) {
	ctx := t.Context()
	a := watch.Ack{Base: "XKLD", Day: "2026-01-15", Seq: 1, By: "U1", At: at(1)}
	full(t, "Ack", reflect.ValueOf(a))
	told := func(key string) []outbox.Item {
		return []outbox.Item{{Key: key, Channel: "page", Made: at(1), Due: at(1)}}
	}
	mustHold(t, "Acknowledge", true)(s.Acknowledge(ctx, a, told("ack/XKLD/2026-01-15/1")))
	again := a
	again.At = at(2)
	mustHold(t, "Acknowledge again", false)(s.Acknowledge(ctx, again, told("ack/XKLD/2026-01-15/2")))
	posts, err := s.Claim(ctx, at(2), time.Minute, 10)
	if err != nil || len(posts) != 1 || posts[0].Key != "ack/XKLD/2026-01-15/1" {
		t.Errorf("the posts are %+v, %v; want those of the first acknowledgement", posts, err)
	}
	want := []watch.Ack{a}
	for i, change := range []func(*watch.Ack){
		func(a *watch.Ack) { a.By = "U2" },
		func(a *watch.Ack) { a.Seq = 2 },
	} {
		other := a
		other.At = at(3 + i)
		change(&other)
		mustHold(t, fmt.Sprintf("Acknowledge of %+v", other), true)(s.Acknowledge(ctx, other, nil))
		want = append(want, other)
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-15")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "acks", d.Acks, want)
}

func snooze(t *testing.T, s Store) {
	ctx := t.Context()
	for _, until := range []time.Time{at(60), at(90), at(30)} {
		for range 2 {
			if err := s.Snooze(ctx, "XKLD", "2026-01-15", until, "U1"); err != nil {
				t.Fatal(err)
			}
		}
		d, err := s.Day(ctx, "XKLD", "2026-01-15")
		if err != nil {
			t.Fatal(err)
		}
		same(t, "the day", d, watch.Day{SnoozedUntil: until})
	}
	d, err := s.Day(ctx, "XKLD", "2026-01-16")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "another day", d, watch.Day{})
}
