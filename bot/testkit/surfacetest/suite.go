package surfacetest

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/png"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// Run runs the suite; fresh makes a driver for each test. A case that needs
// what the surface has not is left out.
func Run(t *testing.T, fresh func(t *testing.T) Driver) {
	has := fresh(t).Traits()
	if len(has.People) < 3 || has.Name == "" || len(has.Channels) == 1 || len(has.Channels) == 0 && !has.Direct {
		t.Fatalf("the traits need a name, three people, and two channels or direct messages: %+v", has)
	}
	channels := len(has.Channels) > 0
	for _, c := range []struct {
		name string
		able bool
		test func(*testing.T, Driver)
	}{
		{"a message in a channel is answered in its thread", channels, inThread},
		{"a follow-up in the thread completes the question", channels, threadCompletes},
		{"a direct message is answered in line", has.Direct, inLine},
		{"a follow-up in a direct message completes the question", has.Direct, lineCompletes},
		{"two channels do not mix", channels, channelsApart},
		{"an edit changes the answer in its place", has.Edits, edited},
		{"an edit that completes", has.Edits, editCompletes},
		{"two edits at once: the later stands", has.Edits, editedTwice},
		{"an edit to the same text", has.Edits, editedToSame},
		{"an edit after a restart", has.Edits, editedAfterRestart},
		{"a long answer edited to a short one", has.Edits, editedShort},
		{"a button", has.Buttons, button},
		{"a button in a direct message", has.Buttons && has.Direct, directButton},
		{"a press delivered twice", has.Buttons, pressedTwice},
		{"a deed of duty officers is refused to others", has.Buttons, refused},
		{"a duty officer by group", has.Buttons && len(has.Groups) > 0, byGroup},
		{"a button on a posted alert", has.Buttons && channels, alert},
		{"a command, and its refusal", channels, command},
		{"a form", has.Forms, form},
		{"a form with problems", has.Forms, badForm},
		{"a form delivered twice", has.Forms, submittedTwice},
		{"a form of a blind check", has.Forms && has.Buttons, enterForm},
		{"a form of a blind check with problems", has.Forms && has.Buttons, badEnterForm},
		{"a form of a blind check of many altitudes", has.Forms && has.Buttons, longEnterForm},
		{"a blind check that is typed", true, enterTyped},
		{"a picture with words", has.Pictures, picture},
		{"what lies behind More", has.Buttons, behindMore},
		{"the working is one message, for whoever asks", channels, working},
		{"a picture behind More", has.Buttons && has.Pictures, pictureBehindMore},
		{"a file below a button", has.Pictures && has.Buttons, fileBelow},
		{"text that would ping", true, pings},
		{"odd text", true, odd},
		{"a reply that says nothing", true, empty},
		{"a very long reply", true, veryLong},
		{"what goes wrong is told plainly", true, plainly},
		{"a place without answers", len(has.Elsewhere) > 0, elsewhere},
		{"a message delivered twice", true, saidTwice},
		{"forty messages at once", true, many},
		{"a flood is slowed for that person alone", true, flood},
		{"a card is changed and followed by its reference", has.Changes, byReference},
		{"a reference after a restart", has.Changes, afterRestart},
		{"a context that has ended", true, ended},
		{"talk in the bot's own thread", channels, talk},
		{"what concerns one person", channels, concernsOne},
		{"figures are asked about before a check", has.Buttons, confirms},
		{"who does not belong to the unit", len(has.Outsiders) > 0, outsiders},
		{"a command where there are no answers", len(has.Elsewhere) > 0 && has.Private, commandElsewhere},
		{"a question that is deleted", true, deletedQuestion},
		{"a command on a message", channels, onMessage},
		{"full questions stand beside each other", true, besides},
		{"a direct message is its person's own", has.Direct, ownDirect},
		{"a command in a direct message", has.Direct, commandDirectly},
		{"a morning, its details, and who has seen it", channels, morning},
		{"a button says what it would do", has.Buttons, saysWhat},
		{"what it cannot do is said", true, lacks},
		{"the front page", true, front},
		{"an outage", true, outage},
	} {
		if c.able {
			t.Run(c.name, func(t *testing.T) { c.test(t, fresh(t)) })
		}
	}
}

func inThread(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "say k1")
	message := r.Say(t, m)
	r.stands(t, r.await(t, heard("k1")), m, message)
	m.Thread, m.Text = message, "say k2"
	r.Say(t, m)
	r.stands(t, r.await(t, heard("k2")), m, message)
	if got := r.parrot.heard(); !strings.Contains(got.User, m.By.ID) || got.Surface != r.traits.Name || got.Direct || got.At.IsZero() {
		t.Errorf("the bot was asked %+v by %+v", got, m.By)
	}
	r.sound(t)
}

// completes asks a real bot without the temperature, and gives it.
func completes(t *testing.T, d Driver, m Said) {
	r := startWith(t, d, testBot(t), nil)
	m.Text = "XRUN FAF 6200, DA 4900"
	message := r.Say(t, m)
	question := r.await(t, "temperature")
	r.stands(t, question, m, message)
	if !m.Direct {
		m.Thread = message
	}
	m.Text = "-38"
	r.Say(t, m)
	// The figures are the bot's own: what matters is that they are all there.
	want, err := testBot(t).Handle(t.Context(), bot.Message{Surface: "x", Thread: "x", Text: "XRUN -38 FAF 6200, DA 4900", At: time.Now()})
	if err != nil || len(want.Altitudes) != 2 {
		t.Fatalf("the bot answers %+v, %v", want, err)
	}
	figure := func(row int) string { return fmt.Sprintf("%.0f", want.Altitudes[row].CorrectedFt) }
	var answer Shown
	eventually(t, "the corrected altitudes "+figure(0)+" and "+figure(1)+" are shown", func() bool {
		for _, s := range r.Shown(t) {
			text := digits(s.Text)
			if strings.Contains(text, figure(0)) && strings.Contains(text, figure(1)) {
				answer = s
				return true
			}
		}
		return false
	})
	r.stands(t, answer, m, message)
	r.sound(t)
}

