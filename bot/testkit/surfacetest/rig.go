package surfacetest

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// deadline is the longest that anything may take to arrive; a real one takes
// milliseconds, a busy machine with the race detector longer.
const deadline = 20 * time.Second

// eventually waits until something holds.
func eventually(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(deadline); ; time.Sleep(3 * time.Millisecond) {
		if holds() {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s", deadline, what)
		}
	}
}

// rig is a driver with a dispatcher behind its surface.
type rig struct {
	Driver
	traits     Traits
	dispatcher *chat.Dispatcher
	parrot     *parrot
	surface    chat.Surface
	handled    sync.WaitGroup // the events that are being handled

	mu     sync.Mutex
	events []chat.Event
	cards  map[chat.Ref]reply.Reply // that the dispatcher showed
}

// taker hands the events on to the dispatcher and remembers them.
type taker struct {
	chat.Handler
	r *rig
}

func (k taker) Handle(ctx context.Context, s chat.Surface, e chat.Event) {
	k.r.handled.Add(1)
	defer k.r.handled.Done()
	k.r.mu.Lock()
	k.r.events = append(k.r.events, e)
	k.r.mu.Unlock()
	k.Handler.Handle(ctx, s, e)
}

// settings let the surface answer in its channels, and nobody be slowed.
func settings(tr Traits) chat.Settings {
	return chat.Settings{
		Where:    map[string]chat.Where{tr.Name: {Home: tr.Home, Channels: tr.Channels}},
		Stations: stations{}, Named: stations{}.named,
		Burst: 10000,
	}
}

// start puts a dispatcher with the parrot behind the surface; change may be nil.
func start(t *testing.T, d Driver, change func(*chat.Settings)) *rig {
	t.Helper()
	p := &parrot{said: map[string]int{}}
	r := startWith(t, d, p, change)
	r.parrot = p
	return r
}

func startWith(t *testing.T, d Driver, a chat.Answerer, change func(*chat.Settings)) *rig {
	t.Helper()
	r := &rig{Driver: d, traits: d.Traits(), cards: map[chat.Ref]reply.Reply{}}
	set := settings(r.traits)
	set.Shown = func(_ context.Context, _ string, ref chat.Ref, what reply.Reply, _ bool) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.cards[ref] = what
	}
	set.On = func(_ context.Context, _ string, ref chat.Ref) (reply.Reply, bool, error) {
		r.mu.Lock()
		defer r.mu.Unlock()
		what, found := r.cards[ref]
		return what, found, nil
	}
	if change != nil {
		change(&set)
	}
	log := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	r.dispatcher = chat.New(log, time.Now, a, set)
	t.Cleanup(r.handled.Wait) // after the surface has stopped: what is still handled writes into the test's log
	r.surface = d.Start(t, taker{r.dispatcher, r})
	if got := r.surface.Name(); got != r.traits.Name {
		t.Errorf("the surface's name is %q, its traits say %q", got, r.traits.Name)
	}
	return r
}

// place is one where there are answers: the first channel, else a direct
// message.
func (r *rig) place(by int, text string) Said {
	s := Said{By: r.traits.People[by], Text: text}
	if len(r.traits.Channels) > 0 {
		s.Channel = r.traits.Channels[0]
	} else {
		s.Direct = true
	}
	return s
}

// say says something where there are answers.
func (r *rig) say(t *testing.T, by int, text string) string {
	t.Helper()
	return r.Say(t, r.place(by, text))
}

// showing are the messages that hold a text.
func (r *rig) showing(t *testing.T, text string) []Shown {
	t.Helper()
	var out []Shown
	for _, s := range r.Shown(t) {
		if strings.Contains(flat(s.Text), text) {
			out = append(out, s)
		}
	}
	return out
}

// await waits for the message that holds a text.
func (r *rig) await(t *testing.T, text string) Shown {
	t.Helper()
	var s Shown
	eventually(t, fmt.Sprintf("%q is shown", text), func() bool {
		all := r.showing(t, text)
		if len(all) > 0 {
			s = all[0]
		}
		return len(all) > 0
	})
	return s
}

// awaitButton waits for a message with a button.
func (r *rig) awaitButton(t *testing.T, action string) Shown {
	t.Helper()
	var s Shown
	eventually(t, fmt.Sprintf("a button %q is shown", action), func() bool {
		all := r.Shown(t)
		i := slices.IndexFunc(all, func(s Shown) bool { return hasButton(s, action) })
		if i >= 0 {
			s = all[i]
		}
		return i >= 0
	})
	return s
}

