package slack_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// echo answers with what was said; "button" adds a button, "long" length.
type echo struct {
	mu   sync.Mutex
	said map[string]int
	last bot.Message
	wait chan struct{} // held up by it, where there is one
}

func (a *echo) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	a.mu.Lock()
	if a.said == nil {
		a.said = map[string]int{}
	}
	a.said[m.Text]++
	a.last = m
	wait := a.wait
	a.mu.Unlock()
	if wait != nil {
		select {
		case <-wait:
		case <-ctx.Done():
			return reply.Reply{}, ctx.Err()
		}
	}
	r := reply.Reply{Kind: reply.KindStatus, Facts: []string{"Heard " + m.Text + "."}}
	if m.ConfirmFirst {
		r = reply.Ask(reply.Problem{Text: "The same figures?"})
		r.Confirm, r.Altitudes = "KALOMI-RUTA", []reply.Row{{Label: "FAF", PublishedFt: 8200, CorrectionFt: 790, CorrectedFt: 8990}}
		r.Actions = []reply.Action{{ID: reply.ActionConfirm, Label: "Check", Message: m.Text + reply.Confirmed}}
	}
	if strings.HasPrefix(m.Text, "button") {
		r.Actions = []reply.Action{{ID: "why", Label: "Show the working", Message: "pressed in " + m.Text}}
	}
	return r, nil
}

func (a *echo) count(text string) int {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.said[text]
}

func (a *echo) heard() bot.Message {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.last
}

type stations struct{}

func (stations) Find(typed string, limit int) (out []bot.Offer) {
	for _, c := range []bot.Offer{{Value: "XKLD", Label: "XKLD Kaldmoor"}, {Value: "XRUN", Label: "XRUN Runmere"}} {
		if strings.Contains(strings.ToLower(c.Label), strings.ToLower(typed)) && len(out) < limit {
			out = append(out, c)
		}
	}
	return out
}

// scene is a double, a surface and a desk.
type scene struct {
	d    *slackdouble.Server
	s    *slack.Surface
	a    *echo
	desk *chat.Dispatcher
	stop func()
}

func play(t *testing.T, o func(*slackdouble.Options), so func(*slack.Options)) *scene {
	t.Helper()
	v := &scene{d: double(t, o), a: &echo{}}
	v.s = surface(t, v.d, so)
	v.desk = chat.New(slog.New(slog.DiscardHandler), time.Now, v.a, chat.Settings{
		Where: map[string]chat.Where{"slack": {Home: v.d.Team(), Channels: []string{crew, north, closed}}}, Burst: 1000, Stations: stations{},
	})
	v.stop = run(t, v.s, v.desk)
	return v
}

// mention says something to the bot in a channel and gives its timestamp.
func (v *scene) mention(t *testing.T, channel, text string) string {
	t.Helper()
	return v.say(t, slackdouble.Said{User: kari, Channel: channel, Text: v.d.Mention() + " " + text})
}

func (v *scene) say(t *testing.T, m slackdouble.Said) string {
	t.Helper()
	ts, err := v.d.Say(m)
	if err != nil {
		t.Fatal(err)
	}
	return ts
}

// answers are the bot's messages of a channel that hold a text.
func (v *scene) answers(channel, text string) (list []slackdouble.Message) {
	for _, m := range v.d.Posted(channel) {
		if strings.Contains(m.Read(), text) {
			list = append(list, m)
		}
	}
	return list
}

func (v *scene) await(t *testing.T, channel, text string) slackdouble.Message {
	t.Helper()
	var got []slackdouble.Message
	eventually(t, fmt.Sprintf("%q stands in %s", text, channel), func() bool {
		got = v.answers(channel, text)
		return len(got) > 0
	})
	return got[0]
}

func (v *scene) once(t *testing.T, channel, text string) {
	t.Helper()
	if got := v.answers(channel, text); len(got) != 1 {
		t.Errorf("%q stands %d times in %s, want once: %+v", text, len(got), channel, v.d.Messages(channel))
	}
}