// digits is text without what stands between thousands.
func digits(s string) string {
	return strings.NewReplacer(",", "", "\u2009", "", "\u202f", "", "\u00a0", "").Replace(s)
}

func threadCompletes(t *testing.T, d Driver) {
	tr := d.Traits()
	completes(t, d, Said{By: tr.People[0], Channel: tr.Channels[1]})
}

func inLine(t *testing.T, d Driver) {
	r := start(t, d, nil)
	for i, by := range r.traits.People[:2] {
		m := Said{By: by, Direct: true, Text: fmt.Sprintf("say k%d", i)}
		message := r.Say(t, m)
		r.stands(t, r.await(t, heard(fmt.Sprintf("k%d", i))), m, message)
	}
	if got := r.parrot.heard(); !got.Direct {
		t.Errorf("the bot was asked %+v, want it direct", got)
	}
}

func lineCompletes(t *testing.T, d Driver) {
	completes(t, d, Said{By: d.Traits().People[1], Direct: true})
}

// channelsApart: the same words in two channels and two threads of one.
func channelsApart(t *testing.T, d Driver) {
	r := start(t, d, nil)
	for i, channel := range []string{r.traits.Channels[0], r.traits.Channels[1], r.traits.Channels[0]} {
		m := Said{By: r.traits.People[i], Channel: channel, Text: fmt.Sprintf("say k%d", i)}
		message := r.Say(t, m)
		r.stands(t, r.await(t, heard(fmt.Sprintf("k%d", i))), m, message)
	}
}

func edited(t *testing.T, d Driver) {
	r := start(t, d, nil)
	message := r.say(t, 0, "say k1")
	before := r.await(t, heard("k1"))
	for _, k := range []string{"k2", "k3"} {
		r.Edit(t, message, "say "+k)
		after := r.await(t, heard(k))
		if after.ID != before.ID {
			t.Errorf("the answer to the edit is message %q, want %q changed", after.ID, before.ID)
		}
		if !after.Edited {
			t.Errorf("message %q is not marked as edited", after.ID)
		}
	}
	r.settle(t, "k9")
	if got := r.showing(t, "Heard k"); len(got) != 2 {
		t.Errorf("two messages, one edited, have %d answers: %+v", len(got), got)
	}
}

// editCompletes: the question of a real bot becomes the answer.
func editCompletes(t *testing.T, d Driver) {
	r := startWith(t, d, testBot(t), nil)
	message := r.say(t, 0, "XRUN 38 6200")
	question := r.await(t, "38")
	r.Edit(t, message, "XRUN -38 6200")
	eventually(t, "the question becomes the answer", func() bool {
		all := r.Shown(t)
		return len(all) == 1 && all[0].ID == question.ID && strings.Contains(digits(all[0].Text), "6200")
	})
}

func editedTwice(t *testing.T, d Driver) {
	r := start(t, d, nil)
	message := r.say(t, 0, "say k1")
	r.await(t, heard("k1"))
	r.Edit(t, message, "say k2")
	r.Edit(t, message, "say k3")
	r.await(t, heard("k3"))
	r.settle(t, "k9")
	r.once(t, heard("k3"))
	if got := r.showing(t, "Heard k"); len(got) != 2 {
		t.Errorf("after two edits at once there are %+v", got)
	}
}

// editedToSame: services send an edit when they unfold a link.
func editedToSame(t *testing.T, d Driver) {
	r := start(t, d, nil)
	message := r.say(t, 0, "say k1")
	r.await(t, heard("k1"))
	r.Edit(t, message, "say k1")
	r.settle(t, "k9")
	if got := r.parrot.count("say k1"); got != 1 {
		t.Errorf("a message edited to the same text was answered %d times", got)
	}
	r.once(t, heard("k1"))
}

// editedAfterRestart: what is not remembered is answered like a message.
func editedAfterRestart(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "say k1")
	message := r.Say(t, m)
	r.await(t, heard("k1"))
	r.dispatcher.Wait()
	d.Stop(t)
	r = start(t, d, nil)
	r.Edit(t, message, "say k2")
	r.stands(t, r.await(t, heard("k2")), m, message)
	r.once(t, heard("k2"))
}

func editedShort(t *testing.T, d Driver) {
	r := start(t, d, nil)
	message := r.say(t, 0, "long k1")
	r.await(t, longRow(0))
	r.dispatcher.Wait()
	r.Edit(t, message, "say k2")
	r.await(t, heard("k2"))
	r.dispatcher.Wait()
	for _, text := range []string{heard("k1"), longWord(longWords - 1), longRow(0), longRow(longRows - 1), longCaution(longCautions - 1)} {
		if got := r.showing(t, text); len(got) > 0 {
			t.Errorf("%q is still shown", text)
		}
	}
	r.once(t, heard("k2"))
}

func button(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "button k1 say k2")
	message := r.Say(t, m)
	card := r.awaitButton(t, "more")
	if want := (Button{"more", "Show more"}); !slices.Contains(card.Buttons, want) {
		t.Errorf("buttons %+v, want %+v", card.Buttons, want)
	}
	r.Press(t, card, "more", r.traits.People[0])
	r.stands(t, r.await(t, heard("k2")), m, message)
	if got := r.parrot.heard(); !strings.Contains(got.User, r.traits.People[0].ID) {
		t.Errorf("the button was pressed by %+v, the bot heard %q", r.traits.People[0], got.User)
	}
	r.once(t, heard("k1"))
}

func directButton(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := Said{By: r.traits.People[1], Direct: true, Text: "button k1 say k2"}
	message := r.Say(t, m)
	r.Press(t, r.awaitButton(t, "more"), "more", m.By)
	r.stands(t, r.await(t, heard("k2")), m, message)
}

