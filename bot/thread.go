package bot

import (
	"bytes"
	"slices"
	"time"

	"firn/bot/bounded"
	"firn/bot/parse"
	"firn/bot/record"
)

// A thread is remembered for a while: a follow-up comes within minutes, and
// hours later "-20 5000" must not be read with the morning's station.
const (
	mostBefore = 8 // changes that can be taken back
	threadLife = time.Hour
	maxThreads = 10000
)

// threads remember the last request of each thread. Safe for use by several
// goroutines.
type threads struct {
	kept *bounded.Map[threadKey, thread]
}

type threadKey struct{ surface, thread string }

type thread struct {
	request  parse.Request
	answered bool   // it was complete; else a follow-up completes it
	line     string // what asks the same again; empty: not known
	question question
	at       time.Time
	record   lastRecord      // the last answer's, where there is a record
	arrivals []parse.Stop    // of the brief that was answered last; none where a correction came after it
	ahead    *parse.Request  // the question about the forecast, or the way, that was answered last
	before   []parse.Request // what was answered before, the latest last: for undo
	gave     []pair          // the figures of the last answer, for who repeats them
}

// lastRecord is what a thread remembers of the record of its last answer.
type lastRecord struct {
	id      string
	version int
	line    string
}

// Continue goes on with the conversations of another Bot, which is asked no
// more: that of the configuration before.
func (b *Bot) Continue(was *Bot) { b.threads = was.threads }

func newThreads() *threads {
	return &threads{kept: bounded.New[threadKey, thread](maxThreads, threadLife)}
}

// get is a thread, if it is not too old at now.
func (t *threads) get(key threadKey, now time.Time) (thread, bool) { return t.kept.Get(key, now) }

// has says that a thread is about something.
func (t *threads) has(key threadKey) bool {
	th, ok := t.kept.Last(key)
	return ok && (!th.request.Empty() || len(th.arrivals) > 0 || th.ahead != nil)
}

// answers says that a thread has an answer.
func (t *threads) answers(key threadKey) bool {
	th, ok := t.kept.Last(key)
	return ok && (th.answered || len(th.arrivals) > 0 || th.ahead != nil)
}

// drop forgets a thread.
func (t *threads) drop(key threadKey) { t.kept.Drop(key) }

// restore makes a thread what it was; had says that there was one.
func (t *threads) restore(key threadKey, was thread, had bool) {
	if !had {
		t.drop(key)
		return
	}
	t.kept.Put(key, was, was.at)
}

// ask remembers what a thread was asked. One that holds no request yet is
// remembered for its question.
func (t *threads) ask(key threadKey, q question, now time.Time) {
	if !t.kept.Change(key, func(th *thread) { th.question = q }) && key.thread != "" {
		t.put(key, &q.Scrap, false, now, "")
		t.ask(key, q, now)
	}
}

// asked is the question that a thread waits for an answer to; it has no text where
// none does.
func (t *threads) asked(key threadKey) question {
	if th, ok := t.kept.Last(key); ok && th.question.Asked {
		return th.question
	}
	return question{}
}

// put remembers a request, with its line and the figures where it was answered. A
// message without a thread is not remembered.
func (t *threads) put(key threadKey, r *parse.Request, answered bool, now time.Time, line string, gave ...pair) {
	if key.thread == "" {
		return
	}
	t.kept.With(key, now, func() thread { return thread{} }, func(th *thread, fresh bool) {
		if !fresh && answered && th.answered && !th.asks(r, line) {
			th.before = append(slices.Clone(th.before[max(0, len(th.before)-mostBefore+1):]), th.request)
		}
		th.request, th.answered, th.line, th.gave, th.at, th.question = *r, answered, line, gave, now, question{}
		if answered {
			th.arrivals, th.ahead = nil, nil // a slip leaves the brief
		}
	})
}

// briefed remembers the arrivals of a brief: a time behind it changes one.
// A thread that is about nothing yet is about a single arrival's station.
func (t *threads) briefed(key threadKey, stops []parse.Stop, now time.Time) {
	if key.thread == "" {
		return
	}
	th, has := t.given(key)
	if about := th.Request; !has || !th.Answered && !about.HasTemperature && !about.HasElevation && len(about.Altitudes)+len(about.Open) == 0 {
		r := parse.Request{}
		if len(stops) == 1 {
			r.Station, r.Procedure = stops[0].Station, stops[0].Procedure
		}
		t.put(key, &r, false, now, "")
	}
	t.kept.With(key, now, func() thread { return thread{} }, func(th *thread, _ bool) {
		th.arrivals, th.at, th.question, th.ahead = stops, now, question{}, nil
	})
}

// lookedAhead remembers a question about the forecast, or the way: "tomorrow?" and "and XTAR?"
// behind it are one, too. A thread that is about nothing yet is about its station.
func (t *threads) lookedAhead(key threadKey, req parse.Request, now time.Time) {
	if key.thread == "" {
		return
	}
	if th, ok := t.kept.Last(key); !ok || !th.answered && (parse.Request{Station: th.request.Station}).Line() == th.request.Line() {
		t.put(key, &parse.Request{Station: req.Station}, false, now, "")
	}
	t.kept.With(key, now, func() thread { return thread{} }, func(th *thread, _ bool) {
		th.ahead, th.at, th.question = &req, now, question{}
	})
}

// settled is a thread whose question was answered by a choice: what it left open
// is open no more. What could not be worked out stands in the choice as a whole.
func (th thread) settled() thread {
	q := th.question
	if th.question = (question{}); q.Whole {
		th.request, th.answered = q.Scrap, false
	}
	th.request.Open = slices.DeleteFunc(slices.Clone(th.request.Open), func(p parse.Problem) bool { return p.Text == q.Text })
	return th
}

// asks says that the thread's last request reads as one whose line is known.
func (th *thread) asks(r *parse.Request, line string) bool {
	if line != "" && line == th.line && th.request.Verb == r.Verb && th.request.Kind == r.Kind {
		return true
	}
	return readsSame(&th.request, r)
}

// readsSame says that two requests read the same.
func readsSame(a, b *parse.Request) bool {
	var room [2][192]byte
	return bytes.Equal(a.AppendLine(room[0][:0]), b.AppendLine(room[1][:0]))
}

// back takes a thread back to the request that was answered before its last.
// A question that is open is dropped instead: nothing has changed by it.
func (t *threads) back(key threadKey) (r parse.Request, ok bool) {
	t.kept.Change(key, func(th *thread) {
		n := len(th.before)
		switch {
		case th.answered && th.question.Asked:
			th.question = question{}
		case n == 0:
			return
		default:
			th.request, th.before = th.before[n-1], slices.Clone(th.before[:n-1])
			th.answered, th.question = true, question{}
		}
		r, ok = th.request, true
	})
	return r, ok
}

// made remembers the record of a thread's last answer, without its figures.
func (t *threads) made(key threadKey, m record.Result) {
	t.kept.Change(key, func(th *thread) { th.record = lastRecord{m.ID, m.Version, m.Line} })
}

// last is that record; its name is empty where there is none.
func (t *threads) last(key threadKey) (r record.Result) {
	t.kept.Change(key, func(th *thread) {
		r = record.Result{ID: th.record.id, Version: th.record.version, Line: th.record.line}
	})
	return r
}