func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name string
		test func(*testing.T)
	}{
		{"429 is waited out", waitedOut},
		{"429 when the context leaves no time", busy},
		{"429 on one channel leaves the others alone", oneChannel},
		{"5xx once: answered once", serverError},
		{"an answer lost after the message was stored: answered once", lostAnswer},
		{"an edit whose answer was lost", lostUpdate},
		{"an answer lost, tried again by the outbox: one post", lostPost},
		{"a post under another whose answer was lost is found there", lostUnder},
		{"a post that is too long is one message all the same", longPost},
		{"slow answers do not hold up acknowledgements", slowAnswers},
		{"sockets cut again and again: no event lost, none answered twice", cutSockets},
		{"the socket is renewed", renewed},
		{"sockets refused at the handshake", refusedSockets},
		{"an event that comes again", duplicate},
		{"events out of order", reordered},
		{"a revoked bot token at the start", revokedAtStart},
		{"a revoked app token", revokedApp},
		{"a bot token revoked while it runs", revokedLater},
		{"an answer under way when firn stops", stopping},
		{"Slack is down at the start", downAtStart},
		{"user names and groups that cannot be had", noPeople},
		{"a picture that is refused", noPicture},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			c.test(t)
		})
	}
}

func waitedOut(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Fail(slackdouble.Fault{Method: "chat.postMessage", RetryAfter: 1, Times: 1})
	began := time.Now()
	v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	if took := time.Since(began); took < time.Second {
		t.Errorf("answered after %v, Slack asked for 1 s", took)
	}
	v.once(t, crew, "Heard k1.")
	tidy(t, v.d)
}

func cold(key string) outbox.Post {
	return outbox.Post{Key: key, Channel: "slack:" + crew, Body: reply.Reply{Kind: reply.KindAlert, Facts: []string{"Cold at XKLD."}}}
}

func busy(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	d.Fail(slackdouble.Fault{Method: "chat.postMessage", RetryAfter: 30, Times: 1})
	for range 2 { // the second is not even asked
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		_, err := s.Send(ctx, cold("alert/XKLD/2026-01-15/1"))
		cancel()
		var again outbox.RetryAfterError
		if !errors.As(err, &again) || again.RetryAfter() < 25*time.Second || again.RetryAfter() > 30*time.Second || outbox.IsPermanent(err) {
			t.Fatalf("Send = %v, want an error that says to come again in 30 s", err)
		}
	}
	if n := d.Calls("chat.postMessage"); n != 1 {
		t.Errorf("Slack was asked %d times, want once", n)
	}
	if got := d.Posted(crew); len(got) > 0 {
		t.Errorf("posted %+v", got)
	}
	tidy(t, d)
}

func oneChannel(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Fail(slackdouble.Fault{Method: "chat.postMessage", Channel: crew, RetryAfter: 1, Times: 1})
	v.mention(t, crew, "k1")
	eventually(t, "the first is asked", func() bool { return v.d.Calls("chat.postMessage") > 0 })
	v.mention(t, north, "k2")
	v.await(t, north, "Heard k2.")
	if got := v.answers(crew, "Heard k1."); len(got) > 0 {
		t.Error("the channel that has to rest was answered first")
	}
	v.await(t, crew, "Heard k1.")
}

func serverError(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Fail(slackdouble.Fault{Method: "chat.postMessage", Status: 502, Times: 1})
	v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	v.desk.Wait()
	v.once(t, crew, "Heard k1.")
}

func lostAnswer(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	for i, m := range []slackdouble.Said{
		{User: kari, Channel: crew, Text: v.d.Mention() + " k0"},
		{User: odd, Channel: v.d.Direct(odd), Text: "k1"},
	} {
		v.d.Fail(slackdouble.Fault{Method: "chat.postMessage", Lose: true, Times: 1})
		v.say(t, m)
		v.await(t, m.Channel, fmt.Sprintf("Heard k%d.", i))
		v.desk.Wait()
		v.once(t, m.Channel, fmt.Sprintf("Heard k%d.", i))
	}
	tidy(t, v.d)
}

func lostUpdate(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	v.desk.Wait()
	v.d.Fail(slackdouble.Fault{Method: "chat.update", Lose: true, Times: 1})
	if _, err := v.d.Edit(crew, ts, v.d.Mention()+" k2"); err != nil {
		t.Fatal(err)
	}
	v.await(t, crew, "Heard k2.")
	v.desk.Wait()
	if got := v.d.Posted(crew); len(got) != 1 {
		t.Errorf("there are %d answers, want the one changed", len(got))
	}
}