func pressedTwice(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.say(t, 0, "button k1 say k2")
	deed := r.Press(t, r.awaitButton(t, "more"), "more", r.traits.People[0])
	r.Redeliver(t, deed)
	r.await(t, heard("k2"))
	r.Redeliver(t, deed)
	r.settle(t, "k9")
	r.once(t, heard("k2"))
	if got := r.parrot.count("say k2"); got != 1 {
		t.Errorf("a press delivered three times was answered %d times", got)
	}
}

// duty lets only one address do the deeds.
func duty(address string) func(*chat.Settings) {
	return func(s *chat.Settings) { s.Duty = []string{address} }
}

func refused(t *testing.T, d Driver) {
	tr := d.Traits()
	r := start(t, d, duty(tr.Name+":"+tr.People[0].ID))
	m := r.place(0, "duty k1")
	message := r.Say(t, m)
	card := r.awaitButton(t, "ack")
	other := r.traits.People[1]
	if !m.Direct {
		r.Press(t, card, "ack", other)
		no := r.await(t, "Only a duty officer")
		if id := r.traits.People[0].ID; id != r.traits.People[0].Name && (strings.Contains(no.Text, id) || !strings.Contains(no.Text, ": "+r.traits.People[0].Name+".")) {
			t.Errorf("the refusal does not name who is on duty: %q", no.Text)
		}
		if r.traits.Private && no.Only != other.ID {
			t.Errorf("the refusal is shown to %q, want to %q alone: %+v", no.Only, other.ID, no)
		}
		if got := r.parrot.count("ack XKLD"); got != 0 {
			t.Errorf("the deed was done %d times for somebody without the right", got)
		}
		// What is no deed is for everybody.
		r.Press(t, card, "more", other)
		r.await(t, heard("why"))
	}
	r.Press(t, card, "ack", r.traits.People[0])
	r.stands(t, r.await(t, heard("ack")), m, message)
	if got := r.parrot.count("ack XKLD"); got != 1 {
		t.Errorf("the deed was done %d times, want once", got)
	}
	r.sound(t)
}

func byGroup(t *testing.T, d Driver) {
	tr := d.Traits()
	r := start(t, d, func(s *chat.Settings) {
		s.Duty = []string{tr.Name + ":" + tr.Groups[0], tr.Name + ":role:" + tr.Groups[0]}
	})
	r.say(t, 0, "duty k1")
	card := r.awaitButton(t, "ack")
	if card.Direct == "" {
		r.Press(t, card, "ack", r.traits.People[1])
		r.await(t, "Only a duty officer")
	}
	r.Press(t, card, "ack", r.traits.People[0])
	r.await(t, heard("ack"))
}

// alert: a card that no message asked for is followed in a thread of its own.
func alert(t *testing.T, d Driver) {
	p, ok := d.(Poster)
	if !ok {
		return // such a surface posts nothing by itself
	}
	r := start(t, d, nil)
	body := card("Cold at XKLD.").Reply
	body.Kind = reply.KindAlert
	body.Actions = []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack XKLD"}}
	post := outbox.Post{Key: "alert/XKLD/2026-01-15/1", Channel: r.traits.Name + ":" + r.traits.Channels[1], Body: body}
	ref, err := p.Sender(t).Send(t.Context(), post)
	if err != nil || ref == "" {
		t.Fatalf("Send = %q, %v", ref, err)
	}
	shown := r.await(t, "Cold at XKLD.")
	m := Said{By: r.traits.People[0], Channel: r.traits.Channels[1]}
	if shown.Channel != m.Channel || shown.Thread != "" || !hasButton(shown, "ack") {
		t.Fatalf("the alert is shown as %+v", shown)
	}
	r.Press(t, shown, "ack", m.By)
	r.stands(t, r.await(t, heard("ack")), m, shown.ID)
	// What is said under it belongs to the same thread.
	m.Thread, m.Text = shown.ID, "say k1"
	r.Say(t, m)
	r.stands(t, r.await(t, heard("k1")), m, shown.ID)
	// The outbox's reference is one of the surface's.
	if err := r.surface.Change(t.Context(), chat.Ref(ref), card("All clear at XKLD.")); err != nil {
		t.Errorf("Change of a post = %v", err)
	}
	if got := r.await(t, "All clear at XKLD."); got.ID != shown.ID {
		t.Errorf("the post was changed as message %q, want %q", got.ID, shown.ID)
	}
	if _, err := r.surface.Follow(t.Context(), chat.Ref(ref), card("Seen.")); err != nil {
		t.Errorf("Follow of a post = %v", err)
	}
	r.stands(t, r.await(t, "Seen."), m, shown.ID)
}

func command(t *testing.T, d Driver) {
	tr := d.Traits()
	r := start(t, d, duty(tr.Name+":"+tr.People[0].ID))
	m := r.place(1, "say k1")
	m.Aside = true
	r.Say(t, m)
	if got := r.await(t, heard("k1")); got.Channel != m.Channel {
		t.Errorf("the command is answered at %+v, want channel %q", got, m.Channel)
	}
	m.Text = "ack XKLD"
	r.Say(t, m)
	no := r.await(t, "Only a duty officer")
	if tr.Private && no.Only != m.By.ID {
		t.Errorf("the refusal is shown to %q, want to %q alone: %+v", no.Only, m.By.ID, no)
	}
	if got := r.parrot.count("ack XKLD"); got != 0 {
		t.Errorf("the deed was done %d times for somebody without the right", got)
	}
}

// filledIn is a good form, and what it says as a line.
var filledIn = map[string]string{
	chat.FieldStation: "XKLD", chat.FieldTemperature: "-38", chat.FieldAltitudes: "FAF 8200\nDA 5340",
}

const filledLine = "XKLD -38 FAF 8200, DA 5340"

