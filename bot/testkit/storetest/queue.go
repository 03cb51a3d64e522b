package storetest

import (
	"context"
	"fmt"
	"reflect"
	"sync"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/weather"
)

// fill opens an alert with one post for each of n bases; the posts' due times
// go back in time, so that the order of writing is not the order of due.
func fill(t testing.TB, s Store, n int) {
	t.Helper()
	for i := range n {
		a := alertOf(fmt.Sprintf("XK%02d", i+1), 1)
		p := post(a, "page")
		p.Due = morning.Add(-time.Duration(i) * time.Second)
		mustOpen(t, s, a, p)
	}
}

func claimOrder(t *testing.T, s Store) {
	fill(t, s, 5)
	want := []string{
		"alert/XK05/2026-01-15/1@page", "alert/XK04/2026-01-15/1@page", "alert/XK03/2026-01-15/1@page",
		"alert/XK02/2026-01-15/1@page", "alert/XK01/2026-01-15/1@page",
	}
	got := keys(mustClaim(t, s, long, 2))
	same(t, "the first two", got, want[:2])
	same(t, "the others", keys(mustClaim(t, s, long, 10)), want[2:])
}

func claimDue(t *testing.T, s Store) {
	p := post(alert(1), "page")
	full(t, "Item", reflect.ValueOf(outbox.Item{Key: p.Key, Channel: p.Channel, Body: fullReply(), Made: p.Made, Due: p.Due}))
	p.Made, p.Due = at(1), at(2)
	mustOpen(t, s, alert(1), p)
	claims, err := s.Claim(t.Context(), at(2).Add(-time.Microsecond), long, 10)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "a microsecond early", keys(claims), []string(nil))
	if claims, err = s.Claim(t.Context(), at(2), long, 10); err != nil {
		t.Fatal(err)
	}
	same(t, "in time", claims, []outbox.Claim{{Item: p, Attempt: 1}})
}

func claimLimit(t *testing.T, s Store) {
	fill(t, s, 7)
	for _, c := range []struct{ limit, want int }{{0, 0}, {-1, 0}, {1, 1}, {5, 5}, {5, 1}, {5, 0}} {
		if got := len(mustClaim(t, s, long, c.limit)); got != c.want {
			t.Errorf("Claim with limit %d gave %d, want %d", c.limit, got, c.want)
		}
	}
}

func claimExclusive(t *testing.T, s Store) {
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	if c := mustClaimOne(t, s, long); c.Attempt != 1 {
		t.Errorf("attempt %d, want 1", c.Attempt)
	}
	for range 3 {
		same(t, "claimed under a lease", keys(mustClaim(t, s, long, 10)), []string(nil))
	}
	// The lease does not run by the caller's clock.
	claims, err := s.Claim(t.Context(), later.AddDate(10, 0, 0), long, 10)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "claimed by a clock that is ahead", keys(claims), []string(nil))
}

// reclaim waits until the one item's lease has ended and another claims it.
func reclaim(t testing.TB, s Store, lease time.Duration) outbox.Claim {
	t.Helper()
	var c outbox.Claim
	soon(t, "a lease that ends", func() bool {
		claims := mustClaim(t, s, lease, 10)
		if len(claims) == 1 {
			c = claims[0]
		}
		return len(claims) == 1
	})
	return c
}

func claimExpired(t *testing.T, s Store) {
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	start := time.Now()
	mustClaimOne(t, s, short)
	for want := 2; want <= 4; want++ {
		if c := reclaim(t, s, short); c.Attempt != want {
			t.Errorf("attempt %d, want %d", c.Attempt, want)
		}
	}
	// A database that counts in milliseconds may end a lease by one early.
	if took := time.Since(start); took < 3*(short-time.Millisecond) {
		t.Errorf("three leases of %v ended in %v", short, took)
	}
}

