package console_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/console"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/surfacetest"
)

// driver is the people's side for the shared suite: three of them, each at a
// console of their own. What they type goes through console.Chat, which asks the
// dispatcher as it asks the bot.
type driver struct {
	people []surfacetest.Person
	now    *surface

	mu    sync.Mutex
	read  sync.Cond // on mu, when a line is done with
	lines int       // typed, and not done with
	n     int
	shown []surfacetest.Shown
}

var _ surfacetest.Poster = (*driver)(nil)

func newDriver(*testing.T) surfacetest.Driver {
	d := &driver{people: []surfacetest.Person{{ID: "anna", Name: "Anna"}, {ID: "bo", Name: "Bo"}, {ID: "cy", Name: "Cy"}}}
	d.read.L = &d.mu
	return d
}

func (d *driver) Traits() surfacetest.Traits {
	return surfacetest.Traits{
		Name: "console", People: d.people, Direct: true,
		// A screen has one person, who types, and what it shows stays.
		Lacks: []surfacetest.Power{
			surfacetest.Channels, surfacetest.Changes, surfacetest.Edits, surfacetest.Deletes, surfacetest.Buttons, surfacetest.Forms,
			surfacetest.Enters, surfacetest.Privately, surfacetest.Pictures, surfacetest.More, surfacetest.FrontPage, surfacetest.OnMessage,
			surfacetest.Under, surfacetest.Groups, surfacetest.Strangers, surfacetest.Closed, surfacetest.Outages,
		},
	}
}

func (d *driver) Start(t *testing.T, desk chat.Handler) chat.Surface {
	ctx, cancel := context.WithCancel(context.Background())
	s := &surface{d: d, screens: map[string]*terminal{}, ended: make(chan struct{})}
	var loops sync.WaitGroup
	for _, p := range d.people {
		k := &terminal{d: d, by: p, lines: make(chan string, 100), ended: s.ended}
		k.sender = console.NewSender(onScreen{k}, console.Style{})
		s.screens[p.ID] = k
		loops.Go(func() {
			if err := console.Chat(ctx, asked{s, desk, p}, time.Now, k, k, console.Style{Talk: true}); err != nil && !errors.Is(err, context.Canceled) {
				t.Errorf("the conversation of %s ended: %v", p.Name, err)
			}
		})
	}
	s.stop = sync.OnceFunc(func() {
		close(s.ended)
		cancel()
		loops.Wait()
		d.mu.Lock()
		defer d.mu.Unlock()
		d.lines = 0 // nobody reads them
		d.read.Broadcast()
	})
	t.Cleanup(s.stop)
	d.now = s
	return s
}

func (d *driver) Stop(*testing.T) { d.now.stop() }

func (d *driver) Sender(*testing.T) outbox.Sender { return d.now.screens[d.people[0].ID].sender }

func (d *driver) Say(_ *testing.T, m surfacetest.Said) string {
	d.mu.Lock()
	d.n++
	d.lines++
	id := fmt.Sprint("line ", d.n)
	d.mu.Unlock()
	d.now.screens[m.By.ID].lines <- m.Text
	return id
}

// Redeliver does nothing: a line is typed once, and nobody sends it again.
func (d *driver) Redeliver(*testing.T, string) {}

// Shown is what stands on the screens when each line that was typed is done with.
func (d *driver) Shown(*testing.T) []surfacetest.Shown {
	d.mu.Lock()
	defer d.mu.Unlock()
	for d.lines > 0 {
		d.read.Wait()
	}
	return slices.Clone(d.shown)
}

// What a console has not.

func (d *driver) Edit(t *testing.T, _, _ string) string { return lacks(t, "editing") }
func (d *driver) Press(t *testing.T, _ surfacetest.Shown, _ string, _ surfacetest.Person) string {
	return lacks(t, "buttons")
}
func (d *driver) OpenForm(t *testing.T, _ surfacetest.Said) string          { return lacks(t, "forms") }
func (d *driver) Submit(t *testing.T, _ string, _ map[string]string) string { return lacks(t, "forms") }
func (d *driver) Form(t *testing.T, _ string) (none surfacetest.Form)       { lacks(t, "forms"); return none }

func lacks(t *testing.T, what string) string {
	t.Helper()
	t.Error("a console has no " + what)
	return ""
}

// terminal is one person's keyboard and screen. Behind each answer "more" is typed:
// what is folded can be read, and is read.
type terminal struct {
	d      *driver
	by     surfacetest.Person
	lines  chan string
	ended  chan struct{}
	sender *console.Sender

	busy, printed, more bool // of the loop's alone
}

