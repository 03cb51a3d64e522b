package record

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Entry is one line of the history.
type Entry struct {
	Seq    int64   `json:"seq"`  // from 1, without a gap
	Prev   string  `json:"prev"` // SHA-256 of the entry before, in hex; zeros for the first
	Record string  `json:"record,omitempty"`
	Rev    int     `json:"rev"` // of the record, after it
	Change Change  `json:"change"`
	Made   string  `json:"made,omitempty"` // SHA-256 of the record as it was made, in hex
	Pruned *Pruned `json:"pruned,omitempty"`
}

// Pruned says that the oldest entries went: all up to one, of which it has the
// hash, so that what is left still hangs on it.
type Pruned struct {
	Through int64  `json:"through"`
	Hash    string `json:"hash"`
	Records int    `json:"records"` // that went with them
}

// Sealed is an entry as it is kept: its JSON and the SHA-256 of that.
type Sealed struct {
	Seq    int64
	Record string
	Body   []byte
	Hash   []byte
}

// Head is the last entry of a history; the zero value is that of an empty one.
type Head struct {
	Seq  int64
	Hash [sha256.Size]byte
}

// HeadOf is a head as it was kept.
func HeadOf(seq int64, hash []byte) (Head, error) {
	h := Head{Seq: seq}
	if len(hash) != len(h.Hash) {
		return h, fmt.Errorf("the history's head has a hash of %d bytes", len(hash))
	}
	copy(h.Hash[:], hash)
	return h, nil
}

// Append seals an entry behind the head.
func (h Head) Append(e Entry) (Sealed, Head, error) {
	e.Seq, e.Prev = h.Seq+1, hex.EncodeToString(h.Hash[:])
	body, err := json.Marshal(e)
	if err != nil {
		return Sealed{}, h, err
	}
	next := Head{Seq: e.Seq, Hash: sha256.Sum256(body)}
	return Sealed{Seq: e.Seq, Record: e.Record, Body: body, Hash: next.Hash[:]}, next, nil
}

// Opening is a record as it is kept, and the entry that says so.
func Opening(m Result) (body []byte, e Entry, err error) {
	if body, err = json.Marshal(m); err != nil {
		return nil, e, err
	}
	sum := sha256.Sum256(body)
	return body, Entry{Record: m.ID, Made: hex.EncodeToString(sum[:]), Change: Change{Kind: KindMade, By: m.Asked, At: m.At}}, nil
}

// Replacing is the change of the record that a new version takes the place of;
// ok is false where something stands there already.
func Replacing(old Status, m Result) (c Change, ok bool) {
	if old.Replaced != nil {
		return c, false
	}
	return Change{Kind: KindReplaced, By: m.Asked, At: m.At, Replaced: &Replacement{By: m.ID, At: m.At}}, true
}

// Pruning is the entry that says up to where a history went.
func Pruning(through Sealed, records int, at time.Time) Entry {
	return Entry{
		Change: Change{Kind: KindPruned, At: instant(at)},
		Pruned: &Pruned{Through: through.Seq, Hash: hex.EncodeToString(through.Hash), Records: records},
	}
}

// Finding is what is wrong with a history, and where.
type Finding struct {
	Seq    int64  // the entry; 0: it is about a record
	Record string // may be empty
	Text   string // one sentence
}

// Report is what Verify found.
type Report struct {
	Entries, Records int
	Head             Head
	Pruned           int64 // the entries up to here went by the retention

	// When it last took some, and of when the oldest entry is that is left: whoever
	// looks sees whether that lies retain_days apart.
	PrunedAt, Oldest time.Time

	Findings []Finding

	// Notes are what may be right and may have been put there, a sentence each.
	Notes []string
}

// String is what was gone through, and the head.
func (r Report) String() string {
	pruned := ""
	if r.Pruned > 0 {
		const day = "2 Jan 2006"
		pruned = fmt.Sprintf(" (those up to %d went by retain_days on %s, the oldest entry left is of %s)", r.Pruned, r.PrunedAt.UTC().Format(day), r.Oldest.UTC().Format(day))
	}
	return fmt.Sprintf("%s%s, %s, head %s", count(r.Entries, "entry", "entries"), pruned, count(r.Records, "record", "records"), r.Head)
}

// count is a number of things for people.
func count(n int, one, more string) string {
	if n == 1 {
		more = one
	}
	return fmt.Sprintf("%d %s", n, more)
}

// String is the head as people write it down, and as ReadHead reads it.
func (h Head) String() string { return fmt.Sprintf("%d %x", h.Seq, h.Hash) }

