package jsonl

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"firn/bot/testkit/sendertest"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// killDir tells a child process of TestKill where to work, and killSent that it
// dies when a post stands on the slow surface and is not marked.
const (
	killDir  = "FIRN_TEST_KILL_DIR"
	killSent = "FIRN_TEST_KILL_SENT"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(killDir); dir != "" {
		fmt.Println("ready")
		err := killed(dir, &tally{path: filepath.Join(dir, "tally")}).Run(context.Background())
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1) // it runs until it is killed
	}
	os.Exit(m.Run())
}

// killed is the outbox that is killed: its queue in one file, a Box, and two
// surfaces that by themselves do nothing against doubles.
func killed(dir string, m outbox.Meter) *outbox.Outbox {
	log := slog.New(slog.DiscardHandler)
	return outbox.New(log, time.Now, &fileQueue{dir: dir}, map[string]outbox.Sender{
		"file":  New(log, filepath.Join(dir, "posts")),
		"slow":  &plain{path: filepath.Join(dir, "slow"), slow: 8 * time.Millisecond, dies: os.Getenv(killSent) != ""},
		"lossy": &plain{path: filepath.Join(dir, "lossy"), lossy: 4},
	}, outbox.Settings{
		Lease: 1500 * time.Millisecond, Poll: 20 * time.Millisecond, Batch: 12,
		FirstBackoff: 5 * time.Millisecond, MaxBackoff: 20 * time.Millisecond, Jitter: rand.Float64, Meter: m,
	})
}

// TestKill kills processes that deliver, two at a time on one queue, with
// SIGKILL, one in ten between a send and its mark and the others at random
// moments, while items become due. In the end each stands
// in its file once, in the order of its line.
func TestKill(t *testing.T) {
	const kills, atOnce = 60, 2
	dir := t.TempDir()
	q := &fileQueue{dir: dir}
	items := 0
	channels := []string{"file:a", "file:b", "slow:a", "lossy:a"}
	put := func(round int) {
		var keys []string
		for seq := range 3 {
			keys = append(keys, fmt.Sprintf("alert/B%d/2026-01-15/%d", round, seq+1))
		}
		items += len(keys) * len(channels)
		if err := q.put(t.Context(), keys, channels); err != nil {
			t.Error(err)
		}
	}
	start := time.Now()
	var mu sync.Mutex
	var children sync.WaitGroup
	left := kills
	for range atOnce {
		children.Go(func() {
			for {
				mu.Lock()
				if left == 0 || t.Failed() {
					mu.Unlock()
					return
				}
				left--
				put(kills - 1 - left)
				sent := left%10 == 0
				mu.Unlock()
				killOne(t, dir, sent)
			}
		})
	}
	children.Wait()
	if t.Failed() {
		return
	}
	took := time.Since(start)

	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	last := &tally{}
	done := make(chan error, 1)
	go func() { done <- killed(dir, last).Run(ctx) }()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	for {
		<-tick.C
		b, err := q.Backlog(t.Context())
		if err != nil || b.GivenUp > 0 || ctx.Err() != nil {
			t.Errorf("Backlog = %+v, %v after %v", b, err, time.Since(start))
		}
		if b.Waiting == 0 || t.Failed() {
			break
		}
	}
	stop()
	if err := <-done; !errors.Is(err, context.Canceled) && !t.Failed() {
		t.Errorf("Run = %v", err)
	}

	posts := 0
	for _, channel := range channels {
		path := filepath.Join(dir, "posts", strings.TrimPrefix(channel, "file:")+extension)
		if surface := outbox.Surface(channel); surface != Surface {
			path = filepath.Join(dir, surface)
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		last := map[string]int{}
		for _, k := range keys(t, string(text)) {
			posts++
			word, seq := (outbox.Item{Key: k}).OrderingKey()
			if want := last[word] + 1; seq != want {
				t.Errorf("%s: %s where number %d of its line was due", channel, k, want)
			}
			last[word] = seq
		}
	}
	if posts != items {
		t.Errorf("%d posts for %d items", posts, items)
	}
	outcomes, err := os.ReadFile(filepath.Join(dir, "tally"))
	if err != nil {
		t.Fatal(err)
	}
	count := func(surface string, o outbox.Outcome) int {
		return strings.Count(string(outcomes), surface+" "+string(o)+"\n") + last.Snapshot()[sendertest.Counted{Surface: surface, Outcome: o}]
	}
	t.Logf("%d kills in %v, %d items, %d posts", kills, took.Round(time.Millisecond), items, posts)
	for _, surface := range []string{"file", "slow", "lossy"} {
		t.Logf("%s: %d sent, %d found by the lookup, %d retried, %d leases lost", surface,
			count(surface, outbox.Sent), count(surface, outbox.Found), count(surface, outbox.Retried), count(surface, outbox.Lost))
	}
	if count("slow", outbox.Found) == 0 {
		t.Error("no kill fell between a send and its mark; the test shows nothing")
	}
}

// killOne runs one process that delivers and kills it, after a send or at a
// random moment.
func killOne(t *testing.T, dir string, sent bool) {
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), killDir+"="+dir)
	if sent {
		cmd.Env = append(cmd.Env, killSent+"=1")
	}
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Error(err)
		return
	}
	if err := cmd.Start(); err != nil {
		t.Error(err)
		return
	}
	if line, err := bufio.NewReader(out).ReadString('\n'); line != "ready\n" {
		t.Errorf("the process said %q: %v", line, err)
	}
	if sent {
		// The other may have sent all there was.
		late := time.AfterFunc(5*time.Second, func() { _ = cmd.Process.Kill() })
		defer late.Stop()
	} else {
		<-time.After(rand.N(40 * time.Millisecond))
		if err := cmd.Process.Kill(); err != nil {
			t.Errorf("kill: %v", err)
		}
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.Exited() {
		t.Errorf("the process ended by itself: %v", err)
	}
}