func form(t *testing.T, d Driver) {
	r := start(t, d, nil)
	id := r.OpenForm(t, r.place(0, ""))
	r.Submit(t, id, filledIn)
	r.await(t, heard(filledLine))
	eventually(t, "the form is closed", func() bool { return !r.Form(t, id).Open })
	r.settle(t, "k9")
	r.once(t, heard(filledLine))
	if got := r.parrot.count(filledLine); got != 1 {
		t.Errorf("the form was answered %d times", got)
	}
}

func badForm(t *testing.T, d Driver) {
	r := start(t, d, nil)
	id := r.OpenForm(t, r.place(0, ""))
	bad := map[string]string{chat.FieldStation: "XKLD", chat.FieldTemperature: "38", chat.FieldAltitudes: "none"}
	r.Submit(t, id, bad)
	problems := r.dispatcher.Check(chat.Form{Station: "XKLD", Temperature: "38", Altitudes: "none"})
	if len(problems) != 2 {
		t.Fatalf("problems %q, want two", problems)
	}
	for field, want := range problems {
		eventually(t, fmt.Sprintf("the problem of the %s is told: %q", field, want), func() bool {
			return flat(r.Form(t, id).Problems[field]) == want || len(r.showing(t, want)) > 0
		})
	}
	if got := r.parrot.heard(); got.Text != "" {
		t.Errorf("a form with problems was answered as %q", got.Text)
	}
	if f := r.Form(t, id); !f.Open {
		id = r.OpenForm(t, r.place(0, "")) // the service closes them
	} else if f.Fields[chat.FieldAltitudes] != "none" {
		t.Errorf("the form sent back has lost what was filled in: %q", f.Fields)
	}
	r.Submit(t, id, filledIn)
	r.await(t, heard(filledLine))
}

func submittedTwice(t *testing.T, d Driver) {
	r := start(t, d, nil)
	id := r.OpenForm(t, r.place(0, ""))
	deed := r.Submit(t, id, filledIn)
	r.await(t, heard(filledLine))
	r.Redeliver(t, deed)
	r.settle(t, "k9")
	r.once(t, heard(filledLine))
}

// enterer presses the button of a card that asks for n altitudes; false where
// the surface has no such form.
func enterer(t *testing.T, d Driver, n int) (r *rig, in Enterer, form string, ok bool) {
	in, ok = d.(Enterer)
	r = start(t, d, nil)
	r.say(t, 0, fmt.Sprintf("button k1 enter KALOMI-RUTA %d", n))
	card := r.await(t, heard("k1"))
	if !ok {
		// What to type is shown in its place.
		r.Press(t, card, "more", r.traits.People[0])
		r.await(t, "check KALOMI-RUTA"+strings.Repeat(" nnnn", n))
		return r, nil, "", false
	}
	return r, in, in.PressForm(t, card, "more", r.traits.People[0]), true
}

func enterForm(t *testing.T, d Driver) {
	r, in, form, ok := enterer(t, d, 2)
	if !ok {
		return
	}
	if f := in.Form(t, form); len(f.Fields) != 2 {
		t.Errorf("the form has fields %q, want one an altitude", f.Fields)
	}
	if got := r.showing(t, "nnnn"); len(got) > 0 {
		t.Errorf("beside the form stands %q", got[0].Text)
	}
	in.Submit(t, form, map[string]string{chat.FieldEntered(0): "7990", chat.FieldEntered(1): " 7900 ft"})
	const line = "check KALOMI-RUTA 7990 7900 ft"
	r.await(t, heard(line))
	r.settle(t, "k9")
	r.once(t, heard(line))
	if got := r.parrot.count(line); got != 1 {
		t.Errorf("the form was answered %d times", got)
	}
	r.sound(t)
}

func badEnterForm(t *testing.T, d Driver) {
	r, in, form, ok := enterer(t, d, 2)
	if !ok {
		return
	}
	in.Submit(t, form, map[string]string{chat.FieldEntered(0): "7990", chat.FieldEntered(1): "high"})
	problems := r.dispatcher.Check(chat.Form{Enter: &chat.BlindForm{Record: "KALOMI-RUTA", Names: make([]string, 2), Typed: []string{"7990", "high"}}})
	want := problems[chat.FieldEntered(1)]
	if len(problems) != 1 || want == "" {
		t.Fatalf("problems %q, want one of the second altitude", problems)
	}
	eventually(t, fmt.Sprintf("the problem is told: %q", want), func() bool {
		return flat(in.Form(t, form).Problems[chat.FieldEntered(1)]) == want || len(r.showing(t, want)) > 0
	})
	if got := r.parrot.heard().Text; strings.HasPrefix(got, "check") {
		t.Errorf("a form with problems was answered as %q", got)
	}
	for _, s := range r.showing(t, want) { // nobody else may read what was entered
		if s.Direct == "" && s.Only != r.traits.People[0].ID {
			t.Errorf("what was entered is shown to everybody: %q", s.Text)
		}
	}
	r.sound(t)
}

func longEnterForm(t *testing.T, d Driver) {
	r, in, form, ok := enterer(t, d, 12)
	if !ok {
		return
	}
	fields := map[string]string{}
	if _, one := in.Form(t, form).Fields[chat.FieldAllEntered]; one {
		fields[chat.FieldAllEntered] = strings.TrimSpace(strings.Repeat("7990\n", 12))
	} else {
		for i := range 12 {
			fields[chat.FieldEntered(i)] = "7990"
		}
	}
	in.Submit(t, form, fields)
	eventually(t, "the check is handed on", func() bool {
		text := strings.ReplaceAll(r.parrot.heard().Text, ",", "")
		return text == "check KALOMI-RUTA"+strings.Repeat(" 7990", 12)
	})
	r.sound(t)
}

