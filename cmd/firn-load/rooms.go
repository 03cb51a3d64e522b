package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// rooms are browsers with open pages. Each has the page where one asks and one
// other, both kept up to date by a stream; it asks from time to time and sees
// when its answer has come to its open page.
type rooms struct {
	base  string
	every time.Duration // between two questions of a browser

	mu      sync.Mutex
	took    []time.Duration
	missed  int          // answers that did not come to the page
	bytes   atomic.Int64 // of all streams
	browser http.Transport
}

// others are the pages that are open besides the one where one asks.
var others = []string{"/board", "/watch", "/log"}

var hidden = regexp.MustCompile(`name="(mark|deed)" value="([^"]*)"`)

// open opens n browsers; what they do ends with the context.
func (r *rooms) open(ctx context.Context, n int, idents []string) (wait func(), err error) {
	r.browser = http.Transport{MaxIdleConnsPerHost: 4 * n}
	var running sync.WaitGroup
	for i := range n {
		b := &browser{rooms: r, n: i, shown: make(chan string, 64)}
		if err := b.enter(ctx); err != nil {
			return running.Wait, err
		}
		for _, page := range []string{"/", others[i%len(others)]} {
			running.Go(func() { b.stream(ctx, page) })
		}
		running.Go(func() { b.ask(ctx, idents) })
	}
	return running.Wait, nil
}

// measure forgets the times until now.
func (r *rooms) measure() {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.took, r.missed = nil, 0
}

func (r *rooms) result() (took []time.Duration, missed int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.took, r.missed
}

// browser is one of them.
type browser struct {
	*rooms
	n          int
	cookie     string
	mark, deed string
	shown      chan string // lines that have come to the open page
}

func (b *browser) do(ctx context.Context, method, path string, form url.Values) (*http.Response, error) {
	req, err := http.NewRequestWithContext(ctx, method, b.base+path, strings.NewReader(form.Encode()))
	if err != nil {
		return nil, err
	}
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	if b.cookie != "" {
		req.Header.Set("Cookie", b.cookie)
	}
	return b.rooms.browser.RoundTrip(req) // follows no redirect
}

// enter loads the page where one asks.
func (b *browser) enter(ctx context.Context) error {
	for try := 0; ; try++ {
		resp, err := b.do(ctx, http.MethodGet, "/", nil)
		if err != nil {
			return err
		}
		body, err := io.ReadAll(resp.Body)
		resp.Body.Close()
		if err != nil {
			return err
		}
		if resp.StatusCode == http.StatusTooManyRequests && try < 200 {
			// All browsers here have one address, which may only bring in so
			// many at once.
			time.Sleep(50 * time.Millisecond)
			continue
		}
		for _, c := range resp.Cookies() {
			b.cookie = c.Name + "=" + c.Value
		}
		for _, m := range hidden.FindAllStringSubmatch(string(body), -1) {
			switch {
			case m[1] == "csrf" && b.mark == "":
				b.mark = m[2]
			case m[1] == "deed" && b.deed == "":
				b.deed = m[2]
			}
		}
		if b.cookie == "" || b.mark == "" {
			return fmt.Errorf("the page cannot be used: %s", resp.Status)
		}
		return nil
	}
}

// asks finds the line that a card answers.
var asks = regexp.MustCompile(`X[0-9A-Z]{3} -38 1[0-9]{4} 7400`)

// stream reads a page's updates.
func (b *browser) stream(ctx context.Context, page string) {
	for ctx.Err() == nil {
		resp, err := b.do(ctx, http.MethodGet, "/live?on="+url.QueryEscape(page), nil)
		if err != nil {
			return
		}
		in := bufio.NewReaderSize(resp.Body, 1<<16)
		for {
			line, err := in.ReadString('\n')
			if err != nil {
				break
			}
			b.bytes.Add(int64(len(line)))
			if !strings.HasPrefix(line, "data: ") {
				continue
			}
			if page == "/" {
				for _, said := range asks.FindAllString(line, -1) {
					select {
					case b.shown <- said:
					default:
					}
				}
			}
		}
		resp.Body.Close()
		select {
		case <-ctx.Done():
		case <-time.After(time.Second):
		}
	}
}

// patience is how long an answer may take to come to the page.
const patience = 20 * time.Second

// ask asks now and then, each time for another altitude.
func (b *browser) ask(ctx context.Context, idents []string) {
	pause := b.every * time.Duration(b.n%10+1) / 10 // not all at once
	for n := 0; ; n++ {
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
		pause = b.every
		line := fmt.Sprintf("%s -38 %d 7400", idents[(b.n+n)%len(idents)], 8200+n%90*10)
		began := time.Now()
		resp, err := b.do(ctx, http.MethodPost, "/ask", url.Values{"csrf": {b.mark}, "deed": {fmt.Sprint(b.deed, n)}, "text": {line}})
		if err == nil {
			_, err = io.Copy(io.Discard, resp.Body)
			resp.Body.Close()
			if err == nil && resp.StatusCode != http.StatusSeeOther {
				err = errors.New(resp.Status)
			}
		}
		took, ok := b.await(ctx, line, began)
		if ctx.Err() != nil {
			return
		}
		b.mu.Lock()
		if ok && err == nil {
			b.took = append(b.took, took)
		} else {
			b.missed++
		}
		b.mu.Unlock()
	}
}

func (b *browser) await(ctx context.Context, line string, began time.Time) (time.Duration, bool) {
	limit := time.NewTimer(patience)
	defer limit.Stop()
	for {
		select {
		case said := <-b.shown:
			if said == line {
				return time.Since(began), true
			}
		case <-limit.C:
			return 0, false
		case <-ctx.Done():
			return 0, false
		}
	}
}