func claimStale(t *testing.T, s Store) {
	ctx := t.Context()
	p := post(alert(1), "page")
	p.Body = fullReply()
	mustOpen(t, s, alert(1), p)
	stale := mustClaimOne(t, s, short)
	held := reclaim(t, s, long)
	mustHold(t, "Done of a stale claim", false)(s.Done(ctx, stale, "stale", later))
	mustHold(t, "Later of a stale claim", false)(s.Later(ctx, stale, later.AddDate(1, 0, 0), "stale"))
	mustHold(t, "GiveUp of a stale claim", false)(s.GiveUp(ctx, stale, "stale", later))
	b, err := s.Backlog(ctx)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "backlog", b, outbox.Backlog{Waiting: 1, Oldest: p.Due})
	same(t, "claimed beside the lease", keys(mustClaim(t, s, long, 10)), []string(nil))
	mustHold(t, "Later of the claim that holds", true)(s.Later(ctx, held, morning, "again"))
	last := mustClaimOne(t, s, long)
	same(t, "the item after all", last, outbox.Claim{Item: p, Attempt: 3})
	for _, c := range []outbox.Claim{stale, held} {
		mustHold(t, "Done of a stale claim", false)(s.Done(ctx, c, "stale", later))
	}
	mustHold(t, "Done of the last claim", true)(s.Done(ctx, last, "ref", later))
	mustHold(t, "GiveUp after Done", false)(s.GiveUp(ctx, last, "stale", later))
}

func claimUnseen(t *testing.T, s Store) {
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	c := mustClaimOne(t, s, time.Microsecond)
	time.Sleep(2 * time.Millisecond)
	mustHold(t, "Done after the lease", true)(s.Done(t.Context(), c, "ref", later))
	same(t, "claimed after Done", keys(mustClaim(t, s, long, 10)), []string(nil))
}

func claimEndsOnce(t *testing.T, s Store) {
	ctx := t.Context()
	ends := []struct {
		name string
		end  func(outbox.Claim) (bool, error)
	}{
		{"Done", func(c outbox.Claim) (bool, error) { return s.Done(ctx, c, "ref", later) }},
		{"Later", func(c outbox.Claim) (bool, error) { return s.Later(ctx, c, later.AddDate(1, 0, 0), "reason") }},
		{"GiveUp", func(c outbox.Claim) (bool, error) { return s.GiveUp(ctx, c, "reason", later) }},
	}
	for i, first := range ends {
		a := alertOf(fmt.Sprintf("XK%02d", i), 1)
		mustOpen(t, s, a, post(a, "page"))
		c := mustClaimOne(t, s, long)
		mustHold(t, first.name, true)(first.end(c))
		for _, second := range ends {
			mustHold(t, second.name+" after "+first.name, false)(second.end(c))
		}
	}
	b, err := s.Backlog(ctx)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "backlog", b, outbox.Backlog{Waiting: 1, Oldest: morning, GivenUp: 1})
}

func claimLater(t *testing.T, s Store) {
	ctx := t.Context()
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	due := later.Add(time.Hour)
	mustHold(t, "Later", true)(s.Later(ctx, mustClaimOne(t, s, long), due, "429"))
	same(t, "claimed early", keys(mustClaim(t, s, long, 10)), []string(nil))
	claims, err := s.Claim(ctx, due, long, 10)
	if err != nil || len(claims) != 1 {
		t.Fatalf("Claim when due = %v, %v, want one", keys(claims), err)
	}
	if c := claims[0]; c.Attempt != 2 || !c.Due.Equal(morning) || !c.Made.Equal(morning) {
		t.Errorf("attempt %d, due %v, made %v, want 2, %v, %v", c.Attempt, c.Due, c.Made, morning, morning)
	}
	// A time before the item's own due time does not bring it forward.
	p := post(alertOf("XKLE", 1), "page")
	p.Due = later
	mustOpen(t, s, alertOf("XKLE", 1), p)
	mustHold(t, "Later", true)(s.Later(ctx, mustClaimOne(t, s, long), morning, "429"))
	if claims, err = s.Claim(ctx, later.Add(-time.Second), long, 10); len(claims) != 0 || err != nil {
		t.Errorf("Claim before due = %v, %v, want none", keys(claims), err)
	}
}

