package slack_test

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// quiet says that what was said before brought no answer but the ones named.
func (v *scene) quiet(t *testing.T, channel string, want int) {
	t.Helper()
	v.mention(t, north, "mark")
	v.await(t, north, "Heard mark.")
	eventually(t, "everything is acknowledged", func() bool { return v.d.Unacknowledged() == 0 })
	v.desk.Wait()
	if got := v.d.Posted(channel); len(got) != want {
		t.Errorf("%d answers in %s, want %d: %+v", len(got), channel, want, got)
	}
}

func TestWhoIsHeard(t *testing.T) {
	for _, c := range []struct {
		name string
		said slackdouble.Said
		want int
	}{
		{"a mention", slackdouble.Said{User: kari, Channel: crew, Text: "<@U0FIRN> k1"}, 1},
		{"a mention with a label", slackdouble.Said{User: kari, Channel: crew, Text: "hello <@U0FIRN|firn> k1"}, 1},
		{"talk without a mention", slackdouble.Said{User: kari, Channel: crew, Text: "k1"}, 0},
		{"another bot that mentions it", slackdouble.Said{User: "U0BOT", Bot: "B0OTHER", Channel: crew, Text: "<@U0FIRN> k1"}, 0},
		{"itself", slackdouble.Said{User: "U0FIRN", Bot: "B0FIRN", Channel: crew, Text: "<@U0FIRN> k1"}, 1}, // the one that stands there
		{"a channel that is not configured", slackdouble.Said{User: kari, Channel: other, Text: "<@U0FIRN> k1"}, 0},
		{"another workspace", slackdouble.Said{User: kari, Channel: crew, Team: "T0OTHER", Text: "<@U0FIRN> k1"}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			v := play(t, nil, nil)
			connected(t, v.s)
			v.say(t, c.said)
			v.quiet(t, c.said.Channel, c.want)
			tidy(t, v.d)
		})
	}
}

// Threads: what is said in one that the bot is in is to it, without a mention.
func TestThreads(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	talk := v.say(t, slackdouble.Said{User: kari, Channel: crew, Text: "cold today"})
	v.say(t, slackdouble.Said{User: odd, Channel: crew, Thread: talk, Text: "indeed"})
	v.quiet(t, crew, 0)

	asked := v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	v.say(t, slackdouble.Said{User: odd, Channel: crew, Thread: asked, Text: "k2"})
	if m := v.await(t, crew, "Heard k2."); m.Thread != asked {
		t.Errorf("the follow-up is answered in %q, want %q", m.Thread, asked)
	}
	v.say(t, slackdouble.Said{User: odd, Channel: crew, Thread: asked, Text: "<@U0KARI> lunch?"})
	v.quiet(t, crew, 2)

	// After a restart Slack says in which threads the bot is.
	v.stop()
	s := surface(t, v.d, nil)
	run(t, s, v.desk)
	connected(t, s)
	v.say(t, slackdouble.Said{User: pia, Channel: crew, Thread: asked, Text: "k3"})
	v.await(t, crew, "Heard k3.")
	tidy(t, v.d)
}

func TestUnfoldedLink(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	if err := v.d.Unfurl(crew, ts); err != nil {
		t.Fatal(err)
	}
	v.quiet(t, crew, 1)
	if n := v.a.count("k1"); n != 1 {
		t.Errorf("answered %d times", n)
	}
}

func TestMentionByEdit(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.say(t, slackdouble.Said{User: kari, Channel: crew, Text: "k1"})
	if _, err := v.d.Edit(crew, ts, v.d.Mention()+" k2"); err != nil {
		t.Fatal(err)
	}
	if m := v.await(t, crew, "Heard k2."); m.Thread != ts {
		t.Errorf("answered in %q, want %q", m.Thread, ts)
	}
	v.quiet(t, crew, 1)
}

// An edit that takes the mention out is still one of a message to the bot, and what
// it says now is not said to it.
func TestUnmentionedByEdit(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	if _, err := v.d.Edit(crew, ts, "k2"); err != nil {
		t.Fatal(err)
	}
	v.await(t, crew, "Heard k2.")
	if m := v.a.heard(); !m.Heard {
		t.Errorf("%q is taken as said to the bot", m.Text)
	}
}

