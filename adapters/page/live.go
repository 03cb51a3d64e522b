package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// The pace of a stream: a comment keeps proxies from cutting it, and whoever
// was revoked is let go; a browser that takes nothing is given up.
const (
	heartbeat   = 20 * time.Second
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
}

// update is one event of a stream.
type update struct {
	Say   string `json:"say,omitempty"` // for whoever cannot see it change
	Parts []part `json:"parts"`
}

// live streams what changes on a page. The stream's ids are counts, so that a
// browser that comes again gets what it lacks.
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
	mark := r.Header.Get("Last-Event-ID")
	if mark == "" {
		mark = r.FormValue("at")
	}
	at, ours := p.hub.read(mark)
	if !ours {
		at = 0 // the page is of another process: everything is new to it
	}
	over := p.over()
	out := http.NewResponseController(r.w)
	// The listener's limit on reading a request would end the stream.
	if err := out.SetReadDeadline(time.Time{}); err != nil {
		p.log.DebugContext(r.Context(), "stream not opened", "err", err)
	}
	r.w.Header().Set("Content-Type", "text/event-stream")
	r.w.Header().Set("X-Accel-Buffering", "no") // a proxy must not collect it
	send := func(text string) bool {
		if err := out.SetWriteDeadline(time.Now().Add(writeWithin)); err != nil {
			return false
		}
		if _, err := r.w.Write([]byte(text)); err != nil {
			return false
		}
		return out.Flush() == nil
	}
	count, wake := p.hub.now()
	if !send(fmt.Sprintf("retry: %d\n: firn\n\n", comeAgain.Milliseconds())) {
		return
	}
	on := r.FormValue("on")
	shown := map[string]string{} // what the page has of parts that are made anew each minute
	if records := strings.HasPrefix(on, "/log") || strings.HasPrefix(on, "/record/"); records && ours && !p.hub.since(topicRecords, at) {
		for _, part := range r.changes(on, 0).Parts {
			shown[part.ID] = bare(part.HTML)
		}
	}
	beat := time.NewTicker(p.beat)
	defer beat.Stop()
	for {
		if count > at || !ours {
			u := r.changes(on, at)
			u.Parts = slices.DeleteFunc(u.Parts, func(n part) bool {
				was, had := shown[n.ID]
				shown[n.ID] = bare(n.HTML)
				return had && was == shown[n.ID]
			})
			if len(u.Parts) > 0 {
				data, err := json.Marshal(u)
				if err != nil || !send("id: "+p.hub.mark(count)+"\ndata: "+string(data)+"\n\n") {
					return
				}
			}
			at, ours = count, true
		}
		select {
		case <-wake:
			count, wake = p.hub.now()
		case <-beat.C:
			if p.o.Access != nil {
				who, ok, err := p.visitor(r.w, r.Request)
				if err == nil && (!ok || who.scope != r.who.scope) {
					return
				}
			}
			if !send(":\n\n") {
				return
			}
		case <-over:
			return
		case <-r.Context().Done():
			return
		}
	}
}

// deeds are what tells two renderings of the same apart.
var deeds = regexp.MustCompile(`name="deed" value="[^"]*"`)

func bare(html string) string { return deeds.ReplaceAllString(html, "") }

// changes are the parts of a page that changed after a count.
func (r *request) changes(on string, at uint64) (u update) {
	p := r.p
	where, query, _ := strings.Cut(on, "?")
	if where == "/" {
		for _, v := range r.cards(at) {
			u.Parts = append(u.Parts, part{ID: "c-" + v.ID, Into: "talk", HTML: p.part("card", v)})
			u.Say = v.Say()
		}
		if p.hub.since(topicPosts, at) {
			u.Parts = append(u.Parts, part{ID: "latest", HTML: p.part("latest", p.latest())})
		}
	}
	if (where == "/" || where == "/board") && p.hub.since(topicBoard, at) {
		html, news := p.boardHTML(at)
		u.Parts = append(u.Parts, part{ID: "board", HTML: html})
		if where == "/board" {
			u.Say = news
		}
	}
	if where == "/" && p.hub.since(topicBoard, at) {
		u.Parts = append(u.Parts, part{ID: "glance", HTML: p.part("glance", p.boardNow())})
	}
	if ident, ok := strings.CutPrefix(where, "/base/"); ok && p.hub.since(topicBoard, at) {
		if v, ok := r.base(ident); ok {
			u.Parts = append(u.Parts, part{ID: "base", HTML: p.part("basestate", v)})
		}
	}
	if where == "/watch" {
		for _, v := range r.postViews(at) {
			u.Parts = append(u.Parts, part{ID: "p-" + v.ID, Into: "posts", HTML: p.part("post", v)})
			u.Say = "The watch: " + v.Card.Title
		}
	}
	if where == "/log" && p.hub.since(topicRecords, at) {
		values, err := url.ParseQuery(query)
		if v, err2 := r.logView(values); err == nil && err2 == nil {
			u.Parts = append(u.Parts, part{ID: "records", HTML: p.part("records", v)})
		}
	}
	if id, ok := strings.CutPrefix(where, "/record/"); ok && p.hub.since(topicRecords, at) {
		if v, found, err := r.recordView(id); err == nil && found {
			u.Parts = append(u.Parts, part{ID: "record", HTML: p.part("recordcard", v)})
			u.Say = v.Card.Say()
		}
	}
	return u
}
