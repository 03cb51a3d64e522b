package main

import (
	"context"
	"firn/adapters/testkit/process"
	"firn/bot/app"
	"flag"
	"fmt"
	"io"
	"maps"
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

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/pgtest"
	"firn/adapters/testkit/slackdouble"
)

// The fault run: firn between both chat services and a weather service while
// things break. It is a test since its processes are this test's binary: firn
// as package app makes it, with another clock and pace, which the program
// itself cannot be given. firn-faults runs it for longer by these flags, with
// more to do, and shows its table. Without it each fault has one turn, which is mostly waiting.
var (
	faultRounds = flag.Int("faults.rounds", 3, "rounds of TestFaults on each store")
	faultBases  = flag.Int("faults.bases", 30, "bases that TestFaults watches")
	faultPace   = flag.Duration("faults.pace", 400*time.Millisecond, "time between two questions on a service in TestFaults")
	faultFor    = flag.Duration("faults.for", 0, "go on with TestFaults for so long, whatever the rounds")
	faultStore  = flag.String("faults.store", "both", "postgres, sqlite or both")
	faultSeed   = flag.Uint64("faults.seed", 1, "which faults come when in TestFaults")
	faultReport = flag.String("faults.report", "", "file for the table of TestFaults")
)

// childFaults makes a child process of TestFaults: began and skew in
// nanoseconds.
const childFaults = "FIRN_TEST_FAULTS"

// faultSpeed: a second is four minutes on the clock. The services' own times
// stay real, and a result holds for the longest that can be configured, so
// that a world must end before its clock is two days ahead.
const (
	faultSpeed   = 240
	faultWorld   = 6 * time.Minute
	faultRound   = 4 * time.Second
	faultHold    = 20 * time.Second // an event is one replica's for so long
	faultLimit   = 12 * time.Second
	faultMostAgo = time.Minute     // what is not answered by then is lost
	faultRepeat  = time.Hour       // on the clock: what nobody has seen is said again
	faultDrain   = 3 * time.Minute // and what is not posted by then: a machine may be busy
)

func faultClock(began time.Time, skew time.Duration) func() time.Time {
	return func() time.Time { return began.Add(time.Since(began)*faultSpeed + skew) }
}

// faultsMain is firn with a fast clock, which may be wrong, and a fast pace.
// SIGUSR1 fills its disk and SIGUSR2 frees it: no file grows any more.
func faultsMain() {
	var began, skew int64
	if _, err := fmt.Sscanf(os.Getenv(childFaults), "%d,%d", &began, &skew); err != nil {
		exit(err)
	}
	signal.Ignore(syscall.SIGXFSZ) // a full disk sends no signal either
	disk := make(chan os.Signal, 4)
	signal.Notify(disk, syscall.SIGUSR1, syscall.SIGUSR2)
	go func() {
		for sig := range disk {
			var l syscall.Rlimit
			if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &l); err != nil {
				exit(err)
			}
			if l.Cur = l.Max; sig == syscall.SIGUSR1 {
				l.Cur = 4096
			}
			if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &l); err != nil {
				exit(err)
			}
		}
	}()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := serve(ctx, faultClock(time.Unix(0, began), time.Duration(skew)), app.Pace{
		Tick: 200 * time.Millisecond, Beat: 500 * time.Millisecond, BaseLease: 150 * time.Millisecond, PostLease: 20 * time.Second, Poll: 100 * time.Millisecond,
		Backoff: time.Second, Hold: faultHold, Limit: faultLimit,
		Posts: func() time.Time { return time.Now().AddDate(10, 0, 0).Add(time.Duration(skew) / faultSpeed) },
	})
	stop()
	exit(err)
}

