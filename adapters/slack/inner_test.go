package slack

import (
	"context"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"firn/bot/chat"
	"firn/bot/sleep"
)

func TestHeardText(t *testing.T) {
	for _, c := range []struct{ name, sent, want string }{
		{"a mention of the bot", "<@U0FIRN> XKLD -38 8200", "XKLD -38 8200"},
		{"in the middle, with a label", "hey <@U0FIRN|firn>, XKLD", "hey  , XKLD"},
		{"somebody else", "ask <@U0KARI> and <@U0ODD|odd>", "ask @U0KARI and @odd"},
		{"a channel", "<#C0CREW|crew> and <#C0CREW>", "#crew and #C0CREW"},
		{"everybody", "<!channel> <!here|here> <!subteam^S0DUTY|@duty> <!subteam^S0DUTY>", "@channel here @duty @subteam"},
		{"a date", "<!date^1392734382^{date}|18 Feb>", "18 Feb"},
		{"escapes", "8200 &lt; 10200 &amp; more &amp;lt;", "8200 < 10200 & more &lt;"},
		{"numbers that a phone took for a telephone", "XKLD -38 <tel:8200 7400|8200 7400>", "XKLD -38 8200 7400"},
		{"an address", "<https://example.invalid/x> <http://example.invalid|example.invalid>", "https://example.invalid/x example.invalid"},
		{"mail", "<mailto:a@example.invalid|a@example.invalid>", "a@example.invalid"},
		{"a bracket that is open", "a < b", "a < b"},
		{"nothing", "<@U0FIRN>", ""},
		{"empty brackets", "a <> b", "a  b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := heardText(c.sent, "U0FIRN"); got != c.want {
				t.Errorf("heardText(%q) = %q, want %q", c.sent, got, c.want)
			}
		})
	}
}

func TestWrittenText(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"<!channel> & <@U1>", "&lt;!channel&gt; &amp; &lt;@U1&gt;"},
		{"*bold* but 2*3 and a_b_c", "∗bold∗ but 2*3 and a_b_c"},
		{"_it_ ~x~ `y`", "ˍitˍ ∼x∼ ˋyˋ"},
		{"a\r\nb\x00c\u202ed", "a\nbcd"},
	} {
		if got := unformatted(c.text); got != c.want {
			t.Errorf("unformatted(%q) = %q, want %q", c.text, got, c.want)
		}
	}
}

// Whatever is written is heard as it was, once its look-alikes are undone, and
// holds nothing that Slack would obey.
func TestTextProperties(t *testing.T) {
	back := strings.NewReplacer("∗", "*", "ˍ", "_", "∼", "~", "ˋ", "`")
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		written := unformatted(text)
		if strings.ContainsAny(written, "<>") {
			t.Fatalf("%q is written as %q", text, written)
		}
		if strings.ContainsAny(text, "∗ˍ∼ˋ") {
			return
		}
		if got, want := back.Replace(unescape(written)), shown(text); got != want {
			t.Fatalf("%q is read as %q, want %q", text, got, want)
		}
	})
}

func TestPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 400, -1).Draw(t, "text")
		most := rapid.IntRange(6, 60).Draw(t, "most") // an escape is five
		size := func(s string) int { return utf8.RuneCountInString(unformatted(s)) }
		whole := ""
		for _, p := range pieces(text, most, size) {
			if n := size(p); n > most {
				t.Fatalf("a piece of %d, at most %d: %q", n, most, p)
			}
			whole += p
		}
		strip := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if strip(whole) != strip(text) {
			t.Fatalf("%q became %q", text, whole)
		}
	})
}

func TestCutToken(t *testing.T) {
	for _, c := range []struct{ body, rest, token string }{
		{"token=a", "", "a"},
		{"token=a&ts=1", "ts=1", "a"},
		{"channel=C&token=a", "channel=C", "a"},
		{"channel=C&token=a&ts=1", "channel=C&ts=1", "a"},
		{"mytoken=a&ts=1", "mytoken=a&ts=1", ""},
		{"text=token%3Da", "text=token%3Da", ""},
		{"", "", ""},
	} {
		if rest, token := cutToken([]byte(c.body)); string(rest) != c.rest || token != c.token {
			t.Errorf("cutToken(%q) = %q, %q; want %q, %q", c.body, rest, token, c.rest, c.token)
		}
	}
}

func TestSpots(t *testing.T) {
	for _, c := range []struct {
		spot messageRef
		ref  string
	}{
		{messageRef{"C1", "1.2", ""}, "C1/1.2"},
		{messageRef{"C1", "1.2", "1.2"}, "C1/1.2"}, // it began the thread
		{messageRef{"C1", "1.3", "1.2"}, "C1/1.3/1.2"},
		{messageRef{"C1", "", ""}, ""},
	} {
		if got := string(c.spot.ref()); got != c.ref {
			t.Errorf("%+v is %q, want %q", c.spot, got, c.ref)
		}
		if back, ok := refOf(c.spot.ref()); c.ref != "" && (!ok || back.ref() != c.spot.ref()) {
			t.Errorf("%q is read as %+v, %v", c.ref, back, ok)
		}
	}
	for _, bad := range []string{"", "C1", "/1", "C1/", "C1/1/2/3", "no such reference"} {
		if p, ok := refOf(chat.Ref(bad)); ok {
			t.Errorf("%q is read as %+v", bad, p)
		}
	}
	now := time.Unix(1700000000, 123456000)
	if got := stamp(now); got != "1700000000.123456" || !timeOf(got).Equal(now) {
		t.Errorf("%v is %q, and back %v", now, got, timeOf(got))
	}
}

