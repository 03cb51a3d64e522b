package surfacetest

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
)

// talk: in its own thread the bot hears what people say to each other, is told
// so, and says nothing where there is nothing to say. To the bot it is the same
// thread.
func talk(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "say k1")
	message := r.Say(t, m)
	r.await(t, heard("k1"))
	if r.parrot.heard().Heard {
		t.Error("what was said to the bot is taken for talk")
	}
	m.Thread, m.Text, m.By = message, "nothing", r.traits.People[1]
	r.Say(t, m)
	m.Text = "say k2"
	r.Say(t, m)
	r.stands(t, r.await(t, heard("k2")), m, message)
	r.dispatcher.Wait()
	if !r.parrot.heard().Heard {
		t.Error("what was said in the thread is taken for said to the bot")
	}
	if got := r.Shown(t); len(got) != 2 {
		t.Errorf("shown %+v, want two answers", got)
	}
	m.Thread, m.Unheard = "", true
	r.Say(t, m)
	r.settle(t, "k9")
	r.once(t, heard("k2"))

	// The real bot decides what reads whole.
	r.Stop(t)
	r = startWith(t, d, testBot(t), nil)
	m = r.place(0, "XRUN -38 FAF 6200, DA 4900")
	m.Thread = r.Say(t, m)
	r.await(t, "XRUN")
	r.dispatcher.Wait()
	before := len(r.Shown(t))
	for _, text := range []string{"thanks, will brief at the gate", "ok", "we are 20 min out", "38"} {
		m.Text = text
		r.Say(t, m)
	}
	m.Text = "wx now M41"
	r.Say(t, m)
	r.await(t, "−41 °C")
	r.dispatcher.Wait()
	if got := r.Shown(t); len(got) != before+1 {
		t.Errorf("talk is answered: %+v", got[before:])
	}
	r.sound(t)
}

// concernsOne: questions back and help to a command, and what a press comes to
// for whoever pressed, are shown to that person alone.
func concernsOne(t *testing.T, d Driver) {
	r := start(t, d, nil)
	alone := func(text string, by Person) {
		t.Helper()
		if got := r.await(t, text); r.traits.Private && got.Only != by.ID {
			t.Errorf("%q is shown in %q to %q, want to %q alone", text, got.Channel, got.Only, by.ID)
		}
	}
	m := r.place(1, "ask k1 what")
	m.Aside = true
	r.Say(t, m)
	alone(heard("k1"), m.By)
	if !r.traits.Buttons {
		return
	}
	r.say(t, 0, "button k2 ask k3 what")
	card := r.await(t, heard("k2"))
	r.Press(t, card, "more", r.traits.People[1])
	alone(heard("k3"), r.traits.People[1])
	if got := r.await(t, heard("k2")); got.Only != "" {
		t.Errorf("a card is shown to %q alone", got.Only)
	}
	r.sound(t)
}

// confirms: a button that checks shows the stop and the figures first, to
// whoever pressed alone, unless they stand beside it; their own button checks.
func confirms(t *testing.T, d Driver) {
	const line = "check KALOMI-RUTA"
	r := start(t, d, nil)
	r.say(t, 0, "button k1 "+line)
	by := r.traits.People[0]
	r.Press(t, r.await(t, heard("k1")), "more", by)
	eventually(t, "the figures are asked about, or checked", func() bool {
		return len(r.showing(t, "8990")) > 0 || len(r.showing(t, heard(line))) > 0
	})
	if asked := r.showing(t, "8990"); len(asked) > 0 {
		if r.parrot.count(line) != 1 || len(r.showing(t, heard(line))) > 0 {
			t.Error("it was checked without a word")
		}
		if s := asked[0]; r.traits.Private && s.Only != by.ID || !strings.Contains(s.Text, "LNAV/VNAV is not usable.") {
			t.Errorf("asked in %q of %q: %q", s.Channel, s.Only, s.Text)
		}
		r.Press(t, asked[0], reply.ActionConfirm, by)
	}
	r.await(t, heard(line))
	if m := r.parrot.heard(); m.ConfirmFirst || m.Text != line || !strings.Contains(m.Person, by.ID) {
		t.Errorf("checked by %+v", m)
	}
	r.sound(t)
}

// outsiders read nothing and are told why, where that can be done: the bot is
// not asked.
func outsiders(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.say(t, 0, "button k1 say k2")
	card := r.await(t, heard("k1"))
	asked := r.parrot.count
	for _, x := range r.traits.Outsiders {
		t.Run(x.What, func(t *testing.T) {
			if r.traits.Direct {
				m := Said{By: x.Person, Direct: true, Text: "say direct"}
				r.Say(t, m)
				eventually(t, x.What+" is told in a direct message", func() bool {
					return slices.ContainsFunc(r.showing(t, "members of its unit alone"), func(s Shown) bool { return s.Direct == x.ID || s.Only == x.ID })
				})
			}
			if k, ok := r.surface.(chat.Knowing); ok {
				if is := k.Who(t.Context(), chat.Person{ID: x.ID}); is.Standing != chat.Outsider {
					t.Errorf("who is that? %+v, want that they do not belong to the unit", is)
				}
			}
			if x.InChannels {
				m := r.place(0, "say channel")
				m.By = x.Person
				r.Say(t, m)
				m.Aside, m.Text = true, "say command"
				r.Say(t, m)
				if r.traits.Buttons {
					r.Press(t, card, "more", x.Person)
				}
			}
			if f, ok := d.(Fronter); ok {
				f.Look(t, x.Person)
				eventually(t, "the front page turns "+x.What+" away", func() bool {
					return strings.Contains(flat(f.Front(t, x.Person)), "members of its unit alone")
				})
				if strings.Contains(flat(f.Front(t, x.Person)), "XKLD") {
					t.Error("the front page shows the bases")
				}
			}
		})
	}
	if k, ok := r.surface.(chat.Knowing); ok {
		if is := k.Who(t.Context(), chat.Person{ID: r.traits.People[1].ID}); is.Standing != chat.Member {
			t.Errorf("who is that? %+v, want a member", is)
		}
	}
	r.settle(t, "k9")
	for _, text := range []string{"say direct", "say channel", "say command", "say k2", "watch"} {
		if n := asked(text); n != 0 {
			t.Errorf("the bot was asked %q %d times by people who do not belong to the unit", text, n)
		}
	}
	for _, s := range r.showing(t, "members of its unit alone") {
		if s.Direct == "" && s.Only == "" {
			t.Errorf("everybody reads who was turned away: %+v", s)
		}
	}
	r.sound(t)
}