func hasButton(s Shown, action string) bool {
	return slices.ContainsFunc(s.Buttons, func(b Button) bool { return b.ID == action })
}

// settle waits until what was done before it has been taken: what is said
// after it is answered, and nothing is at work any more.
func (r *rig) settle(t *testing.T, mark string) {
	t.Helper()
	r.say(t, 2, "say "+mark)
	r.await(t, heard(mark))
	r.dispatcher.Wait()
}

// unfold opens everything under More of a message, as a person, who alone sees
// it, and gives what is shown then; nothing where the surface has no More.
func (r *rig) unfold(t *testing.T, s Shown, by Person) (list []Shown) {
	t.Helper()
	u, ok := r.Driver.(Unfolder)
	if !ok {
		return nil
	}
	alone := func() (list []Shown) {
		for _, s := range r.Shown(t) {
			if s.Only == by.ID {
				list = append(list, s)
			}
		}
		return list
	}
	before := len(alone())
	for _, entry := range s.More {
		shown := len(alone())
		u.Choose(t, s, entry, by)
		eventually(t, "behind More is shown "+entry, func() bool { return len(alone()) > shown })
		r.dispatcher.Wait() // what is long is several messages
	}
	return alone()[before:]
}

// once says that a text is shown just once.
func (r *rig) once(t *testing.T, text string) {
	t.Helper()
	if got := r.showing(t, text); len(got) != 1 {
		t.Errorf("%q is shown %d times, want once: %+v", text, len(got), got)
	}
}

// stands checks where a message is shown that answers another.
func (r *rig) stands(t *testing.T, got Shown, m Said, message string) {
	t.Helper()
	want := Shown{Channel: m.Channel, Thread: m.Thread}
	if m.Direct {
		want = Shown{Direct: m.By.ID, Thread: m.Thread}
	} else if want.Thread == "" {
		want.Thread = message
	}
	if got.Channel != want.Channel || got.Thread != want.Thread || got.Direct != want.Direct || got.Only != "" {
		t.Errorf("shown in channel %q, thread %q, direct %q, only to %q; want channel %q, thread %q, direct %q, for all",
			got.Channel, got.Thread, got.Direct, got.Only, want.Channel, want.Thread, want.Direct)
	}
}

// sound checks that nothing shown pings or is broken.
func (r *rig) sound(t *testing.T) {
	t.Helper()
	for _, s := range r.Shown(t) {
		if len(s.Pings) > 0 {
			t.Errorf("message %q pings %q: %s", s.ID, s.Pings, s.Text)
		}
		if len(s.Broken) > 0 {
			t.Errorf("message %q is broken: %q", s.ID, s.Broken)
		}
	}
}

// flat is text with one space between its words, however it is wrapped.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// heard is what the parrot answers to a mark.
func heard(mark string) string { return "Heard " + mark + "." }

// parrot answers "say MARK anything" and its like with what was said:
//
//	say MARK TEXT     the text as a fact
//	button MARK MSG   and a button "more" that says MSG
//	duty MARK         buttons "ack" and "more"
//	all MARK TEXT     the text in every field that an answer has
//	ask MARK TEXT     the text in every field that a question has
//	long MARK         more than any service takes in one message
//	odd N             the odd text of that number, which no service could carry
//	oddly N           the same as a question
//	folds MARK        an answer with more than stands on the screen
//	nothing           an empty reply
//	fail              an error with a secret in it
//	watch             the bases
//	again MARK        and a button that computes a record again
//	enter ID N        what a blind check of N altitudes asks for
//
// Anything else, such as a form's line, is a mark as a whole.
type parrot struct {
	mu   sync.Mutex
	said map[string]int // how often each text came
	last bot.Message
}

func (p *parrot) count(text string) int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.said[text]
}

func (p *parrot) heard() (m bot.Message) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.last
}

// secretDetail is in the parrot's errors, and for the log alone.
const secretDetail = "detail-for-the-log"