// ReadHead reads what String wrote.
func ReadHead(text string) (Head, error) {
	number, sum, _ := strings.Cut(strings.TrimSpace(text), " ")
	seq, err := strconv.ParseInt(number, 10, 64)
	if err != nil || seq < 0 {
		return Head{}, fmt.Errorf("%q does not begin with the number of an entry", text)
	}
	hash, err := hex.DecodeString(strings.TrimSpace(sum))
	if err != nil || len(hash) != sha256.Size {
		return Head{}, fmt.Errorf("%q has no hash of %d hexadecimal digits behind the number", text, 2*sha256.Size)
	}
	h, err := HeadOf(seq, hash)
	if err == nil && seq == 0 && h != (Head{}) {
		return Head{}, fmt.Errorf("%q has the number of an empty history and the hash of another", text)
	}
	return h, err
}

// Verify goes through a whole history and the records beside it. What it finds
// it says; the error is the store's alone. since are heads that somebody wrote
// down elsewhere: without one nobody sees that entries were cut off at the end
// together with the note of how many there are, or that all were made anew.
func Verify(ctx context.Context, h Walker, since ...Head) (Report, error) {
	v := verifier{of: map[string]*traced{}, since: since, met: make([]bool, len(since))}
	head, err := h.Walk(ctx, v.entry, v.record)
	if err != nil {
		return Report{}, err
	}
	v.end(head)
	return v.report, nil
}

// traced is what the history says of one record.
type traced struct {
	made string
	live Status
	seen bool // it is there
}

type verifier struct {
	report Report
	of     map[string]*traced
	first  *Entry  // as read
	last   *Sealed // as read
	anchor *Pruned // the latest
	since  []Head
	met    []bool // which of them stand in the history
	newest *Entry // of those that were written down and met
}

func (v *verifier) find(seq int64, record, format string, args ...any) {
	v.report.Findings = append(v.report.Findings, Finding{seq, record, fmt.Sprintf(format, args...)})
}

func (v *verifier) entry(s Sealed) error {
	v.report.Entries++
	sum := sha256.Sum256(s.Body)
	var e Entry
	err := json.Unmarshal(s.Body, &e)
	about := ""
	if s.Record != "" {
		about = fmt.Sprintf(" (%s)", s.Record)
	}
	switch {
	case !bytes.Equal(sum[:], s.Hash):
		v.find(s.Seq, s.Record, "entry %d%s was changed: its hash is another", s.Seq, about)
	case err != nil:
		v.find(s.Seq, s.Record, "entry %d%s cannot be read: %v", s.Seq, about, err)
	case e.Seq != s.Seq:
		v.find(s.Seq, s.Record, "entry %d%s stands in the place of entry %d", e.Seq, about, s.Seq)
	case e.Record != s.Record:
		v.find(s.Seq, s.Record, "entry %d was changed: it is about %s, and stands with %s", s.Seq, e.Record, s.Record)
	}
	switch {
	case v.last == nil:
		v.first, v.report.Oldest = &e, e.Change.At
	case s.Seq > v.last.Seq+2:
		v.find(v.last.Seq+1, "", "entries %d to %d are missing", v.last.Seq+1, s.Seq-1)
	case s.Seq > v.last.Seq+1:
		v.find(v.last.Seq+1, "", "entry %d is missing", v.last.Seq+1)
	case e.Prev != hex.EncodeToString(v.last.Hash) && err == nil && e.Seq == s.Seq:
		v.find(v.last.Seq, v.last.Record, "entry %d is not the one that entry %d was written behind: it was changed with its hash, or put there later", v.last.Seq, s.Seq)
	}
	v.last = &s
	if err != nil {
		return nil
	}
	v.dated(s, &e)
	if e.Pruned != nil {
		v.anchor, v.report.PrunedAt = e.Pruned, e.Change.At
	}
	if e.Record == "" {
		return nil
	}
	t := v.of[e.Record]
	if t == nil {
		t = &traced{}
		v.of[e.Record] = t
	}
	switch {
	case e.Change.Kind != KindMade:
		t.live = t.live.With(e.Change)
	case t.made == "":
		t.made = e.Made
	default: // the first stands: what it says was there when heads were written down
		v.find(s.Seq, e.Record, "entry %d has record %s made a second time: a record is made once, and never changes", s.Seq, e.Record)
	}
	return nil
}

// Entries of one moment stand in any order, and those of a store that was gone
// come late. The figure is ours: a shorter time is no news.
const late = 10 * time.Minute

// dated holds an entry's time against the heads that were written down before it.
func (v *verifier) dated(s Sealed, e *Entry) {
	if n := v.newest; n != nil && e.Change.At.Before(n.Change.At.Add(-late)) {
		const minute = "2 Jan 2006 15:04Z"
		v.report.Notes = append(v.report.Notes, fmt.Sprintf("entry %d (%s) says %s, and stands behind entry %d of %s, which was written down: it was kept late, or put there later",
			s.Seq, s.Record, e.Change.At.UTC().Format(minute), n.Seq, n.Change.At.UTC().Format(minute)))
	}
	for i, h := range v.since {
		if h.Seq == s.Seq && bytes.Equal(h.Hash[:], s.Hash) {
			v.met[i], v.newest = true, e
		}
	}
}