// Those that wait at a gate go one after the other.
func TestGatePaces(t *testing.T) {
	now := time.Unix(1700000000, 0)
	g := newRateGates(func() time.Time { return now }, sleep.For, time.Second, time.Minute)
	g.rest("chat.postMessage C1", 0)
	if short, err := g.pass(t.Context(), "chat.postMessage C1"); short > 0 || err != nil {
		t.Errorf("a gate whose time is over: %v, %v", short, err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
	defer cancel()
	g.rest("chat.postMessage C1", 5*time.Second)
	if short, err := g.pass(ctx, "chat.postMessage C1"); short != 5*time.Second || err != nil {
		t.Errorf("a gate for longer than the context: %v, %v", short, err)
	}
	if short, err := g.pass(ctx, "chat.postMessage C2"); short > 0 || err != nil {
		t.Errorf("another channel's gate: %v, %v", short, err)
	}
	ended, end := context.WithCancel(t.Context())
	end()
	for range 2 { // each takes the next place
		if _, err := g.pass(ended, "chat.postMessage C1"); err == nil {
			t.Error("a context that has ended passes a gate")
		}
	}
	if short, err := g.pass(ctx, "chat.postMessage C1"); short != 7*time.Second || err != nil {
		t.Errorf("the third is let through after %v, %v; want 7 s", short, err)
	}
	now = now.Add(6 * time.Second)
	if short, _ := g.pass(ctx, "chat.postMessage C1"); short != time.Second {
		t.Errorf("a second later the third waits %v, want 1 s", short)
	}
}

// Edits in a burst are spread before Slack has to say so.
func TestGateSpreads(t *testing.T) {
	now := time.Unix(1700000000, 0)
	g := newRateGates(func() time.Time { return now }, sleep.For, time.Second, time.Minute)
	ctx, cancel := context.WithTimeout(t.Context(), 10*time.Millisecond)
	defer cancel()
	for i := range editsAtOnce {
		if short, err := g.pass(ctx, updateMethod+" "); short > 0 || err != nil {
			t.Fatalf("edit %d of a burst waits %v, %v", i, short, err)
		}
	}
	if short, err := g.pass(ctx, updateMethod+" "); short.Round(time.Millisecond) != editEvery || err != nil {
		t.Errorf("one more waits %v, %v; want %v", short, err, editEvery)
	}
	now = now.Add(editEvery)
	if short, err := g.pass(ctx, updateMethod+" "); short > 0 || err != nil {
		t.Errorf("after its time it waits %v, %v", short, err)
	}
}

// TestWhoWaitsGoesFirst: an edit that somebody waits for does not stand behind the
// sixty of a morning, and all of them together are no more than Slack takes.
func TestWhoWaitsGoesFirst(t *testing.T) {
	now := time.Unix(1700000000, 0)
	var waits []time.Duration
	g := newRateGates(func() time.Time { return now }, func(_ context.Context, d time.Duration) error {
		waits = append(waits, d)
		return nil
	}, time.Second, time.Hour)
	pass := func(ctx context.Context) (wait time.Duration) {
		before := len(waits)
		if short, err := g.pass(ctx, updateMethod+" "); short > 0 || err != nil {
			t.Fatal(short, err)
		}
		if len(waits) == before {
			waits = append(waits, 0)
		}
		return waits[before]
	}
	var last time.Duration
	for range 60 {
		last = pass(t.Context())
	}
	if last < time.Minute || last > 90*time.Second {
		t.Errorf("the last of the burst waits %v", last)
	}
	asks := context.WithValue(t.Context(), awaited{}, true)
	for i := range awaitedAtOnce {
		if wait := pass(asks); wait != 0 {
			t.Errorf("the edit of person %d waits %v", i+1, wait)
		}
	}
	for i := range 3 {
		if wait := pass(asks); wait > time.Duration(i+1)*awaitedEvery {
			t.Errorf("the edit of person %d waits %v", awaitedAtOnce+i+1, wait)
		}
	}
	for _, from := range waits { // Web API methods, tier 3: 50 a minute
		n := 0
		for _, at := range waits {
			if at >= from && at < from+time.Minute {
				n++
			}
		}
		if n > 50 {
			t.Errorf("%d edits in the minute after %v", n, from)
		}
	}
}

func TestMemo(t *testing.T) {
	now := time.Unix(1700000000, 0)
	m := newMemo[string](func() time.Time { return now }, 3)
	asked := 0
	ask := func(old string) (string, time.Duration) { asked++; return old + "x", time.Minute }
	m.get("a", ask)
	if got := m.get("a", ask); got != "x" || asked != 1 {
		t.Errorf("got %q after asking %d times", got, asked)
	}
	now = now.Add(2 * time.Minute)
	if got := m.get("a", ask); got != "xx" || asked != 2 {
		t.Errorf("got %q after asking %d times; what was known before is handed in", got, asked)
	}
	for _, k := range []string{"b", "c", "d", "e"} {
		m.put(k, k, time.Minute)
	}
	if m.kept.Len() > 3 {
		t.Errorf("%d are kept, at most 3", m.kept.Len())
	}
}
