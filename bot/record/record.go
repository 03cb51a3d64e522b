package record

import (
	"slices"
	"strings"
	"time"

	"firn/bot/person"
	"firn/bot/present"
	"firn/bot/reply"
)

// Person is somebody as the record knows one.
type Person struct {
	Address string `json:"address"` // slack:U1; the surface's name where it has no accounts
	Name    string `json:"name,omitempty"`
	// Via tells the browser apart that it was done in, where its surface takes
	// whatever name is typed; empty: the account is enough.
	Via string `json:"via,omitempty"`
}

// String is the name to read, as it stands in a sentence; who is known by an
// account alone is somebody there, for an id is no name.
func (p Person) String() string {
	switch {
	case p.Name != "" && !person.Nameless(p.Name):
		return person.Shown(p.Name)
	case p.Address != "" && !p.Known():
		return "the " + p.Address
	}
	return person.Somebody(p.Address)
}

// Known says that the surface tells its people apart.
func (p Person) Known() bool { return strings.Contains(p.Address, ":") }

// Number is one altitude of a result, as the second person's is held against
// it. All in feet.
type Number struct {
	Label       string  `json:"label,omitempty"`
	PublishedFt float64 `json:"published_ft"`
	CorrectedFt float64 `json:"corrected_ft"`
	NeedFt      float64 `json:"need_ft"` // corrected, before rounding
	StepFt      float64 `json:"step_ft"` // of the rounding; 0: none
	Required    bool    `json:"required"`
}

// Result is a result as it was made. It never changes.
type Result struct {
	ID       string `json:"id"`
	Version  int    `json:"version"`            // 1 for the first
	Replaces string `json:"replaces,omitempty"` // the record that this is the next version of
	// Shown is the name that its card had at first, where that one turned out
	// to be taken.
	Shown string `json:"shown,omitempty"`

	Surface string `json:"surface"`
	Thread  string `json:"thread,omitempty"`
	Channel string `json:"channel,omitempty"` // its address, slack:C01
	// Direct says that it was asked where nobody else reads: it is its person's
	// own until it is posted.
	Direct bool `json:"direct,omitempty"`
	// Team says that it is the next version of one that the team was shown: who
	// relies on that sees what came in its place.
	Team    bool   `json:"team,omitempty"`
	Message string `json:"message"` // the surface's id of the question; unique with Surface
	Asked   Person `json:"asked"`
	Text    string `json:"text"` // as typed
	// Line asks the same again, with the temperature and the rule set.
	Line    string    `json:"line"`
	At      time.Time `json:"at"`
	Expires time.Time `json:"expires"`

	// Measured is when the temperature was observed; zero: it was typed.
	Measured    time.Time      `json:"measured,omitzero"`
	Restriction reply.OptFloat `json:"restriction_c,omitzero"` // the station's
	Engine      string         `json:"engine"`
	Numbers     []Number       `json:"numbers,omitempty"`
	Reply       reply.Reply    `json:"reply"`
}

// How a check was made.
const (
	Confirmed = "confirm" // the person says that it is right
	Blind     = "blind"   // the person entered the altitudes of their own
)

// Check is what a second person said.
type Check struct {
	By        Person     `json:"by"`
	At        time.Time  `json:"at"`
	How       string     `json:"how"`
	Compared  []Compared `json:"compared,omitempty"`
	Withdrawn time.Time  `json:"withdrawn,omitzero"`
}

// Agrees says that nothing in the check differs.
func (c Check) Agrees() bool {
	return !slices.ContainsFunc(c.Compared, func(k Compared) bool { return !k.Agrees })
}

func (c Check) stands() bool { return c.Withdrawn.IsZero() }

// Noticed is newer weather under which the result does not hold any more.
type Noticed struct {
	At     time.Time `json:"at"` // when it was noticed
	Rev    int       `json:"rev"`
	C      float64   `json:"c"`
	Source string    `json:"source"`
	Text   string    `json:"text"` // what changed
	// Of which weather: an observation or a forecast of the station; neither for
	// what a brief's arrivals or the configuration changed.
	Observed bool `json:"observed,omitempty"`
	Forecast bool `json:"forecast,omitempty"`
}