func (p *parrot) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	p.mu.Lock()
	p.said[m.Text]++
	p.last = m
	p.mu.Unlock()
	verb, rest, _ := strings.Cut(m.Text, " ")
	mark, text, _ := strings.Cut(rest, " ")
	r := reply.Reply{Kind: reply.KindStatus, Headline: heard(mark), Facts: []string{heard(mark)}}
	switch verb {
	case "say":
		if text != "" {
			r.Facts = append(r.Facts, text)
		}
	case "button":
		r.Actions = []reply.Action{{ID: "more", Label: "Show more", Message: text}}
	case "again":
		r.Actions = []reply.Action{{ID: "recompute", Label: "Again at −29, 61 min old", Message: "recompute " + mark}}
	case "recompute": // it is somebody else's, and warmer: the bot asks first
		if text == "" {
			line := m.Text + " latest"
			r = reply.Ask(reply.Problem{Text: "−29 °C is warmer than the −38 °C of " + mark + ". Compute again at −29?", Try: line})
			r.Actions = []reply.Action{{ID: "recompute", Label: "Again at −29, 61 min old", Message: line}}
			break
		}
		r.Headline, r.Facts = heard(m.Text), []string{heard(m.Text)}
	case "duty":
		r.Kind = reply.KindAlert
		r.Actions = []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack XKLD"}, {ID: "more", Label: "Show more", Message: "say why"}}
	case "ack":
		r.Headline, r.Facts = heard("ack"), []string{heard("ack"), "XKLD is acknowledged by " + m.User + "."}
	case "all":
		r = everywhere(mark, text)
	case "long":
		r = long(mark)
	case "ask":
		r = asking(mark, text)
	case "odd", "oddly":
		n, _ := strconv.Atoi(mark)
		if r = everywhere(verb+mark, oddTexts[n]); verb == "oddly" {
			r = asking(verb+mark, oddTexts[n])
		}
	case "folds":
		r = folds(mark)
	case "nothing":
		r = reply.Reply{Kind: reply.KindNote}
	case "fail":
		return reply.Reply{}, errors.New(secretDetail)
	case "enter":
		n, _ := strconv.Atoi(text)
		r = reply.Ask(reply.Problem{Text: heard(mark), Try: "check " + mark + strings.Repeat(" nnnn", n)})
		r.Enter = &reply.BlindCheck{Record: mark}
		for i := range n {
			r.Enter.Altitudes = append(r.Enter.Altitudes, fmt.Sprintf("step HOLMA %d", 9000-100*i))
		}
	case "check":
		if r.Headline, r.Facts = heard(m.Text), []string{heard(m.Text)}; m.ConfirmFirst {
			r = reply.Ask(reply.Problem{Text: "The same figures?"})
			r.Confirm = mark
			r.Stops = []reply.Stop{{Code: "baro-limit", Text: "LNAV/VNAV is not usable."}}
			r.Altitudes = []reply.Row{{Label: "FAF", PublishedFt: 8200, CorrectionFt: 790, CorrectedFt: 8990, State: reply.StateRequired}}
			r.Actions = []reply.Action{{ID: reply.ActionConfirm, Label: "Check", Message: m.Text + reply.Confirmed}}
		}
	case "watch", "mine":
		r = reply.Reply{Kind: reply.KindWatch, Headline: heard("watch"), Facts: []string{heard("watch")}, Bases: []reply.Cold{{Ident: "XKLD", State: "below"}}}
	default:
		r.Headline, r.Facts = heard(m.Text), []string{heard(m.Text)}
	}
	return r, nil
}

// everywhere is an answer with a text in each of its fields.
func everywhere(mark, text string) reply.Reply {
	return reply.Reply{
		Kind:              reply.KindCorrection,
		Headline:          heard(mark) + " " + text,
		Station:           reply.Station{Ident: text, Name: text, Known: true},
		TemperatureC:      reply.Some(-38),
		TemperatureSource: text,
		Rules:             text,
		RulesVersion:      text,
		Unverified:        text,
		Procedure:         text,
		Stops:             []reply.Stop{{Code: "x", Text: text}},
		Notes:             []string{text},
		Call:              &reply.Call{When: text, Text: text, Spoken: text, Source: text},
		Facts:             []string{text, "before " + text + " after"},
		Altitudes:         []reply.Row{{Label: text, Fix: text, Segment: text, Meaning: text, PublishedFt: 8200, CorrectionFt: 100, CorrectedFt: 8300, Mark: text, Why: text}},
		Requests:          []reply.Request{{When: text, Text: text, Spoken: text, Source: text}},
		Cautions:          []reply.Caution{{Code: "x", Text: text}, {Code: "mark", Text: heard(mark)}, {Code: "standing", Text: text, Standing: true}},
		Working:           []reply.Working{{Name: text, PublishedFt: 8200, Methods: []reply.MethodFigure{{Method: text}}, Steps: []reply.Step{{Text: text, Source: text}}}},
		Source:            text,
		Actions:           []reply.Action{{ID: "more", Label: "Label " + text, Message: "say more"}},
	}
}

