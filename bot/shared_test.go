package bot_test

import (
	"context"
	"reflect"
	"sync"
	"testing"
	"time"

	"firn/bot"
)

// kept are threads that two processes share.
type kept struct {
	mu   sync.Mutex
	text map[string]string
}

func (*kept) Keeps(surface string) bool { return surface == "page" }

func (k *kept) Thread(_ context.Context, surface, thread string) (string, bool, error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	text, found := k.text[surface+" "+thread]
	return text, found, nil
}

func (k *kept) KeepThread(_ context.Context, surface, thread, text string, _ time.Time) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.text[surface+" "+thread] = text
	return nil
}

// TestSharedThread: each message of a conversation comes to another process,
// and is read as if one had got them all.
func TestSharedThread(t *testing.T) {
	alone, a, b := newBot(t), newBot(t), newBot(t)
	shared := &kept{text: map[string]string{}}
	a.Use(bot.Ports{Threads: shared})
	b.Use(bot.Ports{Threads: shared})
	for i, line := range []string{"XKLD 8200 7400", "-38", "add DA 5340", "-41", "XKLD 25 METAR", "why", "help", "XRUN 6000", "METAR XRUN 251153Z 00000KT 10SM CLR M28/M32 A2992", "same at XKLD", "XKLD -38 8200", "8990?"} {
		m := bot.Message{Surface: "page", Thread: "t", Text: line, At: time.Date(2026, 1, 25, 12, i, 0, 0, time.UTC)}
		want, err := alone.Handle(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		got, err := []*bot.Bot{a, b}[i%2].Handle(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%q is answered\n %+v\nwant\n %+v", line, got, want)
		}
	}
	// Those of a surface that is not kept cost nothing.
	if _, err := a.Handle(t.Context(), bot.Message{Surface: "x", Thread: "t", Text: "XKLD -38 8200", At: time.Date(2026, 1, 25, 12, 0, 0, 0, time.UTC)}); err != nil {
		t.Fatal(err)
	}
	if len(shared.text) != 1 {
		t.Errorf("%d threads are kept, want one", len(shared.text))
	}
	// Hours later it is forgotten, wherever it was kept.
	m := bot.Message{Surface: "page", Thread: "t", Text: "-20", At: time.Date(2026, 1, 25, 16, 0, 0, 0, time.UTC)}
	got, err := a.Handle(t.Context(), m)
	if err != nil || got.Problem == nil {
		t.Errorf("hours later: %+v, %v", got, err)
	}
}