// Replacement is what came in a result's place.
type Replacement struct {
	By string    `json:"by,omitempty"` // the next version; empty: its message became another question
	At time.Time `json:"at"`
	// Deleted says that nothing came in its place: its question was deleted.
	Deleted bool `json:"deleted,omitempty"`
}

// why says what became of a result without a next version, for a sentence that
// goes on.
func (r *Replacement) why() string {
	if r.Deleted {
		return "its question was deleted"
	}
	return "its message became another one"
}

// Status is what was done to a result since it was made.
type Status struct {
	Rev      int          `json:"rev"` // number of actions
	Checks   []Check      `json:"checks,omitempty"`
	Noticed  []Noticed    `json:"noticed,omitempty"`
	Replaced *Replacement `json:"replaced,omitempty"`
	Expired  time.Time    `json:"expired,omitzero"` // when that was said
	Posted   time.Time    `json:"posted,omitzero"`  // when a direct one was first posted to the team
}

// Over says that nothing happens to it any more.
func (l Status) Over() bool { return l.Replaced != nil || !l.Expired.IsZero() }

// Record is a result with all that is known of it.
type Record struct {
	Result
	Status
}

// Named is somebody in a sentence about the record. Where another account in it has
// the same name it is told which this is: an account may call itself what it likes.
func (r Record) Named(p Person) string {
	name := p.String()
	same := func(o Person) bool {
		return o.Address != p.Address && o.Name != "" && person.Key(o.Name) == person.Key(p.Name)
	}
	if p.Name != "" && p.Known() && (same(r.Asked) || slices.ContainsFunc(r.Checks, func(k Check) bool { return same(k.By) })) {
		return name + " (" + p.Address + ")"
	}
	return name
}

// Private says that nobody but who asked sees the record: it was asked in a
// direct message, and not posted.
func (r Record) Private() bool { return r.Direct && !r.Team && r.Posted.IsZero() }

// State is what a card says in a word.
type State string

// The states.
const (
	Unchecked State = "unchecked"
	Checked   State = "checked"
	Disagreed State = "disagreed"
	Recompute State = "recompute"
	Expired   State = "expired"
	Replaced  State = "replaced"
	Noted     State = "noted" // no altitudes, so there is nothing to check
)

// Word is the state as people read it.
func (s State) Word() string { return present.StateWord(string(s)) }

// State is the record's at a time. What ends a record comes before what
// somebody said of it.
func (r Record) State(now time.Time) State {
	switch {
	case r.Replaced != nil:
		return Replaced
	case !r.Expired.IsZero() || !now.Before(r.Expires):
		return Expired
	case len(r.Noticed) > 0:
		return Recompute
	case len(r.Numbers) == 0:
		return Noted
	}
	if _, open := r.disagreement(); open {
		return Disagreed
	}
	if _, ok := r.check(); ok {
		return Checked
	}
	return Unchecked
}

// disagreement is the one that nobody has resolved. A later check that agrees
// resolves those before it: Decide lets nobody make one who disagreed, or who
// had checked before.
func (r Record) disagreement() (Check, bool) {
	for _, c := range slices.Backward(r.Checks) {
		if !c.stands() {
			continue
		}
		return c, !c.Agrees()
	}
	return Check{}, false
}

// check is the first that stands and agrees, with no disagreement after it.
func (r Record) check() (Check, bool) {
	var first Check
	found := false
	for _, c := range r.Checks {
		switch {
		case !c.stands():
		case !c.Agrees():
			found = false
		case !found:
			first, found = c, true
		}
	}
	return first, found
}

// Temperature is the one that the figures hold for.
func (r Record) Temperature() float64 { return r.Reply.TemperatureC.Value }

// Station is the ident; empty where only an elevation was typed.
func (m Result) Station() string { return m.Reply.Station.Ident }

// horizon is from when weather is newer than the record's.
func (m Result) horizon() horizon {
	if m.Measured.IsZero() {
		return horizon{m.At, true}
	}
	return horizon{m.Measured, false}
}

// instant is a time as it is kept.
func instant(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Microsecond)
}
