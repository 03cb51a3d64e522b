package main

import (
	"context"
	"encoding/json"
	"firn/adapters/testkit/process"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"firn/adapters/jsonl"
	"firn/adapters/testkit/installed"
	"firn/adapters/testkit/pgtest"
	"firn/bot/app"
	"firn/bot/outbox"
	"firn/bot/watch"
)

var kills = flag.Int("kills", map[bool]int{true: 40, false: 20}[os.Getenv(installed.All) == "1"], "how many serve processes TestServeKilled kills on each store at random moments, besides those that die at each point; 200 is the long run")

// The variables that make a child process of TestServeKilled.
const (
	childBegan = "FIRN_TEST_BEGAN" // nanoseconds: real time at which childFrom was shown
	childEnded = "FIRN_TEST_ENDED" // what the clock shows, standing; not set: it runs
)

// In a child a real second is forty minutes on the clock, so that alerts are due
// all the time: the mornings of its bases, repeats, escalations, all-clears.
const childSpeed = 2400

var childFrom = time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)

func childClock(began time.Time) func() time.Time {
	return func() time.Time { return childFrom.Add(time.Since(began) * childSpeed) }
}

// childMain is firn with a fast clock and a fast pace.
func childMain() {
	ns, err := strconv.ParseInt(os.Getenv(childBegan), 10, 64)
	if err != nil {
		exit(err)
	}
	now := childClock(time.Unix(0, ns))
	if text := os.Getenv(childEnded); text != "" {
		ended, err := time.Parse(time.RFC3339Nano, text)
		if err != nil {
			exit(err)
		}
		now = func() time.Time { return ended }
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err = serve(ctx, now, app.Pace{
		Tick: 50 * time.Millisecond, BaseLease: 40 * time.Millisecond, PostLease: 900 * time.Millisecond, Poll: 20 * time.Millisecond,
		Posts: func() time.Time { return time.Now().AddDate(10, 0, 0) },
	})
	stop()
	exit(err)
}

// bases is how many bases the killed processes watch: one for each hour of
// the day, so that one is always about to be due; a day that no process lives to see is no loss, so a window is long.
const bases = 24

// killConfig is the configuration that is served: every base is below its
// line and tells two files.
func killConfig(dir string) (path string, err error) {
	var cfg, wx strings.Builder
	fmt.Fprintf(&cfg, "weather: [{kind: folder, path: weather}]\npage: {listen: \"127.0.0.1:0\"}\nstore: {path: data/firn.db}\nduty: [\"file:duty\"]\nalerts: {digest: false}\nstations:\n")
	for i := range bases {
		fmt.Fprintf(&cfg, "  - {ident: X%03d, elevation_ft: 5000, restriction_c: -25, time_zone: Etc/UTC, watch: {at: \"%02d:00\", window_hours: 24, channels: [\"file:a\", \"file:b\"]}}\n", i, i)
		fmt.Fprintf(&wx, "TAF X%03d {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM31/{DDHH}Z TNM31/{DDHH+3h}Z TNM31/{DDHH+6h}Z TNM31/{DDHH+9h}Z\n", i)
	}
	if err := os.Mkdir(filepath.Join(dir, "weather"), 0o700); err != nil {
		return "", err
	}
	if err := os.WriteFile(filepath.Join(dir, "weather", "all.demo.txt"), []byte(wx.String()), 0o600); err != nil {
		return "", err
	}
	path = filepath.Join(dir, "config.yaml")
	return path, os.WriteFile(path, []byte(cfg.String()), 0o600)
}

// TestServeKilled has serve die at each of the points at which a deed is done
// and not written down, and kills it with SIGKILL at random moments besides,
// while alerts are due, two processes at a time on one store. Then it counts:
// each alert that is in the store stands once on each of its channels, in
// order, and every base's morning that went by was told.
func TestServeKilled(t *testing.T) {
	t.Run("sqlite", func(t *testing.T) {
		t.Parallel()
		serveKilled(t, "")
	})
	t.Run("postgres", func(t *testing.T) {
		t.Parallel()
		serveKilled(t, pgtest.Shared(t).Database(t))
	})
}

// killer is a store and the processes that serve it until they die.
type killer struct {
	*testing.T
	dir, path string
	env       []string
	began     time.Time
	number    atomic.Int64 // of the last process
	left      atomic.Int64 // kills at random moments

	mu     sync.Mutex
	fields map[point]int // how many died there
}

// victim is one process.
type victim struct {
	k    *killer
	cmd  *exec.Cmd
	in   io.WriteCloser
	said *process.Log
	gone chan struct{} // closed when it has ended
}

func (k *killer) start() *victim {
	v := &victim{k: k, cmd: exec.Command(os.Args[0]), said: process.NewLog(), gone: make(chan struct{})}
	v.cmd.Env, v.cmd.Dir, v.cmd.Stderr = append(slices.Clone(k.env), minedEnv(int(k.number.Add(1)))...), k.dir, v.said
	in, err := v.cmd.StdinPipe()
	if err == nil {
		err = v.cmd.Start()
	}
	if err != nil {
		k.Error(err)
		return nil
	}
	v.in = in
	go func() {
		_ = v.cmd.Wait() // what it ended with is looked at by those who wait
		close(v.gone)
	}()
	return v
}

// kill ends it, unless it is dead already.
func (v *victim) kill() {
	// It may be dead; how it ended says whether that is well.
	_ = v.cmd.Process.Signal(syscall.SIGKILL)
	v.died()
}

// died waits for its end, which must be a kill.
func (v *victim) died() {
	<-v.gone
	if v.cmd.ProcessState.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
		v.k.Errorf("it ended by itself: %v\n%s", v.cmd.ProcessState, v.said.Tail())
	}
}

