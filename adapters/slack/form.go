package slack

import (
	"context"
	"encoding/json"
	"errors"

	slackgo "github.com/slack-go/slack"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// replyRoute is kept in a form: where its answer goes.
type replyRoute struct {
	Channel  string `json:"c,omitempty"`
	Thread   string `json:"t,omitempty"`
	Direct   bool   `json:"d,omitempty"`
	Private  bool   `json:"p,omitempty"`
	Response string `json:"r,omitempty"`
	Record   string `json:"record,omitempty"` // of a blind check
	Count    int    `json:"n,omitempty"`      // of its altitudes
	Card     string `json:"k,omitempty"`      // that a question was opened from
	Yes      string `json:"y,omitempty"`      // what saying yes to it asks
}

// mostPrivate is what Slack keeps with a form.
const mostPrivate = 3000

func (w replyRoute) String() string {
	b, _ := json.Marshal(w)
	if len(b) > mostPrivate {
		w.Response = ""
		b, _ = json.Marshal(w)
	}
	return string(b)
}

func readRoute(s string) (w replyRoute) {
	_ = json.Unmarshal([]byte(s), &w) // another app's form has another way: none
	return w
}

// Open shows the form. Where the event can open none (a message, or a trigger
// that is used up) it shows a button that does.
func (s *Surface) Open(ctx context.Context, e chat.Event, f chat.Form) error {
	h := handleOf(e)
	at := replyRoute{Channel: h.channel, Thread: h.thread, Direct: e.Place.Direct, Private: h.private, Response: h.response}
	if f.Enter != nil {
		return s.openEnter(ctx, h, f, at)
	}
	if h.trigger == "" {
		return s.offer(ctx, e, f)
	}
	view := s.form(f, at)
	err := s.call(ctx, "views.open", "", func(ctx context.Context) error {
		_, err := s.api.OpenViewContext(ctx, h.trigger, view)
		return err
	})
	if usedUp(err) {
		return s.offer(ctx, e, f)
	}
	return err
}

// mostFields is how many fields a form has; Slack takes 100 blocks.
const mostFields = 80

// errNoTrigger is that of an event that can open no form.
var errNoTrigger = errors.New("slack: the event opens no form")

// openEnter shows the form of a blind check.
func (s *Surface) openEnter(ctx context.Context, h *handle, f chat.Form, at replyRoute) error {
	n := len(f.Enter.Names)
	if h.trigger == "" || n == 0 || n > mostFields {
		return errNoTrigger
	}
	at.Record, at.Count = f.Enter.Record, n
	list := []slackgo.Block{slackgo.NewSectionBlock(markdown("Work the altitudes out from your own table, and enter what you get."), nil, nil)}
	for i, name := range f.Enter.Names {
		field := slackgo.NewPlainTextInputBlockElement(nil, "type")
		field.MaxLength = 40
		if i < len(f.Enter.Typed) {
			field.InitialValue = cut(shown(f.Enter.Typed[i]), 40)
		}
		list = append(list, slackgo.NewInputBlock(chat.FieldEntered(i), labelText(name+", corrected", 2000), nil, field))
	}
	view := slackgo.ModalViewRequest{
		Type: slackgo.VTModal, CallbackID: enterView, PrivateMetadata: at.String(),
		Title:  labelText("Check "+f.Enter.Record, 24),
		Submit: labelText("Check", 24),
		Close:  labelText("Cancel", 24),
		Blocks: slackgo.Blocks{BlockSet: list},
	}
	return s.call(ctx, "views.open", "", func(ctx context.Context) error {
		_, err := s.api.OpenViewContext(ctx, h.trigger, view)
		return err
	})
}

// enteredOf is the form of a blind check that was sent.
func enteredOf(at replyRoute, fields map[string]string) chat.Form {
	f := chat.BlindForm{Record: at.Record, Names: make([]string, at.Count)}
	for i := range at.Count {
		f.Typed = append(f.Typed, fields[chat.FieldEntered(i)])
	}
	return chat.Form{Enter: &f}
}

// offer shows a button that opens the form.
func (s *Surface) offer(ctx context.Context, e chat.Event, f chat.Form) error {
	h := handleOf(e)
	if h.channel == "" {
		return errNoWay
	}
	text := "Open the form to fill in station, temperature and altitudes."
	m := compose(chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{text}}})
	m.blocks = append(m.blocks, slackgo.NewActionBlock("", openButton(f.Station)))
	_, err := s.post(ctx, address{h.channel, h.thread}, m, freshKey(), true)
	return err
}

func openButton(prefill string) *slackgo.ButtonBlockElement {
	return slackgo.NewButtonBlockElement(formAction, cut(prefill, mostValue), labelText("Fill in the form", mostButtonText))
}

// form is the form with what stands in it. Slack takes problems beside the
// fields only as the answer to a form that is open; in one that is opened they
// stand on top.
func (s *Surface) form(f chat.Form, at replyRoute) slackgo.ModalViewRequest {
	var list []slackgo.Block
	if len(f.Problems) > 0 {
		var problems present.List
		for _, field := range []string{chat.FieldStation, chat.FieldTemperature, chat.FieldAltitudes} {
			if text := f.Problems[field]; text != "" {
				problems.Lines = append(problems.Lines, text)
			}
		}
		list = viewBlocks("", []present.Block{problems})
	}
	shortest := 0
	station := slackgo.NewOptionsSelectBlockElement(slackgo.OptTypeExternal, labelText("Ident or name", 150), "pick")
	station.MinQueryLength = &shortest
	if f.Station != "" {
		choice := bot.Offer{Value: f.Station, Label: f.Station}
		if taker := s.taker.Load(); taker != nil {
			for _, c := range (*taker).Stations(f.Station, 1) {
				if c.Value == f.Station {
					choice = c
				}
			}
		}
		station.InitialOption = option(choice)
	}
	temperature := slackgo.NewPlainTextInputBlockElement(labelText("-38", 150), "type")
	temperature.MaxLength, temperature.InitialValue = 40, cut(shown(f.Temperature), 40)
	altitudes := slackgo.NewPlainTextInputBlockElement(labelText("FAF 8200, step 7400, DA 5340", 150), "type")
	altitudes.Multiline, altitudes.MaxLength, altitudes.InitialValue = true, 1000, cut(shown(f.Altitudes), 1000)
	list = append(list,
		slackgo.NewInputBlock(chat.FieldStation, labelText("Station", 2000), nil, station),
		slackgo.NewInputBlock(chat.FieldTemperature, labelText("Temperature, with its sign", 2000), labelText("°C, or °F as in -36F", 2000), temperature),
		slackgo.NewInputBlock(chat.FieldAltitudes, labelText("Altitudes as published", 2000), labelText("One or several, with labels such as FAF, step, DA, missed", 2000), altitudes),
	)
	return slackgo.ModalViewRequest{
		Type: slackgo.VTModal, CallbackID: formView, PrivateMetadata: at.String(),
		Title:  labelText("Correct altitudes", 24),
		Submit: labelText("Correct", 24),
		Close:  labelText("Cancel", 24),
		Blocks: slackgo.Blocks{BlockSet: list},
	}
}
