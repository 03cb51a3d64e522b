package discord

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
)

// clerk answers every event at once with what it said, once.
type clerk struct {
	places map[string]bool // empty: everywhere
	work   time.Duration   // how long an answer takes
	quiet  bool            // whispers
	silent bool            // answers nothing
	asks   string          // what is answered by a question
	check  map[string]string
	enter  *chat.BlindForm // the form that is opened is that of a blind check

	mu     sync.Mutex
	events []chat.Event
	seen   map[string]bool
	refs   []chat.Ref
	errs   []error
}

func (c *clerk) Handle(ctx context.Context, s chat.Surface, e chat.Event) {
	if !c.Answers(s, e.Place) {
		return
	}
	c.mu.Lock()
	if c.seen[e.ID] {
		c.mu.Unlock()
		return
	}
	if c.seen == nil {
		c.seen = map[string]bool{}
	}
	c.seen[e.ID] = true
	c.events = append(c.events, e)
	c.mu.Unlock()
	if c.work > 0 {
		time.Sleep(c.work)
	}
	if c.silent {
		return
	}
	card := chat.Message{Reply: reply.Reply{Kind: reply.KindStatus, Facts: []string{"Heard " + e.Text + "."}, Actions: []reply.Action{{ID: "more", Label: "Show the working", Message: "why " + e.Text}}}}
	if c.asks != "" && e.Text == c.asks {
		card.Reply.Kind = reply.KindQuestion
	}
	var ref chat.Ref
	var err error
	switch {
	case e.Kind == chat.FormRequested:
		f := chat.Form{Station: "XKLD"}
		if c.enter != nil {
			f = chat.Form{Enter: c.enter}
		}
		err = s.Open(ctx, e, f)
	case c.quiet:
		err = s.Whisper(ctx, e, card)
	case e.Kind == chat.Pressed && e.Message != "":
		ref, err = s.Follow(ctx, e.Message, card)
	default:
		ref, err = s.Answer(ctx, e, card)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.refs = append(c.refs, ref)
	if err != nil {
		c.errs = append(c.errs, err)
	}
}

func (c *clerk) Check(chat.Form) map[string]string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.check
}

func (c *clerk) Stations(typed string, limit int) []bot.Offer {
	var out []bot.Offer
	for i := range 40 {
		out = append(out, bot.Offer{Value: fmt.Sprintf("X%03d", i), Label: fmt.Sprintf("X%03d %s", i, typed)})
	}
	return out[:min(limit, len(out))]
}

func (c *clerk) Offers(_ context.Context, _ chat.Surface, e chat.Event, field string, limit int) []bot.Offer {
	return c.Stations(e.Fields[chat.FieldCommand]+" "+field+" "+e.Text, limit)
}

func (c *clerk) Answers(_ chat.Surface, p chat.Place) bool {
	return len(c.places) == 0 || c.places[p.Channel] || p.Direct
}

func (c *clerk) heard() []chat.Event {
	c.mu.Lock()
	defer c.mu.Unlock()
	return append([]chat.Event(nil), c.events...)
}

func (c *clerk) failures() []error {
	c.mu.Lock()
	defer c.mu.Unlock()
	return append([]error(nil), c.errs...)
}

// showing counts the bot's messages that hold a text.
func showing(d *discorddouble.Server, text string) int {
	n := 0
	for _, s := range shown(d) {
		if strings.Contains(s.Text, text) {
			n++
		}
	}
	return n
}

