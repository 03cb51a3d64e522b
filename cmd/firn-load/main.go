// Command firn-load measures how long firn takes to answer on a chat service,
// beside a bare echo bot on the same client library, in the same run:
//
//	go run ./cmd/firn-load                       # Slack, 1000 messages a second
//	go run ./cmd/firn-load -service discord -rate 200 -for 10s -rounds 3
//	go run ./cmd/firn-load shows                 # how much room answers take
//
// Each bot is a process of its own, connected to a protocol double on
// loopback by a real websocket and real HTTP. Rounds alternate between the
// two, so that what the machine does meanwhile meets both. A latency is the
// time from handing a message to the double until the bot's answer has
// reached it. "echo" repeats the question, as little as a bot can do; "card"
// posts one of firn's own answers each time, so that what firn adds to the
// library shows apart from what a card with a table weighs.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	_ "net/http/pprof" // of the echo bots
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := run(ctx, os.Args[1:], os.Stdout)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "firn-load:", err)
		os.Exit(1)
	}
}

// settings are what one run is asked for.
type settings struct {
	service  string
	echo     string   // be the echo bot of this service
	firn     []string // builds of it
	profiles string   // the folder for profiles; empty: none
	rate     int
	length   time.Duration
	rounds   int
	people   int
	place    string
	card     atomic.Pointer[card] // the last answer of firn's
}