// TestFaults breaks things while people work, and then counts what was lost,
// came twice or was wrong. The stores are at it together, but never beside the
// killed processes of TestServeKilled, which keep two cores busy: here are limits
// in real time.
func TestFaults(t *testing.T) {
	var mu sync.Mutex
	var tables []string
	t.Cleanup(func() {
		slices.Sort(tables)
		text := strings.Join(tables, "\n")
		t.Log("\n" + text)
		if *faultReport != "" {
			if err := os.WriteFile(*faultReport, []byte(text), 0o600); err != nil {
				t.Error(err)
			}
		}
	})
	t.Run("StoreStartsAgain", storeStartsAgain)
	for _, store := range []string{"postgres", "sqlite"} {
		if *faultStore != "both" && *faultStore != store {
			continue
		}
		t.Run(store, func(t *testing.T) {
			t.Parallel()
			var pg *pgtest.Server
			if store == "postgres" {
				pg = pgtest.New(t) // of its own: it is restarted
			}
			total := newTally()
			began := time.Now()
			for n := uint64(0); ; n++ {
				left := *faultRounds - total.rounds
				if *faultFor > 0 {
					left = int((*faultFor - time.Since(began)) / faultRound)
				}
				if left <= 0 || t.Failed() {
					break
				}
				storm(t, pg, total, *faultSeed+n, min(left, int(faultWorld/faultRound)))
			}
			mu.Lock()
			defer mu.Unlock()
			tables = append(tables, total.table(store, time.Since(began)))
			for _, e := range total.errors {
				t.Error(e)
			}
		})
	}
}

// tally is what came of a run.
type tally struct {
	rounds, alerts, posts, answers, checks int
	mornings, reminders                    int // posts of digests
	reached                                int // kills at their point

	mu     sync.Mutex
	faults map[string]*outcome
	errors []string
}

// outcome is what came of a fault. Refused are questions and checks that were
// answered with a sentence that firn could not; cut off is what a known limit
// explains: no process lived to do it (cutOff), or none could know that another
// did (takenBlindly).
type outcome struct{ injected, lost, doubled, wrong, refused, cutOff int }

func newTally() *tally { return &tally{faults: map[string]*outcome{}} }

func (c *tally) of(fault string) *outcome {
	if c.faults[fault] == nil {
		c.faults[fault] = &outcome{}
	}
	return c.faults[fault]
}

// note notes something that should not be, under the fault before it.
func (c *tally) note(kind, fault, format string, args ...any) {
	c.mu.Lock()
	defer c.mu.Unlock()
	o := c.of(fault)
	switch kind {
	case "lost":
		o.lost++
	case "doubled":
		o.doubled++
	case "refused":
		o.refused++
		return
	case "cut off":
		o.cutOff++
		return
	default:
		o.wrong++
	}
	if len(c.errors) < 50 {
		c.errors = append(c.errors, kind+", after "+fault+": "+fmt.Sprintf(format, args...))
	}
}

func (c *tally) table(store string, took time.Duration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d rounds in %v: %d alerts in %d posts, %d of them mornings and %d reminders, %d answers, %d checks; %d kills at their point\n",
		store, c.rounds, took.Round(time.Second), c.alerts, c.posts, c.mornings, c.reminders, c.answers, c.checks, c.reached)
	row := func(name string, o *outcome) {
		fmt.Fprintf(&b, "%-38s %8d %6d %8d %6d %8d %8d\n", name, o.injected, o.lost, o.doubled, o.wrong, o.refused, o.cutOff)
	}
	fmt.Fprintf(&b, "%-38s %8s %6s %8s %6s %8s %8s\n", "fault", "injected", "lost", "doubled", "wrong", "refused", "cut off")
	var sum outcome
	names := make([]string, 0, len(c.faults))
	for name := range c.faults {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		o := c.faults[name]
		row(name, o)
		sum = outcome{sum.injected + o.injected, sum.lost + o.lost, sum.doubled + o.doubled, sum.wrong + o.wrong, sum.refused + o.refused, sum.cutOff + o.cutOff}
	}
	row("together", &sum)
	return b.String()
}

