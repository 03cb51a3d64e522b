package bot

import (
	"context"
	"encoding/json"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
)

// Threads keep what a follow-up is read with, for other processes and after a
// restart. The text is the bot's own.
type Threads interface {
	// Keeps says whether a surface's threads are kept; nothing is asked or told of
	// those of another.
	Keeps(surface string) bool
	Thread(ctx context.Context, surface, thread string) (text string, found bool, err error)
	KeepThread(ctx context.Context, surface, thread, text string, at time.Time) error
}

// sharedThread is a thread as it is kept: JSON, for as long as a thread lasts.
type sharedThread struct {
	Request  parse.Request   `json:"request"`
	Answered bool            `json:"answered"`
	Question question        `json:"question"`
	At       time.Time       `json:"at"`
	ID       string          `json:"record,omitempty"` // of the last answer
	Version  int             `json:"version,omitempty"`
	Line     string          `json:"line,omitempty"`
	Arrivals []parse.Stop    `json:"arrivals,omitempty"` // of the last brief
	Ahead    *parse.Request  `json:"ahead,omitempty"`    // the question about the forecast, or the way, that was answered last
	Before   []parse.Request `json:"before,omitempty"`   // what undo goes back to
	Gave     []pair          `json:"gave,omitempty"`     // the figures of the last answer
}

// share takes over what another process knows of a thread, and gives what is
// to be done when the message is answered: what this one knows is kept for the
// others. Without it a follow-up is asked back, which is no harm.
func (b *Bot) share(ctx context.Context, key threadKey) (keep func()) {
	if b.ports.Threads == nil || key.thread == "" || !b.ports.Threads.Keeps(key.surface) {
		return func() {}
	}
	text, found, err := b.ports.Threads.Thread(ctx, key.surface, key.thread)
	if err != nil {
		b.log.WarnContext(ctx, "thread not read", "surface", key.surface, "err", err)
	}
	if found {
		var s sharedThread
		if err := json.Unmarshal([]byte(text), &s); err != nil {
			b.log.WarnContext(ctx, "thread not read", "surface", key.surface, "err", err)
		} else {
			b.threads.take(key, s)
		}
	}
	return func() {
		s, has := b.threads.given(key)
		if !has {
			return
		}
		now, err := json.Marshal(s)
		if err == nil && string(now) != text {
			err = b.ports.Threads.KeepThread(ctx, key.surface, key.thread, string(now), s.At)
		}
		if err != nil {
			b.log.WarnContext(ctx, "thread not kept", "surface", key.surface, "err", err)
		}
	}
}

// take remembers a thread as another process left it, unless what is known
// here is later.
func (t *threads) take(key threadKey, s sharedThread) {
	if here, has := t.given(key); has && here.At.After(s.At) {
		return
	}
	t.put(key, &s.Request, s.Answered, s.At, "", s.Gave...)
	if s.Question.Asked {
		t.ask(key, s.Question, s.At)
	}
	if len(s.Arrivals) > 0 {
		t.briefed(key, s.Arrivals, s.At)
	}
	if s.Ahead != nil {
		t.lookedAhead(key, *s.Ahead, s.At)
	}
	t.remember(key, s.Before)
	t.made(key, record.Result{ID: s.ID, Version: s.Version, Line: s.Line})
}

// remember sets what was answered before in a thread.
func (t *threads) remember(key threadKey, before []parse.Request) {
	t.kept.Change(key, func(th *thread) { th.before = before })
}

// given is a thread as it is kept for others.
func (t *threads) given(key threadKey) (s sharedThread, has bool) {
	th, ok := t.kept.Last(key)
	if !ok {
		return s, false
	}
	return sharedThread{th.request, th.answered, th.question, th.at, th.record.id, th.record.version, th.record.line, th.arrivals, th.ahead, th.before, th.gave}, true
}