// tally is a Meter that survives its process when it has a path.
type tally struct {
	sendertest.Counters
	path string
}

func (m *tally) Attempt(surface string, o outbox.Outcome, lag time.Duration) {
	if m.path == "" {
		m.Counters.Attempt(surface, o, lag)
		return
	}
	if err := appendTo(m.path, surface+" "+string(o)+"\n"); err != nil {
		panic(err)
	}
}

func appendTo(path, text string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	return errors.Join(err, f.Close())
}

// plain is a surface like a chat service's: it stores whatever it is given,
// twice if it is given twice. Its answer takes a while, or one in so many is
// lost.
type plain struct {
	path  string
	slow  time.Duration
	lossy int
	dies  bool // once it has stored a post
}

func (p *plain) Send(ctx context.Context, post outbox.Post) (string, error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	text, err := json.Marshal(Line{Key: post.Key, Channel: post.Channel, Reply: post.Body})
	if err != nil {
		return "", err
	}
	if err := appendTo(p.path, string(text)+"\n"); err != nil {
		return "", err
	}
	if p.dies {
		self, err := os.FindProcess(os.Getpid())
		if err == nil {
			err = self.Kill()
		}
		if err != nil {
			panic(err)
		}
		select {}
	}
	if p.slow > 0 {
		<-time.After(p.slow)
	}
	if p.lossy > 0 && rand.IntN(p.lossy) == 0 {
		return "", errors.New("the answer was lost")
	}
	return post.Key, nil
}

func (p *plain) Find(_ context.Context, _, key string) (string, bool, error) {
	text, err := os.ReadFile(p.path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", false, nil
	}
	found := strings.Contains(string(text), fmt.Sprintf(`{"key":%q,`, key))
	return key, found, err
}

// fileQueue is a queue in one file, to which each change is added under a
// lock, as words on a line.
type fileQueue struct {
	dir  string
	mu   sync.Mutex
	rows []*row // that wait, in order of writing
	read int64  // how far the file is known
}

type row struct {
	outbox.Item
	attempt     int
	next, until time.Time
}

// change calls do with the rows as they stand, and adds the lines it gives.
func (q *fileQueue) change(ctx context.Context, do func() []string) (err error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	path := filepath.Join(q.dir, "queue")
	made, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	if err := made.Close(); err != nil {
		return err
	}
	f, err := openLocked(ctx, path)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	text, err := io.ReadAll(io.NewSectionReader(f, q.read, 1<<30))
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(text)) {
		if !strings.HasSuffix(line, "\n") { // torn by a kill
			if err := f.Truncate(q.read); err != nil {
				return err
			}
			break
		}
		q.read += int64(len(line))
		if err := q.apply(strings.Fields(line)); err != nil {
			return err
		}
	}
	_, err = f.WriteString(strings.Join(do(), ""))
	return err // what was written is read back with the next change
}