// weathered is the world that things break in.
type weathered struct {
	*testing.T
	total   *tally
	rnd     *rand.Rand // of the faults alone
	slack   *slackdouble.Server
	discord *discorddouble.Server
	wx      *wxDouble
	pg      *pgtest.Server // nil: SQLite
	url     string
	dir     string
	path    string
	env     []string
	began   time.Time
	due     []time.Time        // of each base
	posts   map[[2]string]bool // key and channel of what had to go out in the end
	untrue  []string           // what the mornings' posts say that is not so
	now     func() time.Time

	replicas []*replica
	people   *crowd
	deck     []string // the faults that have not had their turn

	waits  sync.WaitGroup
	number atomic.Int64 // of the last process

	mu    sync.Mutex
	marks []injected
	deeds []string // of Slack, the latest
	said  []string // on Discord
}

type injected struct {
	at   time.Time
	name string
}

// none is what there is before the first fault.
const none = "none yet"

// before is the fault that came last before a moment.
func (w *weathered) before(at time.Time) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	name := none
	for _, m := range w.marks {
		if m.at.After(at) {
			break
		}
		name = m.name
	}
	return name
}

// replica is one process, started again whenever it was killed.
type replica struct {
	w    *weathered
	cmd  *exec.Cmd
	in   io.Writer // where a mine is laid
	said *process.Log
	gone chan struct{} // closed when it was killed
	away []*away
	past []byte // what the processes before it said
	skew time.Duration
}

func (r *replica) start() {
	r.cmd = exec.Command(os.Args[0])
	r.cmd.Env = append(slices.Clone(r.w.env), childFaults+"="+strconv.FormatInt(r.w.began.UnixNano(), 10)+","+strconv.FormatInt(int64(r.skew), 10))
	r.cmd.Env = append(r.cmd.Env, minedEnv(int(r.w.number.Add(1)))...)
	r.cmd.Dir = r.w.dir
	in, err := r.cmd.StdinPipe()
	if err != nil {
		r.w.Fatal(err)
	}
	r.in = in
	if r.said != nil {
		r.past = append(r.past, r.said.All()...)
	}
	r.said, r.gone = process.NewLog(), make(chan struct{})
	r.cmd.Stderr = r.said
	if err := r.cmd.Start(); err != nil {
		r.w.Fatal(err)
	}
}

// toPoint is how long a replica is waited for to come to a point.
const toPoint = 3 * time.Second

// kill ends it without a word, at a point if it comes there soon; reached says
// that it did.
func (r *replica) kill(p point) (reached bool) {
	dead := make(chan struct{})
	go func() {
		_ = r.cmd.Wait() // how it ended is looked at below
		close(dead)
	}()
	if p != anyMoment {
		if _, err := fmt.Fprintln(r.in, p); err != nil {
			r.w.Error(err)
		}
		select {
		case <-dead:
			reached = true
		case <-time.After(toPoint):
		}
	}
	_ = r.cmd.Process.Signal(syscall.SIGKILL) // it may be dead
	<-dead
	close(r.gone)
	if r.cmd.ProcessState.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL {
		r.w.Errorf("it ended by itself: %v\n%s", r.cmd.ProcessState, r.said.Tail())
	}
	return reached
}

func (r *replica) ready() {
	select {
	case <-r.said.Ready():
	case <-time.After(40 * time.Second):
		r.w.Fatalf("it is not ready after 40 s:\n%s", r.said.Tail())
	}
}

// slackKari is on duty.
const slackKari = "U0KARI"

const (
	faultStations = 12 // that people ask about: no weather changes their results
	faultCrew     = 40 // people on Slack, and on Discord
)

// faultChannels spreads the questions on Slack, which takes a message a second
// in a channel once it has asked for patience.
const faultChannels = 12

// faultAlerts spreads the alerts likewise.
const faultAlerts = 6

