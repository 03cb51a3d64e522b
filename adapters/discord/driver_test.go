package discord

import (
	"context"
	"log/slog"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/testkit/surfacetest"
)

// runs are the Runs of all tests. discordgo takes a second to close; they are
// waited for together, at the end.
var runs sync.WaitGroup

func TestMain(m *testing.M) {
	code := m.Run()
	runs.Wait()
	os.Exit(code)
}

// testToken has no form that a real token has.
var testToken = strings.Join([]string{"invented", "for", "tests"}, "-")

const patience = 10 * time.Second

// quick are the pauses of tests.
var quick = pauses{
	identify: time.Millisecond, refused: 30 * time.Millisecond, first: 20 * time.Millisecond,
	farewell: 2 * time.Second, retry: 10 * time.Millisecond,
}

func startDouble(t *testing.T, o discorddouble.Options) *discorddouble.Server {
	t.Helper()
	o.Token = testToken
	d, err := discorddouble.Start(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.Close)
	t.Cleanup(func() {
		if v := d.Violations(); len(v) > 0 {
			t.Errorf("Discord would have refused: %q", v)
		}
	})
	return d
}

// options fit a double.
func options(d *discorddouble.Server) Options {
	return Options{Token: Token(testToken), APIURL: d.URL(), Guild: d.Guild(), pauses: quick}
}

func newSurface(t *testing.T, o Options) *Surface {
	t.Helper()
	s, err := New(slog.New(slog.DiscardHandler), o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// run runs a surface; stop ends it and waits until Discord knows.
func run(t *testing.T, d *discorddouble.Server, s *Surface, taker chat.Handler) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	runs.Go(func() { _ = s.Run(ctx, taker) })
	stop = func() {
		cancel()
		wait(t, d, "the gateway is closed", func() bool { return d.Connected() == 0 })
	}
	t.Cleanup(cancel)
	return stop
}

// ready runs a surface until it is connected.
func ready(t *testing.T, d *discorddouble.Server, s *Surface, taker chat.Handler) (stop func()) {
	t.Helper()
	stop = run(t, d, s, taker)
	eventually(t, "the surface is connected", func() bool { return s.State() == nil && s.self.Load() != nil })
	return stop
}

// wait waits for something that the double shows.
func wait(t *testing.T, d *discorddouble.Server, what string, ok func() bool) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	if err := d.Wait(ctx, ok); err != nil {
		t.Fatalf("%s: %v", what, err)
	}
}

// eventually waits for something that nothing tells of.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(patience); !ok(); time.Sleep(2 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %s: %s", patience, what)
		}
	}
}

// driver is Discord's side for the shared suite.
type driver struct {
	d *discorddouble.Server
	s *Surface
	o Options

	stop func()

	mu     sync.Mutex
	places map[string]string // where a message was said
	closed map[string]bool   // forms that were sent
}

var (
	_ surfacetest.Driver   = (*driver)(nil)
	_ surfacetest.Breaker  = (*driver)(nil)
	_ surfacetest.Poster   = (*driver)(nil)
	_ surfacetest.Unfolder = (*driver)(nil)
)

const (
	foreignGuild   = "300400500600700800"
	foreignChannel = "300400500600700801"
	closedChannel  = "100200300400500609"
)

func newDriver(t *testing.T) surfacetest.Driver {
	d := startDouble(t, discorddouble.Options{
		AllowContent: true,
		Guests:       []discorddouble.Person{{ID: "200300400500600008", Name: "Gry"}},
		Strangers:    []discorddouble.Person{{ID: "200300400500600009", Name: "Xaver"}},
		Other:        []discorddouble.Place{{Guild: foreignGuild, Channel: foreignChannel}, {Guild: "100200300400500600", Channel: closedChannel}},
	})
	o := options(d)
	o.Mentions = true
	return &driver{d: d, o: o, places: map[string]string{}, closed: map[string]bool{}}
}

func (v *driver) Traits() surfacetest.Traits {
	tr := surfacetest.Traits{
		Name: Name, Home: v.d.Guild(), Channels: v.d.Channels(),
		Elsewhere: []surfacetest.Where{{Home: foreignGuild, Channel: foreignChannel}, {Home: v.d.Guild(), Channel: closedChannel}},
		Outsiders: []surfacetest.Outsider{
			{Person: surfacetest.Person{ID: "200300400500600008", Name: "Gry"}, What: "a guest", InChannels: true},
			{Person: surfacetest.Person{ID: "200300400500600009", Name: "Xaver"}, What: "a stranger"},
		},
		Groups:  v.d.People()[0].Roles,
		Secrets: []string{testToken},
		Direct:  true, Edits: true, Buttons: true, Forms: true, Private: true, Pictures: true, Changes: true,
		Lacks: []surfacetest.Power{surfacetest.FrontPage}, // bots have none there
	}
	for _, p := range v.d.People() {
		tr.People = append(tr.People, surfacetest.Person{ID: p.ID, Name: p.Name})
	}
	return tr
}