// A plain answer is one call, once a person's name and groups are known.
func TestOneCall(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.mention(t, crew, "k1")
	v.await(t, crew, "Heard k1.")
	v.desk.Wait()
	before := v.d.AllCalls()
	v.mention(t, crew, "button k2")
	v.await(t, crew, "Heard button k2.")
	eventually(t, "everything is acknowledged", func() bool { return v.d.Unacknowledged() == 0 })
	v.desk.Wait()
	if n := v.d.AllCalls() - before; n != 1 {
		t.Errorf("a plain answer is %d calls, want one", n)
	}
	tidy(t, v.d)
}

// A command's answer stands in the channel with who asked what above it, and
// its thread goes on from it.
func TestCommand(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	if _, err := v.d.Command(kari, crew, "k1 &lt;!channel&gt;"); err != nil {
		t.Fatal(err)
	}
	m := v.await(t, crew, "Heard k1 <!channel>.")
	if m.Thread != "" || m.Response || !strings.Contains(m.Read(), "Kari asked: k1 <!channel>") {
		t.Errorf("the answer is %+v: %s", m, m.Read())
	}
	v.desk.Wait()
	begun := v.a.heard().Thread
	v.say(t, slackdouble.Said{User: odd, Channel: crew, Thread: m.TS, Text: "k2"})
	v.await(t, crew, "Heard k2.")
	if got := v.a.heard().Thread; got != begun || got == "" {
		t.Errorf("the follow-up is of thread %q, the command of %q", got, begun)
	}
	tidy(t, v.d)
}

func TestCommandWhereTheBotIsNot(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	if _, err := v.d.Command(kari, closed, "k1"); err != nil {
		t.Fatal(err)
	}
	m := v.await(t, closed, "Heard k1.")
	if !m.Response || m.Only != "" {
		t.Errorf("the answer came as %+v, want by the response address, for all", m)
	}
	tidy(t, v.d)
}

// A long answer is one post of the five that a response address takes.
func TestLongResponse(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	if _, err := v.d.Command(kari, closed, strings.Repeat("cold ", 10200)); err != nil {
		t.Fatal(err)
	}
	v.await(t, closed, "There is more than fits here")
	v.desk.Wait()
	if got := v.d.Posted(closed); len(got) != 1 {
		t.Errorf("%d posts, want one", len(got))
	}
	tidy(t, v.d)
}

func TestShortcuts(t *testing.T) {
	m := readManifest(t)
	callback := func(kind string) string {
		for _, s := range m.Features.Shortcuts {
			if s.Type == kind {
				return s.Callback
			}
		}
		return ""
	}
	v := play(t, nil, nil)
	connected(t, v.s)
	ts := v.say(t, slackdouble.Said{User: odd, Channel: crew, Text: "XKLD -38 8200 &amp; more"})
	if _, err := v.d.Shortcut(kari, crew, ts, callback("message")); err != nil {
		t.Fatal(err)
	}
	if got := v.await(t, crew, "Heard XKLD -38 8200 & more."); got.Thread != ts {
		t.Errorf("answered in thread %q, want under the message %q", got.Thread, ts)
	}
	if got := v.a.heard(); !strings.Contains(got.User, kari) {
		t.Errorf("asked by %q, want the person with the shortcut", got.User)
	}

	if _, err := v.d.Lightning(pia, callback("global")); err != nil {
		t.Fatal(err)
	}
	fill(t, v, pia)
	v.await(t, v.d.Direct(pia), "Heard XKLD -38 FAF 8200.")
	tidy(t, v.d)
}

// fill fills the open form of a person in and sends it.
func fill(t *testing.T, v *scene, person string) {
	t.Helper()
	var form slackdouble.View
	eventually(t, "a form is open", func() bool {
		all := v.d.Views(person)
		if len(all) > 0 {
			form = all[len(all)-1]
		}
		return form.Open
	})
	_, err := v.d.Submit(form.ID, map[string]string{"station": "XKLD", "temperature": "-38", "altitudes": "FAF 8200"})
	if err != nil {
		t.Fatal(err)
	}
	if w, _ := v.d.View(form.ID); w.Open {
		t.Fatalf("the form is still open, with %q", w.Problems)
	}
}

