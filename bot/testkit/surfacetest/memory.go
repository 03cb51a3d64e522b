package surfacetest

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// Memory is a chat service in memory, its people, and the surface on it: a
// Driver that needs nothing else. It has everything that Traits know, and no
// limits. Safe for use by several goroutines.
type Memory struct {
	traits Traits

	mu      sync.Mutex
	next    int
	clock   time.Time // of the service; it goes on with every deed
	surface *memorySurface
	said    map[string]Said // by message
	deeds   map[string]chat.Event
	shown   []*posted
	forms   map[string]*memoryForm
	fronts  map[string]string // by person
	broken  bool
}

// posted is one message of the bot.
type posted struct {
	Shown
	actions []reply.Action
	key     string // the outbox's
}

type memoryForm struct {
	Form
	by    Person
	at    chat.Place
	enter *chat.BlindForm // it is that of a blind check
}

var (
	_ Fronter = (*Memory)(nil)
	_ Breaker = (*Memory)(nil)
	_ Enterer = (*Memory)(nil)
	_ Poster  = (*Memory)(nil)

	_ Deleter  = (*Memory)(nil)
	_ Messager = (*Memory)(nil)
)

// NewMemory makes an empty service of a name with two channels, C1 and C2, in
// the home H1, and the people U1, U2 and U3, of whom U1 is in the group S1.
func NewMemory(name string) *Memory {
	return &Memory{
		traits: Traits{
			Name: name, Home: "H1", Channels: []string{"C1", "C2"},
			Elsewhere: []Where{{"H1", "C9"}, {"H2", "C1"}},
			People:    []Person{{"U1", "Anna"}, {"U2", "Bo"}, {"U3", "Cy"}},
			Outsiders: []Outsider{{Person: Person{"X1", "Xenia"}, What: "a stranger", InChannels: true}},
			Groups:    []string{"S1"},
			Secrets:   []string{"memory-token"},
			Direct:    true, Edits: true, Buttons: true, Forms: true, Private: true, Pictures: true, Changes: true,
			Lacks: []Power{More, Under},
		},
		clock:  time.Now(),
		said:   map[string]Said{},
		deeds:  map[string]chat.Event{},
		forms:  map[string]*memoryForm{},
		fronts: map[string]string{},
	}
}

// Traits are those of NewMemory.
func (m *Memory) Traits() Traits { return m.traits }

// Start connects a new surface.
func (m *Memory) Start(t *testing.T, dispatcher chat.Handler) chat.Surface {
	ctx, cancel := context.WithCancel(context.Background())
	s := &memorySurface{m: m, dispatcher: dispatcher, ctx: ctx, cancel: cancel}
	m.mu.Lock()
	m.surface = s
	m.mu.Unlock()
	t.Cleanup(s.stop)
	return s
}

// Stop ends the surface.
func (m *Memory) Stop(*testing.T) {
	m.mu.Lock()
	s := m.surface
	m.surface = nil
	m.mu.Unlock()
	if s != nil {
		s.stop()
	}
}

// id makes one; the lock is held.
func (m *Memory) id(what string) string {
	m.next++
	return fmt.Sprintf("%s%d", what, m.next)
}

// known is a person with whether they belong to the unit.
func (m *Memory) known(p chat.Person) chat.Person {
	if slices.ContainsFunc(m.traits.Outsiders, func(x Outsider) bool { return x.ID == p.ID }) {
		p.Standing = chat.Outsider
	}
	return p
}

// do remembers a deed and delivers it; the lock is held.
func (m *Memory) do(id string, e chat.Event) {
	m.clock = m.clock.Add(time.Millisecond)
	if now := time.Now(); now.After(m.clock) {
		m.clock = now
	}
	e.ID, e.At = id, m.clock
	e.Alone = true
	e.Person = m.known(e.Person)
	if len(m.traits.Groups) > 0 && e.Person.ID == m.traits.People[0].ID {
		e.Person.Groups = m.traits.Groups[:1]
	}
	m.deeds[id] = e
	m.deliver(e)
}

func (m *Memory) deliver(e chat.Event) {
	if s := m.surface; s != nil {
		s.working.Go(func() { s.dispatcher.Handle(s.ctx, s, e) })
	}
}

// place is where something is said; message is what was said there.
func (m *Memory) place(s Said, message string) chat.Place {
	p := chat.Place{Home: m.traits.Home, Channel: s.Channel, Thread: s.Thread}
	if s.Home != "" {
		p.Home = s.Home
	}
	if s.Direct {
		p.Channel, p.Direct = "D-"+s.By.ID, true
	} else if s.Thread == "" {
		p.Begins = message
	}
	return p
}