func (v *driver) Start(t *testing.T, desk chat.Handler) chat.Surface {
	v.s = newSurface(t, v.o)
	v.stop = ready(t, v.d, v.s, desk)
	return v.s
}

func (v *driver) Stop(*testing.T) { v.stop() }

func (v *driver) Sender(t *testing.T) outbox.Sender {
	if v.s == nil {
		return newSurface(t, v.o)
	}
	return v.s
}

func (v *driver) Break(*testing.T) { v.d.Break() }

func (v *driver) Say(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	if m.Aside {
		at := m.Channel
		if m.Direct {
			at = v.d.DM(m.By.ID)
		}
		deed, err := v.d.Command(at, m.By.ID, "ask", map[string]string{"message": m.Text})
		if err != nil {
			t.Error(err)
		}
		return deed
	}
	say := discorddouble.Say{Channel: m.Channel, By: m.By.ID, Text: m.Text}
	switch {
	case m.Direct:
		say.Channel = v.d.DM(m.By.ID)
	case m.Thread != "":
		if _, ok := v.d.Channel(m.Thread); ok {
			say.Channel = m.Thread // which has the id of the message it began with
			break
		}
		for _, s := range v.Shown(t) { // a conversation by replies
			if s.Channel == m.Channel && s.Thread == m.Thread {
				say.Reply = s.ID
			}
		}
	case !m.Unheard:
		say.Text = v.d.Mention() + " " + m.Text
	}
	id, err := v.d.Say(say)
	if err != nil {
		t.Error(err)
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.places[id] = say.Channel
	return id
}

func (v *driver) Delete(_ *testing.T, message string) {
	v.mu.Lock()
	at := v.places[message]
	v.mu.Unlock()
	v.d.Delete(at, message)
}

func (v *driver) Correct(t *testing.T, message string, by surfacetest.Person) {
	t.Helper()
	v.mu.Lock()
	at := v.places[message]
	v.mu.Unlock()
	if _, err := v.d.CommandOn(at, message, by.ID, messageCommand); err != nil {
		t.Error(err)
	}
}

func (v *driver) Edit(t *testing.T, message, text string) string {
	t.Helper()
	v.mu.Lock()
	at := v.places[message]
	v.mu.Unlock()
	if c, _ := v.d.Channel(at); c.Parent == "" && c.With == "" {
		text = v.d.Mention() + " " + text
	}
	deed, err := v.d.Edit(at, message, text)
	if err != nil {
		t.Error(err)
	}
	return deed
}

func (v *driver) Press(t *testing.T, s surfacetest.Shown, action string, by surfacetest.Person) string {
	t.Helper()
	at := v.placeOf(s)
	m, _ := v.d.Message(at, s.ID)
	for _, row := range m.Rows {
		for _, b := range row {
			if actionOf(b.CustomID) == action {
				deed, err := v.d.Press(at, s.ID, by.ID, b.CustomID)
				if err != nil {
					t.Error(err)
				}
				return deed
			}
		}
	}
	t.Errorf("no button %q on message %q", action, s.ID)
	return ""
}

// placeOf is the id of the channel or thread in which a message stands.
func (v *driver) placeOf(s surfacetest.Shown) string {
	switch {
	case s.Direct != "":
		return v.d.DM(s.Direct)
	case s.Thread != "":
		return s.Thread
	}
	return s.Channel
}

func (v *driver) Choose(t *testing.T, s surfacetest.Shown, entry string, by surfacetest.Person) string {
	t.Helper()
	deed, err := v.d.Choose(v.placeOf(s), s.ID, by.ID, entry)
	if err != nil {
		t.Fatal(err)
	}
	return deed
}

func actionOf(custom string) string {
	_, custom = cutMark(custom)
	if parts := strings.SplitN(custom, ":", 4); len(parts) == 4 {
		return parts[2]
	}
	return custom
}

func (v *driver) Redeliver(t *testing.T, deed string) {
	t.Helper()
	if err := v.d.Redeliver(deed); err != nil {
		t.Error(err)
	}
}

func (v *driver) OpenForm(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	id, err := v.d.Command(m.Channel, m.By.ID, "form", nil)
	if err != nil {
		t.Fatal(err)
	}
	wait(t, v.d, "the form is open", func() bool { _, ok := v.d.Form(id); return ok })
	return id
}

func (v *driver) PressForm(t *testing.T, s surfacetest.Shown, action string, by surfacetest.Person) string {
	t.Helper()
	id := v.Press(t, s, action, by)
	wait(t, v.d, "the form is open", func() bool { _, ok := v.d.Form(id); return ok })
	return id
}

func (v *driver) Form(_ *testing.T, form string) surfacetest.Form {
	v.mu.Lock()
	defer v.mu.Unlock()
	f, ok := v.d.Form(form)
	return surfacetest.Form{Open: ok && !v.closed[form], Fields: f.Values}
}

func (v *driver) Submit(t *testing.T, form string, fields map[string]string) string {
	t.Helper()
	deed, err := v.d.Submit(form, fields)
	if err != nil {
		t.Error(err)
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	v.closed[form] = true // the client closes it, whatever is answered
	return deed
}

func (v *driver) Shown(*testing.T) []surfacetest.Shown { return shown(v.d) }

// begun is the message that a conversation by replies began with, of one that is
// replied to.
func begun(d *discorddouble.Server, channel, message string) string {
	for {
		m, ok := d.Message(channel, message)
		if !ok || m.Reply == "" {
			return message
		}
		message = m.Reply
	}
}

func shown(d *discorddouble.Server) []surfacetest.Shown {
	var out []surfacetest.Shown
	for _, id := range d.AllChannels() {
		c, _ := d.Channel(id)
		at := surfacetest.Shown{Channel: id}
		switch {
		case c.With != "":
			at = surfacetest.Shown{Direct: c.With}
		case c.Parent != "":
			at = surfacetest.Shown{Channel: c.Parent, Thread: id}
		}
		for _, m := range d.FromBot(id) {
			s := at
			if s.Channel == id && !m.Hook {
				s.Thread = begun(d, id, m.Reply)
			}
			s.ID, s.Edited, s.Text, s.Pings = m.ID, !m.Edited.IsZero(), readable(m), live(m)
			if s.Direct == "" {
				s.Only = m.Only
			}
			for _, row := range m.Rows {
				for _, b := range row {
					s.Buttons = append(s.Buttons, surfacetest.Button{ID: actionOf(b.CustomID), Label: b.Label})
				}
			}
			for _, menu := range m.Menus {
				for _, o := range menu.Options {
					s.More = append(s.More, o.Value)
				}
			}
			for _, a := range m.Attachments {
				switch {
				case strings.HasPrefix(a.Kind, "text/plain"): // read already
				case a.Kind != "image/png":
					s.Files = append(s.Files, surfacetest.File{Name: a.Name, Size: len(a.Data)})
				default:
					s.Pictures = append(s.Pictures, surfacetest.Picture{Name: a.Name, Alt: a.Description, Size: len(a.Data)})
				}
			}
			out = append(out, s)
		}
	}
	return out
}

// marked are the texts of a message in which Discord reads marks.
func texts(m discorddouble.Message) []string {
	all := []string{m.Content}
	for _, e := range m.Embeds {
		all = append(all, e.Title, e.Description)
		for _, f := range e.Fields {
			all = append(all, f.Name, f.Value)
		}
	}
	return all
}

// readable is what a person reads in a message.
func readable(m discorddouble.Message) string {
	var out []string
	for _, text := range texts(m) {
		out = append(out, unmarked(text))
	}
	for _, e := range m.Embeds {
		if e.Footer != nil {
			out = append(out, e.Footer.Text)
		}
	}
	for _, a := range m.Attachments {
		if strings.HasPrefix(a.Kind, "text/plain") {
			out = append(out, string(a.Data))
		}
	}
	return strings.Join(slices.DeleteFunc(out, func(s string) bool { return s == "" }), "\n")
}

// unmarked is a text as Discord's client shows it.
func unmarked(text string) string {
	var b strings.Builder
	for i, piece := range strings.Split(text, "```") {
		if i%2 == 1 {
			b.WriteString(piece)
			continue
		}
		for line := range strings.Lines(piece) {
			b.WriteString(unmark(line))
		}
	}
	return b.String()
}

// live finds what Discord would show as a mention, a time, an emoji or a link.
func live(m discorddouble.Message) []string {
	var found []string
	for _, text := range texts(m) {
		pieces := strings.Split(text, "```")
		if len(pieces)%2 == 0 {
			found = append(found, "a fence that is not closed")
		}
		for i := 0; i < len(pieces); i += 2 {
			p := pieces[i]
			for j := 0; j < len(p); j++ {
				if p[j] == '\\' {
					j++
					continue
				}
				for _, mark := range []string{"<@", "<#", "<t:", "</", "<:", "<a:", "<id:", "<http", "<mailto", "<tel", "@everyone", "@here", "http://", "https://", "](", ":smile:", "||", "~~", "`", "_", "# "} {
					if strings.HasPrefix(p[j:], mark) {
						found = append(found, p[j:min(len(p), j+20)])
					}
				}
			}
		}
	}
	return found
}

func TestSurface(t *testing.T) { surfacetest.Run(t, newDriver) }
