package chat_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"firn/bot/chat"
	"firn/bot/reply"
)

// TestShown: whoever keeps the record learns which card shows what, and an
// edit says whose place it takes.
func TestShown(t *testing.T) {
	var shown []string
	o := newOffice(t, chat.Settings{Shown: func(_ context.Context, surface string, ref chat.Ref, r reply.Reply, again bool) {
		shown = append(shown, fmt.Sprint(surface, " ", ref, " ", r.Facts, " ", again))
	}})
	first := said(1, "XKLD -38 8200")
	o.take(t, first)
	edit := first
	edit.Kind, edit.ID, edit.Text, edit.At = chat.Edited, "e2", "XKLD -38 8400", first.At.Add(time.Minute)
	o.take(t, edit)
	press := said(3, "why")
	press.Kind, press.Message = chat.Pressed, "card"
	o.take(t, press)
	if len(shown) != 3 {
		t.Fatalf("shown %q, want three", shown)
	}
	asked := o.answerer.asked()
	if asked[0].Card != "" || asked[1].Card == "" || asked[2].Card != "" {
		t.Errorf("the cards in whose place: %q, %q, %q; want the edit's alone", asked[0].Card, asked[1].Card, asked[2].Card)
	}
	again := make([]bool, 3)
	for i, s := range shown {
		again[i] = s[len(s)-4:] == "true"
	}
	if !slices.Equal(again, []bool{false, true, false}) {
		t.Errorf("shown %q, want only the edit in another's place", shown)
	}
}