func say(t *testing.T, d *discorddouble.Server, text string) string {
	t.Helper()
	id, err := d.Say(discorddouble.Say{Channel: d.Channels()[0], By: d.People()[0].ID, Text: d.Mention() + " " + text})
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func awaitAnswer(t *testing.T, d *discorddouble.Server, text string) {
	t.Helper()
	wait(t, d, fmt.Sprintf("an answer to %q", text), func() bool { return showing(d, "Heard "+text+".") > 0 })
}

// Whatever happens to the connection, a message is answered once. These cases
// take the second that discordgo waits before it connects again.
func TestConnection(t *testing.T) {
	for _, c := range []struct {
		name    string
		harm    func(d *discorddouble.Server)
		resumed bool
	}{
		{"cut, and a message comes meanwhile", (*discorddouble.Server).CutSockets, true},
		{"asked to connect again (op 7)", (*discorddouble.Server).Reconnect, true},
		{"the session is over when it is resumed (op 9)", (*discorddouble.Server).Forget, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := startDouble(t, discorddouble.Options{})
			k := &clerk{}
			s := newSurface(t, options(d))
			ready(t, d, s, k)
			say(t, d, "one")
			awaitAnswer(t, d, "one")
			c.harm(d)
			if c.resumed {
				say(t, d, "two") // kept by Discord and sent after the resume
			} else {
				wait(t, d, "a new session", func() bool { return d.Counts().Identifies == 2 && d.Connected() == 1 })
				say(t, d, "two")
			}
			if err := s.State(); err != nil {
				t.Errorf("State while a cut is mended = %v", err)
			}
			awaitAnswer(t, d, "two")
			if got := d.Counts(); (got.Resumes == 1) != c.resumed || (got.Identifies == 1) != c.resumed {
				t.Errorf("counts are %+v, resumed should be %v", got, c.resumed)
			}
			if one, two := showing(d, "Heard one."), showing(d, "Heard two."); one != 1 || two != 1 {
				t.Errorf("the answers stand there %d and %d times, want once", one, two)
			}
		})
	}
}

// A session that is ended while it lives identifies at once, on the same
// connection: that is discordgo's way, and it must not be too early.
func TestSessionEnded(t *testing.T) {
	const every = 150 * time.Millisecond
	d := startDouble(t, discorddouble.Options{IdentifyEvery: every - 20*time.Millisecond})
	o := options(d)
	o.pauses.identify = every
	s := newSurface(t, o)
	ready(t, d, s, &clerk{})
	d.EndSessions() // less than every after the first; the double tells of one that comes too early
	wait(t, d, "a new session", func() bool { return d.Counts().Identifies == 2 && d.Connected() == 1 })
	say(t, d, "one")
	awaitAnswer(t, d, "one")
}

func TestTwiceAndOutOfOrder(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	d.Twice(1)
	say(t, d, "one")
	d.Swap()
	say(t, d, "two")
	say(t, d, "three")
	for _, text := range []string{"one", "two", "three"} {
		awaitAnswer(t, d, text)
		if n := showing(d, "Heard "+text+"."); n != 1 {
			t.Errorf("%q is answered %d times", text, n)
		}
	}
	if got := k.failures(); len(got) > 0 {
		t.Errorf("failures: %v", got)
	}
}

// A refused token is told plainly, is not tried in a hurry, and is taken when
// it is good again.
func TestRefusedToken(t *testing.T) {
	for _, c := range []struct {
		name  string
		first bool // refused from the start
	}{{"from the start", true}, {"while connected", false}} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			d := startDouble(t, discorddouble.Options{})
			var log bytes.Buffer
			var mu sync.Mutex
			o := options(d)
			s, err := New(slog.New(slog.NewTextHandler(locked{&mu, &log}, &slog.HandlerOptions{Level: slog.LevelDebug})), o)
			if err != nil {
				t.Fatal(err)
			}
			if c.first {
				d.Revoke()
				run(t, d, s, &clerk{})
			} else {
				ready(t, d, s, &clerk{})
				d.Revoke()
			}
			eventually(t, "the refusal is told", func() bool { return errors.Is(s.State(), errRefused) })
			if got := s.State().Error(); got != "Discord refuses the bot token: set FIRN_DISCORD_TOKEN" {
				t.Errorf("State = %q", got)
			}
			before := d.Counts().Identifies
			time.Sleep(5 * quick.refused)
			if got := d.Counts().Identifies - before; got > 6 {
				t.Errorf("a refused token was tried %d times in %s", got, 5*quick.refused)
			}
			d.Restore()
			eventually(t, "the connection is there", func() bool { return s.State() == nil })
			mu.Lock()
			defer mu.Unlock()
			if strings.Contains(log.String(), testToken) {
				t.Error("the token is in the log")
			}
		})
	}
}