// asking is a question with a text in each of its fields.
func asking(mark, text string) reply.Reply {
	r := reply.Ask(reply.Problem{Word: text, Text: heard(mark) + " " + text, Try: text})
	r.Facts = []string{text, "before " + text + " after"}
	r.Sections = []reply.Section{{Title: text, Lines: []string{text}}}
	r.Actions = []reply.Action{{ID: "more", Label: "Label " + text, Message: "say more"}}
	return r
}

// What stands behind More of an answer with folds.
const (
	foldedCaution = "A caution that every answer has."
	foldedWorking = "Step by step."
)

func folds(mark string) reply.Reply {
	return reply.Reply{
		Kind: reply.KindCorrection, Headline: heard(mark), TemperatureC: reply.Some(-38),
		Altitudes: []reply.Row{{Label: "FAF", PublishedFt: 8200, CorrectionFt: 800, CorrectedFt: 9000, Why: "its own height"}},
		Cautions:  []reply.Caution{{Code: "x", Text: foldedCaution, Standing: true}},
		Actions: []reply.Action{
			{ID: "why", Label: "Show the working", Message: "say working " + foldedWorking},
			{ID: "picture", Label: "Picture", Message: "say drawn"},
		},
	}
}

// The size of a long reply: more rows, lines and characters than any service
// takes in one message.
const (
	longRows     = 300
	longCautions = 60
	longWords    = 3000
)

func longRow(i int) string     { return fmt.Sprintf("FX%03d", i) }
func longCaution(i int) string { return fmt.Sprintf("Caution number %d of the long reply.", i) }
func longWord(i int) string    { return fmt.Sprintf("w%04d", i) }

func long(mark string) reply.Reply {
	r := reply.Reply{
		Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", Name: "Kaldmoor", ElevationFt: 4802, Known: true},
		TemperatureC: reply.Some(-38), Required: reply.Yes, Headline: heard(mark),
		Facts:   []string{heard(mark)},
		Actions: []reply.Action{{ID: "more", Label: "Show more", Message: "say more"}, {ID: "why", Label: "Show the working", Message: "say why"}},
	}
	words := make([]string, longWords)
	for i := range words {
		words[i] = longWord(i)
	}
	r.Facts = append(r.Facts, strings.Join(words, " "))
	for i := range longRows {
		r.Altitudes = append(r.Altitudes, reply.Row{
			Label: "step", Fix: longRow(i), Segment: "intermediate", PublishedFt: float64(8200 + 10*i),
			HeightFt: float64(3400 + 10*i), CorrectionFt: 900, CorrectedFt: float64(9100 + 10*i), Required: true, Report: true, Why: "its own height",
		})
	}
	for i := range longCautions {
		r.Cautions = append(r.Cautions, reply.Caution{Code: "long", Text: longCaution(i)})
	}
	return r
}

// oddTexts are what no surface may break on.
var oddTexts = []string{
	"line\nends\r\nand\vmore\u2028and\u2029more",
	"controls \x00 \x07 \x1b[31m \x7f \u0085",
	"bidi \u202e overridden \u2066 isolated \u202b",
	"not UTF-8 \xff\xfe \xed\xa0\x80 \xc3",
	"zero\u200bwidth\ufeff and \U000e0041 tags",
	"marks *y* _z_ ~x~ `code` ```block``` ||hidden|| # head > quote [a](b) <b> &amp; \\ \" ' {x} |",
	"❄️ −20 °C “quoted” ﷽ Z͑͗̓a͛̈l̾̏g͐͑o̊",
	strings.Repeat("unbroken", 500),
	strings.Repeat("```", 50) + strings.Repeat("\n", 200) + strings.Repeat("|", 100),
	"   ",
}

// stations are those of testBot.
type stations struct{}

func (stations) Find(typed string, limit int) []bot.Offer {
	var out []bot.Offer
	for _, c := range []bot.Offer{{Value: "XKLD", Label: "XKLD Kaldmoor"}, {Value: "XRUN", Label: "XRUN Runmere"}} {
		if strings.Contains(strings.ToLower(c.Label), strings.ToLower(typed)) && len(out) < limit {
			out = append(out, c)
		}
	}
	return out
}

// named is the one whose ident a text begins with.
func (s stations) named(text string) string {
	for _, c := range s.Find("", 2) {
		if strings.HasPrefix(strings.ToUpper(text), c.Value) {
			return c.Value
		}
	}
	return ""
}

// testBot is a real bot; its stations are invented.
func testBot(t *testing.T) *bot.Bot {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("test.yaml", []byte(`
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, segments: [initial, intermediate, final, missed], mountainous: true}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380, restriction_c: -20}
`), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, sets)
	if err != nil {
		t.Fatal(err)
	}
	return b
}