func alertChannel(i int) string { return fmt.Sprintf("C0ALERT%02d", i) }
func alertDiscord(i int) string { return fmt.Sprintf("1002003004005006%02d", 10+i%faultAlerts) }
func crewChannel(i int) string  { return fmt.Sprintf("C0CREW%02d", i) }
func crewSlack(i int) string    { return fmt.Sprintf("U0CREW%02d", i) }
func crewDiscord(i int) string  { return fmt.Sprintf("2003004005006001%02d", i) }

// storm lets rounds go over a new world, and counts.
func storm(t *testing.T, pg *pgtest.Server, total *tally, seed uint64, rounds int) {
	w := &weathered{T: t, total: total, rnd: rand.New(rand.NewPCG(seed, 8)), pg: pg, dir: t.TempDir(), began: time.Now()}
	w.now = faultClock(w.began, 0)
	w.open(rounds)
	for range cap(w.replicas) {
		r := &replica{w: w}
		r.start()
		w.replicas = append(w.replicas, r)
	}
	for _, r := range w.replicas {
		r.ready()
	}
	w.slack.Wait(20*time.Second, func() bool {
		return w.slack.Connections() == len(w.replicas) && w.discord.Connected() == len(w.replicas)
	})
	w.people = newCrowd(w)
	ctx, stop := context.WithCancel(t.Context())
	var working sync.WaitGroup
	w.people.work(ctx, &working, seed)
	for n := 0; n < rounds || w.turnsLeft(); n++ {
		w.round()
		total.rounds++
		if t.Failed() {
			break
		}
	}
	stop()
	working.Wait()
	w.waits.Wait()
	w.slack.Mend()
	w.discord.Mend()
	w.wx.set(false)
	for _, r := range w.replicas {
		r.ready()
	}
	if !t.Failed() {
		w.people.rest(seed)
		until := w.quiet()
		for _, r := range w.replicas {
			if err := r.cmd.Process.Signal(os.Interrupt); err != nil {
				t.Errorf("it ended by itself: %v\n%s", err, r.said.Tail())
			}
		}
		for _, r := range w.replicas {
			if err := r.cmd.Wait(); err != nil {
				t.Errorf("it ended with %v\n%s", err, r.said.Tail())
			}
		}
		w.count(until)
	}
	if t.Failed() || len(total.errors) > 0 {
		for i, r := range w.replicas {
			name := fmt.Sprintf("replica %d", i)
			if *faultReport != "" {
				err := os.WriteFile(*faultReport+"."+t.Name()[len("TestFaults/"):]+"."+strconv.Itoa(i)+".log", append(r.past, r.said.All()...), 0o600)
				if err != nil {
					t.Error(err)
				}
				continue
			}
			t.Logf("%s:\n%s", name, r.said.Tail())
		}
	}
	if err := w.slack.Close(); err != nil {
		t.Error(err)
	}
	w.discord.Close()
	w.wx.server.Close()
}