// commandElsewhere: whoever uses a command where the bot does not answer is told
// so, alone.
func commandElsewhere(t *testing.T, d Driver) {
	r := start(t, d, nil)
	w := r.traits.Elsewhere[0]
	for _, e := range r.traits.Elsewhere {
		if e.Home == "" || e.Home == r.traits.Home {
			w = e
		}
	}
	r.Say(t, Said{By: r.traits.People[0], Channel: w.Channel, Text: "say k1", Aside: true})
	if got := r.await(t, "does not answer in this channel"); got.Only != r.traits.People[0].ID {
		t.Errorf("it is said to %q", got.Only)
	}
	if n := r.parrot.count("say k1"); n != 0 {
		t.Errorf("the bot was asked %d times", n)
	}
	r.sound(t)
}

// deletedQuestion: the record hears of it, by the id of the question's event.
func deletedQuestion(t *testing.T, d Driver) {
	del, ok := d.(Deleter)
	if !ok {
		return
	}
	gone := make(chan string, 10)
	r := start(t, d, func(s *chat.Settings) {
		s.Deleted = func(_ context.Context, surface, event string) error {
			gone <- surface + " " + event
			return nil
		}
	})
	message := r.say(t, 0, "say k1")
	r.await(t, heard("k1"))
	want := r.traits.Name + " " + r.parrot.heard().ID
	del.Delete(t, message)
	eventually(t, "the record hears of "+want, func() bool {
		select {
		case got := <-gone:
			return got == want
		default:
			return false
		}
	})
}

// onMessage: a command on somebody's message asks about it.
func onMessage(t *testing.T, d Driver) {
	c, ok := d.(Messager)
	if !ok {
		return
	}
	r := start(t, d, nil)
	m := r.place(1, "say k1")
	m.Unheard = true
	message := r.Say(t, m)
	r.settle(t, "k0")
	if n := r.parrot.count("say k1"); n != 0 {
		t.Fatalf("what was said to nobody was answered %d times", n)
	}
	c.Correct(t, message, r.traits.People[0])
	if got := r.await(t, heard("k1")); got.Channel != m.Channel || got.Only != "" {
		t.Errorf("the answer is shown in %q to %q", got.Channel, got.Only)
	}
	if got := r.parrot.heard(); !strings.Contains(got.User, r.traits.People[0].ID) {
		t.Errorf("asked by %q", got.User)
	}
	r.sound(t)
}

// nine is a message with as many altitudes as a procedure has.
const nine = " -38 IAF 10900, IAF 10500, step 9400, IF 8200, FAF 7400, step 6100, DA 5340, MDA 5460, missed 10200"

// working: the working of a whole procedure is one message with every figure,
// also in what is attached, which the person alone sees who asked.
func working(t *testing.T, d Driver) {
	by := d.Traits().People[1]
	if u, ok := d.(Unfolder); ok {
		r := startWith(t, d, testBot(t), nil)
		r.say(t, 0, "XKLD"+nine)
		card := r.await(t, "11500")
		r.dispatcher.Wait()
		before := len(r.Shown(t))
		u.Choose(t, card, "working", by)
		r.worked(t, "XKLD", by, before)
		r.Stop(t)
	}
	r := startWith(t, d, testBot(t), nil)
	before := len(r.Shown(t))
	m := r.place(1, "why XRUN"+nine)
	m.Aside, m.By = true, by
	r.Say(t, m)
	r.worked(t, "XRUN", by, before)
}

// worked says that the working of nine altitudes of a station is the one message
// that has come.
func (r *rig) worked(t *testing.T, station string, by Person, before int) {
	t.Helper()
	want, err := testBot(t).Handle(t.Context(), bot.Message{Surface: "x", Thread: "x", Text: "why " + station + nine, At: time.Now()})
	if err != nil || len(want.Working) != 9 {
		t.Fatalf("the bot answers %+v, %v", want, err)
	}
	first := flat(want.Working[0].Steps[0].Text)
	var got Shown
	eventually(t, "the working is shown", func() bool {
		all := r.showing(t, first)
		if len(all) > 0 {
			got = all[0]
		}
		return len(all) > 0
	})
	r.dispatcher.Wait()
	if all := r.Shown(t); len(all) != before+1 {
		t.Errorf("the working is %d messages: %+v", len(all)-before, all[before:])
	}
	if r.traits.Private && got.Only != by.ID {
		t.Errorf("the working is shown to %q, want to %q alone", got.Only, by.ID)
	}
	text := flat(got.Text)
	for _, w := range want.Working {
		if end := flat(w.Steps[len(w.Steps)-1].Text); !strings.Contains(text, end) {
			t.Errorf("%q is missing", end)
		}
		for _, m := range w.Methods {
			if figure := fmt.Sprintf("%.1f", m.CorrectionFt); !strings.Contains(text, figure) {
				t.Errorf("%s of %s by %s is missing", figure, w.Name, m.Method)
			}
		}
	}
	r.sound(t)
}
