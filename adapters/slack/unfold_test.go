package slack_test

import (
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// Where the trigger is used up, what lies behind More is a message that the
// person alone sees.
func TestUnfoldWithoutTrigger(t *testing.T) {
	v := play(t, func(o *slackdouble.Options) { o.TriggerLife = time.Nanosecond }, nil)
	connected(t, v.s)
	v.mention(t, crew, "button k1")
	card := v.await(t, crew, "Heard button k1.")
	if _, err := v.d.Choose(odd, crew, card.TS, present.EntryWorking); err != nil {
		t.Fatal(err)
	}
	const want = "Heard pressed in button k1."
	eventually(t, "it is shown to one person", func() bool { return len(v.d.Private()) == 1 })
	got := v.d.Private()[0]
	if got.Only != odd || got.Read() != want {
		t.Errorf("to %q is shown %q, want %q to %q", got.Only, got.Read(), want, odd)
	}
	if n := len(v.d.Posted(crew)); n != 1 {
		t.Errorf("%d messages stand in the channel, want the card alone", n)
	}
}

// A file that Slack does not take is told to whoever asked for it, and to
// nobody else.
func TestUnfoldedFileRefused(t *testing.T) {
	v := play(t, nil, nil)
	connected(t, v.s)
	v.d.Fail(slackdouble.Fault{Method: "files.completeUploadExternal", Error: "internal_error"})
	e := chat.Event{Place: chat.Place{Channel: crew}, Person: chat.Person{ID: odd}}
	p := chat.Part{Title: "Print", Blocks: []present.Block{present.Headline{Text: "The card."}}, Files: []chat.File{{Name: "KALOMI-RUTA.pdf", Data: []byte("%PDF")}}}
	if err := v.s.Unfold(t.Context(), e, p); err != nil {
		t.Fatal(err)
	}
	if got := v.d.Posted(v.d.Direct(odd)); len(got) != 1 || !strings.Contains(got[0].Read(), "did not take KALOMI-RUTA.pdf") {
		t.Errorf("in the direct message stands %+v", got)
	}
	if got := v.d.Posted(crew); len(got) != 0 {
		t.Errorf("in the channel stands %+v", got)
	}
}

// The menu of the front page stands on no card: what it asks for is made anew.
func TestHomeMenu(t *testing.T) {
	d := double(t, nil)
	s := surface(t, d, nil)
	c := collect{Handler: chat.New(slog.New(slog.DiscardHandler), time.Now, nil, chat.Settings{}), events: make(chan chat.Event, 10)}
	run(t, s, c)
	connected(t, s)
	board := reply.Reply{Kind: reply.KindWatch, Headline: "2 bases", Bases: []reply.Cold{{Ident: "XKLD", State: "below"}, {Ident: "XRUN", State: "clear"}}}
	if err := s.Front(t.Context(), chat.Event{Person: chat.Person{ID: kari}}, chat.Message{Reply: board}); err != nil {
		t.Fatal(err)
	}
	if read := d.Home(kari).Read(); !strings.Contains(read, "XKLD") || strings.Contains(read, "XRUN") {
		t.Errorf("the front page reads %q, want what is clear folded", read)
	}
	if _, err := d.PressHome(kari, "clear"); err != nil {
		t.Fatal(err)
	}
	e := <-c.events
	if e.Kind != chat.Unfolded || e.Text != "watch" || e.Fields[chat.FieldEntry] != "clear" || e.Message != "" {
		t.Errorf("the event is %+v", e)
	}
	// With a trigger that is good it opens a window.
	if err := s.Unfold(t.Context(), e, chat.Part{Title: "1 clear", Blocks: []present.Block{present.List{Title: "Clear", Lines: []string{"XRUN: clear"}}}}); err != nil {
		t.Fatal(err)
	}
	if all := d.Views(kari); len(all) != 1 || !strings.Contains(all[0].Read(), "XRUN: clear") {
		t.Errorf("windows %+v", all)
	}
	tidy(t, d)
}
