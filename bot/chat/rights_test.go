package chat_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"firn/bot/chat"
	"firn/bot/reply"
)

func TestPlaces(t *testing.T) {
	where := map[string]chat.Where{"slack": {Home: "T1", Channels: []string{"C1", "C2"}}, "discord": {Home: "G1"}, "page": {Channels: []string{"front"}}}
	for _, c := range []struct {
		name    string
		surface string
		place   chat.Place
		want    bool
	}{
		{"a channel", "slack", chat.Place{Home: "T1", Channel: "C1"}, true},
		{"a thread in it", "slack", chat.Place{Home: "T1", Channel: "C2", Thread: "1"}, true},
		{"another channel", "slack", chat.Place{Home: "T1", Channel: "C3"}, false},
		{"another workspace", "slack", chat.Place{Home: "T2", Channel: "C1"}, false},
		{"no workspace", "slack", chat.Place{Channel: "C1"}, false},
		{"a direct message", "slack", chat.Place{Home: "T1", Channel: "D1", Direct: true}, true},
		{"a direct message of another workspace", "slack", chat.Place{Home: "T2", Channel: "D1", Direct: true}, false},
		{"a direct message of a service that has no home there", "discord", chat.Place{Channel: "9", Direct: true}, true},
		{"no channels are named", "discord", chat.Place{Home: "G1", Channel: "1"}, false},
		{"a service without homes", "page", chat.Place{Channel: "front"}, true},
		{"an unknown surface", "console", chat.Place{Channel: "C1"}, false},
		{"a direct message of an unknown surface", "console", chat.Place{Direct: true}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, chat.Settings{Where: where})
			s := &surface{name: c.surface}
			if got := o.Answers(s, c.place); got != c.want {
				t.Errorf("Answers(%s, %+v) = %v, want %v", c.surface, c.place, got, c.want)
			}
			for _, kind := range []chat.Kind{chat.MessagePosted, chat.Edited, chat.Pressed, chat.FormRequested, chat.Submitted, chat.HomeOpened} {
				o.Handle(t.Context(), s, chat.Event{ID: fmt.Sprint(kind), Kind: kind, Place: c.place, Message: "m", Text: "XKLD", Person: chat.Person{ID: "U1"}})
			}
			if got := len(s.done()) > 0; got != c.want {
				t.Errorf("the surface did %q, want something %v", s.done(), c.want)
			}
		})
	}
}

// TestElsewhereIsLogged: one line a place and minute, and nothing of the text.
func TestElsewhereIsLogged(t *testing.T) {
	o := newOffice(t, chat.Settings{})
	ask := func(id int, channel string) {
		e := said(id, "secret words")
		e.Place.Channel = channel
		o.take(t, e)
	}
	for i := range 50 {
		ask(i, "C9")
	}
	ask(50, "C8")
	o.clock.Pass(time.Minute)
	ask(51, "C9")
	o.want(t)
	log := o.log.String()
	if got := strings.Count(log, "no answer at this place"); got != 3 || strings.Contains(log, "secret") {
		t.Errorf("the log has %d lines, want 3 without the text: %s", got, log)
	}
	for _, part := range []string{"surface=slack", "home=T1", "channel=C9"} {
		if !strings.Contains(log, part) {
			t.Errorf("the log lacks %s: %s", part, log)
		}
	}
}

// TestOutsiderElsewhere: whoever belongs to another home is told so, and is not sent
// to where there is no answer either.
func TestOutsiderElsewhere(t *testing.T) {
	o := newOffice(t, chat.Settings{Where: map[string]chat.Where{"slack": {Home: "T1", Channels: []string{"C1"}}}})
	for n, home := range []string{"T2", "T1"} {
		e := said(n, "XKLD")
		e.Place.Home, e.Place.Channel, e.Alone = home, []string{"C1", "C9"}[n], true
		o.take(t, e)
	}
	o.want(t, "whisper U1: ! firn answers the members of its unit alone: not guests, nor people of other organisations.",
		"whisper U1: ! firn does not answer in this channel. Ask in a direct message, or in a channel that its configuration names.")
}