func person(p Person) chat.Person { return chat.Person{ID: p.ID, Name: p.Name} }

// Say sends a message.
func (m *Memory) Say(_ *testing.T, s Said) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	if s.Aside {
		id := m.id("command")
		m.do(id, chat.Event{Kind: chat.MessagePosted, Place: m.place(s, ""), Person: person(s.By), Text: s.Text})
		return id
	}
	id := m.id("m")
	m.said[id] = s
	if s.Unheard && s.Thread == "" {
		return id
	}
	m.do(id, chat.Event{Kind: chat.MessagePosted, Place: m.place(s, id), Person: person(s.By), Message: chat.Ref(id), Text: s.Text, Unmentioned: s.Thread != ""})
	return id
}

// Delete deletes a message.
func (m *Memory) Delete(_ *testing.T, message string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s := m.said[message]
	m.do(message+chat.DeletedID, chat.Event{Kind: chat.Deleted, Place: m.place(s, message), Person: person(s.By), Message: chat.Ref(message)})
}

// Correct asks about somebody's message.
func (m *Memory) Correct(_ *testing.T, message string, by Person) {
	m.mu.Lock()
	defer m.mu.Unlock()
	s := m.said[message]
	m.do(m.id("shortcut"), chat.Event{Kind: chat.MessagePosted, Place: m.place(s, message), Person: person(by), Text: s.Text})
}

// Edit changes a message.
func (m *Memory) Edit(t *testing.T, message, text string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	s, ok := m.said[message]
	if !ok {
		t.Errorf("no message %q to edit", message)
		return ""
	}
	s.Text = text
	m.said[message] = s
	id := m.id("edit")
	m.do(id, chat.Event{Kind: chat.Edited, Place: m.place(s, message), Person: person(s.By), Message: chat.Ref(message), Text: text})
	return id
}

// Press presses a button.
func (m *Memory) Press(t *testing.T, s Shown, action string, by Person) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	at := m.find(chat.Ref(s.ID))
	if at == nil {
		t.Errorf("no message %q to press a button of", s.ID)
		return ""
	}
	p := chat.Place{Home: m.traits.Home, Channel: at.Channel, Thread: at.Thread, Direct: at.Direct != ""}
	if p.Direct {
		p.Channel = "D-" + at.Direct
	} else if p.Thread == "" {
		p.Begins = at.ID
	}
	for _, a := range at.actions {
		if a.ID == action {
			id := m.id("press")
			f := &memoryForm{by: by, at: p}
			m.forms[id] = f
			m.do(id, chat.Event{Kind: chat.Pressed, Place: p, Person: person(by), Message: chat.Ref(at.ID), Text: a.Message, Handle: f})
			return id
		}
	}
	t.Errorf("no button %q on message %q", action, s.ID)
	return ""
}

// PressForm presses a button that opens a form.
func (m *Memory) PressForm(t *testing.T, s Shown, action string, by Person) string {
	id := m.Press(t, s, action, by)
	eventually(t, "the form is open", func() bool { return m.Form(t, id).Open })
	return id
}

// Redeliver delivers a deed again.
func (m *Memory) Redeliver(t *testing.T, deed string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.deeds[deed]
	if !ok {
		t.Errorf("no deed %q to deliver again", deed)
		return
	}
	m.deliver(e)
}

// OpenForm asks for the form.
func (m *Memory) OpenForm(t *testing.T, s Said) string {
	m.mu.Lock()
	id := m.id("form")
	f := &memoryForm{by: s.By, at: m.place(s, "")}
	m.forms[id] = f
	m.do(m.id("wish"), chat.Event{Kind: chat.FormRequested, Place: f.at, Person: person(s.By), Text: s.Text, Handle: f})
	m.mu.Unlock()
	eventually(t, "the form is open", func() bool { return m.Form(t, id).Open })
	return id
}

// Form is the form as it is now.
func (m *Memory) Form(_ *testing.T, form string) Form {
	m.mu.Lock()
	defer m.mu.Unlock()
	f := m.forms[form]
	if f == nil {
		return Form{}
	}
	return Form{Open: f.Open, Fields: maps.Clone(f.Fields), Problems: maps.Clone(f.Problems)}
}

