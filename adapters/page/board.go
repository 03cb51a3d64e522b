package page

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"firn/bot/drawing"
	"firn/bot/reply"
)

// baseView is one base of the board.
type baseView struct {
	Ident, Name    string
	State, Word    string
	Now, NowAge    string
	NowShort       string // its age, in a row
	NowCold        bool   // at or below the line
	NowSource      string
	Low, LowAt     string
	LowTime        string // in a word: 20:04, past
	LowBeyond      string // what is to be said of that
	Restriction    string // with its unit, or that there is none
	Line           string // without
	Hours          string
	HoursShort     string
	Local          bool // its hours are of its own time
	Source, Note   string
	SeenBy, SeenAt string
	Quiet          string
	CanSee         bool // somebody is to see it, and nobody has
	CanQuiet       bool
	CSRF, Deed     string
	Back           string
	Spark          template.HTML // its day, small
}

// groupView are the bases of one state.
type groupView struct {
	State, Word string
	Count       int
	Observed    string // how many of them as observed alone
	Unseen      int
	Bases       []baseView // in full
	Idents      []string   // by name alone
	Folded      []baseView // of those the first ones, in full, a tap away
	Dense       bool       // many: in two columns where there is room
	Unnamed     int        // not even by name
}

// boardView is the board.
type boardView struct {
	At, Age string
	Old     bool  // nobody has looked for a while
	AgeSecs int64 // of the look
	Late    int64 // seconds, from which on it is old
	Clock   string
	Tally   []tally
	Groups  []groupView
	Acts    bool // with its buttons, for whoever may press them
	Local   bool // some hours are the bases' own, and are without a Z
}

// The most bases that a board shows: in full, and by ident. A network has
// thousands, each with a page of its own. The figures are ours: a page stays
// under 200 KiB.
const (
	mostShown = 60
	mostNamed = 1200
	mostRows  = 16 // in one column
)

// tally is how many bases are in a state.
type tally struct{ State, Text string }

// A board is said to be old when two looks were missed; half a one is left for
// looking.
const looksMissed = 2.5

func (p *Page) name(ident string) string {
	return p.names[ident]
}

// both is an instant in a base's time and in UTC.
func both(t time.Time, zone *time.Location) string {
	if zone == time.UTC {
		return t.UTC().Format("Mon 15:04Z")
	}
	return t.In(zone).Format("Mon 15:04") + " local (" + t.UTC().Format("15:04Z") + ")"
}

// short is an instant within a day or so, in a base's time.
func short(t time.Time, zone *time.Location) string {
	if zone == time.UTC {
		return t.UTC().Format("15:04Z")
	}
	return t.In(zone).Format("15:04")
}

func (p *Page) baseView(b *base, now time.Time) baseView {
	zone := p.o.Zone(b.Ident)
	v := baseView{Ident: b.Ident, Name: p.name(b.Ident), State: b.state(now), Local: zone != time.UTC, Note: b.Note}
	v.Word = stateWord(v.State)
	if o := b.observed; !o.At.IsZero() {
		v.Now, v.NowAge, v.NowSource = reply.Degrees(o.C), reply.Age(now.Sub(o.At)), o.Source
		v.NowShort = strings.TrimSuffix(v.NowAge, " old")
		v.NowCold = b.RestrictionC.OK && float64(o.C) <= b.RestrictionC.Value
	}
	if b.LowC.OK {
		v.Low, v.LowAt, v.LowTime = reply.Degrees(b.LowC.Value), both(b.LowAt, zone)+b.LowBeyond(), short(b.LowAt, zone)
		if v.LowBeyond = b.LowBeyond(); b.past(now) {
			v.LowTime, v.LowBeyond = "past", ""
		}
	}
	v.Restriction, v.Line = "none published", "none"
	if b.RestrictionC.OK {
		v.Line = reply.Degrees(b.RestrictionC.Value)
		v.Restriction = v.Line + " °C"
	}
	switch {
	case !b.BelowFrom.IsZero():
		v.Hours = b.Hours(" to ", "", func(t time.Time) string { return both(t, zone) })
		v.HoursShort = strings.Replace(b.Cold.Hours("–", "", func(t time.Time) string { return short(t, zone) }), "about ", "~", 1)
	case b.State == "below":
		v.Hours = "not known: the forecast has only extremes"
		v.HoursShort = "hours not known"
	case b.State == "part-forecast":
		v.Hours = "none as far as the forecast goes, " + both(b.CoveredFrom, zone) + " to " + both(b.CoveredTo, zone) + "; not known beyond"
		v.HoursShort = "known to " + short(b.CoveredTo, zone)
	}
	switch {
	case b.Source == "":
		v.Source = "none"
	case b.Issued.IsZero():
		v.Source = b.Source + "; when it was issued is not known"
	default:
		v.Source = fmt.Sprintf("%s, issued %s, %s", b.Source, b.Issued.UTC().Format("2 Jan 15:04Z"), reply.Age(now.Sub(b.Issued)))
	}
	if s := b.seen; !s.At.IsZero() {
		v.SeenBy, v.SeenAt = clean(s.By), short(s.At, zone)
	}
	for _, q := range []time.Time{b.SnoozedUntil, b.seen.Quiet} {
		if q.After(now) {
			v.Quiet = short(q, zone)
		}
	}
	v.CanSee = b.seen.Open && b.seen.At.IsZero()
	v.CanQuiet = b.waits() && v.Quiet == ""
	return v
}