func lineOrder(t *testing.T, s Store) {
	ctx := t.Context()
	// Written and due in the wrong order; 10 is behind 2 as a number.
	for i, seq := range []int{10, 2, 1} {
		a := alert(seq)
		p, q := post(a, "page"), post(a, "slack:C1")
		p.Due = morning.Add(time.Duration(i) * time.Minute)
		q.Due = p.Due
		mustOpen(t, s, a, p, q)
	}
	other := post(alertOf("XKLE", 7), "page") // another thing
	plain := post(alertOf("XKLE", 8), "page") // a key without a number
	plain.Key = "notice/XKLD"
	mustOpen(t, s, alertOf("XKLE", 7), other, plain)
	mustOpen(t, s, alert(11), outbox.Item{Key: "notice/XKLD/-1", Channel: "page", Made: morning, Due: morning})

	claims := mustClaim(t, s, long, 100)
	same(t, "first", keys(claims), []string{
		"alert/XKLE/2026-01-15/7@page", "notice/XKLD@page", "notice/XKLD/-1@page",
		"alert/XKLD/2026-01-15/1@page", "alert/XKLD/2026-01-15/1@slack:C1",
	})
	same(t, "beside", keys(mustClaim(t, s, long, 100)), []string(nil))
	mustHold(t, "Done on the page", true)(s.Done(ctx, claims[3], "ref", later))
	claims = append(claims[4:], mustClaim(t, s, long, 100)...)
	same(t, "after Done on the page", keys(claims[1:]), []string{"alert/XKLD/2026-01-15/2@page"})
	mustHold(t, "GiveUp on slack", true)(s.GiveUp(ctx, claims[0], "gone", later))
	mustHold(t, "GiveUp on the page", true)(s.GiveUp(ctx, claims[1], "gone", later))
	same(t, "after giving up both", keys(mustClaim(t, s, long, 100)), []string{"alert/XKLD/2026-01-15/10@page", "alert/XKLD/2026-01-15/2@slack:C1"})
}

func lineHeld(t *testing.T, s Store) {
	ctx := t.Context()
	first := post(alert(1), "page")
	first.Due = later.Add(time.Hour)
	mustOpen(t, s, alert(1), first)
	mustOpen(t, s, alert(2), post(alert(2), "page"))
	same(t, "the first is not due", keys(mustClaim(t, s, long, 10)), []string(nil))
	claims, err := s.Claim(ctx, first.Due, long, 10)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the first is due", keys(claims), []string{"alert/XKLD/2026-01-15/1@page"})
	mustHold(t, "Later", true)(s.Later(ctx, claims[0], first.Due.Add(time.Hour), "429"))
	if claims, err = s.Claim(ctx, first.Due, long, 10); err != nil {
		t.Fatal(err)
	}
	same(t, "the first is tried later", keys(claims), []string(nil))
}

// lineRace has workers bring one thing's words to a channel, and checks that
// each word was brought after the one before it.
func lineRace(t *testing.T, s Store) {
	const words = 12
	for i := range words {
		mustOpen(t, s, alert(i+1), post(alert(i+1), "page"))
	}
	var mu sync.Mutex
	var order []string
	var wg sync.WaitGroup
	end := time.Now().Add(20 * time.Second)
	for range 4 {
		wg.Go(func() {
			for time.Now().Before(end) {
				claims, err := s.Claim(t.Context(), later, long, 5)
				if err != nil || len(claims) > 1 {
					t.Errorf("Claim = %v, %v, want one at most", keys(claims), err)
					return
				}
				mu.Lock()
				order = append(order, keys(claims)...)
				n := len(order)
				mu.Unlock()
				for _, c := range claims {
					mustHold(t, "Done", true)(s.Done(t.Context(), c, "ref", later))
				}
				if n >= words {
					return
				}
			}
		})
	}
	wg.Wait()
	var want []string
	for i := range words {
		want = append(want, alertKeyOf(alert(i+1))+"@page")
	}
	same(t, "order", order, want)
}