// open makes the services and the configuration. The bases' mornings come
// during the rounds.
func (w *weathered) open(rounds int) {
	var err error
	if w.slack, err = slackdouble.Start(slackdouble.Options{Again: []time.Duration{0, time.Second, 3 * time.Second, 3 * time.Second, 3 * time.Second, 3 * time.Second}}); err != nil {
		w.Fatal(err)
	}
	for i := range faultAlerts {
		w.slack.AddChannel(alertChannel(i))
	}
	var channels []string
	for i := range faultChannels {
		channels = append(channels, crewChannel(i))
		w.slack.AddChannel(channels[i])
	}
	w.slack.AddUser(slackKari, "Kari")
	token := "invented-" + "for-tests"
	o := discorddouble.Options{Token: token, Channels: []string{"100200300400500601"}, Keep: 1 << 20, Identifies: 1 << 20, People: []discorddouble.Person{
		{ID: "200300400500600001", Name: "Ada", Roles: []string{"100200300400500701"}},
	}}
	for i := range faultAlerts {
		o.Channels = append(o.Channels, alertDiscord(i))
	}
	for i := range faultCrew {
		w.slack.AddUser(crewSlack(i), fmt.Sprintf("Crew %d", i))
		o.People = append(o.People, discorddouble.Person{ID: crewDiscord(i), Name: fmt.Sprintf("Crew %d", i)})
	}
	if w.discord, err = discorddouble.Start(o); err != nil {
		w.Fatal(err)
	}
	w.wx = newWxDouble(w.now)
	var cfg strings.Builder
	fmt.Fprintf(&cfg, `rules: faa-all-segments
weather: [{kind: awc, url: %q}]
page: {listen: "127.0.0.1:0"}
store: {path: data/firn.db}
slack: {channels: [%s]}
discord: {guild: "%s", channels: ["%s"]}
record: {expire_hours: 48}
alerts: {recheck_minutes: 60, repeat_minutes: %d, escalate_minutes: 180}
duty: ["slack:%s", "discord:role:100200300400500701", "discord:%s"]
stations:
`, w.wx.server.URL, strings.Join(channels, ", "), w.discord.Guild(), w.discord.Channels()[0], int(faultRepeat.Minutes()), slackKari, w.discord.People()[0].ID)
	for i := range faultStations {
		fmt.Fprintf(&cfg, "  - {ident: K%03d, elevation_ft: 5000, restriction_c: -25, time_zone: Etc/UTC}\n", i)
	}
	span := min(time.Duration(rounds)*faultRound*faultSpeed, 23*time.Hour)
	for i := range *faultBases {
		// To the minute, as they are configured.
		due := w.began.UTC().Add(10 * time.Minute).Truncate(time.Minute).Add((span * time.Duration(i) / time.Duration(*faultBases)).Truncate(time.Minute))
		w.due = append(w.due, due)
		fmt.Fprintf(&cfg, "  - {ident: X%03d, elevation_ft: 5000, restriction_c: -25, time_zone: Etc/UTC, watch: {at: \"%s\", window_hours: 12, channels: [\"slack:%s\", \"discord:%s\"]}}\n",
			i, due.Format("15:04"), alertChannel(i%faultAlerts), alertDiscord(i))
	}
	w.path = filepath.Join(w.dir, "config.yaml")
	if err := os.WriteFile(w.path, []byte(cfg.String()), 0o600); err != nil {
		w.Fatal(err)
	}
	w.replicas = make([]*replica, 0, 1)
	if w.pg != nil {
		w.url = w.pg.Database(w.T)
		minefield(w.T, w.url)
		w.replicas = make([]*replica, 0, 2)
	}
	w.env = append(os.Environ(), envDatabase+"="+w.url,
		envSlackApp+"="+w.slack.AppToken(), envSlackBot+"="+w.slack.BotToken(), envSlackURL+"="+w.slack.URL(),
		envDiscord+"="+token, envDiscordURL+"="+w.discord.URL())
}