// at has a process die at a point, and says whether it came there: another may
// do what was to be done.
func (k *killer) at(p point) bool {
	v := k.start()
	if v == nil {
		return false
	}
	if _, err := fmt.Fprintln(v.in, p); err != nil {
		k.Error(err)
	}
	select {
	case <-v.gone: // it may come there while it starts
	case <-v.said.Ready():
	case <-time.After(time.Minute):
	}
	select {
	case <-v.gone:
		v.died()
		k.mu.Lock()
		k.fields[p]++
		k.mu.Unlock()
		return true
	case <-time.After(10 * time.Second):
		v.kill()
		return false
	}
}

// each has one process die at each point. Who looks up what may be posted
// comes after one who died before that was known.
func (k *killer) each() {
	for _, road := range [][]point{{inOpen}, {afterOpen}, {afterClaim, afterMissing}, {afterSend, afterFind}} {
		there := false
		for tries := 0; !there && tries < 10 && !k.Failed(); tries++ {
			for _, p := range road {
				if there = k.at(p); !there {
					break
				}
			}
		}
		if !there && !k.Failed() {
			k.Errorf("no process came to %q", road)
		}
	}
}

// random kills processes at random moments until all kills are done.
func (k *killer) random() {
	for k.left.Add(-1) >= 0 && !k.Failed() {
		v := k.start()
		if v == nil {
			return
		}
		// Most are killed at work, some while they start.
		if rand.IntN(8) > 0 {
			select {
			case <-v.said.Ready():
			case <-v.gone: // said below
			case <-time.After(time.Minute):
				k.Errorf("it is not ready after a minute:\n%s", v.said.Tail())
			}
		}
		select {
		case <-v.gone:
			k.Errorf("it ended by itself: %v\n%s", v.cmd.ProcessState, v.said.Tail())
			return
		case <-time.After(rand.N(600 * time.Millisecond)):
		}
		v.kill()
	}
}

func serveKilled(t *testing.T, url string) {
	dir := t.TempDir()
	path, err := killConfig(dir)
	if err != nil {
		t.Fatal(err)
	}
	closed(t, open(t, dir, url)) // its tables are there before a mine is laid
	if url != "" {
		minefield(t, url)
	}
	k := &killer{T: t, dir: dir, path: path, began: time.Now(), fields: map[point]int{}}
	k.env = append(os.Environ(), childBegan+"="+strconv.FormatInt(k.began.UnixNano(), 10), envDatabase+"="+url)
	k.left.Store(int64(*kills))
	var work sync.WaitGroup
	work.Go(func() {
		for range max(1, *kills/20) {
			k.each()
		}
		k.random()
	})
	work.Go(k.random)
	work.Wait()
	if t.Failed() {
		return
	}
	killed := time.Since(k.began)
	ended := childClock(k.began)()
	k.settle(url, ended)
	alerts, posts := count(t, dir, url, path, ended)
	t.Logf("%d kills and those at points %v in %v: %d alerts, %d posts, each once", *kills, k.fields, killed.Round(time.Millisecond), alerts, posts)
}