// enterTyped is a blind check that was typed without altitudes: what to type
// is shown, with a button where there are buttons.
func enterTyped(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.say(t, 0, "enter KALOMI-RUTA 2")
	s := r.await(t, "check KALOMI-RUTA nnnn nnnn")
	if r.traits.Buttons && !hasButton(s, chat.ActionEnter) {
		t.Errorf("buttons %+v, want one that opens the form", s.Buttons)
	}
	r.sound(t)
}

// drawn is a picture of n by n points.
func drawn(n int) []byte {
	var b bytes.Buffer
	if err := png.Encode(&b, image.NewGray(image.Rect(0, 0, n, n))); err != nil {
		panic(err) // a buffer takes everything
	}
	return b.Bytes()
}

func picture(t *testing.T, d Driver) {
	file := drawn(64)
	r := start(t, d, func(s *chat.Settings) {
		s.Pictures = func(context.Context, reply.Reply) chat.Drawn {
			return chat.Drawn{Pictures: []chat.Picture{{Name: "profile.png", Alt: "The approach from the side, corrected.", PNG: file}}}
		}
	})
	m := r.place(0, "say k1")
	message := r.Say(t, m)
	r.await(t, heard("k1"))
	var in Shown
	eventually(t, "a picture is shown", func() bool {
		all := r.Shown(t)
		i := slices.IndexFunc(all, func(s Shown) bool { return len(s.Pictures) > 0 })
		if i >= 0 {
			in = all[i]
		}
		return i >= 0
	})
	r.stands(t, in, m, message)
	if got := in.Pictures[0]; len(in.Pictures) != 1 || got.Alt != "The approach from the side, corrected." || got.Size != len(file) {
		t.Errorf("pictures %+v, want one of %d bytes with its words", in.Pictures, len(file))
	}
	r.sound(t)
}

// behindMore: what is folded is no part of the card, and shown to whoever asks
// for it, alone.
func behindMore(t *testing.T, d Driver) {
	u, ok := d.(Unfolder)
	if !ok {
		return // such a surface shows it all
	}
	r := start(t, d, nil)
	m := r.place(0, "folds k1")
	message := r.Say(t, m)
	card := r.await(t, heard("k1"))
	r.dispatcher.Wait() // nobody presses before the service's answer to the card is read
	if got := r.showing(t, foldedCaution); len(got) > 0 {
		t.Errorf("what is folded stands on the screen: %+v", got)
	}
	by := r.traits.People[1]
	if m.Direct {
		by = m.By
	}
	for entry, text := range map[string]string{"cautions": foldedCaution, "working": foldedWorking} {
		deed := u.Choose(t, card, entry, by)
		got := r.await(t, text)
		if got.Only != by.ID {
			t.Errorf("%s is shown in %q to %q, want to %q alone", entry, got.Channel, got.Only, by.ID)
		}
		r.Redeliver(t, deed)
	}
	r.settle(t, "k9")
	r.once(t, foldedWorking)
	if got := r.showing(t, heard("k1")); len(got) != 1 {
		t.Errorf("the card stands there %d times", len(got))
	}
	r.stands(t, r.await(t, heard("k1")), m, message)
	r.sound(t)
}

// pictureBehindMore: a picture that one person asks for is not shown to the
// others.
func pictureBehindMore(t *testing.T, d Driver) {
	u, ok := d.(Unfolder)
	if !ok {
		return
	}
	file := drawn(64)
	r := start(t, d, func(s *chat.Settings) {
		s.Pictures = func(_ context.Context, r reply.Reply) chat.Drawn {
			if r.Headline != heard("drawn") {
				return chat.Drawn{}
			}
			return chat.Drawn{Pictures: []chat.Picture{{Name: "profile.png", Alt: "The approach from the side, corrected.", PNG: file}}}
		}
	})
	r.say(t, 0, "folds k1")
	card := r.await(t, heard("k1"))
	r.dispatcher.Wait()
	by := r.traits.People[1]
	u.Choose(t, card, "picture", by)
	var in []Shown
	eventually(t, "a picture is shown", func() bool {
		in = slices.DeleteFunc(r.Shown(t), func(s Shown) bool { return len(s.Pictures) == 0 })
		return len(in) > 0
	})
	if len(in) != 1 || in[0].Only != by.ID && in[0].Direct != by.ID || in[0].Pictures[0].Size != len(file) {
		t.Errorf("shown %+v, want one of %d bytes, to %q alone", in, len(file), by.ID)
	}
	r.sound(t)
}

// fileBelow is a file that a button was pressed for: it stands with its answer,
// below the card of the button, with the picture of the same.
func fileBelow(t *testing.T, d Driver) {
	sheet, file := drawn(32), []byte("%PDF-1.3 one page")
	r := start(t, d, func(s *chat.Settings) {
		s.Pictures = func(_ context.Context, r reply.Reply) chat.Drawn {
			if r.Facts[0] != heard("k2") {
				return chat.Drawn{}
			}
			return chat.Drawn{
				Pictures: []chat.Picture{{Name: "KALOMI-RUTA.png", Alt: "The card.", PNG: sheet}},
				Files:    []chat.File{{Name: "KALOMI-RUTA.pdf", Type: "application/pdf", Alt: "The card, to print.", Data: file}},
			}
		}
	})
	m := r.place(0, "button k1 say k2")
	message := r.Say(t, m)
	r.Press(t, r.await(t, heard("k1")), "more", r.traits.People[0])
	r.await(t, heard("k2"))
	var pictures, files []Shown
	eventually(t, "a picture and a file are shown", func() bool {
		pictures, files = nil, nil
		for _, s := range r.Shown(t) {
			if len(s.Pictures) > 0 {
				pictures = append(pictures, s)
			}
			if len(s.Files) > 0 {
				files = append(files, s)
			}
		}
		return len(pictures) > 0 && len(files) > 0
	})
	if len(files) != 1 || len(files[0].Files) != 1 || files[0].Files[0] != (File{"KALOMI-RUTA.pdf", len(file)}) {
		t.Errorf("files %+v, want one, KALOMI-RUTA.pdf of %d bytes", files, len(file))
	}
	if len(pictures) != 1 || pictures[0].Pictures[0].Size != len(sheet) {
		t.Errorf("pictures %+v, want one of %d bytes", pictures, len(sheet))
	}
	if !m.Direct {
		r.stands(t, files[0], m, message)
	}
	r.sound(t)
}