// queued makes an outbox with one item of a watch's word in its queue.
func queued(t *testing.T, s *slack.Surface, body reply.Reply) *outbox.Outbox {
	t.Helper()
	store := storetest.NewMemory(time.Now)
	now := time.Now()
	fresh, err := store.Open(t.Context(), watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: now}, []outbox.Item{
		{Key: "alert/XKLD/2026-01-15/1", Channel: "slack:" + crew, Body: body, Made: now, Due: now},
	})
	if err != nil || !fresh {
		t.Fatalf("Open = %v, %v", fresh, err)
	}
	return outbox.New(slog.New(slog.DiscardHandler), time.Now, store, map[string]outbox.Sender{"slack": s},
		outbox.Settings{FirstBackoff: time.Millisecond, MaxBackoff: 2 * time.Millisecond})
}

// deliver works until nothing waits.
func deliver(t *testing.T, o *outbox.Outbox) {
	t.Helper()
	eventually(t, "the outbox is empty", func() bool {
		if _, err := o.Deliver(t.Context()); err != nil {
			t.Fatal(err)
		}
		b, err := o.Backlog(t.Context())
		if err != nil || b.GivenUp > 0 {
			t.Fatalf("backlog %+v, %v", b, err)
		}
		return b.Waiting == 0
	})
}

// lostUnder: another process finds what stands in a thread, behind what people
// say there, and finds nothing where nothing stands.
func lostUnder(t *testing.T) {
	d := double(t, func(o *slackdouble.Options) { o.Page = 3 })
	s := surface(t, d, nil)
	root, err := s.Send(t.Context(), cold("digest/2026-01-15/1"))
	if err != nil {
		t.Fatal(err)
	}
	post := cold("digest/2026-01-15/2")
	finds := func(want int) (ref string) {
		t.Helper()
		ref, found, err := surface(t, d, nil).FindUnder(t.Context(), root, post.Key)
		if found != (want > 0) || err != nil || len(d.Posted(crew)) != want+1 {
			t.Errorf("FindUnder = %q, %v, %v; %d posts stand there, want %d", ref, found, err, len(d.Posted(crew))-1, want)
		}
		return ref
	}
	finds(0)
	d.Fail(slackdouble.Fault{Method: "chat.postMessage", Status: 503, Times: 1})
	if _, err := s.SendUnder(t.Context(), post, root); err == nil {
		t.Error("a post that was refused has no error")
	}
	finds(0)
	d.Fail(slackdouble.Fault{Method: "chat.postMessage", Lose: true, Times: 1})
	if _, err := s.SendUnder(t.Context(), post, root); err == nil || outbox.IsPermanent(err) {
		t.Errorf("SendUnder = %v, want an error that is tried again", err)
	}
	thread := d.Posted(crew)[0].TS
	for range 7 { // more than two pages
		if _, err := d.Say(slackdouble.Said{User: kari, Channel: crew, Thread: thread, Text: "We are 20 min out."}); err != nil {
			t.Fatal(err)
		}
	}
	ref := finds(1)
	for _, m := range d.Posted(crew) {
		if strings.Contains(m.Read(), post.Key) {
			t.Errorf("the mark is seen in %q", m.Read())
		}
		if m.Thread == thread && !strings.Contains(ref, m.TS) {
			t.Errorf("%q is found, and %s stands there", ref, m.TS)
		}
	}
	if ref, found, err := s.FindUnder(t.Context(), root, post.Key+"0"); found || err != nil {
		t.Errorf("another key is found at %q, %v", ref, err)
	}
}

func lostPost(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	o := queued(t, s, cold("").Body)
	d.Fail(slackdouble.Fault{Method: "chat.postMessage", Lose: true, Times: 1})
	deliver(t, o)
	if got := d.Posted(crew); len(got) != 1 || got[0].Key("key") != "alert/XKLD/2026-01-15/1" {
		t.Errorf("posted %+v, want one with its key", got)
	}
	if n := d.Calls("chat.postMessage"); n != 1 {
		t.Errorf("posted %d times", n)
	}
	tidy(t, d)
}