func TestDuty(t *testing.T) {
	const no = "whisper U1: ! Only a duty officer may do that"
	for _, c := range []struct {
		name   string
		duty   []string
		groups []string
		kind   chat.Kind
		text   string
		want   string
	}{
		{"nobody is named", nil, nil, chat.Pressed, "ack XKLD", "follow b1: <ack XKLD>"},
		{"named by id", []string{"slack:U2", "slack:U1"}, nil, chat.Pressed, "ack XKLD", "follow b1: <ack XKLD>"},
		{"a user group", []string{"slack:S1"}, []string{"S0", "S1"}, chat.Pressed, "snooze XKLD 2h", "follow b1: <snooze XKLD 2h>"},
		{"a role", []string{"slack:role:456"}, []string{"456"}, chat.MessagePosted, "obs XKLD -38", "answer <obs XKLD -38>"},
		{"somebody else presses", []string{"slack:U2"}, nil, chat.Pressed, "ack XKLD", no + ": Bo."},
		{"somebody else types", []string{"slack:U2", "slack:S1", "slack:role:7", "discord:8"}, []string{"S2"}, chat.MessagePosted, " ACK: XKLD", no + ": Dora and others."},
		{"somebody else edits", []string{"slack:U2"}, nil, chat.Edited, "snooze XKLD 2h", no + ": Bo."},
		{"many are on duty", []string{"slack:U2", "slack:U3", "slack:U2", "slack:U3", "slack:U2", "slack:U3"}, nil, chat.MessagePosted, "ack XKLD", no + ": Dora, Cleo, Dora, Cleo, Dora and others."},
		{"a role's id is no person's", []string{"slack:role:U1"}, nil, chat.MessagePosted, "ack XKLD", no + "."},
		{"named for another service", []string{"discord:U1"}, []string{"S1"}, chat.MessagePosted, "acknowledge XKLD", no + "; none is named for this service."},
		{"everybody asks", []string{"slack:U2"}, nil, chat.MessagePosted, "XKLD -38 8200", "answer <XKLD -38 8200>"},
		{"everybody sees the working", []string{"slack:U2"}, nil, chat.Pressed, "why XKLD -38 8200", "follow b1: <why XKLD -38 8200>"},
	} {
		t.Run(c.name, func(t *testing.T) {
			set := chat.Settings{Duty: c.duty}
			if len(c.duty) > 1 {
				set.DutyNames = map[string]string{"slack:U2": "Dora"}
			}
			o := newOffice(t, set)
			e := said(1, c.text)
			e.Kind, e.Person.Groups = c.kind, c.groups
			if c.kind == chat.Pressed {
				e.Message = "b1"
			}
			o.take(t, e)
			o.want(t, c.want)
			refused := strings.HasPrefix(c.want, no)
			asked := o.answerer.asked()
			if (len(asked) == 0) != refused {
				t.Errorf("the bot was asked %+v", asked)
			}
			if len(asked) == 1 && asked[0].Duty != (c.want != "answer <XKLD -38 8200>" && !strings.Contains(c.want, "why")) {
				t.Errorf("the bot was told Duty %v", asked[0].Duty)
			}
		})
	}
}

// What is said among people is none of a duty officer's deeds, unless it reads whole.
func TestTalkIsNoDeed(t *testing.T) {
	o := newOffice(t, chat.Settings{Duty: []string{"slack:U2"}, Problem: func(line string) *reply.Problem {
		if line == "ack XKLD" {
			return nil
		}
		return &reply.Problem{Text: "Which?"}
	}})
	for n, text := range []string{"ack", "ack, thanks", "snooze!"} {
		e := said(n, text)
		e.Unmentioned = true
		o.take(t, e)
	}
	o.want(t)
	e := said(9, "ack XKLD")
	e.Unmentioned = true
	o.take(t, e)
	o.want(t, "whisper U1: ! Only a duty officer may do that: Bo.")
}

func TestFlood(t *testing.T) {
	const wait = "whisper U1: ! That was too much at once; firn answers you again in %d s. What you send before that gets no answer."
	o := newOffice(t, chat.Settings{})
	n := 0
	ask := func(person string, times int) {
		for range times {
			n++
			e := said(n, fmt.Sprint(n))
			e.Person.ID = person
			o.take(t, e)
		}
	}
	ask("U1", 12) // eight are answered, the ninth is told, three are silence
	ask("U2", 2)  // others are not slowed
	var want []string
	for i := range 8 {
		want = append(want, fmt.Sprintf("answer <%d>", i+1))
	}
	want = append(want, fmt.Sprintf(wait, 3), "answer <13>", "answer <14>")
	o.want(t, want...)

	o.clock.Pass(2 * time.Second)
	ask("U1", 1) // still silence
	o.clock.Pass(time.Second)
	ask("U1", 1) // there is room for one
	o.clock.Pass(1500 * time.Millisecond)
	ask("U1", 2) // and it is told again
	want = append(want, "answer <16>", fmt.Sprintf(wait, 2))
	o.want(t, want...)

	o.clock.Pass(time.Hour)
	ask("U1", 9)
	for i := range 8 {
		want = append(want, fmt.Sprintf("answer <%d>", i+19))
	}
	o.want(t, append(want, fmt.Sprintf(wait, 3))...)
}

// TestFloodOnAPage: whoever looks at the place of an answer is told of each question
// that is not taken, and may send the same form again.
func TestFloodOnAPage(t *testing.T) {
	o := newOffice(t, chat.Settings{Burst: 2})
	var all []chat.Event
	for n := range 5 {
		e := said(n, fmt.Sprint(n))
		e.Waits = true
		all = append(all, e)
	}
	o.take(t, all...)
	const wait = "whisper U1: ! That was too much at once; firn answers you again in 3 s. Send it again then."
	want := []string{"answer <0>", "answer <1>", wait, wait, wait}
	o.want(t, want...)
	o.clock.Pass(3 * time.Second)
	o.take(t, all[4])
	o.want(t, append(want, "answer <4>")...)
}

// TestRepeatIsNoFlood: what a service sends again costs the person nothing.
func TestRepeatIsNoFlood(t *testing.T) {
	o := newOffice(t, chat.Settings{Burst: 2})
	o.take(t, said(1, "a"), said(1, "a"), said(1, "a"), said(2, "b"))
	o.want(t, "answer <a>", "answer <b>")
}

// TestFloodOfEverything: buttons and forms count like messages.
func TestFloodOfEverything(t *testing.T) {
	o := newOffice(t, chat.Settings{Burst: 2})
	wanted, pressed := said(1, ""), said(2, "why")
	wanted.Kind, pressed.Kind = chat.FormRequested, chat.Pressed
	o.take(t, wanted, pressed, said(3, "c"))
	o.want(t, "open // 0 problems", "follow C1/2: <why>", "whisper U1: ! That was too much at once; firn answers you again in 3 s. What you send before that gets no answer.")
}