// locked is a writer for several goroutines.
type locked struct {
	mu *sync.Mutex
	b  *bytes.Buffer
}

func (l locked) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func TestNoMoreIdentifications(t *testing.T) {
	d := startDouble(t, discorddouble.Options{Identifies: 1})
	stop := ready(t, d, newSurface(t, options(d)), &clerk{})
	stop()
	s := newSurface(t, options(d))
	run(t, d, s, &clerk{})
	eventually(t, "the limit is told", func() bool {
		return s.State() != nil && strings.Contains(s.State().Error(), "the bot has connected too often")
	})
	if got := d.Counts().Identifies; got != 1 {
		t.Errorf("identified %d times, want once", got)
	}
}

// Without the privileged intent everything works but a follow-up that does
// not mention the bot.
func TestContentIntentRefused(t *testing.T) {
	d := startDouble(t, discorddouble.Options{AllowContent: false})
	k := &clerk{}
	o := options(d)
	o.Mentions = true
	ready(t, d, newSurface(t, o), k)
	id := say(t, d, "one")
	awaitAnswer(t, d, "one")
	ada := d.People()[0].ID
	for _, m := range []discorddouble.Say{
		{Channel: id, By: ada, Text: "withheld"},
		{Channel: id, By: ada, Text: d.Mention() + " two"},
		{Channel: d.DM(ada), By: ada, Text: "three"},
		{Channel: id, By: ada, Text: "four", Reply: d.FromBot(id)[0].ID},
		{Channel: id, By: ada, Text: "withheld", Reply: d.FromBot(id)[0].ID, Quiet: true},
	} {
		if _, err := d.Say(m); err != nil {
			t.Fatal(err)
		}
	}
	for _, text := range []string{"two", "three", "four"} {
		awaitAnswer(t, d, text)
	}
	for _, e := range k.heard() {
		if strings.Contains(e.Text, "withheld") || e.Text == "" {
			t.Errorf("heard %q", e.Text)
		}
	}
}

func TestIntents(t *testing.T) {
	d := startDouble(t, discorddouble.Options{AllowContent: true})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	id := say(t, d, "one")
	awaitAnswer(t, d, "one")
	if _, err := d.Say(discorddouble.Say{Channel: id, By: d.People()[0].ID, Text: "withheld"}); err != nil {
		t.Fatal(err)
	}
	say(t, d, "two")
	awaitAnswer(t, d, "two")
	if got := k.heard(); len(got) != 2 {
		t.Errorf("heard %+v", got)
	}
}

// What other bots say, and what the bot says itself, is nobody's question;
// nor is talk in a thread that the bot did not begin.
func TestNotForTheBot(t *testing.T) {
	d := startDouble(t, discorddouble.Options{AllowContent: true})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	ada := d.People()[0].ID
	for _, m := range []discorddouble.Say{
		{Channel: d.Channels()[0], By: ada, Text: "XKLD -38 8200"},
		{Channel: d.Channels()[0], By: ada, Text: "<@" + d.People()[1].ID + "> XKLD -38 8200"},
	} {
		if _, err := d.Say(m); err != nil {
			t.Fatal(err)
		}
	}
	say(t, d, "one")
	awaitAnswer(t, d, "one")
	if got := k.heard(); len(got) != 1 || got[0].Person.Name != "Ada" || len(got[0].Person.Groups) != 1 || got[0].Text != "one" || got[0].At.IsZero() {
		t.Errorf("heard %+v", got)
	}
}

