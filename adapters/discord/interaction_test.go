package discord

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/reply"
)

func useCommand(t *testing.T, d *discorddouble.Server, sub string, options map[string]string) string {
	t.Helper()
	id, err := d.Command(d.Channels()[0], d.People()[0].ID, sub, options)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func TestCommands(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	for _, c := range []struct {
		name, sub string
		options   map[string]string
		want      string
	}{
		{"a message", "ask", map[string]string{"message": " XKLD -38 8200 "}, "XKLD -38 8200"},
		{"fields", "ask", map[string]string{"station": "XKLD", "temperature": "-38", "altitudes": "FAF 8200"}, "XKLD -38 FAF 8200"},
		{"fields before a pasted report", "ask", map[string]string{"altitudes": "8200", "message": "XKLD 251153Z M38/M42 RMK T13781422"}, "8200 XKLD 251153Z M38/M42 RMK T13781422"},
		{"a stored procedure", "ask", map[string]string{"procedure": "rnav 31", "temperature": "-38", "station": "XKLD"}, "XKLD rnav 31 -38"},
		{"a brief", "brief", map[string]string{"station": "XKLD", "time": "1430", "procedure": "rnav 31", "more": "XRUN 1515"}, "brief XKLD rnav 31 1430 XRUN 1515"},
		{"the bases", "watch", nil, "watch"},
		{"a base", "watch", map[string]string{"station": "XKLD"}, "watch XKLD"},
		{"a card", "card", map[string]string{"record": "KALOMI-RUTA"}, "card KALOMI-RUTA"},
		{"a check", "check", map[string]string{"record": "KALOMI-RUTA"}, "check KALOMI-RUTA"},
		{"a blind check", "check", map[string]string{"record": "KALOMI-RUTA", "altitudes": "9000 5470"}, "check KALOMI-RUTA 9000 5470"},
		{"the log", "log", nil, "log"},
		{"a station's log", "log", map[string]string{"station": "XKLD", "which": "unchecked"}, "log XKLD unchecked"},
		{"what concerns one", "mine", nil, "mine"},
		{"help", "help", nil, "help"},
	} {
		t.Run(c.name, func(t *testing.T) {
			id := useCommand(t, d, c.sub, c.options)
			awaitAnswer(t, d, c.want)
			if got := d.State(id); got != "answered" {
				t.Errorf("the interaction is %s", got)
			}
			e := k.heard()[len(k.heard())-1]
			if e.Kind != chat.MessagePosted || e.Text != c.want || e.ID != id || e.Message != "" || e.Place.Home != d.Guild() || e.Place.Channel != d.Channels()[0] || e.Place.Begins != id {
				t.Errorf("event %+v", e)
			}
		})
	}
}

// Answers that take long are announced in time, in the way that fits what
// was done.
func TestDeferred(t *testing.T) {
	setup := func(t *testing.T, k *clerk) *discorddouble.Server {
		d := startDouble(t, discorddouble.Options{})
		o := options(d)
		o.pauses.ack = 20 * time.Millisecond
		k.work = 120 * time.Millisecond
		ready(t, d, newSurface(t, o), k)
		return d
	}
	t.Run("a command", func(t *testing.T) {
		d := setup(t, &clerk{})
		id := useCommand(t, d, "ask", map[string]string{"message": "one"})
		wait(t, d, "the wait shows", func() bool { return d.State(id) == "deferred" })
		awaitAnswer(t, d, "one")
		if got := d.FromBot(d.Channels()[0]); len(got) != 1 || got[0].Only != "" {
			t.Errorf("shown %+v", got)
		}
	})
	t.Run("a refusal is private all the same", func(t *testing.T) {
		d := setup(t, &clerk{quiet: true})
		id := useCommand(t, d, "ask", map[string]string{"message": "one"})
		wait(t, d, "the wait shows", func() bool { return d.State(id) == "deferred" })
		awaitAnswer(t, d, "one")
		if got := d.FromBot(d.Channels()[0]); len(got) != 1 || got[0].Only != d.People()[0].ID {
			t.Errorf("shown %+v", got)
		}
	})
	t.Run("a wait that nothing follows is taken back", func(t *testing.T) {
		d := setup(t, &clerk{silent: true})
		id := useCommand(t, d, "ask", map[string]string{"message": "one"})
		wait(t, d, "the wait shows", func() bool { return d.State(id) == "deferred" })
		wait(t, d, "the wait is over", func() bool { return d.State(id) == "answered" })
	})
	t.Run("a button", func(t *testing.T) {
		k := &clerk{}
		d := setup(t, k)
		question := say(t, d, "one")
		awaitAnswer(t, d, "one")
		id, err := d.Press(question, d.FromBot(question)[0].ID, d.People()[1].ID, "Show the working")
		if err != nil {
			t.Fatal(err)
		}
		wait(t, d, "the press is acknowledged", func() bool { return d.State(id) == "noted" })
		awaitAnswer(t, d, "why one")
		if e := k.heard()[1]; e.Kind != chat.Pressed || e.Text != "why one" || e.Place.Thread != question || e.Person.Name != "Brun" {
			t.Errorf("event %+v", e)
		}
	})
}

// The answer to a callback is lost: giving it again is refused, which says
// that it stands.
func TestCallbackLost(t *testing.T) {
	for _, f := range []discorddouble.Fault{
		{Status: http.StatusBadGateway, After: true}, {Cut: true, After: true}, {Status: http.StatusBadGateway}, {Status: http.StatusTooManyRequests, RetryAfter: 20 * time.Millisecond},
	} {
		d := startDouble(t, discorddouble.Options{})
		k := &clerk{}
		ready(t, d, newSurface(t, options(d)), k)
		f.Path = "/callback"
		d.Fail(f)
		useCommand(t, d, "ask", map[string]string{"message": "one"})
		awaitAnswer(t, d, "one")
		eventually(t, "the answer is done", func() bool { k.mu.Lock(); defer k.mu.Unlock(); return len(k.refs) == 1 })
		at := d.Channels()[0]
		if got := d.FromBot(at); len(got) != 1 || len(k.failures()) > 0 || string(k.refs[0]) != at+"/"+got[0].ID {
			t.Errorf("%+v: shown %d, references %q, failures %v", f, len(got), k.refs, k.failures())
		}
	}
}

// An interaction that came too late to be answered is answered in its channel.
func TestTooLate(t *testing.T) {
	d, err := discorddouble.Start(discorddouble.Options{Token: testToken, Answer: time.Nanosecond})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.Close)
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	useCommand(t, d, "ask", map[string]string{"message": "one"})
	awaitAnswer(t, d, "one")
	if got := k.failures(); len(got) > 0 {
		t.Errorf("failures: %v", got)
	}
}

