package page

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/bot/pagestate"
)

// The pace of a stream: a beat says that it lives, keeps proxies from cutting
// it, and lets whoever was revoked go; a browser that takes nothing is given
// up. A page that has missed as many beats says that it is not live.
const (
	heartbeat   = 6 * time.Second
	beatsMissed = 3
	writeWithin = 10 * time.Second
	comeAgain   = 3 * time.Second
)

// streams counts the open ones.
type streams struct {
	mu    sync.Mutex
	all   int
	byKey map[string]int
}

func (s *streams) open(key string, l Limits) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.all >= l.AllStreams || s.byKey[key] >= l.Streams {
		return false
	}
	s.all++
	s.byKey[key]++
	return true
}

func (s *streams) close(key string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all--
	if s.byKey[key]--; s.byKey[key] == 0 {
		delete(s.byKey, key)
	}
}

// part is a piece of a page as it is now.
type part struct {
	ID   string `json:"id"`             // of its element
	Into string `json:"into,omitempty"` // the list that it begins, when it is new
	HTML string `json:"html"`

	known string // its sum, where it is known already
}

// sum tells it from another; what a page has may be large, and there are many.
func (n *part) sum() string {
	if n.known == "" {
		n.known = sumOf(n.HTML)
	}
	return n.known
}

// update is one event of a stream.
type update struct {
	Say   string `json:"say,omitempty"` // for whoever cannot see it change
	Parts []part `json:"parts"`

	told  int    // sentences
	first string // the first of them
}

// mostSaid is how many sentences an update says at once; ours: who listens hears
// them all, one after another.
const mostSaid = 4

// say adds a sentence: what changes at once is told each by itself.
func (u *update) say(text string) {
	switch u.told++; {
	case u.told > mostSaid:
		u.Say = u.first + fmt.Sprintf(" And %d more.", u.told-mostSaid)
		return
	case u.told > 1 && !strings.HasSuffix(u.Say, "."):
		u.Say += "."
	}
	if u.told == mostSaid && !strings.HasSuffix(text, ".") {
		text += "."
	}
	u.Say = strings.TrimSpace(u.Say + " " + text)
	u.first = u.Say
}