// Submit sends the form. One with problems stays open.
func (m *Memory) Submit(t *testing.T, form string, fields map[string]string) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	f := m.forms[form]
	if f == nil || !f.Open || m.surface == nil {
		t.Errorf("form %q is not open", form)
		return ""
	}
	f.Fields = maps.Clone(fields)
	filled := chat.Form{
		Station: fields[chat.FieldStation], Temperature: fields[chat.FieldTemperature], Altitudes: fields[chat.FieldAltitudes],
	}
	if f.enter != nil {
		fields = maps.Clone(fields)
		fields[chat.FieldRecord] = f.enter.Record
		filled.Enter = &chat.BlindForm{Record: f.enter.Record, Names: f.enter.Names}
		for i := range f.enter.Names {
			filled.Enter.Typed = append(filled.Enter.Typed, fields[chat.FieldEntered(i)])
		}
	}
	f.Problems = m.surface.dispatcher.Check(filled)
	id := m.id("submit")
	if len(f.Problems) > 0 {
		return id
	}
	f.Open = false
	m.do(id, chat.Event{Kind: chat.Submitted, Place: f.at, Person: person(f.by), Fields: maps.Clone(fields), Handle: f})
	return id
}

// Shown is what the bot shows.
func (m *Memory) Shown(*testing.T) []Shown {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := make([]Shown, len(m.shown))
	for i, p := range m.shown {
		out[i] = p.Shown
	}
	return out
}

// Look opens the front page.
func (m *Memory) Look(_ *testing.T, by Person) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.do(m.id("look"), chat.Event{Kind: chat.HomeOpened, Place: chat.Place{Home: m.traits.Home, Direct: true}, Person: person(by)})
}

// Front is the front page of a person.
func (m *Memory) Front(_ *testing.T, of Person) string {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.fronts[of.ID]
}

// Break makes every call fail.
func (m *Memory) Break(*testing.T) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.broken = true
}

// find is the message with a reference; the lock is held.
func (m *Memory) find(ref chat.Ref) *posted {
	for _, p := range m.shown {
		if p.ID == string(ref) {
			return p
		}
	}
	return nil
}

var errBroken = errors.New("memory: the service does not answer")

// call does something with the service, unless that cannot be.
func (m *Memory) call(ctx context.Context, do func() error) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	if m.broken {
		return errBroken
	}
	return do()
}

// show puts a card somewhere; the lock is held.
func (m *Memory) show(at Shown, c chat.Message) chat.Ref {
	at.ID = m.id("b")
	p := &posted{Shown: at}
	p.put(c)
	m.shown = append(m.shown, p)
	return chat.Ref(at.ID)
}

func (p *posted) put(c chat.Message) {
	p.Text, p.Buttons, p.Pictures, p.Files, p.actions = plainText(c), nil, nil, nil, nil
	if !c.Closed {
		p.actions = c.Reply.Actions
	}
	for _, a := range p.actions {
		p.Buttons = append(p.Buttons, Button{a.ID, clean(a.Label)})
	}
	for _, pic := range c.Pictures {
		p.Pictures = append(p.Pictures, Picture{pic.Name, clean(pic.Alt), len(pic.PNG)})
	}
	for _, f := range c.Files {
		p.Files = append(p.Files, File{f.Name, len(f.Data)})
	}
}

// Sender posts to the service's channels from the outbox.
func (m *Memory) Sender(*testing.T) outbox.Sender { return memorySender{m} }

type memorySender struct{ m *Memory }

// channel is the id in an address such as memory:C1.
func (m *Memory) channel(address string) string {
	return strings.TrimPrefix(address, m.traits.Name+":")
}

func (s memorySender) Send(ctx context.Context, p outbox.Post) (ref string, err error) {
	err = s.m.call(ctx, func() error {
		ref = string(s.m.show(Shown{Channel: s.m.channel(p.Channel)}, chat.Message{Reply: p.Body, Note: p.Lateness()}))
		s.m.find(chat.Ref(ref)).key = p.Key
		return nil
	})
	return ref, err
}

func (s memorySender) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	err = s.m.call(ctx, func() error {
		for _, p := range s.m.shown {
			if p.Channel == s.m.channel(channel) && p.key == key && key != "" {
				ref, found = p.ID, true
			}
		}
		return nil
	})
	return ref, found, err
}

// memorySurface is the bot's side of a Memory, from Start to Stop.
type memorySurface struct {
	m          *Memory
	dispatcher chat.Handler
	ctx        context.Context // of what arrives; ended by stop
	cancel     context.CancelFunc
	working    sync.WaitGroup
}

var _ chat.Fronted = (*memorySurface)(nil)

func (s *memorySurface) stop() {
	s.cancel()
	s.working.Wait()
}

func (s *memorySurface) Name() string { return s.m.traits.Name }