// Where no thread can be begun, the answer refers to the question, and what
// is said to an answer belongs to the same conversation.
func TestWithoutThreads(t *testing.T) {
	d := startDouble(t, discorddouble.Options{AllowContent: true})
	d.DenyThreads(d.Channels()[0], true)
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	at, ada := d.Channels()[0], d.People()[0].ID
	question := say(t, d, "one")
	awaitAnswer(t, d, "one")
	first := d.FromBot(at)[0]
	if first.Reply != question {
		t.Errorf("the answer refers to %q, want %q", first.Reply, question)
	}
	next, err := d.Say(discorddouble.Say{Channel: at, By: ada, Text: "two", Reply: first.ID})
	if err != nil {
		t.Fatal(err)
	}
	awaitAnswer(t, d, "two")
	second := d.FromBot(at)[1]
	if second.Reply != next {
		t.Errorf("the second answer refers to %q, want %q", second.Reply, next)
	}
	if _, err := d.Say(discorddouble.Say{Channel: at, By: ada, Text: "three", Reply: second.ID}); err != nil {
		t.Fatal(err)
	}
	awaitAnswer(t, d, "three")
	if _, err := d.Press(at, second.ID, ada, "Show the working"); err != nil {
		t.Fatal(err)
	}
	awaitAnswer(t, d, "why two")
	for i, e := range k.heard() {
		if got := e.Place.Thread + e.Place.Begins; got != question || e.Place.Channel != at {
			t.Errorf("event %d is in the conversation %q of channel %q, want %q of %q", i, got, e.Place.Channel, question, at)
		}
	}
	if got := k.failures(); len(got) > 0 {
		t.Errorf("failures: %v", got)
	}
}

// The answer to an answer is lost: it is made again with the same nonce.
func TestAnswerLost(t *testing.T) {
	for _, f := range []discorddouble.Fault{
		{Path: "/messages", Status: http.StatusBadGateway, After: true},
		{Path: "/threads", Status: http.StatusBadGateway, After: true},
		{Path: "/messages", Cut: true, After: true},
		{Path: "/messages", Status: http.StatusServiceUnavailable},
	} {
		t.Run(fmt.Sprintf("%s status %d cut %v after %v", f.Path, f.Status, f.Cut, f.After), func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{})
			k := &clerk{}
			ready(t, d, newSurface(t, options(d)), k)
			f.Method = http.MethodPost
			d.Fail(f)
			id := say(t, d, "one")
			awaitAnswer(t, d, "one")
			eventually(t, "the answer is done", func() bool { k.mu.Lock(); defer k.mu.Unlock(); return len(k.refs) == 1 })
			if got := d.FromBot(id); len(got) != 1 || len(k.failures()) > 0 {
				t.Errorf("in the thread stand %d answers; failures %v", len(got), k.failures())
			}
		})
	}
}

// Run ends soon after its context, and lets an answer under way be given.
func TestGracefulEnd(t *testing.T) {
	t.Parallel()
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{work: 300 * time.Millisecond}
	s := newSurface(t, options(d))
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx, k) }()
	eventually(t, "the surface is connected", func() bool { return s.State() == nil })
	say(t, d, "one")
	eventually(t, "the message is heard", func() bool { return len(k.heard()) == 1 })
	cancel()
	select {
	case err := <-done:
		if !errors.Is(err, context.Canceled) {
			t.Errorf("Run = %v", err)
		}
	case <-time.After(patience):
		t.Fatal("Run does not end")
	}
	if showing(d, "Heard one.") != 1 {
		t.Error("the answer under way was not given")
	}
	if err := s.Run(t.Context(), k); err == nil {
		t.Error("Run twice went well")
	}
}