// open opens what the killed processes have left behind.
func open(t *testing.T, dir, url string) store {
	t.Helper()
	s, err := openStore(t.Context(), dir, url)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// closed lets go of it.
func closed(t *testing.T, s store) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// settle has processes whose clock stands do what was due by then, and deliver
// it, until nothing is left. However busy the machine is, no more comes.
func (k *killer) settle(url string, ended time.Time) {
	k.Helper()
	k.env = append(k.env, childEnded+"="+ended.Format(time.RFC3339Nano))
	s := open(k.T, k.dir, url)
	defer closed(k.T, s)
	for tries := 0; ; tries++ {
		v := k.start()
		if v == nil {
			k.FailNow()
		}
		select {
		case <-v.said.Ready():
		case <-v.gone: // said below
		case <-time.After(time.Minute):
			k.Errorf("it is not ready after a minute:\n%s", v.said.Tail())
		}
		for limit := time.Now().Add(time.Minute); time.Now().Before(limit); time.Sleep(50 * time.Millisecond) {
			if k.waiting(s) == 0 && len(untold(k.T, s, ended)) == 0 {
				break
			}
		}
		if err := v.cmd.Process.Signal(os.Interrupt); err != nil {
			k.Fatal(err)
		}
		if <-v.gone; !v.cmd.ProcessState.Success() {
			k.Fatalf("the last one ended with %v\n%s", v.cmd.ProcessState, v.said.Tail())
		}
		// What it wrote while it was stopped is the next one's.
		if k.waiting(s) == 0 {
			return
		}
		if tries == 10 {
			k.Fatalf("%d posts do not go out\n%s", k.waiting(s), v.said.Tail())
		}
	}
}

// waiting is how many posts have not gone out.
func (k *killer) waiting(s store) int {
	k.Helper()
	b, err := s.Backlog(k.Context())
	if err != nil {
		k.Fatal(err)
	}
	if b.GivenUp > 0 {
		k.Fatalf("%d posts were given up", b.GivenUp)
	}
	return b.Waiting
}

// untold are the mornings that were due an hour before a time and have no word.
func untold(t *testing.T, s store, until time.Time) (lost []string) {
	t.Helper()
	for i := range bases {
		base := fmt.Sprintf("X%03d", i)
		for day := childFrom.AddDate(0, 0, -1); !day.After(until); day = day.AddDate(0, 0, 1) {
			d, err := s.Day(t.Context(), base, day.Format(time.DateOnly))
			if err != nil {
				t.Fatal(err)
			}
			due := day.Add(time.Duration(i) * time.Hour)
			if len(d.Alerts) == 0 && due.After(childFrom) && due.Add(time.Hour).Before(until) {
				lost = append(lost, fmt.Sprintf("%s was due at %s and is lost", base, due))
			}
		}
	}
	return lost
}

// count holds the files to the store.
func count(t *testing.T, dir, url, path string, until time.Time) (alerts, posts int) {
	t.Helper()
	s := open(t, dir, url)
	defer closed(t, s)
	for _, lost := range untold(t, s, until) {
		t.Error(lost)
	}
	want := map[string]map[string]bool{"a": {}, "b": {}, "duty": {}}
	for i := range bases {
		base := fmt.Sprintf("X%03d", i)
		for day := childFrom.AddDate(0, 0, -1); !day.After(until); day = day.AddDate(0, 0, 1) {
			name := day.Format(time.DateOnly)
			d, err := s.Day(t.Context(), base, name)
			if err != nil {
				t.Fatal(err)
			}
			for n, a := range d.Alerts {
				if a.Seq != n+1 {
					t.Errorf("%s %s: alert %d where %d was due", base, name, a.Seq, n+1)
				}
				alerts++
				key := fmt.Sprintf("alert/%s/%s/%d", base, name, a.Seq)
				switch a.Kind {
				case watch.Escalated:
					want["duty"][key] = true
				default:
					want["a"][key], want["b"][key] = true, true
				}
			}
		}
	}
	for channel, keys := range want {
		last := map[string]int{}
		for _, key := range posted(t, filepath.Join(dir, "data", "posts", channel+".jsonl")) {
			posts++
			// An all-clear also goes to those that an alert was escalated to.
			if !keys[key] && channel != "duty" {
				t.Errorf("%s: %s is posted twice, or by nobody", channel, key)
			}
			delete(keys, key)
			line, seq := outbox.Item{Key: key}.OrderingKey()
			if seq <= last[line] {
				t.Errorf("%s: %s behind number %d of its line", channel, key, last[line])
			}
			last[line] = seq
		}
		for key := range keys {
			t.Errorf("%s: %s is lost", channel, key)
		}
	}
	return alerts, posts
}

// posted are the keys in a file, in order.
func posted(t *testing.T, path string) (keys []string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		var l jsonl.Line
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatalf("%s: %v: %s", path, err, line)
		}
		keys = append(keys, l.Key)
	}
	return keys
}
