package slack_test

import (
	"slices"
	"strings"
	"testing"

	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/present"
	"firn/bot/reply"
	"firn/bot/testkit/surfacetest"
)

// driver lets the conformance suite act through the double.
type driver struct {
	d    *slackdouble.Server
	s    *slack.Surface
	stop func()
}

var (
	_ surfacetest.Fronter  = (*driver)(nil)
	_ surfacetest.Unfolder = (*driver)(nil)
	_ surfacetest.Breaker  = (*driver)(nil)
	_ surfacetest.Poster   = (*driver)(nil)
)

func TestSurface(t *testing.T) {
	surfacetest.Run(t, func(t *testing.T) surfacetest.Driver {
		t.Parallel()
		return &driver{d: double(t, nil)}
	})
}

func (v *driver) Traits() surfacetest.Traits {
	return surfacetest.Traits{
		Name: "slack", Home: v.d.Team(), Channels: []string{crew, north},
		Elsewhere: []surfacetest.Where{{Channel: other}, {Home: "T0OTHER", Channel: crew}},
		People:    []surfacetest.Person{{ID: kari, Name: "Kari"}, {ID: odd, Name: "Odd"}, {ID: pia, Name: "Pia"}},
		Outsiders: []surfacetest.Outsider{
			{Person: surfacetest.Person{ID: guest, Name: "Gry"}, What: "a guest", InChannels: true},
			{Person: surfacetest.Person{ID: stranger, Name: "Xaver"}, What: "somebody of another organisation", InChannels: true},
		},
		Groups: []string{onDuty}, Secrets: []string{v.d.AppToken(), v.d.BotToken()},
		Direct: true, Edits: true, Buttons: true, Forms: true, Private: true, Pictures: true, Changes: true,
	}
}

func (v *driver) Start(t *testing.T, desk chat.Handler) chat.Surface {
	v.s = surface(t, v.d, nil)
	v.stop = run(t, v.s, desk)
	connected(t, v.s)
	return v.s
}

func (v *driver) Stop(*testing.T) { v.stop() }

func (v *driver) Sender(*testing.T) outbox.Sender { return v.s }

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// id and its parts: a message is its channel and its timestamp.
func id(channel, ts string) string { return channel + "/" + ts }

func parts(id string) (channel, ts string) {
	channel, ts, _ = strings.Cut(id, "/")
	return channel, ts
}

func (v *driver) Say(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	channel := m.Channel
	if m.Direct {
		channel = v.d.Direct(m.By.ID)
	}
	if m.Aside {
		deed, err := v.d.Command(m.By.ID, channel, m.Text)
		if err != nil {
			t.Fatal(err)
		}
		return deed
	}
	_, thread := parts(m.Thread)
	text := escaper.Replace(m.Text)
	if !m.Direct && thread == "" && !m.Unheard {
		text = v.d.Mention() + " " + text
	}
	ts, err := v.d.Say(slackdouble.Said{User: m.By.ID, Channel: channel, Thread: thread, Text: text, Team: m.Home})
	if err != nil {
		t.Fatal(err)
	}
	return id(channel, ts)
}

func (v *driver) Edit(t *testing.T, message, text string) string {
	t.Helper()
	channel, ts := parts(message)
	text = escaper.Replace(text)
	if v.d.DirectOf(channel) == "" {
		text = v.d.Mention() + " " + text
	}
	deed, err := v.d.Edit(channel, ts, text)
	if err != nil {
		t.Fatal(err)
	}
	return deed
}

func (v *driver) Delete(_ *testing.T, message string) { v.d.Delete(parts(message)) }

func (v *driver) Correct(t *testing.T, message string, by surfacetest.Person) {
	t.Helper()
	channel, ts := parts(message)
	if _, err := v.d.Shortcut(by.ID, channel, ts, "firn_correct"); err != nil {
		t.Fatal(err)
	}
}

func (v *driver) Press(t *testing.T, s surfacetest.Shown, action string, by surfacetest.Person) string {
	t.Helper()
	if w, ok := v.d.View(s.ID); ok { // the button of a window
		deed, err := v.d.Submit(w.ID, nil)
		if err != nil || action != reply.ActionConfirm {
			t.Fatalf("%s of %s: %v", action, w.Callback, err)
		}
		return deed
	}
	channel, ts := parts(s.ID)
	deed, err := v.d.Press(by.ID, channel, ts, "do:"+action)
	if err != nil {
		t.Fatal(err)
	}
	return deed
}