func claimGiveUp(t *testing.T, s Store) {
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	mustHold(t, "GiveUp", true)(s.GiveUp(t.Context(), mustClaimOne(t, s, long), "channel is gone", later))
	same(t, "claimed after GiveUp", keys(mustClaim(t, s, long, 10)), []string(nil))
	b, err := s.Backlog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "backlog", b, outbox.Backlog{GivenUp: 1})
}

func claimForged(t *testing.T, s Store) {
	ctx := t.Context()
	mustOpen(t, s, alert(1), post(alert(1), "page"))
	mustHold(t, "Done of what was never claimed", false)(s.Done(ctx, outbox.Claim{Item: post(alert(1), "page")}, "ref", later))
	c := mustClaimOne(t, s, long)
	for _, forged := range []outbox.Claim{
		{Item: post(alert(1), "slack:C1"), Attempt: 1},
		{Item: post(alert(2), "page"), Attempt: 1},
		{Item: c.Item, Attempt: 2},
		{Item: c.Item},
	} {
		mustHold(t, fmt.Sprintf("Done of %s@%s attempt %d", forged.Key, forged.Channel, forged.Attempt), false)(s.Done(ctx, forged, "ref", later))
	}
	mustHold(t, "Done", true)(s.Done(ctx, c, "ref", later))
}

// Contend has one worker for each store claim the same items at once, and
// checks that no item has two holders. The stores are of one database; one
// store may be given several times.
func Contend(t *testing.T, stores ...Store) {
	t.Helper()
	const items = 60
	fill(t, stores[0], items)
	var mu sync.Mutex
	got := map[string]int{}
	total := func() int { mu.Lock(); defer mu.Unlock(); return len(got) }
	var wg sync.WaitGroup
	start := make(chan struct{})
	end := time.Now().Add(20 * time.Second)
	for _, s := range stores {
		wg.Go(func() {
			<-start
			// A claim may find less than there is while another is at it.
			for total() < items && time.Now().Before(end) {
				claims, err := s.Claim(t.Context(), later, long, 3)
				if err != nil {
					t.Errorf("Claim: %v", err)
					return
				}
				if len(claims) > 3 {
					t.Errorf("Claim gave %d, want 3 at most", len(claims))
				}
				mu.Lock()
				for _, c := range claims {
					got[c.Key]++
				}
				mu.Unlock()
			}
		})
	}
	close(start)
	wg.Wait()
	if len(got) != items {
		t.Errorf("%d items were claimed, want %d", len(got), items)
	}
	for k, n := range got {
		if n != 1 {
			t.Errorf("%s was claimed %d times", k, n)
		}
	}
}

// Killed has workers that die with a claim in hand, before or after the
// sending, and checks that every item is done once in the end.
func Killed(t *testing.T, stores ...Store) {
	t.Helper()
	const items = 30
	fill(t, stores[0], items)
	var mu sync.Mutex
	done := map[string]int{}
	var wg sync.WaitGroup
	end := time.Now().Add(20 * time.Second)
	for w, s := range stores {
		wg.Go(func() {
			for n := w; time.Now().Before(end); n++ {
				claims, err := s.Claim(t.Context(), later, short, 2)
				if err != nil {
					t.Errorf("Claim: %v", err)
					return
				}
				for i, c := range claims {
					if (n+i)%4 == 0 && c.Attempt < 4 {
						continue // died
					}
					held, err := s.Done(t.Context(), c, fmt.Sprintf("worker %d", w), later)
					if err != nil {
						t.Errorf("Done: %v", err)
					}
					if held {
						mu.Lock()
						done[c.Key]++
						mu.Unlock()
					}
				}
				mu.Lock()
				all := len(done) == items
				mu.Unlock()
				if all {
					return
				}
				if len(claims) == 0 {
					time.Sleep(short / 10)
				}
			}
		})
	}
	wg.Wait()
	if len(done) != items {
		t.Errorf("%d items are done, want %d", len(done), items)
	}
	for k, n := range done {
		if n != 1 {
			t.Errorf("%s was done %d times", k, n)
		}
	}
	b, err := stores[0].Backlog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "backlog", b, outbox.Backlog{})
}

