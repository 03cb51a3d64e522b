package weather

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"
)

// ErrStale is wrapped when an observation is older than the limit.
var ErrStale = errors.New("too old")

// What a Chain uses where its Options say nothing. All figures are ours: a
// METAR is made every hour and reaches the services some minutes later, a TAF
// every six hours, and one more is allowed for.
const (
	StaleAfter  = 75 * time.Minute
	SourceLimit = 30 * time.Second
	KeptFor     = 12 * time.Hour
)

// Options are what a Chain is made of.
type Options struct {
	Sources []Source // in the configured order
	Archive Archive  // everything received is saved here; nil: nothing is kept
	Now     func() time.Time
	Log     *slog.Logger // hears of an archive that fails; nil: nobody does

	StaleAfter time.Duration // an older observation is passed over; 0: the constant
	Limit      time.Duration // for one source's answer for one station; 0: SourceLimit
	// KeptFor is how old, since it was issued, a forecast may be that takes the
	// place of what a failing source does not answer; 0: the constant.
	KeptFor time.Duration
}

// Chain asks sources in their order. A source that fails, is slow or has only
// something stale is passed over, with the reason kept. When a source fails
// (not when it says that it has nothing) and an archive is given, what was
// kept of it takes its place. Safe for use by several goroutines.
type Chain struct {
	o  Options
	mu sync.Mutex
	// saved is what the archive has already, gone when a source last said
	// that it has nothing: both by source and ident.
	saved map[string]mark
	gone  map[string]time.Time
	given map[string]Reading // the latest answers of Observation, by ident

	health []Health
}

// mark tells one thing received from another.
type mark struct {
	at, from, to time.Time
	raw          string
}

// Passed is a source that was passed over and why: ErrNone, ErrStale, or that
// it failed.
type Passed struct {
	Source string // its name
	Err    error
	Kept   bool // what was kept of it is used
	// Label stands in the Source field of its forecasts, empty where it does not
	// say; of Outlook and Forecasts alone.
	Label string
	// Over: the archive was looked at, and has nothing of it that is valid still.
	Over bool
}

// Reading is an observation with what people must know of it besides.
type Reading struct {
	Observation
	Age time.Duration // since it was observed; negative where it is dated ahead of the clock
	// Arrived is when it, or one observed no earlier, first came, from whatever
	// source: who typed a temperature after that had it to look at.
	Arrived time.Time
	Kept    bool     // out of the archive: its source has failed
	Passed  []Passed // the sources before it
}

// Outlook is every forecast of one station, in the order of the sources.
type Outlook struct {
	Ident     string
	Forecasts []Forecast
	Kept      []string // the Source of those out of the archive
	Passed    []Passed
}

// Health is how a source does.
type Health struct {
	Source string
	Worked time.Time // last answer, "nothing" included; zero: never
	Failed time.Time // last failure; zero: never
	Err    error     // of that failure
}

// Missing says that no source has something for a station. It is ErrNone only
// when every source says so; else it is whatever stood in the way, such as
// ErrStale.
type Missing struct {
	Ident  string
	Passed []Passed
}

func (m *Missing) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "no weather for %s", m.Ident)
	for i, p := range m.Passed {
		sep := ": "
		if i > 0 {
			sep = "; "
		}
		fmt.Fprintf(&b, "%s%s: %v", sep, p.Source, p.Err)
	}
	return b.String()
}

// Is is for errors.Is.
func (m *Missing) Is(target error) bool {
	for _, p := range m.Passed {
		if is := errors.Is(p.Err, target); is != (target == ErrNone) {
			return is
		}
	}
	return target == ErrNone
}