func TestHome(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.OpenHome(kari)
	eventually(t, "the front page is there", func() bool { return strings.Contains(v.d.Home(kari).Read(), "Heard mine.") })
	if _, err := v.d.PressHome(kari, "form:open"); err != nil {
		t.Fatal(err)
	}
	fill(t, v, kari)
	v.await(t, v.d.Direct(kari), "Heard XKLD -38 FAF 8200.")
	tidy(t, v.d)
}

// TestHomeActs: beside each line of the front page stands what can be done
// about it, and a check is asked about in a window.
func TestHomeActs(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	item := func(id, text string, a reply.Action) reply.MineItem {
		return reply.MineItem{ID: id, Text: text, Actions: []reply.Action{a}}
	}
	var many []reply.MineItem
	for i := range 40 {
		ident := fmt.Sprintf("X%03d", i)
		many = append(many, item(ident, "BELOW, line −25.", reply.Action{ID: "ack-" + ident, Label: "Seen", Message: "ack " + ident}))
	}
	r := reply.MineOf(
		[]reply.MineItem{item("KALOMI-RUTA", "XKLD −38 °C. By anna at 12:00Z, not checked.", reply.Action{ID: "check", Label: "Check", Message: "check KALOMI-RUTA"})},
		[]reply.MineItem{item("GOGA-RUTA", "XKLD −38 °C. Out of date: −45 now, worked at −38.", reply.Action{ID: "recompute", Label: "Again at −45", Message: "recompute GOGA-RUTA"})},
		many)
	if err := v.s.Front(t.Context(), chat.Event{Person: chat.Person{ID: kari}}, chat.Message{Reply: r}); err != nil {
		t.Fatal(err)
	}
	home := v.d.Home(kari)
	var labels []string
	check := ""
	for _, b := range home.Buttons() {
		labels = append(labels, b.Label+"="+b.Value)
		if b.Label == "Check" {
			check = b.ID
		}
	}
	want := []string{"Check=check KALOMI-RUTA", "Again at −45=recompute GOGA-RUTA", "Seen=ack X000"}
	if len(labels) != 12 || !slices.Equal(labels[:3], want) || labels[10] != "Seen all=ack all" || labels[11] != "Fill in the form=" {
		t.Errorf("buttons %q, want %q, the first eight bases, all of them and the form", labels, want)
	}
	for _, text := range []string{"By anna at 12:00Z, not checked.", "And 32 more", "Yours, to compute again: 1"} {
		if !strings.Contains(home.Read(), text) {
			t.Errorf("%q is not on\n%s", text, home.Read())
		}
	}
	if _, err := v.d.PressHome(kari, check); err != nil {
		t.Fatal(err)
	}
	window := func() slackdouble.View {
		for _, w := range v.d.Views(kari) {
			if w.Callback == "firn_confirm" && w.Open {
				return w
			}
		}
		return slackdouble.View{}
	}
	eventually(t, "the figures are in a window", func() bool { return strings.Contains(window().Read(), "8990") })
	if _, err := v.d.Submit(window().ID, nil); err != nil {
		t.Fatal(err)
	}
	v.await(t, v.d.Direct(kari), "Heard check KALOMI-RUTA.")
	tidy(t, v.d)
}

// The front page takes no table: columns are kept another way.
func TestHomeTable(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	r := reply.Reply{Kind: reply.KindCorrection, Headline: "XKLD", Altitudes: []reply.Row{{Label: "FAF", PublishedFt: 8200, CorrectionFt: 800, CorrectedFt: 9000}}}
	for i := range 3000 {
		r.Cautions = append(r.Cautions, reply.Caution{Text: fmt.Sprintf("Caution %d %s", i, strings.Repeat("cold ", 50))})
	}
	if err := s.Front(t.Context(), chat.Event{Person: chat.Person{ID: kari}}, chat.Message{Reply: r}); err != nil {
		t.Fatal(err)
	}
	if got := d.Home(kari).Read(); !strings.Contains(got, "9000") || !strings.Contains(got, "There is more than fits here") {
		t.Errorf("the front page shows %.300s", got)
	}
	tidy(t, d)
}