// A server that says nothing must not hold Run.
func TestSilentServer(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	d.Fail(discorddouble.Fault{Delay: time.Hour, Times: -1})
	s := newSurface(t, options(d))
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx, &clerk{}) }()
	time.Sleep(30 * time.Millisecond)
	cancel()
	select {
	case <-done:
	case <-time.After(patience):
		t.Fatal("Run does not end")
	}
	if err := s.State(); err == nil {
		t.Error("State is good without a connection")
	}
}

func TestNew(t *testing.T) {
	for _, c := range []struct {
		name  string
		o     Options
		words string
	}{
		{"no token", Options{}, "set FIRN_DISCORD_TOKEN"},
		{"a token with a line break", Options{Token: "a\nb"}, "set FIRN_DISCORD_TOKEN"},
		{"no address", Options{Token: "a", APIURL: "discord"}, "FIRN_DISCORD_API_URL"},
		{"an address with a password", Options{Token: "a", APIURL: "http://u:p@127.0.0.1/"}, "FIRN_DISCORD_API_URL"},
		{"a shard too many", Options{Token: "a", ShardID: 2, ShardCount: 2}, "shard 2 of 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := New(slog.New(slog.DiscardHandler), c.o); err == nil || !strings.Contains(err.Error(), c.words) {
				t.Errorf("New = %v, want %q in it", err, c.words)
			}
		})
	}
	o := Options{Token: Token(testToken)}
	for _, text := range []string{fmt.Sprint(o), fmt.Sprintf("%+v", o), fmt.Sprintf("%#v", o), fmt.Sprintf("%q", o.Token)} {
		if strings.Contains(text, testToken) {
			t.Errorf("the token shows in %s", text)
		}
	}
}

func TestIdentifies(t *testing.T) {
	mask := []byte{7, 9, 11, 13}
	frame := func(payload string, head ...byte) []byte {
		b := append(head, mask...)
		for i := range len(payload) {
			b = append(b, payload[i]^mask[i%4])
		}
		return b
	}
	identify := `{"op":2,"d":{}}`
	for _, c := range []struct {
		name string
		p    []byte
		want bool
	}{
		{"an identification", frame(identify, 0x81, 0x80|byte(len(identify))), true},
		{"a longer one", frame(identify+strings.Repeat(" ", 200), 0x81, 0x80|126, 0, 215), true},
		{"a heartbeat", frame(`{"op":1,"d":12}`, 0x81, 0x80|15), false},
		{"op 20", frame(`{"op":20,"d":{}`, 0x81, 0x80|15), false},
		{"a request of HTTP", []byte("GET /?v=10 HTTP/1.1\r\n"), false},
		{"a close", frame("\x03\xe8", 0x88, 0x82), false},
		{"nothing", nil, false},
		{"a piece", []byte{0x81, 0x80 | 126, 0, 200, 1, 2, 3, 4, 5}, false},
	} {
		if got := identifies(c.p); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestHomes: where no server is configured, one that somebody else has added the bot to
// makes its members none of the unit's.
func TestHomes(t *testing.T) {
	for _, c := range []struct {
		name     string
		channels []string
		foreign  bool // is the unit's too
	}{
		{"channels are configured", []string{"100200300400500601"}, false},
		{"nothing is configured", nil, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{Other: []discorddouble.Place{{Guild: foreignGuild, Channel: foreignChannel}}})
			o := options(d)
			o.Guild, o.Channels = "", c.channels
			s := newSurface(t, o)
			defer ready(t, d, s, &clerk{})()
			for _, id := range []string{d.Channels()[0], foreignChannel} {
				eventually(t, "the channel is told", func() bool { _, ok := s.at.channels.get(id); return ok })
			}
			for guild, want := range map[string]bool{d.Guild(): true, foreignGuild: c.foreign} {
				if got := slices.Contains(s.homes(), guild); got != want {
					t.Errorf("members of %s may write to the bot: %v, want %v", guild, got, want)
				}
			}
		})
	}
}