func TestElsewhereIsNotAcknowledged(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{places: map[string]bool{d.Channels()[0]: true}}
	o := options(d)
	o.pauses.ack = time.Millisecond
	ready(t, d, newSurface(t, o), k)
	id, err := d.Command(d.Channels()[1], d.People()[0].ID, "ask", map[string]string{"message": "one"})
	if err != nil {
		t.Fatal(err)
	}
	useCommand(t, d, "ask", map[string]string{"message": "two"})
	awaitAnswer(t, d, "two")
	if got := d.State(id); got != "open" {
		t.Errorf("an interaction elsewhere is %s", got)
	}
}

func TestAutocomplete(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	wait(t, d, "the commands stand", func() bool { return d.Counts().Registers == 1 })
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	for _, c := range []struct{ sub, option string }{
		{"ask", "station"}, {"ask", "procedure"}, {"brief", "station"}, {"brief", "procedure"}, {"watch", "station"}, {"card", "record"}, {"check", "record"}, {"log", "station"}, {"log", "record"},
	} {
		got, err := d.Autocomplete(ctx, d.Channels()[0], d.People()[0].ID, c.sub, c.option, map[string]string{c.option: "kal"})
		if want := c.sub + " " + c.option + " kal"; err != nil || len(got) != 25 || got[0] != (discorddouble.Choice{Name: "X000 " + want, Value: "X000"}) {
			t.Errorf("for %s of /firn %s: offered %v, %v", c.option, c.sub, got, err)
		}
	}
}

// A form with problems goes back by a private button, with what was typed.
func TestFormSentBack(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{check: map[string]string{"temperature": "Is it -38 or +38?"}}
	ready(t, d, newSurface(t, options(d)), k)
	at, ada := d.Channels()[0], d.People()[0].ID
	asked := useCommand(t, d, "form", nil)
	wait(t, d, "the form is open", func() bool { _, ok := d.Form(asked); return ok })
	f, _ := d.Form(asked)
	if f.Values["station"] != "XKLD" || len(f.Values) != 3 {
		t.Errorf("the form is %+v", f)
	}
	typed := map[string]string{"station": "XKLD", "temperature": "38", "altitudes": "FAF 8200\nDA 5340 `x`"}
	if _, err := d.Submit(asked, typed); err != nil {
		t.Fatal(err)
	}
	wait(t, d, "the problem is told", func() bool { return len(d.FromBot(at)) == 1 })
	told := d.FromBot(at)[0]
	if told.Only != ada || !strings.Contains(readable(told), "Is it -38 or +38?") {
		t.Errorf("told %+v", told)
	}
	again, err := d.Press(at, told.ID, ada, "Open the form again")
	if err != nil {
		t.Fatal(err)
	}
	wait(t, d, "the form is open again", func() bool { _, ok := d.Form(again); return ok })
	typed["altitudes"] = "FAF 8200\nDA 5340 'x'"
	f, _ = d.Form(again)
	for name, want := range typed {
		if f.Values[name] != want {
			t.Errorf("%s holds %q, want %q", name, f.Values[name], want)
		}
	}
	if got := k.heard(); len(got) != 1 || got[0].Kind != chat.FormRequested {
		t.Errorf("heard %+v", got)
	}
}