func TestSuggestions(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	if _, err := v.d.Command(kari, crew, "form"); err != nil {
		t.Fatal(err)
	}
	var form slackdouble.View
	eventually(t, "the form is open", func() bool {
		all := v.d.Views(kari)
		if len(all) > 0 {
			form = all[0]
		}
		return form.Open
	})
	for typed, want := range map[string][]string{
		"":          {"XKLD", "XRUN"},
		"runm":      {"XRUN"},
		"elev 4802": {"elev 4802"}, // the dispatcher says whether it can be used
	} {
		got, err := v.d.Suggest(form.ID, chat.FieldStation, typed)
		if err != nil || !slices.Equal(got, want) {
			t.Errorf("for %q are offered %q, %v; want %q", typed, got, err, want)
		}
	}
	tidy(t, v.d)
}

// forms asks for the form after every message.
type forms struct {
	chat.Handler
	errs chan error
}

func (f forms) Handle(ctx context.Context, s chat.Surface, e chat.Event) {
	f.errs <- s.Open(ctx, e, chat.Form{Station: "XKLD", Temperature: "38", Problems: map[string]string{chat.FieldTemperature: "38 has no sign."}})
}

// Where there is nothing to open a form with, a button is offered that does.
func TestFormWithoutTrigger(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, &echo{}, chat.Settings{Stations: stations{}})
	f := forms{Handler: desk, errs: make(chan error, 10)}
	run(t, s, f)
	connected(t, s)
	if _, err := d.Say(slackdouble.Said{User: kari, Channel: d.Direct(kari), Text: "form"}); err != nil {
		t.Fatal(err)
	}
	if err := <-f.errs; err != nil {
		t.Fatal(err)
	}
	posted := d.Posted(d.Direct(kari))
	if len(posted) != 1 || len(posted[0].Buttons()) != 1 {
		t.Fatalf("posted %+v, want a button", posted)
	}
	b := posted[0].Buttons()[0]
	if _, err := d.Press(kari, d.Direct(kari), posted[0].TS, b.ID); err != nil {
		t.Fatal(err)
	}
	if err := <-f.errs; err != nil {
		t.Fatal(err)
	}
	all := d.Views(kari)
	if len(all) != 1 || all[0].Fields()["station"] != "XKLD" || all[0].Fields()["temperature"] != "38" {
		t.Fatalf("forms %+v, want one with what was filled in", all)
	}
	if top := (slackdouble.Message{Blocks: all[0].Blocks}).Read(); !strings.Contains(top, "38 has no sign.") {
		t.Errorf("the form does not say what is wrong: %s", top)
	}
	tidy(t, d)
}

func TestTriggerTooOld(t *testing.T) {
	d := double(t, func(o *slackdouble.Options) { o.TriggerLife = time.Nanosecond })
	s := surface(t, d, nil)
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, &echo{}, chat.Settings{Where: map[string]chat.Where{"slack": {Home: d.Team(), Channels: []string{crew}}}})
	f := forms{Handler: desk, errs: make(chan error, 10)}
	run(t, s, f)
	connected(t, s)
	if _, err := d.Command(kari, crew, ""); err != nil {
		t.Fatal(err)
	}
	if err := <-f.errs; err != nil {
		t.Fatal(err)
	}
	if got := d.Posted(crew); len(got) != 1 || len(got[0].Buttons()) != 1 {
		t.Errorf("posted %+v, want a button that opens the form", got)
	}
}

// The dispatcher can be set up with a word for the bot's own workspace, before Slack
// has said its id.
func TestHomeWord(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, func(o *slack.Options) { o.Home = "own" })
	c := collect{Handler: chat.New(slog.New(slog.DiscardHandler), time.Now, nil, chat.Settings{}), events: make(chan chat.Event, 10)}
	run(t, s, c)
	connected(t, s)
	for team, want := range map[string]string{"": "own", "T0OTHER": "T0OTHER"} {
		if _, err := d.Say(slackdouble.Said{User: kari, Channel: d.Direct(kari), Team: team, Text: "k1"}); err != nil {
			t.Fatal(err)
		}
		if e := <-c.events; e.Place.Home != want || !e.Place.Direct {
			t.Errorf("an event of %q is at %+v, want home %q", team, e.Place, want)
		}
	}
}

// collect keeps events.
type collect struct {
	chat.Handler
	events chan chat.Event
}