// NewChain makes a chain. Options.Now must be given.
func NewChain(o Options) *Chain {
	if o.StaleAfter <= 0 {
		o.StaleAfter = StaleAfter
	}
	if o.Limit <= 0 {
		o.Limit = SourceLimit
	}
	if o.KeptFor <= 0 {
		o.KeptFor = KeptFor
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	c := &Chain{o: o, saved: map[string]mark{}, gone: map[string]time.Time{}, given: map[string]Reading{}, health: make([]Health, len(o.Sources))}
	for i, s := range o.Sources {
		c.health[i].Source = s.Name()
	}
	return c
}

// Observation is that of the first source that has one within the limit of
// age, or a later one of another that is colder. One of which a newer report
// cannot be read stands back behind another source's that is as cold. The error
// is a *Missing, or the context's.
func (c *Chain) Observation(ctx context.Context, ident string) (Reading, error) {
	ident = strings.ToUpper(ident)
	r, err := c.observation(ctx, ident)
	if err != nil {
		return r, err
	}
	c.mu.Lock()
	last, had := c.given[ident]
	c.mu.Unlock()
	if r.Arrived = last.Arrived; !had || r.At.After(last.At) {
		r.Arrived = c.arrived(ctx, r.Observation)
	}
	c.mu.Lock()
	c.given[ident] = r
	c.mu.Unlock()
	return r, nil
}

// arrived is when an observation, or a later one, first came: the archive knows
// it from before this process, and from other replicas.
func (c *Chain) arrived(ctx context.Context, o Observation) time.Time {
	if c.o.Archive == nil {
		return o.Received
	}
	kept, found, err := c.o.Archive.LatestObservation(ctx, o.Ident, "")
	if err == nil && found && !kept.At.Before(o.At) && kept.Received.Before(o.Received) {
		return kept.Received
	}
	return o.Received
}

// Known is what Observation last gave for a station, while it is within the
// limit of age. It asks no source.
func (c *Chain) Known(ident string) (Observation, bool) {
	c.mu.Lock()
	r, ok := c.given[strings.ToUpper(ident)]
	c.mu.Unlock()
	return r.Observation, ok && c.o.Now().Sub(r.At) <= c.o.StaleAfter
}

func (c *Chain) observation(ctx context.Context, ident string) (Reading, error) {
	var passed []Passed
	var older *Reading // of which a newer one cannot be read
	for i, s := range c.o.Sources {
		got, err := limited(ctx, c.o.Limit, func(ctx context.Context) (Observation, error) { return s.Observation(ctx, ident) })
		if ctx.Err() != nil {
			return Reading{}, ctx.Err()
		}
		c.note(i, "observation", ident, err)
		kept := false
		switch {
		case err == nil:
			c.saveObservation(ctx, s, got)
		case errors.Is(err, ErrNoTemperature): // nothing has failed, and what it had is no older for that
			if before, ok := c.keptObservation(ctx, s, ident); ok {
				got, err = before, nil
			}
		case !errors.Is(err, ErrNone):
			got, kept = c.keptObservation(ctx, s, ident)
			if told, newer := newerThan(err, got.At, got.Received); kept && newer {
				got.Newer = told
			}
		}
		if err != nil && !kept {
			passed = append(passed, Passed{Source: s.Name(), Err: err})
			continue
		}
		age := c.o.Now().Sub(got.At)
		if age > c.o.StaleAfter {
			stale := fmt.Errorf("observed %s, %s: %w", got.At.Format("2006-01-02 15:04Z"), ago(age), ErrStale)
			if err != nil {
				stale = fmt.Errorf("%w (and what was kept of it: %w)", err, stale)
			}
			passed = append(passed, Passed{Source: s.Name(), Err: stale})
			continue
		}
		r := Reading{Observation: got, Age: age, Kept: kept, Passed: passed}
		if older == nil && got.Newer != "" {
			older = &r // the next source may know
			passed = append(passed, Passed{Source: s.Name(), Err: errors.New(got.Newer)})
			continue
		}
		if older != nil && older.C < r.C {
			break
		}
		return c.colder(ctx, i+1, ident, r)
	}
	if older != nil {
		return *older, nil
	}
	return Reading{}, &Missing{ident, passed}
}

// Outlook is every source's forecast of a station. The sources are asked at
// once. There is no forecast in it when no source has one, and Passed says
// why; the error is the context's alone.
func (c *Chain) Outlook(ctx context.Context, ident string) (Outlook, error) {
	ident = strings.ToUpper(ident)
	type answer struct {
		f   Forecast
		err error
	}
	answers := make([]answer, len(c.o.Sources))
	var asked sync.WaitGroup
	for i, s := range c.o.Sources {
		asked.Go(func() {
			f, err := limited(ctx, c.o.Limit, func(ctx context.Context) (Forecast, error) { return s.Forecast(ctx, ident) })
			answers[i] = answer{f, err}
		})
	}
	asked.Wait()
	if err := ctx.Err(); err != nil {
		return Outlook{}, err
	}
	out := Outlook{Ident: ident}
	for i, s := range c.o.Sources {
		f, err := answers[i].f, answers[i].err
		c.note(i, "forecast", ident, err)
		if err == nil {
			c.saveForecast(ctx, s, f)
			out.Forecasts = append(out.Forecasts, f)
			continue
		}
		p := Passed{Source: s.Name(), Err: err}
		_, p.Label = labels(s)
		if !errors.Is(err, ErrNone) {
			f, ok, looked := c.keptForecast(ctx, s, ident)
			p.Over = looked && !ok
			if ok {
				if age := c.o.Now().Sub(f.Issued); age <= c.o.KeptFor {
					f.Note = FailedNote(f.Issued)
					if told, newer := newerThan(err, f.Issued, f.Received); newer {
						f.Note, f.ColderOnly = told, true
					}
					out.Forecasts = append(out.Forecasts, f)
					out.Kept = append(out.Kept, f.Source)
					p.Kept = true
				} else {
					p.Over = true
					p.Err = fmt.Errorf("%w (and its last forecast, of %s, is %d hours old)", err, written(f.Issued), int(age/time.Hour))
				}
			}
		}
		out.Passed = append(out.Passed, p)
	}
	return out, nil
}

// written is an instant for people.
func written(t time.Time) string { return t.UTC().Format("15:04Z 2 Jan") }

// FailingOf says whether a source failed that may have made what stands under a
// label, of the error of Forecasts; where that does not tell, it may be any. One
// whose last forecast is over has nothing that stands.
func FailingOf(err error, label string) bool {
	m, ok := errors.AsType[*Missing](err)
	if !ok {
		return err != nil
	}
	for _, p := range m.Passed {
		if !errors.Is(p.Err, ErrNone) && !p.Over && (p.Label == label || p.Label == "") {
			return true
		}
	}
	return false
}

// Unread says whether what the source has that makes what stands under a label
// cannot be read, of the error of Forecasts; where that does not tell, it may be any.
// It answers, and what it said before no longer holds.
func Unread(err error, label string) bool {
	m, ok := errors.AsType[*Missing](err)
	return ok && slices.ContainsFunc(m.Passed, func(p Passed) bool {
		_, unread := errors.AsType[*unreadable](p.Err)
		return unread && (p.Label == label || p.Label == "")
	})
}

// Lost says whether the source that makes what stands under a label fails, and
// nothing that was kept of it is used, of the error of Forecasts.
func Lost(err error, label string) bool {
	m, ok := errors.AsType[*Missing](err)
	return ok && slices.ContainsFunc(m.Passed, func(p Passed) bool {
		return p.Label == label && label != "" && !p.Kept && !errors.Is(p.Err, ErrNone)
	})
}

// Failing are the names of the sources that failed, and of which nothing that
// was kept is used, of the error of Forecasts or Observation.
func Failing(err error) (names []string) {
	if m, ok := errors.AsType[*Missing](err); ok {
		for _, p := range m.Passed {
			if !p.Kept && !errors.Is(p.Err, ErrNone) && !errors.Is(p.Err, ErrStale) {
				names = append(names, p.Source)
			}
		}
	}
	return names
}

// Failures are the sources that failed, with why, of the error of Forecasts: not
// those that have nothing, behind which the reason would be cut off.
func Failures(err error) string {
	m, ok := errors.AsType[*Missing](err)
	if !ok {
		return err.Error()
	}
	var all []string
	for _, p := range m.Passed {
		if !errors.Is(p.Err, ErrNone) {
			all = append(all, p.Source+": "+p.why(m.Ident))
		}
	}
	if len(all) == 0 {
		return err.Error()
	}
	return strings.Join(all, "; ")
}

// why says in words for people why a source failed: the text of a report that cannot
// be read, and what a network says, are for the log.
func (p Passed) why(ident string) string {
	type ofNetwork interface {
		error
		Timeout() bool
		Temporary() bool
	}
	if u, is := errors.AsType[*unreadable](p.Err); is {
		return u.first()
	}
	_, file := errors.AsType[*fs.PathError](p.Err)
	if _, is := errors.AsType[ofNetwork](p.Err); is && !file {
		return "it does not answer"
	}
	return strings.TrimPrefix(p.Err.Error(), "weather "+p.Source+": "+ident+": ")
}

// Forecasts is Outlook without the rest: every source's forecast in order.
// The error is a *Missing when there is none, and beside forecasts when a source
// failed that might have had one; or the context's.
func (c *Chain) Forecasts(ctx context.Context, ident string) ([]Forecast, error) {
	out, err := c.Outlook(ctx, ident)
	if err != nil {
		return nil, err
	}
	missing := &Missing{out.Ident, out.Passed}
	if len(out.Forecasts) == 0 || !errors.Is(missing, ErrNone) {
		err = missing
	}
	return out.Forecasts, err
}

// Health is how each source does, in order.
func (c *Chain) Health() []Health {
	c.mu.Lock()
	defer c.mu.Unlock()
	return append([]Health(nil), c.health...)
}

// limited calls f with a time limit and says so when it is over.
func limited[T any](ctx context.Context, limit time.Duration, f func(context.Context) (T, error)) (T, error) {
	inner, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	got, err := f(inner)
	if err != nil && inner.Err() != nil && ctx.Err() == nil {
		err = fmt.Errorf("no answer within %v: %w", limit, err)
	}
	return got, err
}
