package page

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/reply"
)

// The open pages of the load run are another process's, so that the memory
// measured is firn's own.
const (
	openPages  = 500
	liveRounds = 40
	childPages = "FIRN_TEST_OPEN_PAGES" // the server's address, for the child
)

// stamp is when the server began to show a board, in the board.
var stamp = regexp.MustCompile(`sent at ([0-9]+)\.`)

// lookers is the child's whole life: it opens the pages, says so, and then
// gives the latency of every update in microseconds, a line a round.
func lookers(address string, out io.Writer) error {
	latencies := make(chan int64, openPages*liveRounds)
	fail := make(chan error, openPages)
	var open sync.WaitGroup
	for range openPages {
		open.Add(1)
		go func() {
			c, err := net.Dial("tcp", address)
			if err != nil {
				fail <- err
				open.Done()
				return
			}
			secret, _ := access.Secret()
			fmt.Fprintf(c, "GET /live?on=%%2Fboard HTTP/1.1\r\nHost: %s\r\nCookie: firn=%s\r\n\r\n", address, secret)
			s := bufio.NewScanner(c)
			s.Buffer(make([]byte, 4096), 1<<20)
			first := true
			for s.Scan() {
				line := s.Text()
				if first && strings.HasPrefix(line, ": firn") {
					first = false
					open.Done()
				}
				if m := stamp.FindStringSubmatch(line); m != nil {
					sent, _ := strconv.ParseInt(m[1], 10, 64) // the pattern has looked
					latencies <- time.Since(time.Unix(0, sent)).Microseconds()
				}
			}
		}()
	}
	open.Wait()
	select {
	case err := <-fail:
		return err
	default:
	}
	fmt.Fprintln(out, "open")
	for range liveRounds {
		round := make([]int64, openPages)
		for i := range round {
			select {
			case round[i] = <-latencies:
			case <-time.After(30 * time.Second):
				return errors.New("an update did not arrive")
			}
		}
		if err := json.NewEncoder(out).Encode(round); err != nil {
			return err
		}
	}
	return nil
}

// BenchmarkOpenPages opens 500 pages and brings them up to date, again and
// again: memory a page, and how long after the board changed the last and the
// middle page have it.
func BenchmarkOpenPages(b *testing.B) {
	p, err := New(slog.New(slog.DiscardHandler), Options{Limits: generous})
	if err != nil {
		b.Fatal(err)
	}
	server := httptest.NewServer(p.Handler())
	defer server.Close()
	used := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return float64(m.HeapInuse + m.StackInuse)
	}
	board := func() {
		all := boardOf()
		for i := range all { // a unit's bases
			all = append(all, all[i], all[i])
		}
		all[0].Note = fmt.Sprintf("sent at %d.", time.Now().UnixNano())
		p.Show(all, time.Now())
	}
	before := used()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childPages+"="+strings.TrimPrefix(server.URL, "http://"))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	said := bufio.NewScanner(out)
	said.Buffer(nil, 1<<20)
	if !said.Scan() || said.Text() != "open" {
		b.Fatalf("the pages are not open: %q", said.Text())
	}
	var all, last []int64
	var after float64
	for n := range liveRounds {
		board()
		if !said.Scan() {
			b.Fatal("the pages have ended")
		}
		var round []int64
		if err := json.Unmarshal(said.Bytes(), &round); err != nil {
			b.Fatal(err)
		}
		all, last = append(all, round...), append(last, slices.Max(round))
		if n == liveRounds/2 {
			after = used()
		}
	}
	if err := cmd.Wait(); err != nil {
		b.Fatal(err)
	}
	slices.Sort(all)
	slices.Sort(last)
	b.ReportMetric(0, "ns/op") // it is no loop
	b.ReportMetric((after-before)/openPages/1024, "KiB/page")
	b.ReportMetric(float64(all[len(all)/2])/1000, "ms-median")
	b.ReportMetric(float64(all[len(all)*99/100])/1000, "ms-p99")
	b.ReportMetric(float64(last[len(last)/2])/1000, "ms-last-page")
}

// BenchmarkAnswer renders a card with a procedure's altitudes.
func BenchmarkAnswer(b *testing.B) {
	p, err := New(slog.New(slog.DiscardHandler), Options{Limits: generous})
	if err != nil {
		b.Fatal(err)
	}
	r := &request{p: p, who: visitor{secret: "s", key: "k", scope: access.Ask}}
	k := &entry{id: "0123456789ab", place: "0123456789abcdef", at: time.Now()}
	k.Asked = goodLine
	k.c.Reply = reply.Reply{Kind: reply.KindCorrection, Facts: []string{"One.", "Two."}}
	for i := range 12 {
		k.c.Reply.Altitudes = append(k.c.Reply.Altitudes, reply.Row{Label: "step", Fix: "XUBRI", Segment: "final", PublishedFt: float64(8000 + i), CorrectedFt: 9000, Why: "its own height"})
		k.c.Reply.Cautions = append(k.c.Reply.Cautions, reply.Caution{Code: "x", Text: "A caution of some words."})
	}
	b.ReportAllocs()
	for b.Loop() {
		if p.part("card", r.cardView(k)) == "" {
			b.Fatal("nothing")
		}
	}
}