// pingTexts are what people type to make a bot shout for them.
var pingTexts = []string{
	"<!channel> <!here> <!everyone>",
	"@everyone @here",
	"@channel",
	"<@U1> <@!123456789012345678> <@123456789012345678>",
	"<@&123456789012345678> <!subteam^S1> <!subteam^S1|@duty>",
	"<#C1> <#C1|general> </firn:123456789012345678>",
	"https://example.com/x http://example.com www.example.com",
	"[click](https://example.com) <https://example.com|safe> <https://example.com>",
	"&lt;!channel&gt; <<!channel>> <\u200b!channel>",
	"`<!channel>` ```@everyone``` \\@everyone @\u200beveryone",
	"mailto:a@example.com a@example.com <mailto:a@example.com|mail> tel:+4712345678",
	"<!date^1392734382^{date}|x> <t:1392734382:R> :smile: <:x:123456789012345678>",
	"\n@everyone\n> @here\n# <!channel>\n```\n@everyone",
}

func pings(t *testing.T, d Driver) {
	r := start(t, d, nil)
	for i, text := range pingTexts {
		r.say(t, i%3, fmt.Sprintf("say a%d %s", i, text))
		r.await(t, heard(fmt.Sprintf("a%d", i)))
		r.say(t, i%3, fmt.Sprintf("all b%d %s", i, text))
		card := r.await(t, heard(fmt.Sprintf("b%d", i)))
		r.unfold(t, card, r.traits.People[i%3])
		r.say(t, i%3, fmt.Sprintf("ask c%d %s", i, text))
		r.await(t, heard(fmt.Sprintf("c%d", i)))
	}
	r.dispatcher.Wait()
	r.sound(t)
}

func odd(t *testing.T, d Driver) {
	r := start(t, d, nil)
	for i := range oddTexts {
		r.say(t, i%3, fmt.Sprintf("odd %d", i))
		card := r.await(t, heard(fmt.Sprintf("odd%d", i)))
		r.unfold(t, card, r.traits.People[i%3])
		r.say(t, i%3, fmt.Sprintf("oddly %d", i))
		r.await(t, heard(fmt.Sprintf("oddly%d", i)))
	}
	r.dispatcher.Wait()
	r.sound(t)
	for _, s := range r.Shown(t) {
		if !utf8.ValidString(s.Text) {
			t.Errorf("message %q is not UTF-8: %q", s.ID, s.Text)
		}
		for _, c := range s.Text {
			if unicode.IsControl(c) && c != '\n' && c != '\t' || c == '\u202e' || c == '\u202d' || c == '\u202b' {
				t.Errorf("message %q shows %U: %q", s.ID, c, s.Text)
				break
			}
		}
	}
}

// empty: what says nothing is shown nowhere, but to somebody who looks at the
// place where it would stand: a service refuses a message without anything in
// it.
func empty(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.say(t, 0, "nothing")
	want := 1
	if r.traits.Waits {
		eventually(t, "something is shown", func() bool { return len(r.Shown(t)) == 1 })
		want = 2
	}
	r.settle(t, "k9")
	if got := r.Shown(t); len(got) != want {
		t.Errorf("shown %+v, want %d messages", got, want)
	}
	r.sound(t)
}

func veryLong(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "long k1")
	message := r.Say(t, m)
	card := r.await(t, heard("k1"))
	r.dispatcher.Wait()
	var whole strings.Builder
	buttons := map[string]int{}
	all := r.Shown(t)
	for _, s := range all {
		r.stands(t, s, m, message)
		for _, b := range s.Buttons {
			buttons[b.ID]++
		}
		for _, entry := range s.More {
			if entry == "working" {
				buttons["why"]++ // it is asked for there
			}
		}
	}
	for _, s := range append(all, r.unfold(t, card, m.By)...) {
		whole.WriteString(" " + flat(s.Text))
	}
	text := whole.String()
	for _, list := range []struct {
		what string
		n    int
		item func(int) string
	}{
		{"words of a fact", longWords, longWord},
		{"rows", longRows, longRow},
		{"cautions", longCautions, longCaution},
	} {
		missing, at := 0, 0
		for i := range list.n {
			switch next := strings.Index(text, list.item(i)); {
			case next < 0:
				missing++
			case next < at:
				t.Errorf("%s: %q stands before the one before it", list.what, list.item(i))
			default:
				at = next
			}
		}
		if missing > 0 {
			t.Errorf("%s: %d of %d are missing", list.what, missing, list.n)
		}
	}
	if r.traits.Buttons && (buttons["more"] != 1 || buttons["why"] != 1) {
		t.Errorf("the buttons stand there %v times, want each once", buttons)
	}
	if _, ok := d.(Unfolder); ok && len(all) != 1 {
		t.Errorf("the answer is %d messages, want one", len(all))
	}
	r.sound(t)
	if !r.traits.Buttons {
		return
	}
	r.Press(t, r.awaitButton(t, "more"), "more", r.traits.People[0])
	r.stands(t, r.await(t, heard("more")), m, message)
}

func plainly(t *testing.T, d Driver) {
	r := start(t, d, nil)
	m := r.place(0, "fail")
	message := r.Say(t, m)
	r.stands(t, r.await(t, "Work it from the published table."), m, message)
	for _, s := range r.Shown(t) {
		if strings.Contains(s.Text, secretDetail) {
			t.Errorf("the detail of an error is shown: %q", s.Text)
		}
	}
}