// The form of a blind check comes back with its labels and with what was
// entered, which nobody else reads.
func TestEnterFormSentBack(t *testing.T) {
	names := []string{"FAF WENDL 8200", "step 7400", "LNAV/VNAV DA 5340", "missed 10200", "hold 13000", "MSA 14000"}
	for n, field := range map[int]string{2: "entered-2", 6: "entered"} {
		d := startDouble(t, discorddouble.Options{})
		k := &clerk{check: map[string]string{field: "high is no altitude."}, enter: &chat.BlindForm{Record: "KALOMI-RUTA", Names: names[:n]}}
		ready(t, d, newSurface(t, options(d)), k)
		at, ada := d.Channels()[0], d.People()[0].ID
		asked := useCommand(t, d, "form", nil)
		wait(t, d, "the form is open", func() bool { _, ok := d.Form(asked); return ok })
		f, _ := d.Form(asked)
		typed := map[string]string{"entered-1": "8990", "entered-2": "high"}
		if n > mostFields {
			typed = map[string]string{"entered": "8990 high\n7270"}
		}
		if len(f.Values) != len(typed) || !strings.Contains(f.Labels[field], "step 7400") || !strings.Contains(f.Title, "KALOMI-RUTA") {
			t.Errorf("the form of %d altitudes is %+v", n, f)
		}
		if _, err := d.Submit(asked, typed); err != nil {
			t.Fatal(err)
		}
		wait(t, d, "the problem is told", func() bool { return len(d.FromBot(at)) == 1 })
		told := d.FromBot(at)[0]
		if told.Only != ada || !strings.Contains(readable(told), "high is no altitude.") {
			t.Errorf("told %+v", told)
		}
		again, err := d.Press(at, told.ID, ada, "Open the form again")
		if err != nil {
			t.Fatal(err)
		}
		wait(t, d, "the form is open again", func() bool { _, ok := d.Form(again); return ok })
		g, _ := d.Form(again)
		for name, want := range typed {
			if g.Values[name] != want || g.Labels[name] != f.Labels[name] {
				t.Errorf("%s, %q, holds %q, want %q, %q", name, g.Labels[name], g.Values[name], f.Labels[name], want)
			}
		}
		k.mu.Lock()
		k.check = nil
		k.mu.Unlock()
		if _, err := d.Submit(again, nil); err != nil {
			t.Fatal(err)
		}
		wait(t, d, "the form is heard", func() bool { return len(k.heard()) == 2 })
		if e := k.heard()[1]; e.Kind != chat.Submitted || e.Fields[chat.FieldRecord] != "KALOMI-RUTA" || e.Fields[field] != typed[field] {
			t.Errorf("heard %+v", e)
		}
	}
}

// A button whose message is longer than its id can be works, also after a
// restart: the message stands in the card.
func TestLongButton(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	long := "why XKLD -38 " + strings.TrimSpace(strings.Repeat("step 8200, ", 30)) + " DA 5340"
	s := newSurface(t, options(d))
	k := &clerk{}
	ready(t, d, s, k)
	question := say(t, d, "one")
	awaitAnswer(t, d, "one")
	e := k.heard()[0]
	e.ID += "/2" // another event: the same one has one answer
	if _, err := s.Answer(t.Context(), e, chat.Message{Reply: reply.Reply{Facts: []string{"Long."}, Actions: []reply.Action{{ID: "long", Label: "Working", Message: long}, {ID: "lines", Label: "Lines", Message: "a\nb"}}}}); err != nil {
		t.Fatal(err)
	}
	card := d.FromBot(question)[1]
	for label, want := range map[string]string{"Working": long, "Lines": "a\nb"} {
		id, err := d.Press(question, card.ID, d.People()[0].ID, label)
		if err != nil {
			t.Fatal(err)
		}
		eventually(t, "the press is heard", func() bool {
			for _, e := range k.heard() {
				if e.ID == id {
					return e.Text == want
				}
			}
			return false
		})
	}
}

// The commands are registered when Discord has others, and only then.
func TestCommandsRegistered(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	for range 2 {
		s := newSurface(t, options(d))
		stop := ready(t, d, s, &clerk{})
		wait(t, d, "the commands stand", func() bool { return d.Counts().Registers == 1 })
		useCommand(t, d, "help", nil)
		stop()
	}
	if got := d.Counts().Registers; got != 1 {
		t.Errorf("registered %d times", got)
	}
	// A refusal is tried again.
	d.Fail(discorddouble.Fault{Path: "/commands", Status: http.StatusForbidden, Code: 50001, Text: "Missing Access"})
	o := options(d)
	o.Guild = ""
	ready(t, d, newSurface(t, o), &clerk{})
	wait(t, d, "the commands stand for all", func() bool { return d.Counts().Registers == 2 })
}