func (v *verifier) record(s Stored) error {
	v.report.Records++
	t := v.of[s.ID]
	if t == nil || t.made == "" {
		v.find(0, s.ID, "record %s is in no entry of the history", s.ID)
		if t != nil {
			t.seen = true
		}
		return nil
	}
	t.seen = true
	if sum := sha256.Sum256(s.Made); hex.EncodeToString(sum[:]) != t.made {
		v.find(0, s.ID, "record %s was changed after it was made", s.ID)
	}
	v.lookup(s, t.live)
	var live Status
	want, err := json.Marshal(t.live)
	if err != nil {
		return err
	}
	got := []byte(nil)
	if err := json.Unmarshal(s.Live, &live); err == nil {
		if got, err = json.Marshal(live); err != nil {
			return err
		}
	}
	if !bytes.Equal(got, want) {
		v.find(0, s.ID, "what was done to record %s is not what the history says", s.ID)
	}
	return nil
}

// lookup holds what the store finds a record by against its JSON.
func (v *verifier) lookup(s Stored, live Status) {
	var made Result
	if err := json.Unmarshal(s.Made, &made); err != nil {
		return // its sum is another, which is said
	}
	is, want := s.Found, LookupOf(made, live)
	is.Asked, is.Expires = instant(is.Asked), instant(is.Expires)
	var differ []string
	for _, f := range []struct {
		name     string
		is, want any
	}{
		{"surface", is.Surface, want.Surface}, {"message", is.Message, want.Message}, {"thread", is.Thread, want.Thread},
		{"station", is.Station, want.Station}, {"owner", is.Owner, want.Owner}, {"time of asking", is.Asked, want.Asked},
		{"end", is.Expires, want.Expires}, {"revision", is.Rev, want.Rev}, {"being over", is.Over, want.Over},
	} {
		if f.is != f.want {
			differ = append(differ, fmt.Sprintf("its %s is “%v”, where “%v” was written", f.name, f.is, f.want))
		}
	}
	if len(differ) > 0 {
		v.find(0, s.ID, "what record %s is found by was changed: %s", s.ID, strings.Join(differ, "; "))
	}
}

// written holds the history against the heads that were written down.
func (v *verifier) written(head Head) {
	for i, h := range v.since {
		switch {
		case v.met[i] || h.Seq == 0:
		case h.Seq > head.Seq:
			v.find(h.Seq, "", "entry %d was written down, and the history ends at %d: what followed was cut off", h.Seq, head.Seq)
		case v.anchor != nil && v.anchor.Through >= h.Seq:
			v.find(h.Seq, "", "entry %d went by the retention, with those up to %d: where its head was written down within retain_days somebody took it, and wrote a retention that was none; where it is older prove the history against a later one", h.Seq, v.anchor.Through)
		default:
			v.find(h.Seq, "", "entry %d is another than the one that was written down: it or one before it was changed, and all hashes behind it made anew", h.Seq)
		}
	}
}

// end looks at what only shows when everything is read.
func (v *verifier) end(head Head) {
	v.report.Head = head
	switch {
	case v.last == nil && head.Seq > 0:
		v.find(head.Seq, "", "all entries up to %d are missing", head.Seq)
	case v.last == nil && head != (Head{}):
		v.find(0, "", "the history is empty, and its head has the hash of an entry: all entries were removed")
	case v.last != nil && v.last.Seq < head.Seq:
		v.find(head.Seq, "", "the entries after %d are missing: there were %d", v.last.Seq, head.Seq)
	case v.last != nil && !bytes.Equal(v.last.Hash, head.Hash[:]):
		v.find(v.last.Seq, v.last.Record, "entry %d is not the one that the head of the history names: it was changed with its hash, or put there later, or what followed was cut off", v.last.Seq)
	}
	v.front()
	v.written(head)
	for _, id := range slices.Sorted(maps.Keys(v.of)) {
		switch t := v.of[id]; {
		case t.seen:
		case t.made == "": // the retention takes a record with all its entries
			v.find(0, id, "record %s is missing, and so is the entry that made it", id)
		default:
			v.find(0, id, "record %s is missing", id)
		}
	}
}

// front holds the oldest entry against what the retention says that it took.
func (v *verifier) front() {
	if v.first == nil {
		return
	}
	start, before := v.first.Seq, v.first.Prev
	switch {
	case start == 1 && before == hex.EncodeToString(make([]byte, sha256.Size)):
	case v.anchor != nil && v.anchor.Through == start-1 && v.anchor.Hash == before:
		v.report.Pruned = v.anchor.Through
	case start <= 1:
		v.find(start, "", "entry %d does not begin the history", start)
	case v.anchor == nil:
		v.find(start-1, "", "the entries before %d are missing, and no retention took them", start)
	default:
		v.find(start-1, "", "the entries before %d are missing; the retention took those up to %d", start, v.anchor.Through)
	}
}