// apply reads one line: what happened, key, channel, attempt, time.
func (q *fileQueue) apply(words []string) error {
	if len(words) != 5 {
		return fmt.Errorf("queue: line %q", words)
	}
	key, channel := words[1], words[2]
	attempt, err := strconv.Atoi(words[3])
	nanos, err2 := strconv.ParseInt(words[4], 10, 64)
	if err := errors.Join(err, err2); err != nil {
		return err
	}
	at := time.Unix(0, nanos)
	if words[0] == "put" {
		body := reply.Reply{Kind: reply.KindStatus, Facts: []string{"Cold: " + key}}
		q.rows = append(q.rows, &row{Item: outbox.Item{Key: key, Channel: channel, Body: body, Made: at, Due: at}, next: at})
		return nil
	}
	r := q.row(key, channel)
	switch words[0] {
	case "claim":
		r.attempt, r.until = attempt, at
	case "later":
		r.next, r.until = at, time.Time{}
	case "done":
		q.rows = slices.DeleteFunc(q.rows, func(o *row) bool { return o == r })
	default:
		return fmt.Errorf("queue: line %q", words)
	}
	return nil
}

func (q *fileQueue) row(key, channel string) *row {
	i := slices.IndexFunc(q.rows, func(r *row) bool { return r.Key == key && r.Channel == channel })
	if i < 0 {
		return nil
	}
	return q.rows[i]
}

func line(what, key, channel string, attempt int, at time.Time) string {
	return fmt.Sprintf("%s %s %s %d %d\n", what, key, channel, attempt, at.UnixNano())
}

func (q *fileQueue) put(ctx context.Context, keys []string, channels []string) error {
	return q.change(ctx, func() (lines []string) {
		for _, k := range keys {
			for _, c := range channels {
				lines = append(lines, line("put", k, c, 0, time.Now()))
			}
		}
		return lines
	})
}

func (q *fileQueue) Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) (claims []outbox.Claim, err error) {
	err = q.change(ctx, func() (lines []string) {
		type name struct{ channel, line string }
		waits := map[name]bool{} // items were put in order of seq
		clock := time.Now()
		for _, r := range q.rows {
			word, _ := r.OrderingKey()
			k := name{r.Channel, word}
			if len(claims) < limit && !waits[k] && !r.next.After(now) && !r.until.After(clock) {
				claims = append(claims, outbox.Claim{Item: r.Item, Attempt: r.attempt + 1})
				lines = append(lines, line("claim", r.Key, r.Channel, r.attempt+1, clock.Add(lease)))
			}
			waits[k] = true
		}
		return lines
	})
	return claims, err
}

func (q *fileQueue) mark(ctx context.Context, what string, c outbox.Claim, at time.Time) (held bool, err error) {
	err = q.change(ctx, func() []string {
		r := q.row(c.Key, c.Channel)
		if held = r != nil && r.attempt == c.Attempt; !held {
			return nil
		}
		return []string{line(what, c.Key, c.Channel, c.Attempt, at)}
	})
	return held, err
}

func (q *fileQueue) Done(ctx context.Context, c outbox.Claim, _ string, at time.Time) (bool, error) {
	return q.mark(ctx, "done", c, at)
}

func (q *fileQueue) Later(ctx context.Context, c outbox.Claim, due time.Time, _ string) (bool, error) {
	return q.mark(ctx, "later", c, due)
}

// GiveUp fails: nothing in this test is a reason to.
func (q *fileQueue) GiveUp(_ context.Context, c outbox.Claim, reason string, _ time.Time) (bool, error) {
	return false, fmt.Errorf("%s on %s is given up: %s", c.Key, c.Channel, reason)
}

func (q *fileQueue) Backlog(ctx context.Context) (b outbox.Backlog, err error) {
	err = q.change(ctx, func() []string {
		if b.Waiting = len(q.rows); b.Waiting > 0 {
			b.Oldest = q.rows[0].Due
		}
		return nil
	})
	return b, err
}