func (c collect) Handle(_ context.Context, _ chat.Surface, e chat.Event) { c.events <- e }

func TestSockets(t *testing.T) {
	v := play(t, nil, func(o *slack.Options) { o.Sockets = 3 })
	eventually(t, "three sockets", func() bool { return v.d.Connections() == 3 })
	for i := range 9 {
		v.mention(t, crew, fmt.Sprintf("k%d", i))
	}
	for i := range 9 {
		v.await(t, crew, fmt.Sprintf("Heard k%d.", i))
	}
	v.stop()
	eventually(t, "no socket", func() bool { return v.d.Connections() == 0 })
	tidy(t, v.d)
}

// A card that an older firn posted in several messages is one when it is
// changed, also for a process that does not remember it, and keeps its key.
func TestChangeOfOlderCard(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	part, err := s.Send(t.Context(), outbox.Post{Key: "k/0", Channel: "slack:" + crew, Body: reply.Reply{Facts: []string{"Older figures."}}})
	if err != nil {
		t.Fatal(err)
	}
	_, ts, _ := strings.Cut(part, "/")
	ref, err := s.Send(t.Context(), outbox.Post{Key: "k/1", Channel: "slack:" + crew, Body: longBody()})
	if err != nil {
		t.Fatal(err)
	}
	_, own, _ := strings.Cut(ref, "/")
	if err := d.SetMetadata(crew, own, map[string]any{"event_type": "firn_post", "event_payload": map[string]any{"key": "k/1", "part": 2, "of": 2, "parts": []any{ts}}}); err != nil {
		t.Fatal(err)
	}
	s = surface(t, d, nil) // it has to ask Slack
	if err := s.Change(t.Context(), chat.Ref(ref), chat.Message{Reply: reply.Reply{Facts: []string{"Short."}}}); err != nil {
		t.Fatal(err)
	}
	if got := d.Posted(crew); len(got) != 1 || got[0].TS != own || got[0].Read() != "Short." {
		t.Errorf("%+v stand there, want the one", got)
	}
	if at, found, err := s.Find(t.Context(), "slack:"+crew, "k/1"); err != nil || !found || at != ref {
		t.Errorf("Find = %q, %v, %v; want %q", at, found, err, ref)
	}
	tidy(t, d)
}

func TestFind(t *testing.T) {
	d := double(t, func(o *slackdouble.Options) { o.Page = 7 })
	s := surface(t, d, nil)
	ref, err := s.Send(t.Context(), cold("k/1"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 30 { // several pages back
		if _, err := d.Say(slackdouble.Said{User: kari, Channel: crew, Text: fmt.Sprint("talk ", i)}); err != nil {
			t.Fatal(err)
		}
	}
	got, found, err := s.Find(t.Context(), "slack:"+crew, "k/1")
	if err != nil || !found || got != ref {
		t.Errorf("Find = %q, %v, %v; want %q", got, found, err, ref)
	}
	before := d.Calls("conversations.history")
	later := surface(t, d, func(o *slack.Options) { o.Now = func() time.Time { return time.Now().Add(80 * time.Hour) } })
	if got, found, err := later.Find(t.Context(), "slack:"+crew, "k/1"); err != nil || found {
		t.Errorf("80 h later Find = %q, %v, %v; that far back nothing is looked for", got, found, err)
	}
	if n := d.Calls("conversations.history") - before; n != 1 {
		t.Errorf("80 h later %d pages were read", n)
	}
	tidy(t, d)
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name, channel, failure string
		permanent              bool
	}{
		{"no such channel", "slack:C0NONE", "", true},
		{"not in the channel", "slack:" + closed, "", true},
		{"archived", "slack:" + north, "", true},
		{"no such person", "slack:U0NONE", "", true},
		{"a user group", "slack:" + onDuty, "", true},
		{"not an address", "discord:1", "", true},
		{"no id", "slack:", "", true},
		{"blocks that Slack does not take", "slack:" + crew, "invalid_blocks", true},
		{"a scope that is missing", "slack:" + crew, "missing_scope", false},
		{"a token that is refused", "slack:" + crew, "invalid_auth", false},
		{"Slack's own trouble", "slack:" + crew, "internal_error", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := double(t, nil)
			d.Archive(north)
			if c.failure != "" {
				d.Fail(slackdouble.Fault{Method: "chat.postMessage", Error: c.failure})
			}
			p := cold("k/1")
			p.Channel = c.channel
			_, err := surface(t, d, nil).Send(t.Context(), p)
			if err == nil || outbox.IsPermanent(err) != c.permanent {
				t.Errorf("Send = %v, permanent %v; want permanent %v", err, outbox.IsPermanent(err), c.permanent)
			}
			if err != nil && !strings.Contains(err.Error(), c.failure) {
				t.Errorf("the error %q does not say %s", err, c.failure)
			}
		})
	}
}