func run(ctx context.Context, args []string, out io.Writer) error {
	if len(args) > 0 && args[0] == "scale" {
		return scale(ctx, args[1:], out)
	}
	if len(args) > 0 && args[0] == "hour" {
		return hour(ctx, args[1:], out)
	}
	if len(args) > 0 && args[0] == "shows" {
		return shows(ctx, args[1:], out)
	}
	var s settings
	flags := flag.NewFlagSet("firn-load", flag.ContinueOnError)
	flags.StringVar(&s.service, "service", "slack", "slack or discord")
	flags.Func("firn", "a firn program, may be given several times; none: it is built", func(path string) error {
		s.firn = append(s.firn, path)
		return nil
	})
	flags.StringVar(&s.profiles, "profiles", "", "a folder for profiles and traces of the bots in their last round; empty: none are taken")
	flags.IntVar(&s.rate, "rate", 1000, "messages a second")
	flags.DurationVar(&s.length, "for", 5*time.Second, "length of a round")
	flags.IntVar(&s.rounds, "rounds", 3, "rounds of each bot")
	flags.IntVar(&s.people, "people", 0, "how many people ask in turn; 0: enough that none asks too often")
	flags.StringVar(&s.place, "place", "channel", "channel or direct: where they ask")
	flags.StringVar(&s.echo, "echo", "", "be the echo bot of this service (used by firn-load itself)")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if s.echo != "" {
		if at := os.Getenv("FIRN_LOAD_PPROF"); at != "" {
			go func() { _ = http.ListenAndServe(at, nil) }()
		}
		return echo(ctx, s.echo)
	}
	if s.rate < 1 || s.rounds < 1 || s.length <= 0 {
		return errors.New("-rate, -rounds and -for must be above zero")
	}
	if s.people == 0 {
		s.people = 4 * s.rate // one message in four seconds each: firn slows who asks more often
	}
	if s.profiles != "" {
		if err := os.MkdirAll(s.profiles, 0o700); err != nil {
			return err
		}
	}
	if s.firn == nil {
		dir, err := os.MkdirTemp("", "firn-load-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		at, err := root(ctx)
		if err != nil {
			return err
		}
		s.firn = []string{filepath.Join(dir, "firn")}
		if err := build(ctx, at, s.firn[0], s.profiles != ""); err != nil {
			return err
		}
	}
	return measure(ctx, &s, out)
}

// service is a double with the people on it.
type service interface {
	// say lets a person ask and gives the message's name.
	say(person int, text string) (name string, err error)
	// start starts a bot as a process and waits until it is connected.
	start(ctx context.Context, bot []string, dir string) (*exec.Cmd, error)
	config() string // of firn
	complaints() []string
	close()
}

// question is what people ask: the product's first example.
const question = "XKLD -38 8200 7400 5340"

// figures are those of one bot's rounds.
type figures struct {
	name      string
	argv      []string
	latencies []time.Duration
	lost      int
	cpu       time.Duration // of all its processes, while they were measured
	asked     int           // meanwhile
	resident  []int         // KiB after each round
	warm      int           // KiB before the last one was measured
}

// measure runs the rounds and prints what came out.
func measure(ctx context.Context, s *settings, out io.Writer) error {
	self, err := os.Executable()
	if err != nil {
		return err
	}
	bots := []*figures{{name: "echo", argv: []string{self, "-echo", s.service}}}
	for i, path := range s.firn {
		name := "firn"
		if i > 0 {
			name += strconv.Itoa(i + 1)
		}
		bots = append(bots, &figures{name: name, argv: []string{path, "serve", "--config", "config.yaml"}})
	}
	bots = append(bots, &figures{name: "card", argv: []string{self, "-echo", s.service + "-card"}})
	fmt.Fprintf(out, "%s, %s, %d messages a second, %d rounds of %s each\n", s.service, s.place, s.rate, s.rounds, s.length)
	for round := range s.rounds {
		for _, b := range bots {
			if err := one(ctx, s, b, round == s.rounds-1); err != nil {
				return fmt.Errorf("%s, round %d: %w", b.name, round+1, err)
			}
			p50, p99 := b.at(50), b.at(99)
			fmt.Fprintf(out, "  round %d %s: so far p50 %s, p99 %s, processor a message %s, %d lost, resident %d KiB before and %d after\n",
				round+1, b.name, p50, p99, b.each(), b.lost, b.warm, b.resident[len(b.resident)-1])
		}
	}
	fmt.Fprintf(out, "%-6s %10s %10s %10s %6s %12s %14s\n", "bot", "p50", "p90", "p99", "lost", "resident KiB", "CPU a message")
	for _, b := range bots {
		fmt.Fprintf(out, "%-6s %10s %10s %10s %6d %12d %14s\n", b.name, b.at(50), b.at(90), b.at(99), b.lost, slices.Max(b.resident), b.each())
	}
	for _, firn := range bots[1 : len(bots)-1] {
		for _, b := range []*figures{bots[0], bots[len(bots)-1]} {
			fmt.Fprintf(out, "%s against %s: p50 %.2f, p99 %.2f, processor a message %.2f times\n", firn.name, b.name,
				float64(firn.at(50))/float64(b.at(50)), float64(firn.at(99))/float64(b.at(99)),
				float64(firn.cpu)/float64(firn.asked)/(float64(b.cpu)/float64(b.asked)))
		}
	}
	return nil
}

// at is a percentile, to the microsecond.
func (f *figures) at(percent int) time.Duration {
	if len(f.latencies) == 0 {
		return 0
	}
	slices.Sort(f.latencies)
	return f.latencies[(len(f.latencies)-1)*percent/100].Round(time.Microsecond)
}

// each is the processor a message.
func (f *figures) each() time.Duration {
	return (f.cpu / time.Duration(f.asked)).Round(time.Microsecond)
}

// round is what one bot is asked and answers in one go.
type round struct {
	mu        sync.Mutex
	sent      map[string]time.Time // by the name of the message
	early     map[string]time.Time // answers that came before say had returned
	answered  atomic.Int64
	latencies []time.Duration
	measuring bool
	person    int // how many have asked
}

// reply takes an answer to the message of a name.
func (r *round) reply(name string, came time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	at, ok := r.sent[name]
	if !ok {
		r.early[name] = came
		return
	}
	delete(r.sent, name)
	r.took(came.Sub(at))
}

// took counts an answer; the lock is held.
func (r *round) took(latency time.Duration) {
	r.answered.Add(1)
	if r.measuring {
		r.latencies = append(r.latencies, latency)
	}
}

// ask lets the next of the people ask.
func (r *round) ask(svc service, people int) error {
	before := time.Now()
	name, err := svc.say(r.person%people, question)
	r.person++
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if at, ok := r.early[name]; ok {
		delete(r.early, name)
		r.took(at.Sub(before))
		return nil
	}
	r.sent[name] = before
	return nil
}

// one runs one round of one bot; last says that profiles are taken of it, where
// they are wanted.
func one(ctx context.Context, s *settings, f *figures, last bool) error {
	r := &round{sent: map[string]time.Time{}, early: map[string]time.Time{}}
	svc, err := newService(s, r.reply)
	if err != nil {
		return err
	}
	defer svc.close()
	dir, err := os.MkdirTemp("", "firn-load-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := os.WriteFile(filepath.Join(dir, "config.yaml"), []byte(svc.config()), 0o600); err != nil {
		return err
	}
	cmd, err := svc.start(ctx, f.argv, dir)
	if err != nil {
		return err
	}
	defer func() {
		// It is asked to end; how it ends is not measured.
		_ = cmd.Process.Signal(os.Interrupt)
		_ = cmd.Wait()
	}()
	if !last || s.profiles == "" {
		return r.run(ctx, s, svc, cmd.Process.Pid, f, func() error { return nil })
	}
	return r.run(ctx, s, svc, cmd.Process.Pid, f, func() error {
		return takeProfiles(ctx, s.profiles, f.name, fmt.Sprintf("profile?seconds=%d", int(s.length.Seconds())-2), "trace?seconds=1", "allocs")
	})
}

// run asks the bot of a process, and adds what comes out to its figures; beside it
// the profiles are taken.
func (r *round) run(ctx context.Context, s *settings, svc service, pid int, f *figures, profiles func() error) error {
	ask := func() error { return r.ask(svc, s.people) }
	// Everybody asks once first: names are looked up, pools are filled.
	if err := pace(ctx, s.rate, s.people, ask); err != nil {
		return err
	}
	settle(ctx, &r.answered, int64(r.person))
	r.mu.Lock()
	r.measuring = true
	lostBefore := len(r.sent)
	f.warm = residentOf(pid)
	cpu, askedBefore := processorOf(pid), r.person
	r.mu.Unlock()
	taken := make(chan error, 1)
	go func() { taken <- profiles() }()
	if err := cmpErr(pace(ctx, s.rate, int(float64(s.rate)*s.length.Seconds()), ask), <-taken); err != nil {
		return err
	}
	settle(ctx, &r.answered, int64(r.person))
	r.mu.Lock()
	defer r.mu.Unlock()
	f.latencies = append(f.latencies, r.latencies...)
	f.lost += len(r.sent)
	f.resident = append(f.resident, residentOf(pid))
	f.cpu, f.asked = f.cpu+processorOf(pid)-cpu, f.asked+r.person-askedBefore
	if c := svc.complaints(); len(c) > 0 {
		return fmt.Errorf("the service would have refused: %q", c[:min(len(c), 3)])
	}
	if lostBefore > 0 {
		return fmt.Errorf("%d messages of the first round were lost", lostBefore)
	}
	return ctx.Err()
}

// pace calls f n times, at a steady rate, whatever f takes.
func pace(ctx context.Context, rate, n int, f func() error) error {
	began := time.Now()
	for i := range n {
		due := began.Add(time.Duration(i) * time.Second / time.Duration(rate))
		if wait := time.Until(due); wait > 0 {
			time.Sleep(wait)
		}
		if err := cmpErr(ctx.Err(), f()); err != nil {
			return err
		}
	}
	return nil
}

func cmpErr(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// settle waits until everything is answered, or nothing more comes.
func settle(ctx context.Context, answered *atomic.Int64, want int64) {
	last, since := int64(-1), time.Now()
	for ctx.Err() == nil {
		n := answered.Load()
		if n >= want {
			return
		}
		if n != last {
			last, since = n, time.Now()
		}
		if time.Since(since) > 5*time.Second {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// clockTick is what /proc counts a process's time in: USER_HZ, which is 100 a
// second on every Linux that Go runs on (proc_pid_stat(5), sysconf(3)).
const clockTick = 10 * time.Millisecond

// processorOf is the processor time of a process so far; 0 where the system does
// not tell.
func processorOf(pid int) time.Duration {
	text, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "stat"))
	if err != nil {
		return 0
	}
	// Behind the name, which is in brackets and may hold anything, the twelfth
	// field is the time in the program and the next that in the kernel.
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	if len(fields) < 13 {
		return 0
	}
	user, errUser := strconv.Atoi(fields[11])
	system, errSystem := strconv.Atoi(fields[12])
	if errUser != nil || errSystem != nil {
		return 0
	}
	return time.Duration(user+system) * clockTick
}

// residentOf is the resident memory of a process, in KiB; 0 where the system
// does not tell.
func residentOf(pid int) int {
	text, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "status"))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(text)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			n, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "kB")))
			if err != nil {
				return 0
			}
			return n
		}
	}
	return 0
}