// Fill writes n items for Deliver.
func Fill(t testing.TB, s Store, n int) {
	t.Helper()
	fill(t, s, n)
}

// Deliver is a worker whose process may be killed at any moment: it claims,
// posts and ends its claims until nothing waits. What it posts are observations
// in the same store, which tell when one comes twice; from the second attempt on
// it looks for the post first, as outbox asks of every surface.
func Deliver(ctx context.Context, s Store, lease time.Duration) error {
	for {
		claims, err := s.Claim(ctx, later, lease, 3)
		if err != nil {
			return err
		}
		for _, c := range claims {
			posted := false
			if c.Attempt > 1 {
				if _, posted, err = s.LatestObservation(ctx, c.Key, c.Channel); err != nil {
					return err
				}
			}
			if !posted {
				fresh, err := s.SaveObservation(ctx, weather.Observation{Ident: c.Key, Source: c.Channel})
				if err != nil {
					return err
				}
				if !fresh {
					return fmt.Errorf("%s was posted twice", c.Key)
				}
			}
			time.Sleep(2 * time.Millisecond) // the moment in which a kill hurts
			if _, err := s.Done(ctx, c, "ref", later); err != nil {
				return err
			}
		}
		b, err := s.Backlog(ctx)
		if err != nil || b.Waiting == 0 {
			return err
		}
		if len(claims) == 0 {
			time.Sleep(5 * time.Millisecond)
		}
	}
}

// Delivered checks that all that Fill wrote was posted.
func Delivered(t testing.TB, s Store, n int) {
	t.Helper()
	for i := range n {
		key := alertKeyOf(alertOf(fmt.Sprintf("XK%02d", i+1), 1))
		if _, found, err := s.LatestObservation(t.Context(), key, "page"); !found || err != nil {
			t.Errorf("%s: posted %v, %v", key, found, err)
		}
	}
	b, err := s.Backlog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "backlog", b, outbox.Backlog{})
}

func backlog(t *testing.T, s Store) {
	ctx := t.Context()
	check := func(what string, want outbox.Backlog) {
		t.Helper()
		b, err := s.Backlog(ctx)
		if err != nil {
			t.Fatal(err)
		}
		same(t, what, b, want)
	}
	check("nothing", outbox.Backlog{})
	fill(t, s, 3)
	oldest := morning.Add(-2 * time.Second)
	check("three", outbox.Backlog{Waiting: 3, Oldest: oldest})
	claims := mustClaim(t, s, long, 10)
	check("under leases", outbox.Backlog{Waiting: 3, Oldest: oldest})
	mustHold(t, "Done", true)(s.Done(ctx, claims[0], "ref", later))
	check("one is sent", outbox.Backlog{Waiting: 2, Oldest: morning.Add(-time.Second)})
	mustHold(t, "GiveUp", true)(s.GiveUp(ctx, claims[1], "reason", later))
	check("one is given up", outbox.Backlog{Waiting: 1, Oldest: morning, GivenUp: 1})
	mustHold(t, "Later", true)(s.Later(ctx, claims[2], later, "reason"))
	check("one is tried later", outbox.Backlog{Waiting: 1, Oldest: morning, GivenUp: 1})
}