// live streams what changes on a page. The stream's ids are cursors of what the
// page has, so that a browser that comes again, to whichever process, gets what
// it lacks.
func (p *Page) live(r *request) {
	key := r.who.key
	if r.who.fresh {
		key = "address/" + p.address(r.Request)
	}
	if !p.streams.open(key, p.o.Limits) {
		r.w.Header().Set("Retry-After", "30")
		http.Error(r.w, "too many open pages", http.StatusServiceUnavailable)
		return
	}
	defer p.streams.close(key)
	over := p.over()
	s := p.newLiveStream(r)
	count, wake := p.hub.now()
	if p.hub.since(topicAccess, r.has.count) && !r.stays() {
		return // it ended while the page was let in
	}
	if !s.send(fmt.Sprintf("retry: %d\n: firn\n\n", comeAgain.Milliseconds())) {
		return
	}
	var told time.Time // when what follows the records was last brought up to date
	beat := time.NewTicker(p.beat)
	defer beat.Stop()
	for beats := 1; ; {
		if (count > s.has.count || s.behind || s.owes()) && !s.catchUp(count) {
			return
		}
		select {
		case <-s.later:
		case <-wake:
			if followsRecords(s.on) {
				if !p.rest(r, over, told) {
					return
				}
				told = time.Now()
			}
			was := count
			if count, wake = p.hub.now(); p.hub.since(topicAccess, was) && !r.stays() {
				return // before anything that it may not have any more
			}
		case <-beat.C:
			if beats++; beats%beatsMissed == 0 && !r.stays() || !s.send("event: beat\ndata:\n\n") {
				return
			}
		case <-over:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// stays says that whoever opened a page may see what it gets, as when it was opened.
func (r *request) stays() bool {
	if r.p.o.Access == nil {
		return true
	}
	who, ok, err := r.p.visitor(r.w, r.Request)
	return err != nil || ok && who.scope == r.who.scope
}

// liveStream is an open page and what it has.
type liveStream struct {
	r      *request
	out    *http.ResponseController
	on     string // the page's address
	has    cursor
	behind bool              // it may lack more than the cursor says
	shown  map[string]string // sums of what the page has: parts are made anew each minute

	// What waits for the person is brought up to date as the records are, but the
	// answers of the same page wait for nothing.
	front bool // it is the front page, which says it
	stale bool
	due   time.Time        // of the next time
	later <-chan time.Time // when it is; nil: nothing is owed
}

// owes says that it is time to tell what waits for the person.
func (s *liveStream) owes() bool { return s.stale && !time.Now().Before(s.due) }

// newLiveStream begins a stream where the browser's cursor left off.
func (p *Page) newLiveStream(r *request) *liveStream {
	s := &liveStream{r: r, out: http.NewResponseController(r.w), on: r.FormValue("on"), shown: map[string]string{}}
	s.has = cursorOf(cmp.Or(r.Header.Get("Last-Event-ID"), r.FormValue("at")))
	where, _, _ := strings.Cut(s.on, "?")
	s.front = where == "/"
	s.behind = s.has.epoch != p.hub.epoch
	if s.behind {
		s.has.epoch, s.has.count = p.hub.epoch, 0 // of another process
	}
	// The listener's limit on reading a request would end the stream.
	if err := s.out.SetReadDeadline(time.Time{}); err != nil {
		p.log.DebugContext(r.Context(), "stream not opened", "err", err)
	}
	r.w.Header().Set("Content-Type", "text/event-stream")
	r.w.Header().Set("X-Accel-Buffering", "no") // a proxy must not collect it
	return s
}

// send writes to the browser; false when it takes nothing.
func (s *liveStream) send(text string) bool {
	if err := s.out.SetWriteDeadline(time.Now().Add(s.r.p.within)); err != nil {
		return false
	}
	if _, err := s.r.w.Write([]byte(text)); err != nil {
		return false
	}
	if s.out.Flush() != nil {
		return false
	}
	// Until the next write there is no limit: over HTTP/2 it would end the stream.
	return s.out.SetWriteDeadline(time.Time{}) == nil
}

// catchUp sends what the page lacks at a count of the hub; false when the
// stream is over.
func (s *liveStream) catchUp(count uint64) bool {
	s.r.has = s.has
	s.r.has.count = count
	s.stale = s.front && (s.stale || s.behind || s.r.p.hub.since(topicRecords, s.has.count))
	u, err := s.r.changes(s.on, s.has, s.behind)
	if s.r.Context().Err() != nil {
		return false // the browser has gone
	}
	if s.behind = err != nil; s.behind {
		// The page says no more than it knows, and is told the rest later.
		s.r.p.log.WarnContext(s.r.Context(), "open page not brought up to date", "err", err)
		return true
	}
	s.has = s.r.has
	s.mine(&u)
	u.Parts = slices.DeleteFunc(u.Parts, func(n part) bool {
		was, had := s.shown[n.ID]
		s.shown[n.ID] = n.sum()
		return had && was == s.shown[n.ID]
	})
	if len(u.Parts) == 0 {
		return true
	}
	u.Say = together.Replace(u.Say)
	data, err := json.Marshal(u)
	return err == nil && s.send("id: "+s.has.String()+"\ndata: "+string(data)+"\n\n")
}

// mine adds what waits for the person, or has it told at the next moment at which
// all pages are.
func (s *liveStream) mine(u *update) {
	if s.later = nil; s.owes() {
		v, err := s.r.waiting(false)
		s.due = time.Now().Truncate(recordsEvery).Add(recordsEvery)
		if s.stale = err != nil; !s.stale {
			u.Parts = append(u.Parts, part{ID: "mine", HTML: s.r.p.part("mine", v)})
		}
	}
	if s.stale {
		s.later = time.After(time.Until(s.due))
	}
}

// recordsEvery is how often a page that shows records is made anew at most:
// under load there are many new ones a second, and nobody reads so fast. All
// such pages are made at the same moments, so that one making serves them all.
const recordsEvery = time.Second

func followsRecords(on string) bool {
	return strings.HasPrefix(on, "/log") || strings.HasPrefix(on, "/record/")
}

// rest waits until a page may be made anew; false when the stream is over.
func (p *Page) rest(r *request, over <-chan struct{}, told time.Time) bool {
	now := time.Now()
	if now.Sub(told) >= recordsEvery {
		return true
	}
	next := time.NewTimer(now.Truncate(recordsEvery).Add(recordsEvery).Sub(now))
	defer next.Stop()
	select {
	case <-next.C:
		return true
	case <-over:
		return false
	case <-r.Context().Done():
		return false
	}
}

// deeds are what tells two renderings of the same apart; so does, for who has one
// of them, how old something is by now.
var (
	deeds = regexp.MustCompile(`name="deed" value="[^"]*"`)
	ages  = regexp.MustCompile(`<span class="old" data-age="[^"]*">[^<]*</span>`)
)

func bare(html string) string { return deeds.ReplaceAllString(html, "") }

// sumOf tells two parts apart, in a cursor.
func sumOf(html string) string {
	sum := sha256.Sum256([]byte(ages.ReplaceAllString(bare(html), "")))
	return hex.EncodeToString(sum[:8])
}

// changes are the parts of a page that changed since it had what a cursor says,
// or where it is behind may have; r.has says what it has with them.
func (r *request) changes(on string, had cursor, behind bool) (u update, err error) {
	p := r.p
	since := func(topic string) bool { return behind || p.hub.since(topic, had.count) }
	where, query, _ := strings.Cut(on, "?")
	if where == "/" && since(r.who.key) {
		cards, err := r.cards(had.talk)
		if err != nil {
			return u, err
		}
		for _, v := range cards {
			u.Parts = append(u.Parts, part{ID: "c-" + v.ID, Into: "talk", HTML: p.part("card", v)})
			u.say(v.Say())
		}
	}
	if where == "/" && since(pagestate.Posts) {
		latest, err := r.latest()
		if err != nil {
			return u, err
		}
		if r.has.posts > had.posts {
			u.Parts = append(u.Parts, part{ID: "latest", HTML: p.part("latest", latest)})
		}
	}
	morning := false // a post says how the bases stand
	if where == "/watch" {
		all, _, err := p.posts(r.Context())
		if err != nil {
			return u, err
		}
		if morning = p.morning(all); morning && since(pagestate.Posts) {
			u.Parts = append(u.Parts, part{ID: "stands", HTML: p.part("stands", nil)})
		}
	}
	if (where == "/" || where == "/board" || where == "/watch" && !morning) && since(topicBoard) {
		html, sum, news := p.boardHTML(where != "/" && query != "wall" && r.mayDuty(), had.count)
		u.Parts = append(u.Parts, part{ID: "board", HTML: html, known: sum})
		if where == "/board" {
			u.Say = news
		}
	}
	if where == "/" && since(topicBoard) {
		u.Parts = append(u.Parts, part{ID: "glance", HTML: p.part("glance", p.tallyNow())})
	}
	if ident, ok := strings.CutPrefix(where, "/base/"); ok && since(topicBoard) {
		if v, ok := r.base(ident); ok {
			u.Parts = append(u.Parts, part{ID: "base", HTML: p.part("basestate", v)})
		}
	}
	if where == "/watch" && (since(pagestate.Posts) || since(topicBoard)) {
		if err := r.postChanges(&u, had); err != nil {
			return u, err
		}
	}
	if where == "/log" && since(topicRecords) {
		values, err := url.ParseQuery(query)
		if err != nil {
			return u, nil // nobody's page is at such an address
		}
		html, err := r.logHTML(values)
		if err != nil {
			return u, err
		}
		r.lacks(&u, "records", html, "")
	}
	if id, ok := strings.CutPrefix(where, "/record/"); ok && since(topicRecords) {
		v, found, err := r.recordView(id)
		if err != nil {
			return u, err
		}
		if found {
			r.lacks(&u, "record", p.part("recordcard", v), v.Card.Say())
		}
	}
	return u, nil
}

// postChanges adds the watch's posts that changed since a cursor.
func (r *request) postChanges(u *update, had cursor) error {
	posts, err := r.postViews(had.posts, had.count)
	if err != nil {
		return err
	}
	for _, v := range posts {
		u.Parts = append(u.Parts, part{ID: "p-" + v.ID, Into: "posts", HTML: r.p.part("post", v)})
		if v.New {
			u.say("The watch: " + v.Card.Title)
		}
	}
	return nil
}

// lacks adds a part where the page has another.
func (r *request) lacks(u *update, id, html, say string) {
	if sum := sumOf(html); sum != r.has.sum {
		r.has.sum = sum
		u.Parts, u.Say = append(u.Parts, part{ID: id, HTML: html}), cmp.Or(say, u.Say)
	}
}