func elsewhere(t *testing.T, d Driver) {
	r := start(t, d, nil)
	for _, w := range r.traits.Elsewhere {
		r.Say(t, Said{By: r.traits.People[0], Home: w.Home, Channel: w.Channel, Text: "say k1"})
	}
	r.settle(t, "k9")
	var say []string // what may be told there, by whether it is the bot's home
	for _, w := range r.traits.Elsewhere {
		if w.Home == "" || w.Home == r.traits.Home {
			say = append(say, "does not answer in this channel")
		} else {
			say = append(say, "answers the members of its unit alone")
		}
	}
	told := slices.DeleteFunc(r.Shown(t), func(s Shown) bool {
		return s.Only == r.traits.People[0].ID && slices.ContainsFunc(say, func(text string) bool { return strings.Contains(flat(s.Text), text) })
	})
	if len(told) != 1 {
		t.Errorf("somewhere else is an answer: %+v", told)
	}
	if got := r.parrot.count("say k1"); got != 0 {
		t.Errorf("the bot was asked %d times from somewhere else", got)
	}
}

func saidTwice(t *testing.T, d Driver) {
	r := start(t, d, nil)
	var messages []string
	for i := range 5 {
		messages = append(messages, r.say(t, i%3, fmt.Sprintf("say k%d", i)))
		r.Redeliver(t, messages[i])
	}
	r.settle(t, "k8")
	for _, m := range messages {
		r.Redeliver(t, m)
	}
	r.settle(t, "k9")
	for i := range messages {
		r.await(t, heard(fmt.Sprintf("k%d", i)))
		r.once(t, heard(fmt.Sprintf("k%d", i)))
		if got := r.parrot.count(fmt.Sprintf("say k%d", i)); got != 1 {
			t.Errorf("message %d was answered %d times", i, got)
		}
	}
}

func many(t *testing.T, d Driver) {
	r := start(t, d, nil)
	const n = 40
	said := make([]Said, n)
	ids := make([]string, n)
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() {
			m := r.place(i%3, fmt.Sprintf("say k%d", i))
			if !m.Direct {
				m.Channel = r.traits.Channels[i%len(r.traits.Channels)]
			}
			said[i], ids[i] = m, r.Say(t, m)
		})
	}
	wg.Wait()
	for i := range n {
		r.stands(t, r.await(t, heard(fmt.Sprintf("k%d", i))), said[i], ids[i])
	}
	r.dispatcher.Wait()
	for i := range n {
		r.once(t, heard(fmt.Sprintf("k%d", i)))
	}
	if got := len(r.Shown(t)); got != n {
		t.Errorf("%d messages have %d answers", n, got)
	}
}

func flood(t *testing.T, d Driver) {
	r := start(t, d, func(s *chat.Settings) { s.Burst, s.Every = 3, time.Hour })
	const n = 8
	for i := range n {
		r.say(t, 0, fmt.Sprintf("say k%d", i))
	}
	told := r.await(t, "That was too much at once")
	if r.traits.Private && told.Direct == "" && told.Only != r.traits.People[0].ID && told.Only != "" {
		t.Errorf("the wait is told to %q alone: %+v", told.Only, told)
	}
	r.settle(t, "other")
	eventually(t, "all have come", func() bool {
		r.mu.Lock()
		defer r.mu.Unlock()
		return len(r.events) >= n+1
	})
	r.dispatcher.Wait()
	if got := r.showing(t, "Heard k"); len(got) != 3 {
		t.Errorf("%d of %d messages are answered, want 3: %+v", len(got), n, got)
	}
	if r.traits.Waits { // whoever looks at the place of an answer is told each time
		if got := r.showing(t, "That was too much at once"); len(got) != n-3 {
			t.Errorf("%d of %d are told, want each", len(got), n-3)
		}
		return
	}
	r.once(t, "That was too much at once")
}

// collect keeps events and answers none.
type collect struct {
	chat.Handler
	events chan chat.Event
}

func (c collect) Handle(_ context.Context, _ chat.Surface, e chat.Event) { c.events <- e }

// byHand starts a surface and gives the event of one message to it, which the
// test answers by itself.
func byHand(t *testing.T, d Driver, m Said) (chat.Surface, chat.Event, string) {
	t.Helper()
	dispatcher := chat.New(slog.New(slog.DiscardHandler), time.Now, nil, settings(d.Traits()))
	c := collect{Handler: dispatcher, events: make(chan chat.Event, 100)}
	s := d.Start(t, c)
	message := d.Say(t, m)
	select {
	case e := <-c.events:
		return s, e, message
	case <-time.After(deadline):
		t.Fatal("the message did not arrive")
	}
	return nil, chat.Event{}, ""
}

func card(fact string) chat.Message {
	return chat.Message{Reply: reply.Reply{
		Kind: reply.KindStatus, Headline: fact, Facts: []string{fact},
		Actions: []reply.Action{{ID: "more", Label: "Show more", Message: "say more"}},
	}}
}