// boardNow is the board as it is: what has to be done first, those that nobody
// has seen before the others.
func (p *Page) boardNow(acts bool) boardView {
	v, groups, now := p.tally()
	v.Acts = acts
	full, named := mostShown, mostNamed
	for _, g := range groups {
		of := groupView{State: g.state, Word: stateWord(g.state), Count: len(g.bases), Observed: g.observed}
		n := min(len(g.bases), full)
		rows := make([]baseView, n)
		for i := range rows {
			rows[i] = p.baseView(&g.bases[i], now)
			v.Local = v.Local || rows[i].Local
			rows[i].CanSee, rows[i].CanQuiet = g.bases[i].waits() && acts, rows[i].CanQuiet && acts // the others' stand on their own pages
		}
		if g.state == "clear" { // nothing is to be done
			of.Folded, rows, n = rows, nil, 0
		}
		full -= n
		of.Bases = rows
		for i, small := range p.sparksOf(g.bases[:n]) {
			rows[i].Spark = small
		}
		for i := range g.bases {
			if g.bases[i].waits() {
				of.Unseen++
			}
		}
		rest := g.bases[n:]
		for i := range rest[:min(len(rest), named)] {
			of.Idents = append(of.Idents, rest[i].Ident)
		}
		of.Unnamed = len(rest) - len(of.Idents)
		named -= len(of.Idents)
		v.Groups = append(v.Groups, of)
	}
	for i := range v.Groups {
		v.Groups[i].Dense = mostShown-full > mostRows
	}
	return v
}

// group are the bases of a state, in the order of the board.
type group struct {
	state    string
	observed string // how many of them are in it as observed alone
	bases    []base
}

// tallyNow is the board without its bases.
func (p *Page) tallyNow() boardView {
	v, _, _ := p.tally()
	return v
}

// tally counts the bases, and gives them in the order of the board.
func (p *Page) tally() (v boardView, all []group, now time.Time) {
	p.mu.Lock()
	board, at := p.board, p.at
	p.mu.Unlock()
	now = p.o.Now()
	late := time.Duration(looksMissed * float64(p.looks))
	v.Late = int64(late.Seconds())
	if at.IsZero() {
		return v, nil, now
	}
	age := now.Sub(at)
	v.At, v.Age, v.Old, v.AgeSecs = at.UTC().Format("Mon 2 Jan 15:04Z"), ago(age), age >= late, int64(max(0, age).Seconds())
	v.Clock = at.UTC().Format("15:04Z")
	by, alone := map[string][]base{}, 0
	for i := range board {
		state := board[i].state(now)
		if !slices.Contains(stateOrder, state) {
			state = "no-forecast" // of a newer firn: nothing is known of it here
		}
		if state != board[i].State && board[i].seenCold(now) {
			alone++
		}
		by[state] = append(by[state], board[i])
	}
	for _, state := range stateOrder {
		bases := by[state]
		if len(bases) == 0 {
			continue
		}
		unseen := func(b *base) int {
			if b.waits() {
				return 0
			}
			return 1
		}
		slices.SortStableFunc(bases, func(a, b base) int {
			return cmp.Or(unseen(&a)-unseen(&b), cmp.Compare(a.over(now), b.over(now)))
		})
		text, observed := fmt.Sprintf("%d %s", len(bases), strings.ToLower(stateWords[state])), ""
		if state == "below" {
			observed = reply.ObservedAlone(alone)
		}
		v.Tally = append(v.Tally, tally{state, text + observed})
		all = append(all, group{state, strings.TrimSpace(observed), bases})
	}
	return v, all, now
}

// ago is how long ago something was, for whoever reads it at once.
func ago(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return "just now"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min ago", int(d.Minutes()))
	}
	return fmt.Sprintf("%d h ago", int(d.Hours()))
}

// svg draws a picture; nothing, and a line in the log, when it cannot be.
func (r *request) svg(d drawing.Drawing) template.HTML {
	if r.p.o.Pictures == nil {
		return ""
	}
	data, err := r.p.o.Pictures.SVG(r.Context(), d)
	if err != nil {
		r.p.log.WarnContext(r.Context(), "picture not drawn", "picture", d.Name(), "err", err)
		return ""
	}
	return template.HTML(data) // its texts are escaped by whoever drew it
}