// longBody is more than a message takes.
func longBody() reply.Reply {
	r := reply.Reply{Kind: reply.KindAlert, Actions: []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack XKLD"}}}
	for i := range 40 {
		r.Facts = append(r.Facts, fmt.Sprintf("Fact %02d: %s", i, strings.Repeat("cold ", 200)))
	}
	return r
}

func longPost(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	o := queued(t, s, longBody())
	d.Fail(slackdouble.Fault{Method: "chat.postMessage", Lose: true, Times: 1})
	deliver(t, o)
	got := d.Posted(crew)
	if len(got) != 1 || len(got[0].Buttons()) != 1 {
		t.Fatalf("%+v, want one message with its button", got)
	}
	read := got[0].Read()
	if !strings.Contains(read, "Fact 00:") || !strings.Contains(read, "There is more than fits here") {
		t.Errorf("the message reads %.300s", read)
	}
	if m := got[0].Menu(); len(m) != 1 || m[0].Value != "all" {
		t.Errorf("its menu is %+v, want an entry for everything", m)
	}
	tidy(t, d)
}

func slowAnswers(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	until := make(chan struct{})
	v.d.Fail(slackdouble.Fault{Method: "chat.postMessage", Until: until})
	v.d.Fail(slackdouble.Fault{Method: "users.info", Until: until})
	const n = 120 // more than the library's queues hold
	for i := range n {
		v.mention(t, crew, fmt.Sprintf("k%d.", i))
	}
	eventually(t, "everything is acknowledged", func() bool { return v.d.Unacknowledged() == 0 })
	if got := v.d.Posted(crew); len(got) > 0 {
		t.Errorf("%d answers before Slack takes any", len(got))
	}
	close(until)
	for i := range n {
		v.await(t, crew, fmt.Sprintf("Heard k%d.", i))
	}
	v.desk.Wait()
	if got := v.d.Posted(crew); len(got) != n {
		t.Errorf("%d answers to %d messages", len(got), n)
	}
	tidy(t, v.d)
}

func cutSockets(t *testing.T) {
	v := play(t, nil, func(o *slack.Options) { o.Sockets = 2 })
	connected(t, v.s)
	const n = 40
	for i := range n {
		v.mention(t, crew, fmt.Sprintf("k%02d", i))
		if i%8 == 3 {
			v.d.Cut()
		}
	}
	for i := range n {
		v.await(t, crew, fmt.Sprintf("Heard k%02d.", i))
	}
	eventually(t, "everything is acknowledged", func() bool { return v.d.Unacknowledged() == 0 })
	v.desk.Wait()
	for i := range n {
		v.once(t, crew, fmt.Sprintf("Heard k%02d.", i))
	}
	if err := v.s.State(); err != nil {
		t.Errorf("State = %v", err)
	}
}

func renewed(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	for i := range 3 {
		v.d.Disconnect("refresh_requested")
		v.mention(t, crew, fmt.Sprintf("k%d", i))
		if err := v.s.State(); err != nil {
			t.Errorf("State while the socket is renewed = %v", err)
		}
		v.await(t, crew, fmt.Sprintf("Heard k%d.", i))
	}
	v.desk.Wait()
	for i := range 3 {
		v.once(t, crew, fmt.Sprintf("Heard k%d.", i))
	}
	if n := v.d.Opened(); n != 4 {
		t.Errorf("%d sockets were opened, want 4", n)
	}
}

func refusedSockets(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Refuse(2)
	v.d.Cut()
	v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
}

func duplicate(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.mention(t, crew, "k1") // comes as message and as app_mention
	for range 3 {
		if err := v.d.Redeliver(crew + "/" + ts); err != nil {
			t.Fatal(err)
		}
	}
	eventually(t, "everything is acknowledged", func() bool { return v.d.Unacknowledged() == 0 })
	v.await(t, crew, "Heard k1.")
	v.mention(t, crew, "k2")
	v.await(t, crew, "Heard k2.")
	v.desk.Wait()
	v.once(t, crew, "Heard k1.")
	if n := v.a.count("k1"); n != 1 {
		t.Errorf("worked out %d times", n)
	}
	tidy(t, v.d)
}

func reordered(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Hold()
	said := map[string]string{}
	for i := range 5 {
		text := fmt.Sprintf("k%d", i)
		said[text] = v.mention(t, crew, text)
	}
	v.d.Release(true)
	for text, ts := range said {
		if m := v.await(t, crew, "Heard "+text+"."); m.Thread != ts {
			t.Errorf("%s is answered in thread %s, want %s", text, m.Thread, ts)
		}
	}
}

// refusal waits for a state that names a token's variable.
func refusal(t *testing.T, s *slack.Surface, d *slackdouble.Server, want string) {
	t.Helper()
	eventually(t, "the state says "+want, func() bool { return s.State() != nil && s.State().Error() == want })
	for _, token := range []string{d.AppToken(), d.BotToken()} {
		if strings.Contains(s.State().Error(), token) {
			t.Error("the state holds a token")
		}
	}
}

func revokedAtStart(t *testing.T) {
	d := double(t, nil)
	d.Revoke(d.BotToken())
	s := surface(t, d, func(o *slack.Options) { o.FirstBackoff, o.MaxBackoff = 50*time.Millisecond, 100*time.Millisecond })
	began := time.Now()
	run(t, s, chat.New(slog.New(slog.DiscardHandler), time.Now, &echo{}, chat.Settings{}))
	refusal(t, s, d, "Slack refuses the bot token (token_revoked): set FIRN_SLACK_BOT_TOKEN")
	eventually(t, "it is tried again", func() bool { return d.Calls("auth.test") >= 4 })
	if took := time.Since(began); took < 250*time.Millisecond { // 50, 100 and 100 between four
		t.Errorf("tried four times within %v", took)
	}
	d.Mend()
	connected(t, s)
}

func revokedApp(t *testing.T) {
	d := double(t, nil)
	d.Revoke(d.AppToken())
	s := surface(t, d, nil)
	a := &echo{}
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, a, chat.Settings{})
	run(t, s, desk)
	refusal(t, s, d, "Slack refuses the app token (token_revoked): set FIRN_SLACK_APP_TOKEN")
	if n := d.Calls("apps.connections.open"); n > 20 {
		t.Errorf("the token was tried %d times", n)
	}
	d.Mend()
	connected(t, s)
	// Also when Slack wants a new connection later.
	d.Revoke(d.AppToken())
	d.Cut()
	refusal(t, s, d, "Slack refuses the app token (token_revoked): set FIRN_SLACK_APP_TOKEN")
	d.Mend()
	connected(t, s)
}