// The faults. Each takes its time and leaves the world as it was, but for the
// clock of a replica, which stays wrong until it starts again.
func (w *weathered) faults() map[string]func() {
	nap := func(most int) { time.Sleep(time.Duration(w.rnd.IntN(most)) * time.Millisecond) }
	post := func(f slackdouble.Fault, d discorddouble.Fault) func() {
		return func() {
			f.Method, d.Method = "chat.postMessage", "POST"
			d.Path = "/messages"
			f.Times = 1 + w.rnd.IntN(6)
			f.Skip = w.rnd.IntN(3)
			d.Times = 1 + w.rnd.IntN(6)
			w.slack.Fail(f)
			w.discord.Fail(d)
		}
	}
	all := map[string]func(){
		"clock of a replica wrong": func() {
			r := w.replicas[w.rnd.IntN(len(w.replicas))]
			w.again(r, anyMoment, time.Duration(w.rnd.IntN(21)-10)*time.Minute, 0)
			r.ready()
		},
		"Slack sockets cut":   func() { w.slack.Cut() },
		"Slack sockets renew": func() { w.slack.Disconnect("refresh_requested") },
		"Discord sockets cut": func() {
			if w.rnd.IntN(3) == 0 {
				w.discord.Reconnect()
				return
			}
			w.discord.CutSockets()
		},
		"answers dropped once stored": post(slackdouble.Fault{Lose: true}, discorddouble.Fault{After: true, Cut: true}),
		"5xx, nothing done":           post(slackdouble.Fault{Status: 503}, discorddouble.Fault{Status: 503}),
		"5xx, though it was done":     post(slackdouble.Fault{Lose: true}, discorddouble.Fault{Status: 502, After: true}),
		"429 storm": func() {
			w.slack.Fail(slackdouble.Fault{Method: "chat.postMessage", RetryAfter: 1, Times: 5 + w.rnd.IntN(10)})
			w.discord.Fail(discorddouble.Fault{Status: 429, RetryAfter: 400 * time.Millisecond, Times: 5 + w.rnd.IntN(10)})
		},
		"events twice": func() {
			w.discord.Twice(10)
			w.mu.Lock()
			deeds, said := slices.Clone(w.deeds), slices.Clone(w.said)
			w.mu.Unlock()
			for _, d := range deeds[max(0, len(deeds)-8):] {
				_ = w.slack.Redeliver(d) // it may be forgotten
			}
			for _, d := range said[max(0, len(said)-8):] {
				_ = w.discord.Redeliver(d)
			}
		},
		"chat services down": func() {
			w.slack.Fail(slackdouble.Fault{Status: 503, Times: 40})
			w.discord.Fail(discorddouble.Fault{Status: 503, Times: 40})
			nap(1000)
		},
		"weather service down": func() {
			w.wx.set(true)
			nap(3000)
			w.wx.set(false)
		},
	}
	points := []point{anyMoment, inOpen, afterOpen, afterClaim, afterSend}
	if w.pg != nil {
		points = append(points, afterTake, beforeDone)
	}
	for _, p := range points {
		all["killed "+string(p)] = func() {
			r := w.replicas[w.rnd.IntN(len(w.replicas))]
			r.ready()
			w.again(r, p, 0, time.Duration(w.rnd.IntN(500))*time.Millisecond)
			if w.rnd.IntN(4) > 0 {
				r.ready()
			}
		}
	}
	if w.pg != nil {
		all["database crashed"] = func() { w.restart(true, time.Duration(w.rnd.IntN(1000))*time.Millisecond) }
		all["database restarted"] = func() { w.restart(false, time.Duration(w.rnd.IntN(1000))*time.Millisecond) }
	} else {
		all["disk full"] = func() {
			r := w.replicas[0]
			r.ready()
			if err := r.cmd.Process.Signal(syscall.SIGUSR1); err != nil {
				w.Error(err)
			}
			time.Sleep(500 * time.Millisecond)
			nap(1500)
			if err := r.cmd.Process.Signal(syscall.SIGUSR2); err != nil {
				w.Error(err)
			}
		}
	}
	return all
}

// again kills a replica and starts it.
func (w *weathered) again(r *replica, p point, skew, down time.Duration) {
	if r.kill(p) {
		w.total.mu.Lock()
		w.total.reached++
		w.total.mu.Unlock()
	}
	a := &away{from: time.Now()}
	w.mu.Lock()
	r.away = append(r.away, a)
	w.mu.Unlock()
	time.Sleep(down)
	// firn ends without its database; what keeps it running starts it again.
	for end := time.Now().Add(faultMostAgo); w.pg != nil && len(w.column("SELECT 1")) == 0 && time.Now().Before(end); {
		time.Sleep(50 * time.Millisecond)
	}
	r.skew = skew
	r.start()
	said, gone := r.said, r.gone
	w.waits.Go(func() {
		connected := func() bool {
			return w.slack.Connections() == len(w.replicas) && w.discord.Connected() == len(w.replicas)
		}
		for end := time.Now().Add(faultMostAgo); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
			select {
			case <-gone: // before it listened
			case <-said.Ready():
				if !connected() {
					continue
				}
			default:
				continue
			}
			w.mu.Lock()
			a.to = time.Now()
			w.mu.Unlock()
			return
		}
	})
}