func (k *terminal) ReadLine() (string, error) {
	if k.more = k.printed; k.more {
		k.printed = false
		return "more", nil
	}
	if k.busy {
		k.busy = false
		k.d.mu.Lock()
		k.d.lines--
		k.d.mu.Unlock()
		k.d.read.Broadcast()
	}
	select {
	case line := <-k.lines:
		k.busy = true
		return line, nil
	case <-k.ended:
		return "", io.EOF
	}
}

// Write prints what answers a line.
func (k *terminal) Write(b []byte) (int, error) {
	switch {
	case strings.TrimSpace(string(b)) == "": // it says nothing
	case k.more:
		k.d.print(k.by, string(b), true)
	default:
		k.printed = true
		k.d.print(k.by, string(b), false)
	}
	return len(b), nil
}

// onScreen is the same screen for what nobody asked for there.
type onScreen struct{ k *terminal }

func (p onScreen) Write(b []byte) (int, error) {
	p.k.d.print(p.k.by, string(b), false)
	return len(b), nil
}

// print shows a text, or all of the one that was printed last.
func (d *driver) print(by surfacetest.Person, text string, all bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if all {
		for i := range slices.Backward(d.shown) {
			if d.shown[i].Direct == by.ID {
				d.shown[i].Text = text
				return
			}
		}
	}
	d.n++
	d.shown = append(d.shown, surfacetest.Shown{ID: fmt.Sprint("print ", d.n), Direct: by.ID, Text: text})
}

// asked hands a person's lines to the dispatcher and their answers back.
type asked struct {
	s    *surface
	desk chat.Handler
	by   surfacetest.Person
}

// line is one that waits for its answer.
type line struct {
	mu     sync.Mutex
	over   bool
	answer *reply.Reply
}

func (a asked) Handle(ctx context.Context, m bot.Message) (r reply.Reply, err error) {
	l := &line{}
	a.desk.Handle(ctx, a.s, chat.Event{
		ID: a.by.ID + "/" + m.ID, Kind: chat.MessagePosted, Place: chat.Place{Direct: true}, Person: chat.Person{ID: a.by.ID, Name: a.by.Name},
		Message: chat.Ref(a.by.ID + "/" + m.ID), Text: m.Text, At: m.At, Handle: l,
	})
	l.mu.Lock()
	defer l.mu.Unlock()
	l.over = true
	if l.answer != nil {
		r = *l.answer
	}
	return r, nil
}

// surface is the console as the dispatcher has it.
type surface struct {
	d       *driver
	screens map[string]*terminal
	ended   chan struct{}
	stop    func()
}

func (s *surface) Name() string { return "console" }

// Answer gives the line its answer, or prints one that comes later.
func (s *surface) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	l := e.Handle.(*line)
	l.mu.Lock()
	defer l.mu.Unlock()
	if !l.over && l.answer == nil {
		l.answer = &c.Reply
		return chat.Ref(e.Person.ID + "/" + e.ID), nil
	}
	_, err := s.screens[e.Person.ID].sender.Send(ctx, outbox.Post{Key: e.ID, Channel: "console", Body: c.Reply})
	return chat.Ref(e.Person.ID + "/" + e.ID), err
}

func (s *surface) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	_, err := s.Answer(ctx, e, c)
	return err
}

var errStands = errors.New("what a screen shows stands")

func (s *surface) Change(context.Context, chat.Ref, chat.Message) error { return errStands }

// Follow prints below what stands there.
func (s *surface) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (chat.Ref, error) {
	person, _, _ := strings.Cut(string(ref), "/")
	_, err := s.screens[person].sender.Send(ctx, outbox.Post{Key: string(ref) + "/", Channel: "console", Body: c.Reply})
	return ref + "/", err
}

func (s *surface) Open(context.Context, chat.Event, chat.Form) error {
	return errors.New("a console has no forms")
}

func TestSurface(t *testing.T) { surfacetest.Run(t, newDriver) }

// TestPicks: the lines that answer a question are printed, in a conversation and
// without, and nothing of theirs twice.
func TestPicks(t *testing.T) {
	r := reply.Ask(reply.Problem{Word: "35", Text: "Which one?"})
	r.Actions = []reply.Action{{ID: "pick-1", Label: "XHGH rnav y 35 -30", Message: "XHGH rnav y 35 -30"}, {ID: "pick-2", Label: "XHGH rnp z 35 -30", Message: "XHGH rnp z 35 -30"}, {ID: "why", Message: "why"}}
	for talk, want := range map[bool]string{false: "", true: "Type: why\n"} {
		var b strings.Builder
		if err := console.Render(&b, r, console.Style{Talk: talk}); err != nil {
			t.Fatal(err)
		}
		if want = "Which one?\nType one of:\n  XHGH rnav y 35 -30\n  XHGH rnp z 35 -30\n" + want; b.String() != want {
			t.Errorf("got\n%s\nwant\n%s", b.String(), want)
		}
	}
}
