package record

import (
	"context"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
)

// Added is what became of a record that was to be added.
type Added uint8

// What can become of it.
const (
	Fresh   Added = iota // it is kept
	Already              // its message has a record: nothing was written
	Taken                // another record has its name: nothing was written
)

// Query says which records are wanted. What is zero does not count.
type Query struct {
	From, To        time.Time // asked; To excluded
	Station         string
	Nowhere         bool      // of no station: briefs, and results of an elevation alone
	Surface, Thread string    // both, or neither
	Live, Over      bool      // neither replaced nor said to be expired; one of the two
	Due             time.Time // live, and expiring no later
	By              []string  // asked by one of these accounts
	Text            string    // in its name, its station's, its approach's, or that of who asked or checked, in any case
	For             *Viewer   // what this person may see; nil: all, for whoever runs firn
	Newest          bool      // the newest first, else the oldest
	Limit           int
}

// Says holds a record against the query's text and accounts. Databases differ in
// what they know of letters: theirs only narrows what is read.
func (q Query) Says(r *Record) bool {
	if len(q.By) > 0 && !slices.Contains(q.By, r.Asked.Address) {
		return false
	}
	text := strings.ToLower(q.Text)
	in := func(s string) bool { return strings.Contains(strings.ToLower(s), text) }
	return text == "" || in(r.ID) || in(r.Station()) || in(r.Reply.Where()) || in(r.Asked.Name) ||
		slices.ContainsFunc(r.Checks, func(c Check) bool { return in(c.By.Name) })
}

// Viewer is somebody who sees what was asked before others, and of what was
// asked in direct messages the own and what was posted.
type Viewer struct{ Accounts []string } // addresses, slack:U1

// Sees says whether a record is for the viewer. Each store's query says the same.
func (v *Viewer) Sees(r Record) bool {
	return v == nil || !r.Private() || slices.Contains(v.Accounts, r.Asked.Address)
}

// Records are what was made and what was done to it. Every call that writes
// appends to the history in the same transaction.
type Records interface {
	// AddRecords adds several, all or none, and says of each what became of it.
	// A record that replaces another marks that one as replaced. Where each is
	// Fresh the cards are kept with them, as AddCards does; else no card is.
	AddRecords(ctx context.Context, all []Result, cards ...Mark) ([]Added, error)
	Record(ctx context.Context, id string) (r Record, found bool, err error)
	// EachRecord gives those of a query in the order in which they were asked.
	// yield may call the store; its error ends the call and is given back.
	EachRecord(ctx context.Context, q Query, yield func(Record) error) error
	// Apply does a change to a record that is still at the revision at which r
	// was read; held is false, and nothing is written, when it is not. The
	// record's cards are behind then.
	Apply(ctx context.Context, r Record, c Change) (held bool, err error)
}

// Mark is a card: where a record is shown, and at which revision.
type Mark struct {
	Surface, Ref string
	Record       string
	Told         int // the revision that it shows; -1: none
	Tries        int
	Want         int       // the record's revision
	Again        time.Time // not to be tried before
}

// Marks are the cards of the records.
type Marks interface {
	// AddCards keeps cards. One that is there belongs to the later record.
	AddCards(ctx context.Context, all []Mark) error
	DropCard(ctx context.Context, surface, ref string) error
	CardOf(ctx context.Context, surface, ref string) (id string, found bool, err error)
	// Untold are cards that are behind their record and may be tried now.
	Untold(ctx context.Context, now time.Time, limit int) ([]Mark, error)
	// SetMark writes Told, Tries and Again of is, if they (but Again) and
	// the record are still those of was.
	SetMark(ctx context.Context, was, is Mark) (held bool, err error)
}

// Stored is a record as the store keeps it.
type Stored struct {
	ID         string
	Made, Live []byte // JSON
	Found      Lookup
}

// Lookup is what a store keeps of a record beside its JSON, to find it by:
// who changes one of them hides the record where people look for it.
type Lookup struct {
	Surface, Message, Thread, Station string
	// Owner is the account that alone sees a private record; empty: all see it.
	Owner          string
	Asked, Expires time.Time // in microseconds
	Rev            int
	Over           bool
}

// LookupOf is that of a record.
func LookupOf(m Result, l Status) Lookup {
	owner := ""
	if (Record{m, l}).Private() {
		owner = m.Asked.Address
	}
	return Lookup{
		Owner:   owner,
		Surface: m.Surface, Message: m.Message, Thread: m.Thread, Station: m.Station(),
		Asked: instant(m.At), Expires: instant(m.Expires), Rev: l.Rev, Over: l.Over(),
	}
}

// Walker goes through the chain.
type Walker interface {
	// Walk gives every entry in order of seq, then every record, as of one
	// moment, and the head.
	Walk(ctx context.Context, entry func(Sealed) error, record func(Stored) error) (Head, error)
}

// History is the chain.
type History interface {
	Walker
	// Head is the last entry.
	Head(ctx context.Context) (Head, error)
	// Touched names the records of the entries after one up to another, of at
	// most limit entries in their order, and gives the last of these; without
	// any that is after itself. What is written later has a later number.
	Touched(ctx context.Context, after, to int64, limit int) (ids []string, last int64, err error)
	// Prune takes records that were asked before a time, as far as the entries
	// of none that stays are among theirs, with their entries and cards. It
	// says so in the history, and how many went.
	Prune(ctx context.Context, before, at time.Time) (records int, err error)
}

// Store is all three.
type Store interface {
	Records
	Marks
	History
}

// Message is what is shown on a surface.
type Message struct {
	Reply reply.Reply
	Note  string // a line above it; may be empty
}

// Messages changes what the surfaces show. An error wrapped in outbox.Permanent
// is not tried again.
type Messages interface {
	// Change puts another card in the place of one; it may be done again.
	Change(ctx context.Context, surface, ref string, c Message) error
}

// Observer gives the latest observation of a station; weather.Chain is one.
type Observer interface {
	Observation(ctx context.Context, ident string) (weather.Reading, error)
}

// Knower is an Observer that has at hand what it last said of a station, and
// asks nobody; weather.Chain is one.
type Knower interface {
	Known(ident string) (weather.Observation, bool)
}

// Forecaster has the forecasts of a station; weather.Chain is one.
type Forecaster interface {
	Forecasts(ctx context.Context, ident string) ([]weather.Forecast, error)
}

// Computer works a record's line out at another temperature; bot.Bot is one.
type Computer interface {
	Recompute(ctx context.Context, line string, c engine.Celsius) (Figures, error)
}