func byReference(t *testing.T, d Driver) {
	r := &rig{Driver: d, traits: d.Traits()}
	for i, m := range places(r.traits) {
		t.Run([]string{"first place", "direct message"}[i], func(t *testing.T) {
			tag := fmt.Sprint(i)
			s, e, message := byHand(t, d, m)
			defer d.Stop(t)
			ref, err := s.Answer(t.Context(), e, card("First"+tag+"."))
			if err != nil || ref == "" {
				t.Fatalf("Answer = %q, %v", ref, err)
			}
			first := r.await(t, "First"+tag+".")
			r.stands(t, first, m, message)
			changed := card("Second" + tag + ".")
			changed.Note = "A note" + tag + "."
			if err := s.Change(t.Context(), ref, changed); err != nil {
				t.Fatalf("Change = %v", err)
			}
			second := r.await(t, "Second"+tag+".")
			if second.ID != first.ID || !strings.Contains(flat(second.Text), changed.Note) || r.traits.Buttons && !hasButton(second, "more") {
				t.Errorf("the card was changed to %+v", second)
			}
			if got := r.showing(t, "First"+tag+"."); len(got) > 0 {
				t.Errorf("the first card is still shown: %+v", got)
			}
			if next, err := s.Follow(t.Context(), ref, card("Third"+tag+".")); err != nil || next == "" || next == ref {
				t.Errorf("Follow of %q = %q, %v", ref, next, err)
			}
			r.stands(t, r.await(t, "Third"+tag+"."), m, message)
			changed.Closed = true
			if err := s.Change(t.Context(), ref, changed); err != nil {
				t.Fatalf("Change = %v", err)
			}
			eventually(t, "the card is closed", func() bool {
				all := r.showing(t, "Second"+tag+".")
				return len(all) == 1 && len(all[0].Buttons) == 0
			})
			if err := s.Change(t.Context(), "no such reference", changed); err == nil {
				t.Error("a card that never was has been changed")
			}
		})
	}
}

// places are where there are answers: a channel, a direct message.
func places(tr Traits) []Said {
	var out []Said
	if len(tr.Channels) > 0 {
		out = append(out, Said{By: tr.People[0], Channel: tr.Channels[0], Text: "say k1"})
	}
	if tr.Direct {
		out = append(out, Said{By: tr.People[0], Direct: true, Text: "say k1"})
	}
	return out
}

func afterRestart(t *testing.T, d Driver) {
	r := &rig{Driver: d, traits: d.Traits()}
	m := places(r.traits)[0]
	s, e, message := byHand(t, d, m)
	ref, err := s.Answer(t.Context(), e, card("First."))
	if err != nil {
		t.Fatalf("Answer = %v", err)
	}
	r.await(t, "First.")
	d.Stop(t)
	s = d.Start(t, chat.New(slog.New(slog.DiscardHandler), time.Now, nil, settings(r.traits)))
	if err := s.Change(t.Context(), ref, card("Second.")); err != nil {
		t.Fatalf("Change after a restart = %v", err)
	}
	r.await(t, "Second.")
	if _, err := s.Follow(t.Context(), ref, card("Third.")); err != nil {
		t.Fatalf("Follow after a restart = %v", err)
	}
	r.stands(t, r.await(t, "Third."), m, message)
	if got := r.showing(t, "First."); len(got) > 0 {
		t.Errorf("the first card is still shown: %+v", got)
	}
}

// calls are everything that a surface can be asked for.
func calls(s chat.Surface, e chat.Event, ref chat.Ref, c chat.Message) map[string]func(context.Context) error {
	return map[string]func(context.Context) error{
		"Answer":  func(ctx context.Context) error { _, err := s.Answer(ctx, e, c); return err },
		"Whisper": func(ctx context.Context) error { return s.Whisper(ctx, e, c) },
		"Change":  func(ctx context.Context) error { return s.Change(ctx, ref, c) },
		"Follow":  func(ctx context.Context) error { _, err := s.Follow(ctx, ref, c); return err },
		"Open":    func(ctx context.Context) error { return s.Open(ctx, e, chat.Form{}) },
	}
}

func ended(t *testing.T, d Driver) {
	r := &rig{Driver: d, traits: d.Traits()}
	s, e, _ := byHand(t, d, places(r.traits)[0])
	ref, err := s.Answer(t.Context(), e, card("First."))
	if err != nil {
		t.Fatalf("Answer = %v", err)
	}
	r.await(t, "First.")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for name, call := range calls(s, e, ref, card("Second.")) {
		began := time.Now()
		if err := call(ctx); err == nil {
			t.Errorf("%s with a context that has ended succeeded", name)
		}
		if took := time.Since(began); took > deadline/4 {
			t.Errorf("%s with a context that has ended took %v", name, took)
		}
	}
	if got := r.showing(t, "Second."); len(got) > 0 {
		t.Errorf("with a context that has ended was shown %+v", got)
	}
	r.once(t, "First.")
}

func front(t *testing.T, d Driver) {
	r := start(t, d, nil)
	f, ok := d.(Fronter)
	if _, fronted := r.surface.(chat.Fronted); fronted != ok {
		t.Fatalf("the surface has a front page: %v; its driver: %v", fronted, ok)
	}
	if !ok {
		return
	}
	by, other := r.traits.People[0], r.traits.People[1]
	f.Look(t, by)
	eventually(t, "the front page is shown", func() bool {
		text := flat(f.Front(t, by))
		return strings.Contains(text, heard("watch")) && strings.Contains(text, "XKLD")
	})
	if got := f.Front(t, other); got != "" {
		t.Errorf("the front page of somebody else shows %q", got)
	}
	if got := r.Shown(t); len(got) > 0 {
		t.Errorf("looking at the front page shows %+v", got)
	}
}

func outage(t *testing.T, d Driver) {
	b, ok := d.(Breaker)
	if !ok {
		return // nothing can stand between it and its people
	}
	r := &rig{Driver: d, traits: d.Traits()}
	s, e, _ := byHand(t, d, places(r.traits)[0])
	ref, err := s.Answer(t.Context(), e, card("First."))
	if err != nil {
		t.Fatalf("Answer = %v", err)
	}
	b.Break(t)
	ctx, cancel := context.WithTimeout(t.Context(), deadline/4)
	defer cancel()
	for name, call := range calls(s, e, ref, card("Second.")) {
		err := call(ctx)
		if err == nil {
			t.Errorf("%s during an outage succeeded", name)
			continue
		}
		for _, secret := range r.traits.Secrets {
			if secret != "" && strings.Contains(err.Error(), secret) {
				t.Errorf("the error of %s holds a secret of %d bytes", name, len(secret))
			}
		}
	}
}