func revokedLater(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Revoke(v.d.BotToken())
	v.mention(t, crew, "k1")
	refusal(t, v.s, v.d, "Slack refuses the bot token (token_revoked): set FIRN_SLACK_BOT_TOKEN")
	_, err := v.s.Send(t.Context(), cold("k"))
	if err == nil || outbox.IsPermanent(err) {
		t.Errorf("Send = %v, want an error that the outbox tries again", err)
	}
	v.d.Mend()
	connected(t, v.s)
	v.mention(t, crew, "k2")
	v.await(t, crew, "Heard k2.")
}

func stopping(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	wait := make(chan struct{})
	v.a.mu.Lock()
	v.a.wait = wait
	v.a.mu.Unlock()
	v.mention(t, crew, "k1")
	eventually(t, "it is being worked out", func() bool { return v.a.count("k1") == 1 })
	time.AfterFunc(100*time.Millisecond, func() { close(wait) })
	v.stop()
	v.once(t, crew, "Heard k1.")
	if v.s.State() == nil {
		t.Error("a surface that has stopped says that it is well")
	}
}

func downAtStart(t *testing.T) {
	d := double(t, nil)
	d.Fail(slackdouble.Fault{Status: 503})
	s := surface(t, d, nil)
	run(t, s, chat.New(slog.New(slog.DiscardHandler), time.Now, &echo{}, chat.Settings{}))
	eventually(t, "it has tried", func() bool { return d.Calls("auth.test") > 1 })
	if err := s.State(); err == nil || !strings.Contains(err.Error(), "Slack is not connected") {
		t.Errorf("State = %v", err)
	}
	d.Mend()
	connected(t, s)
}

func noPeople(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Fail(slackdouble.Fault{Method: "users.info", Error: "internal_error"})
	v.d.Fail(slackdouble.Fault{Method: "usergroups.users.list", Status: 503})
	v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	if got := v.a.heard().User; got != "slack:"+kari {
		t.Errorf("the person is %q, want the id", got)
	}
}

func noPicture(t *testing.T) {
	d := double(t, nil)
	d.Fail(slackdouble.Fault{Method: "files.completeUploadExternal", Error: "internal_error"})
	s := surface(t, d, nil)
	ref, err := s.Follow(t.Context(), chat.Ref(crew+"/1.000001"), chat.Message{
		Reply: reply.Reply{Facts: []string{"A card."}}, Pictures: []chat.Picture{{Name: "profile.png", Alt: "The profile.", PNG: []byte("png")}},
	})
	if err != nil || ref == "" {
		t.Errorf("Follow = %q, %v; the card counts, not its picture", ref, err)
	}
}