// Tokens show themselves to nobody.
func TestTokens(t *testing.T) {
	secret := "xoxb-" + "never"
	token := slack.Token(secret)
	asJSON, err := json.Marshal(map[string]any{"t": token})
	if err != nil {
		t.Fatal(err)
	}
	var logged strings.Builder
	slog.New(slog.NewTextHandler(&logged, nil)).Info("x", "token", token, "options", slack.Options{BotToken: token})
	for _, s := range []string{fmt.Sprint(token), fmt.Sprintf("%v %+v %#v %q %s", token, token, token, token, token), fmt.Sprintf("%+v", slack.Options{BotToken: token}), string(asJSON), logged.String()} {
		if strings.Contains(s, "never") {
			t.Errorf("the token shows in %q", s)
		}
	}
}

func TestNew(t *testing.T) {
	app, bot := slack.Token("xapp-"+"1"), slack.Token("xoxb-"+"1")
	for _, c := range []struct {
		name string
		o    slack.Options
		want string
	}{
		{"no bot token", slack.Options{AppToken: app}, "no Slack bot token: set FIRN_SLACK_BOT_TOKEN"},
		{"no app token", slack.Options{BotToken: bot}, "no Slack app token: set FIRN_SLACK_APP_TOKEN"},
		{"the wrong way round", slack.Options{AppToken: bot, BotToken: app}, "FIRN_SLACK_BOT_TOKEN holds the app token (xapp-); the bot token begins with xoxb-"},
		{"both", slack.Options{AppToken: app, BotToken: bot}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := slack.New(slog.New(slog.DiscardHandler), c.o)
			if got := fmt.Sprint(err); c.want != "" && got != c.want || c.want == "" && err != nil {
				t.Errorf("New = %v, want %q", err, c.want)
			}
		})
	}
}

// The tests above run with the manifest's scopes and events and no others;
// this holds it to asking for no more, and to naming what the code calls.
func TestManifest(t *testing.T) {
	m := readManifest(t)
	scopes := []string{"app_mentions:read", "channels:history", "chat:write", "commands", "files:write", "groups:history", "im:history", "im:write", "usergroups:read", "users:read"}
	if got := slices.Sorted(slices.Values(m.OAuth.Scopes.Bot)); !slices.Equal(got, scopes) || len(m.OAuth.Scopes.User) > 0 {
		t.Errorf("scopes %q and %q for users, want %q and none", got, m.OAuth.Scopes.User, scopes)
	}
	events := []string{"app_home_opened", "app_mention", "message.channels", "message.groups", "message.im"}
	if got := slices.Sorted(slices.Values(m.Settings.Events.Bot)); !slices.Equal(got, events) {
		t.Errorf("events %q, want %q", got, events)
	}
	if len(m.Features.Commands) != 1 || m.Features.Commands[0].Command != "/firn" || m.Features.Commands[0].Escape {
		t.Errorf("commands %+v", m.Features.Commands)
	}
	calls := map[string]string{}
	for _, s := range m.Features.Shortcuts {
		calls[s.Type] = s.Callback
		// Slack's limits for shortcuts.
		if len(s.Name) > 24 || len(s.Description) > 150 {
			t.Errorf("the shortcut %q or its description is too long", s.Name)
		}
	}
	if calls["message"] != "firn_correct" || calls["global"] != "firn_form" {
		t.Errorf("shortcuts %q", calls)
	}
	if !m.Settings.Socket || !m.Settings.Interactivity.On || !m.Features.AppHome.Home || !m.Features.AppHome.Messages || m.Features.AppHome.ReadOnly {
		t.Errorf("settings %+v, %+v", m.Settings, m.Features.AppHome)
	}
}