// under is where an answer to an event stands.
func under(e chat.Event) Shown {
	if e.Place.Direct {
		return Shown{Direct: strings.TrimPrefix(e.Place.Channel, "D-")}
	}
	at := Shown{Channel: e.Place.Channel, Thread: e.Place.Thread}
	if at.Thread == "" {
		at.Thread = e.Place.Begins
	}
	return at
}

// NameOf is a person's name.
func (s *memorySurface) NameOf(_ context.Context, id string) string {
	for _, p := range s.m.traits.People {
		if p.ID == id {
			return p.Name
		}
	}
	return ""
}

func (s *memorySurface) Answer(ctx context.Context, e chat.Event, c chat.Message) (ref chat.Ref, err error) {
	err = s.m.call(ctx, func() error {
		ref = s.m.show(under(e), c)
		return nil
	})
	return ref, err
}

func (s *memorySurface) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	return s.m.call(ctx, func() error {
		at := under(e)
		if at.Direct == "" && e.Alone {
			at.Only = e.Person.ID
		}
		s.m.show(at, c)
		return nil
	})
}

func (s *memorySurface) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	return s.m.call(ctx, func() error {
		p := s.m.find(ref)
		if p == nil {
			return fmt.Errorf("memory: no message %q", ref)
		}
		p.put(c)
		p.Edited = true
		return nil
	})
}

func (s *memorySurface) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (next chat.Ref, err error) {
	err = s.m.call(ctx, func() error {
		p := s.m.find(ref)
		if p == nil {
			return fmt.Errorf("memory: no message %q", ref)
		}
		at := Shown{Channel: p.Channel, Thread: p.Thread, Direct: p.Direct}
		if at.Direct == "" && at.Thread == "" {
			at.Thread = p.ID
		}
		next = s.m.show(at, c)
		return nil
	})
	return next, err
}

func (s *memorySurface) Open(ctx context.Context, e chat.Event, f chat.Form) error {
	return s.m.call(ctx, func() error {
		form, ok := e.Handle.(*memoryForm)
		if !ok {
			return errors.New("memory: nothing that a form could answer")
		}
		form.Form = Form{
			Open:     true,
			Fields:   map[string]string{chat.FieldStation: f.Station, chat.FieldTemperature: f.Temperature, chat.FieldAltitudes: f.Altitudes},
			Problems: f.Problems,
		}
		if form.enter = f.Enter; f.Enter != nil {
			form.Fields = map[string]string{}
			for i := range f.Enter.Names {
				form.Fields[chat.FieldEntered(i)] = ""
			}
		}
		return nil
	})
}

func (s *memorySurface) Front(ctx context.Context, e chat.Event, c chat.Message) error {
	return s.m.call(ctx, func() error {
		s.m.fronts[e.Person.ID] = plainText(c)
		return nil
	})
}

// Who is a person as they are known already, and whether they belong to the unit.
func (s *memorySurface) Who(_ context.Context, p chat.Person) chat.Person { return s.m.known(p) }

// plainText is everything readable in a card but the buttons.
func plainText(c chat.Message) string {
	var b strings.Builder
	line := func(parts ...string) {
		if text := strings.TrimSpace(strings.Join(parts, " ")); text != "" {
			b.WriteString(clean(text) + "\n")
		}
	}
	r := c.Reply
	line(c.Note)
	line(r.Headline)
	if r.Problem != nil {
		line(r.Problem.Text)
		if r.Problem.Try != "" {
			line("Type:", r.Problem.Try)
		}
	}
	for _, f := range r.Facts {
		line(f)
	}
	for _, s := range r.Stops {
		line(s.Text)
	}
	for _, a := range r.Altitudes {
		line(a.Label, a.Fix, a.Segment, fmt.Sprintf("%.0f + %.0f = %.0f", a.PublishedFt, a.CorrectionFt, a.CorrectedFt))
	}
	for _, q := range r.Requests {
		line(q.When+":", q.Text)
	}
	for _, s := range r.Sections {
		line(s.Title)
		for _, l := range s.Lines {
			line(l)
		}
	}
	for _, w := range r.Working {
		for _, s := range w.Steps {
			line(s.Text, s.Source)
		}
		for _, m := range w.Methods {
			line(m.Method, fmt.Sprintf("%.1f", m.CorrectionFt))
		}
	}
	for _, base := range r.Bases {
		line(base.Ident, base.State, base.Note)
	}
	for _, x := range r.Cautions {
		line(x.Text)
	}
	line(r.Source)
	return b.String()
}

// clean takes out what is no text, and what turns text round.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' {
			return ' '
		}
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
}
