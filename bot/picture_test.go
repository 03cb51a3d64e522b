package bot_test

import (
	"testing"

	"firn/bot"
	"firn/bot/reply"
)

// "picture" asks for the answer before it, or for that to the message behind
// it, and is offered only where pictures can be shown.
func TestPicture(t *testing.T) {
	b := newBot(t)
	b.Use(bot.Ports{Pictures: true})
	ask := func(text string) reply.Reply {
		t.Helper()
		r, err := b.Handle(t.Context(), bot.Message{Surface: "slack", Thread: "1", Text: text, At: noon})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if r := ask("picture"); r.Problem == nil || r.Problem.Word != "picture" {
		t.Errorf("with nothing before it: %+v", r.Problem)
	}
	r := ask("XKLD -38 FAF 8200, DA 5340")
	var whole string
	for _, a := range r.Actions {
		if a.ID == "picture" {
			whole = a.Whole
		}
	}
	if whole != "picture XKLD -38 FAF 8200, DA 5340" || r.Picture != "" {
		t.Errorf("the button asks %q, the answer's picture is %q", whole, r.Picture)
	}
	for _, text := range []string{"picture", whole} {
		if r := ask(text); r.Picture != "profile" || len(r.Altitudes) != 2 {
			t.Errorf("%q: picture %q of %d altitudes", text, r.Picture, len(r.Altitudes))
		}
	}
	if r := ask("picture XRUN -38"); r.Kind != reply.KindStatus {
		t.Errorf("without altitudes it is %s, want a status", r.Kind)
	}
	plain, err := newBot(t).Handle(t.Context(), bot.Message{Surface: "console", Text: "XKLD -38 8200", At: noon})
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range plain.Actions {
		if a.ID == "picture" {
			t.Error("a picture is offered where none can be shown")
		}
	}
}
