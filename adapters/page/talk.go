package page

import (
	"cmp"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/reply"
)

// entry is one answer in a conversation, or a post, or what stands below one.
type entry struct {
	id, place string
	under     string // the post that it stands below
	rev       int64  // of the place, when it changed last
	at        time.Time
	unkept    bool // the store has not taken it, nor the record that it may have
	kept
	c chat.Message // its pictures and files without their bytes
}

// kept is what the store has of a card besides its place. It is JSON there: a
// field may be added, and none may change what it means.
type kept struct {
	Asked   string   `json:"asked,omitempty"` // what it answers, on one line
	By      string   `json:"by,omitempty"`
	Message chat.Ref `json:"message,omitempty"` // the question; empty: a button
	Event   string   `json:"event,omitempty"`   // that it came of last
	Edited  bool     `json:"edited,omitempty"`

	Key     string `json:"key,omitempty"` // of a post: the outbox's
	Channel string `json:"channel,omitempty"`
	Late    string `json:"late,omitempty"`

	Reply    reply.Reply `json:"reply"`
	Note     string      `json:"note,omitempty"`
	Closed   bool        `json:"closed,omitempty"`
	Pictures []keptFile  `json:"pictures,omitempty"` // the first files of the entry
	Files    []keptFile  `json:"files,omitempty"`    // those behind them
}

type keptFile struct {
	Name string `json:"name"`
	Type string `json:"type,omitempty"`
	Alt  string `json:"alt,omitempty"`
}

// A reference says where a card stands. An id is a few random bytes, the
// beginning of an event's, or for a post the sum of its key.
var (
	cardRef    = regexp.MustCompile(`^c/([0-9a-f]{16})/([0-9a-f]{12})$`)
	postRef    = regexp.MustCompile(`^p/([0-9a-f]{24})$`)
	messageRef = regexp.MustCompile(`^m/([0-9a-f]{16})/[0-9a-f]{24}$`)
	eventID    = regexp.MustCompile(`^[0-9a-f]{24}$`)
)