func (v *driver) Choose(t *testing.T, s surfacetest.Shown, entry string, by surfacetest.Person) string {
	t.Helper()
	channel, ts := parts(s.ID)
	for _, m := range v.d.Posted(channel) {
		for _, o := range m.Menu() {
			if m.TS == ts && slices.Contains(strings.Split(o.Value, present.Joined), entry) {
				deed, err := v.d.Choose(by.ID, channel, ts, o.Value)
				if err != nil {
					t.Fatal(err)
				}
				return deed
			}
		}
	}
	t.Fatalf("no entry %q in the menu of %s", entry, s.ID)
	return ""
}

func (v *driver) Redeliver(t *testing.T, deed string) {
	t.Helper()
	if err := v.d.Redeliver(deed); err != nil {
		t.Fatal(err)
	}
}

func (v *driver) OpenForm(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	before := len(v.d.Views(m.By.ID))
	channel := m.Channel
	if m.Direct {
		channel = v.d.Direct(m.By.ID)
	}
	if _, err := v.d.Command(m.By.ID, channel, ""); err != nil {
		t.Fatal(err)
	}
	var all []slackdouble.View
	eventually(t, "the form is open", func() bool {
		all = v.d.Views(m.By.ID)
		return len(all) > before
	})
	return all[len(all)-1].ID
}

func (v *driver) PressForm(t *testing.T, s surfacetest.Shown, action string, by surfacetest.Person) string {
	t.Helper()
	before := len(v.d.Views(by.ID))
	v.Press(t, s, action, by)
	var all []slackdouble.View
	eventually(t, "the form is open", func() bool {
		all = v.d.Views(by.ID)
		return len(all) > before
	})
	return all[len(all)-1].ID
}

func (v *driver) Form(_ *testing.T, form string) surfacetest.Form {
	w, _ := v.d.View(form)
	return surfacetest.Form{Open: w.Open, Fields: w.Fields(), Problems: w.Problems}
}

func (v *driver) Submit(t *testing.T, form string, fields map[string]string) string {
	t.Helper()
	deed, err := v.d.Submit(form, fields)
	if err != nil {
		t.Fatal(err)
	}
	return deed
}

func (v *driver) Shown(*testing.T) (list []surfacetest.Shown) {
	for _, channel := range v.d.Channels() {
		for _, m := range v.d.Posted(channel) {
			list = append(list, v.shown(m))
		}
	}
	for _, m := range v.d.Private() {
		list = append(list, v.shown(m))
	}
	for _, p := range v.Traits().People {
		for _, w := range v.d.Views(p.ID) {
			if w.Callback == "firn_more" || w.Callback == "firn_confirm" && w.Open {
				m := slackdouble.Message{Blocks: w.Blocks}
				list = append(list, surfacetest.Shown{ID: w.ID, Only: p.ID, Text: w.Read(), Pings: m.Pings()})
			}
		}
	}
	if problems := v.d.Problems(); len(problems) > 0 && len(list) > 0 {
		list[0].Broken = problems
	}
	return list
}

func (v *driver) shown(m slackdouble.Message) surfacetest.Shown {
	s := surfacetest.Shown{
		ID: id(m.Channel, m.TS), Channel: m.Channel, Only: m.Only, Text: m.Read(), Edited: m.Edited != "", Pings: m.Pings(),
	}
	if m.Thread != "" {
		s.Thread = id(m.Channel, m.Thread)
	}
	if s.Direct = v.d.DirectOf(m.Channel); s.Direct != "" {
		s.Channel = ""
	}
	for _, b := range m.Buttons() {
		s.Buttons = append(s.Buttons, surfacetest.Button{ID: strings.TrimPrefix(b.ID, "do:"), Label: b.Label})
	}
	for _, o := range m.Menu() {
		s.More = append(s.More, strings.Split(o.Value, present.Joined)...)
	}
	for _, f := range m.Files {
		if !strings.HasSuffix(f.Name, ".png") {
			s.Files = append(s.Files, surfacetest.File{Name: f.Name, Size: f.Size})
			continue
		}
		s.Pictures = append(s.Pictures, surfacetest.Picture{Name: f.Name, Alt: f.Alt, Size: f.Size})
	}
	return s
}

func (v *driver) Look(_ *testing.T, by surfacetest.Person) { v.d.OpenHome(by.ID) }

func (v *driver) Front(_ *testing.T, of surfacetest.Person) string {
	home := v.d.Home(of.ID)
	if len(home.Blocks) == 0 {
		return ""
	}
	return home.Read()
}

func (v *driver) Break(*testing.T) { v.d.Fail(slackdouble.Fault{Status: 503}) }
