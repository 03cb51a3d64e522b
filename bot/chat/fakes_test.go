package chat_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
	"firn/bot/testkit/testclock"
)

// noon is when the tests begin.
var noon = time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)

// surface writes down what it is asked for, a line a call.
type surface struct {
	name string
	mu   sync.Mutex
	did  []string
	n    int
	fail map[string]error // by method
}

func (s *surface) Name() string { return s.name }

func (s *surface) NameOf(_ context.Context, id string) string {
	return map[string]string{"U2": "Bo", "U3": "Cleo"}[id]
}

func (s *surface) call(ctx context.Context, method, line string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := errors.Join(ctx.Err(), s.fail[method]); err != nil {
		s.did = append(s.did, method+" failed")
		return err
	}
	s.did = append(s.did, method+" "+line)
	return nil
}

// mend has a method work again.
func (s *surface) mend(method string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.fail, method)
}

// words are a card in short.
func words(c chat.Message) string {
	out := slices.Clone(c.Reply.Facts)
	if c.Reply.Problem != nil {
		out = append(out, "! "+c.Reply.Problem.Text)
	}
	for _, p := range c.Pictures {
		out = append(out, "["+p.Alt+"]")
	}
	return strings.Join(out, " ")
}

func (s *surface) ref() chat.Ref {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.n++
	return chat.Ref(fmt.Sprintf("b%d", s.n))
}

func (s *surface) Answer(ctx context.Context, _ chat.Event, c chat.Message) (chat.Ref, error) {
	return s.ref(), s.call(ctx, "answer", words(c))
}

func (s *surface) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	return s.call(ctx, "whisper", e.Person.ID+": "+words(c))
}

func (s *surface) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	if !c.Awaited { // whoever edits waits
		return s.call(ctx, "change at leisure", string(ref)+": "+words(c))
	}
	return s.call(ctx, "change", string(ref)+": "+words(c))
}

func (s *surface) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (chat.Ref, error) {
	return s.ref(), s.call(ctx, "follow", string(ref)+": "+words(c))
}

func (s *surface) Open(ctx context.Context, _ chat.Event, f chat.Form) error {
	return s.call(ctx, "open", fmt.Sprintf("%s/%s/%s %d problems", f.Station, f.Temperature, f.Altitudes, len(f.Problems)))
}

func (s *surface) done() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.did)
}

// fronted is a surface with a front page, which everybody belongs to for whom it
// has no standing.
type fronted struct {
	*surface
	standing *chat.Standing
}

func (s fronted) Front(ctx context.Context, e chat.Event, c chat.Message) error {
	return s.call(ctx, "front", e.Person.ID+": "+words(c))
}

func (s fronted) Who(_ context.Context, p chat.Person) chat.Person {
	if s.standing != nil {
		p.Standing = *s.standing
	}
	return p
}

// answerer says what it was told, or does what the test wants.
type answerer struct {
	mu  sync.Mutex
	got []bot.Message
	do  func(ctx context.Context, m bot.Message) (reply.Reply, error)
}

func (a *answerer) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	a.mu.Lock()
	a.got = append(a.got, m)
	a.mu.Unlock()
	if a.do != nil {
		return a.do(ctx, m)
	}
	return reply.Reply{Kind: reply.KindStatus, Facts: []string{"<" + m.Text + ">"}}, nil
}

func (a *answerer) asked() []bot.Message {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Clone(a.got)
}

// office is a desk with everything around it.
type office struct {
	*chat.Dispatcher
	clock    *testclock.Clock
	slack    *surface
	answerer *answerer
	log      *safeBuffer
}

type safeBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *safeBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *safeBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// newOffice answers in C1 and C2 of T1 on Slack.
func newOffice(t *testing.T, set chat.Settings) *office {
	t.Helper()
	if set.Where == nil {
		set.Where = map[string]chat.Where{"slack": {Home: "T1", Channels: []string{"C1", "C2"}}}
	}
	o := &office{clock: testclock.New(noon), slack: &surface{name: "slack", fail: map[string]error{}}, answerer: &answerer{}, log: &safeBuffer{}}
	lg := slog.New(slog.NewTextHandler(o.log, &slog.HandlerOptions{Level: slog.LevelInfo}))
	o.Dispatcher = chat.New(lg, o.clock.Now, o.answerer, set)
	return o
}

// said is a message in C1 whose number is its id, its reference and the thread
// that it begins.
func said(n int, text string) chat.Event {
	id := fmt.Sprint(n)
	return chat.Event{
		ID: "e" + id, Kind: chat.MessagePosted, Message: chat.Ref("C1/" + id), Text: text, At: noon,
		Place:  chat.Place{Home: "T1", Channel: "C1", Begins: id},
		Person: chat.Person{ID: "U1", Name: "Anna"},
	}
}

// edit is the k-th edit of a message.
func edit(n, k int, text string) chat.Event {
	e := said(n, text)
	e.Kind, e.ID, e.At = chat.Edited, fmt.Sprintf("e%d.%d", n, k), noon.Add(time.Duration(k)*time.Second)
	return e
}

func (o *office) take(t *testing.T, events ...chat.Event) {
	t.Helper()
	for _, e := range events {
		o.Handle(t.Context(), o.slack, e)
	}
}

func (o *office) want(t *testing.T, want ...string) {
	t.Helper()
	if got := o.slack.done(); !slices.Equal(got, want) {
		t.Errorf("the surface did\n\t%s\nwant\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
}
