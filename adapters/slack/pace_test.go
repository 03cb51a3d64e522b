package slack_test

import (
	"fmt"
	"testing"
	"time"

	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/reply"
	"firn/bot/testkit/testclock"
)

// paced is a surface at a double that counts as Slack does, by the same clock.
func paced(t *testing.T) (*slackdouble.Server, *slack.Surface, *testclock.Clock) {
	l := testclock.New(time.Now().Truncate(time.Second))
	d := double(t, func(o *slackdouble.Options) { o.Limits, o.Now = true, l.Now })
	return d, surface(t, d, func(o *slack.Options) { o.Now, o.Sleep, o.Pace = l.Now, l.Sleep, 0 }), l
}

// A morning's amendments change sixty cards, and its posts come at once: Slack is
// never asked too often, and answers do not wait.
func TestBursts(t *testing.T) {
	d, s, l := paced(t)
	const edits, posts = 60, 12
	var refs []chat.Ref
	for i := range edits {
		_ = l.Sleep(t.Context(), 10*time.Second)
		ref, err := s.Send(t.Context(), cold(fmt.Sprint("card/", i)))
		if err != nil {
			t.Fatal(err)
		}
		refs = append(refs, chat.Ref(ref))
	}
	began := l.Now()
	for _, ref := range refs {
		if err := s.Change(t.Context(), ref, chat.Message{Reply: reply.Reply{Kind: reply.KindStatus, Facts: []string{"As it is."}}}); err != nil {
			t.Fatal(err)
		}
	}
	took := l.Now().Sub(began)
	began = l.Now()
	for i := range posts {
		if _, err := s.Send(t.Context(), cold(fmt.Sprint("alert/XKLD/2026-01-15/", i))); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d edits take %v, %d posts %v", edits, took, posts, l.Now().Sub(began))
	if n := d.TooMany(); n != 0 {
		t.Errorf("Slack was asked too often %d times", n)
	}
	if took > 90*time.Second || l.Now().Sub(began) > posts*time.Second {
		t.Errorf("%d edits took %v, %d posts %v", edits, took, posts, l.Now().Sub(began))
	}
	changed := 0
	for _, m := range d.Posted(crew) {
		if m.Edited != "" {
			changed++
		}
	}
	if changed != edits {
		t.Errorf("%d of %d cards are changed", changed, edits)
	}
	tidy(t, d)
}

// A post on the way for longer than the ones behind it comes nearer to them, and
// is not one too many for that.
func TestBurstOnUnevenWay(t *testing.T) {
	l := testclock.New(time.Now().Truncate(time.Second))
	way := 90 * time.Millisecond
	d := double(t, func(o *slackdouble.Options) {
		o.Limits, o.Now = true, func() time.Time {
			way = max(0, way-10*time.Millisecond)
			return l.Now().Add(way)
		}
	})
	s := surface(t, d, func(o *slack.Options) { o.Now, o.Sleep, o.Pace = l.Now, l.Sleep, 0 })
	for i := range 12 {
		if _, err := s.Send(t.Context(), cold(fmt.Sprint("alert/XKLD/2026-01-15/", i))); err != nil {
			t.Fatal(err)
		}
	}
	if n := d.TooMany(); n != 0 {
		t.Errorf("Slack was asked too often %d times", n)
	}
}

// What Slack says to wait is waited: no less, and no second more.
func TestRetryAfterIsKept(t *testing.T) {
	for _, seconds := range []int{1, 7, 28} {
		d, s, l := paced(t)
		ref, err := s.Send(t.Context(), cold("alert/XKLD/2026-01-15/1"))
		if err != nil {
			t.Fatal(err)
		}
		for _, method := range []string{"chat.postMessage", "chat.update"} {
			d.Fail(slackdouble.Fault{Method: method, RetryAfter: seconds, Times: 1})
			began := l.Now()
			if method == "chat.update" {
				err = s.Change(t.Context(), chat.Ref(ref), chat.Message{Reply: reply.Reply{Facts: []string{"As it is."}}})
			} else {
				_, err = s.Send(t.Context(), cold("alert/XKLD/2026-01-15/2"))
			}
			if took, want := l.Now().Sub(began), time.Duration(seconds)*time.Second; err != nil || took < want || took >= want+time.Second {
				t.Errorf("%s was called again after %v, %v; want %v", method, took, err, want)
			}
		}
	}
}