// away is when a replica was killed, and listened again; zero: not yet.
type away struct{ from, to time.Time }

// working is the longest that a process is at work on a message.
const working = faultHold + time.Second

// ackEarly is a little less than after what time firn acknowledges what it has
// not answered yet.
const ackEarly = 1400 * time.Millisecond

// cutOff says that no process that had a message lived to answer it. Slack
// sends what was not acknowledged again, so that there a message is cut off
// only if it was acknowledged before it was answered, which firn says after a
// moment, and if a process was killed then; or if all were, which look after
// what one of them has. Discord sends nothing again: there each process must
// have been down when the message came, or killed while it may have been at
// work on it.
func (w *weathered) cutOff(q *question, at time.Time) bool {
	id := q.id
	if at.Equal(q.checked) {
		id = q.checkID
	}
	early := false
	if !q.discord {
		for _, a := range w.slack.Acks(q.channel + "/" + id) {
			if a.Came.Sub(a.Sent) < ackEarly && len(w.replicas) == 1 {
				return false // firn said that it was done
			}
			early = early || a.Came.Sub(a.Sent) >= ackEarly && w.killed(a.Came)
		}
		if len(w.replicas) == 1 {
			return early
		}
	}
	most := working
	if len(w.replicas) > 1 {
		most *= 2 // one takes what another had, after that
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, r := range w.replicas {
		if !slices.ContainsFunc(r.away, func(a *away) bool {
			down := a.from.Before(at) && (a.to.IsZero() || a.to.After(at))
			return down || a.from.After(at) && a.from.Before(at.Add(most))
		}) {
			return early
		}
	}
	return true
}

// killed says that a process was killed while it may have been at work on a
// message that was acknowledged at a moment.
func (w *weathered) killed(at time.Time) bool {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.ContainsFunc(w.replicas, func(r *replica) bool {
		return slices.ContainsFunc(r.away, func(a *away) bool { return a.from.After(at) && a.from.Before(at.Add(working)) })
	})
}

func (w *weathered) restart(crash bool, down time.Duration) {
	for _, r := range w.replicas {
		r.ready() // firn does not start without its database
	}
	if err := w.pg.Restart(crash, down); err != nil {
		w.Error(err)
	}
}

// turnsLeft says that a fault has not had its turn in this run.
func (w *weathered) turnsLeft() bool {
	w.total.mu.Lock()
	defer w.total.mu.Unlock()
	for name := range w.faults() {
		if w.total.of(name).injected == 0 {
			return true
		}
	}
	return false
}

// round injects up to half of the faults at random moments.
func (w *weathered) round() {
	all := w.faults()
	end := time.Now().Add(faultRound)
	for range (len(all) + 1) / 2 {
		if time.Now().After(end) || w.Failed() {
			break
		}
		if len(w.deck) == 0 {
			w.deck = slices.Sorted(maps.Keys(all))
			w.rnd.Shuffle(len(w.deck), func(i, j int) { w.deck[i], w.deck[j] = w.deck[j], w.deck[i] })
		}
		name := w.deck[0]
		w.deck = w.deck[1:]
		time.Sleep(time.Duration(w.rnd.IntN(400)) * time.Millisecond)
		w.mu.Lock()
		w.marks = append(w.marks, injected{time.Now(), name})
		w.mu.Unlock()
		all[name]()
		w.total.mu.Lock()
		w.total.of(name).injected++
		w.total.mu.Unlock()
	}
	time.Sleep(time.Until(end))
}