func newID() string {
	var b [6]byte
	rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// fix says that a card has a line to type instead.
func (c *entry) fix() bool { return c.c.Reply.Problem != nil && c.c.Reply.Problem.Try != "" }

func (c *entry) ref() chat.Ref {
	switch {
	case c.under != "" && c.Key == "":
		return ""
	case c.place == pagestate.Posts:
		return chat.Ref("p/" + c.id)
	}
	return chat.Ref("c/" + c.place + "/" + c.id)
}

// whereIs is the place where a reference stands, and its id there.
func whereIs(ref chat.Ref) (place, id string, ok bool) {
	if m := cardRef.FindStringSubmatch(string(ref)); m != nil {
		return m[1], m[2], true
	}
	if m := postRef.FindStringSubmatch(string(ref)); m != nil {
		return pagestate.Posts, m[1], true
	}
	return "", "", false
}

// postID is a post's for ever: the outbox asks for it by key.
func postID(channel, key string) string {
	sum := sha256.Sum256([]byte(channel + "\x00" + key))
	return hex.EncodeToString(sum[:12])
}

// cleanMessage is a card whose texts are clean.
func cleanMessage(c chat.Message) chat.Message {
	c.Reply, c.Note = cleanReply(c.Reply), clean(c.Note)
	pictures := make([]chat.Picture, len(c.Pictures))
	for i, p := range c.Pictures {
		pictures[i] = chat.Picture{Name: clean(p.Name), Alt: clean(p.Alt), PNG: p.PNG}
	}
	c.Pictures = pictures
	files := make([]chat.File, len(c.Files))
	for i, f := range c.Files {
		files[i] = chat.File{Name: clean(f.Name), Type: clean(f.Type), Alt: clean(f.Alt), Data: f.Data}
	}
	c.Files = files
	return c
}

func cleanCold(c reply.Cold) reply.Cold {
	c.Ident, c.Source, c.Note = clean(c.Ident), clean(c.Source), clean(c.Note)
	return c
}

// show has a card show something else; it gives the bytes that go with it.
func (c *entry) show(is chat.Message) (files [][]byte) {
	is = cleanMessage(is)
	c.c = is
	c.Reply, c.Note, c.Closed = is.Reply, is.Note, is.Closed
	c.Pictures, c.Files, files = nil, nil, [][]byte{}
	for _, p := range is.Pictures {
		c.Pictures = append(c.Pictures, keptFile{Name: p.Name, Alt: p.Alt})
		files = append(files, p.PNG)
	}
	for _, f := range is.Files {
		c.Files = append(c.Files, keptFile{f.Name, f.Type, f.Alt})
		files = append(files, f.Data)
	}
	return files
}

// unkeptNote is above a card that the store has not taken.
const unkeptNote = "NOT KEPT. firn could not write this down; it stands here until firn starts again. Write the figures down, and tell whoever runs firn."

// entryOf is a card as it is kept.
func entryOf(e pagestate.Entry) (*entry, error) {
	c := &entry{id: e.ID, place: e.Place, under: e.Under, rev: e.Rev, at: e.Made, unkept: e.Unkept}
	if err := json.Unmarshal([]byte(cmp.Or(e.Body, "{}")), &c.kept); err != nil {
		return nil, err
	}
	c.c = chat.Message{Reply: c.Reply, Note: c.Note, Closed: c.Closed}
	if e.Unkept {
		c.c.Note = strings.TrimSpace(unkeptNote + " " + c.Note)
	}
	for _, p := range c.Pictures {
		c.c.Pictures = append(c.c.Pictures, chat.Picture{Name: p.Name, Alt: p.Alt})
	}
	for _, f := range c.Files {
		c.c.Files = append(c.c.Files, chat.File{Name: f.Name, Type: f.Type, Alt: f.Alt})
	}
	return c, nil
}

// edit puts a card into a place, or changes the one that stands there. change
// gives the bytes that go with it, nil for those that it has, and says whether
// it is to be kept.
func (p *Page) edit(ctx context.Context, place, id string, change func(c *entry, found bool) (files [][]byte, keep bool)) error {
	now, changed := p.o.Now(), false
	var bad error
	err := p.o.Room.Edit(ctx, place, id, now, func(e pagestate.Entry, found bool) (pagestate.Entry, bool) {
		c, err := entryOf(e)
		if err != nil {
			bad = err
			return e, false
		}
		if !found {
			c.at = now
		}
		files, keep := change(c, found)
		if !keep {
			return e, false
		}
		body, err := json.Marshal(c.kept)
		if err != nil {
			bad = err
			return e, false
		}
		changed = true
		e.Under, e.Made, e.Body, e.Files = c.under, c.at, string(body), files
		return e, true
	})
	if changed && err == nil {
		p.hub.changed(place)
	}
	return cmp.Or(err, bad)
}

// cards are those of a place that changed after a revision, and the place's.
// One that cannot be read, as an older firn may find it, is left out. Where the store
// cannot be read, those that it did not take come with the error.
func (p *Page) cards(ctx context.Context, place string, after int64) (all []*entry, rev int64, err error) {
	entries, rev, err := p.o.Room.Since(ctx, place, after)
	for _, e := range entries {
		c, err := entryOf(e)
		if err != nil {
			p.log.WarnContext(ctx, "card not read", "place", place, "card", e.ID, "err", err)
			continue
		}
		all = append(all, c)
	}
	return all, rev, err
}

// card is one by its id; nil when there is none.
func (p *Page) card(ctx context.Context, place, id string) (*entry, error) {
	e, found, err := p.o.Room.Entry(ctx, place, id)
	if err != nil || !found {
		return nil, err
	}
	return entryOf(e)
}

// thread is a post with what stands below it.
type thread struct {
	*entry
	below []*entry
	rev   int64 // the latest of all
	over  int64 // the revision at which a later word overtook it; 0: none did
}

// posts are what stands there for everybody, the oldest first. They are read
// again only when they have changed, since every open page shows them.
func (p *Page) posts(ctx context.Context) ([]thread, int64, error) {
	p.postsRead.Lock()
	defer p.postsRead.Unlock()
	had := p.postsRead.rev
	newer, rev, err := p.cards(ctx, pagestate.Posts, had)
	if err != nil {
		return nil, 0, err
	}
	if len(newer) > 0 || rev != had {
		if had > 0 {
			if newer, rev, err = p.cards(ctx, pagestate.Posts, 0); err != nil {
				return nil, 0, err
			}
		}
		p.postsRead.rev, p.postsRead.all = rev, threads(newer)
	}
	return p.postsRead.all, p.postsRead.rev, nil
}

// threads puts what stands below a post there, and finds the posts that a
// later word on the same has overtaken, so that nobody answers them.
func threads(all []*entry) (out []thread) {
	at, there := map[string]int{}, map[string]bool{}
	for _, c := range all {
		there[c.id] = true
	}
	for _, c := range all {
		if c.under == "" || !there[c.under] { // what it would stand under may have gone, or never came
			at[c.id] = len(out)
			out = append(out, thread{entry: c, rev: c.rev})
		}
	}
	for _, c := range all {
		if i, has := at[c.under]; has {
			out[i].below = append(out[i].below, c)
			out[i].rev = max(out[i].rev, c.rev)
		}
	}
	type word struct{ channel, line string }
	type said struct{ seq, i int }
	words := map[word][]said{}
	for i := range out {
		line, seq := (outbox.Item{Key: out[i].Key}).OrderingKey()
		if line = about(line, &out[i].Reply); line != "" {
			w := word{out[i].Channel, line}
			words[w] = append(words[w], said{seq, i})
		}
	}
	for _, all := range words {
		slices.SortFunc(all, func(a, b said) int { return cmp.Compare(a.seq, b.seq) })
		for n, s := range all[:len(all)-1] {
			out[s.i].over = out[all[n+1].i].entry.rev
		}
	}
	return out
}

// about is what a post is the latest word on until the next one: a base's day,
// what nobody has seen. A morning is changed, and no later word overtakes it.
func about(line string, r *reply.Reply) string {
	switch d := r.Digest; {
	case strings.HasPrefix(line, "alert/"):
		return line
	case d != nil && d.Word == reply.DigestReminder:
		return line + " reminder"
	case d != nil && d.Word == reply.DigestBase && r.Alert != nil:
		return line + " " + r.Alert.Ident
	}
	return ""
}

// answered is the card that an event left in a conversation; empty: none.
func (p *Page) answered(ctx context.Context, key, event string) (string, error) {
	all, _, err := p.cards(ctx, key, 0)
	if err != nil {
		return "", err
	}
	if i := slices.IndexFunc(all, func(c *entry) bool { return c.Event == event }); i >= 0 {
		return all[i].id, nil
	}
	return "", nil
}

// newest is the last card of a conversation.
func (p *Page) newest(ctx context.Context, key string) (string, error) {
	all, _, err := p.cards(ctx, key, 0)
	if err != nil || len(all) == 0 {
		return "", err
	}
	return all[len(all)-1].id, nil
}
