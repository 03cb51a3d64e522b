package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver "pgx", to measure its tables
	_ "modernc.org/sqlite"             // the driver "sqlite", for the same
)

// scaling are what the mode "scale" is asked for.
type scaling struct {
	bases, rates []int
	store        string
	length       time.Duration // of the messages before the alerts are due
	cold         int
	pages        int
	records      int // of the procedure file
	wait         time.Duration
	profiles     string
}

// pprofAddress is where firn shows its profiles, when they are wanted.
const pprofAddress = "127.0.0.1:7479"

// scale measures firn with everything at once: people who ask, alerts that
// become due at all bases in one minute, open pages, an import.
func scale(ctx context.Context, args []string, out io.Writer) error {
	var s scaling
	var bases, rates string
	flags := flag.NewFlagSet("firn-load scale", flag.ContinueOnError)
	flags.StringVar(&bases, "bases", "100", "how many bases; several with commas between")
	flags.StringVar(&rates, "rate", "100", "messages a second; several with commas between")
	flags.StringVar(&s.store, "store", "sqlite", "sqlite or postgres (a server of its own, or FIRN_DATABASE_URL)")
	flags.DurationVar(&s.length, "for", 40*time.Second, "how long people ask before the alerts become due, at least")
	flags.IntVar(&s.cold, "cold", 20, "of a hundred bases, how many are below their line")
	flags.IntVar(&s.pages, "pages", 40, "browsers, each with two open pages")
	flags.IntVar(&s.records, "records", 400_000, "records of the procedure file that is imported; 0: none")
	flags.DurationVar(&s.wait, "wait", 4*time.Minute, "how long to wait for the alerts after they are due, at most")
	flags.StringVar(&s.profiles, "profiles", "", "a folder for profiles of firn; empty: none are taken")
	if err := flags.Parse(args); err != nil {
		return err
	}
	var err error
	if s.bases, err = numbers("bases", bases, mostBases); err != nil {
		return err
	}
	if s.rates, err = numbers("rate", rates, 20_000); err != nil {
		return err
	}
	if s.cold < 0 || s.cold > 100 || s.pages < 0 || s.length < time.Second {
		return errors.New("-cold is from 0 to 100, -pages not below 0, -for a second or more")
	}
	pprof := ""
	if s.profiles != "" {
		pprof = pprofAddress
		if err := os.MkdirAll(s.profiles, 0o700); err != nil {
			return err
		}
	}
	p, err := newProgram(ctx, s.store, pprof)
	if err != nil {
		return err
	}
	defer p.close()
	fmt.Fprintf(out, "%s; %d of 100 bases are cold; %d browsers with two pages each; an import of %d records when the alerts become due\n", s.store, s.cold, s.pages, s.records)
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(t, strings.Join(columns, "\t")+"\t")
	var notes []string
	for _, n := range s.bases {
		for _, rate := range s.rates {
			m, err := s.one(ctx, p, n, rate)
			if err != nil {
				return fmt.Errorf("%d bases, %d a second: %w", n, rate, err)
			}
			fmt.Fprintln(t, m.line()+"\t")
			fmt.Fprintf(os.Stderr, "%d bases, %d a second: done\n", n, rate)
			notes = append(notes, m.notes...)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, n := range notes {
		fmt.Fprintln(out, n)
	}
	return nil
}

func numbers(name, text string, most int) (out []int, err error) {
	for part := range strings.SplitSeq(text, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(part))
		if err != nil || n < 1 || n > most {
			return nil, fmt.Errorf("-%s: %q is no number from 1 to %d", name, part, most)
		}
		out = append(out, n)
	}
	return out, nil
}

// columns of the table. Times in seconds where they have no unit; first, p50,
// p99 and last are how long after they were due alerts stood in their channels.
var columns = []string{
	"bases", "asked/s", "answered/s", "p50", "p99", "lost", "refused",
	"alerts", "posted", "doubled", "first", "p50", "p99", "last",
	"page p50", "page p99", "missed", "streams MiB",
	"ready", "watch", "record", "look", "import", "cpu %",
	"MiB", "at end", "store MiB", "at end", "KiB/1000 msg", "KiB/1000 alerts",
}

// measured is a line of the table.
type measured struct {
	fields []string
	notes  []string
}

func (m *measured) add(all ...any) {
	for _, v := range all {
		switch v := v.(type) {
		case float64:
			m.fields = append(m.fields, strconv.FormatFloat(v, 'f', 1, 64))
		default:
			m.fields = append(m.fields, fmt.Sprint(v))
		}
	}
}

func (m *measured) line() string { return strings.Join(m.fields, "\t") }

// imported is what became of the import.
type imported struct {
	took time.Duration
	err  error
}

// one measures one combination.
func (s *scaling) one(ctx context.Context, p *program, bases, rate int) (*measured, error) {
	people := min(max(4*rate, 40), 8000)
	warm := time.Duration(people) * time.Second / time.Duration(rate)
	// The bases' morning begins with a minute, and not before people have
	// asked for a while. Half a minute is for a start over many bases.
	due := time.Now().Add(warm + s.length + 20*time.Second + time.Minute).Truncate(time.Minute)
	w := newWorld(bases, s.cold, due)
	file := filepath.Join(p.dir, "procedures.txt")
	if s.records > 0 {
		if err := w.procedures(p.root, file, s.records); err != nil {
			return nil, err
		}
	}
	st, err := p.start(ctx, w, people)
	if err != nil {
		return nil, err
	}
	defer st.stop()
	pid := st.cmd.Process.Pid
	memory := residentOf(pid)
	before, err := st.size(ctx)
	if err != nil {
		return nil, err
	}
	// People ask until all else is over.
	asking, enough := context.WithCancel(ctx)
	defer enough()
	browsers := &rooms{base: st.page, every: 10 * time.Second}
	closed, err := browsers.open(asking, s.pages, w.idents)
	defer func() { enough(); closed() }()
	if err != nil {
		return nil, err
	}
	if err := pace(ctx, rate, people, st.say); err != nil {
		return nil, err
	}
	st.asked.measure()
	browsers.measure()
	began := time.Now()
	start, _, _ := st.asked.counts()
	figures, err := scrape(ctx, st.page)
	if err != nil {
		return nil, err
	}
	cpu := figures["process_cpu_seconds_total"]
	failed := make(chan error, 1)
	go func() { failed <- pace(asking, rate, 1<<40, st.say) }()
	rounds := make(chan map[string]float64, 1)
	go func() { rounds <- longestRounds(asking, st.page) }()
	taken := make(chan error, 1)
	go func() { taken <- s.take(ctx, fmt.Sprintf("%d-%d", bases, rate)) }()

	if err := sleepUntil(ctx, due); err != nil {
		return nil, err
	}
	done, err := s.morning(ctx, p, st, file, due)
	if err != nil {
		return nil, err
	}
	length := time.Since(began)
	enough()
	if err := <-failed; err != nil && !errors.Is(err, context.Canceled) {
		return nil, err
	}
	st.asked.settle(time.Minute)
	if figures, err = scrape(ctx, st.page); err != nil {
		return nil, err
	}
	after, err := st.size(ctx)
	if err != nil {
		return nil, err
	}
	if err := <-taken; err != nil {
		return nil, err
	}
	return s.result(st, browsers, before, after, memory, residentOf(pid), figures, <-rounds, cpu, length, start, done, rate), nil
}

// morning imports a file while the alerts are due, and waits until both are over.
func (s *scaling) morning(ctx context.Context, p *program, st *stage, file string, due time.Time) (imported, error) {
	importing := make(chan imported, 1)
	go func() {
		if s.records == 0 {
			importing <- imported{}
			return
		}
		importing <- p.imports(ctx, st, file)
	}()
	for end := due.Add(s.wait); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(100 * time.Millisecond) {
		if posted, _ := st.lags.counts(); posted >= st.world.coldBases() {
			break
		}
	}
	// What would come twice comes now.
	if err := sleepUntil(ctx, later(time.Now().Add(5*time.Second), due.Add(20*time.Second))); err != nil {
		return imported{}, err
	}
	return <-importing, nil
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func (s *scaling) result(st *stage, browsers *rooms, before, after sizes, memory, memoryAfter int, figures, longest map[string]float64, cpu float64, length time.Duration, start int, done imported, rate int) *measured {
	mib := func(n int64) float64 { return float64(n) / (1 << 20) }
	kibPer1000 := func(bytes int64, n int) float64 { return float64(bytes) / 1024 * 1000 / float64(max(n, 1)) }
	m := &measured{}
	count, answers, refused := st.asked.counts()
	st.asked.mu.Lock()
	took := st.asked.took
	st.asked.mu.Unlock()
	m.add(len(st.world.idents), float64(count-start)/length.Seconds(), float64(len(took))/length.Seconds(), percentile(took, 50), percentile(took, 99), count-answers, refused)
	posted, doubled := st.lags.counts()
	st.lags.mu.Lock()
	lag := st.lags.took
	st.lags.mu.Unlock()
	m.add(st.world.coldBases(), posted, doubled, percentile(lag, 0), percentile(lag, 50), percentile(lag, 99), percentile(lag, 100))
	shown, missed := browsers.result()
	m.add(percentile(shown, 50), percentile(shown, 99), missed, mib(browsers.bytes.Load()))
	round := func(name string) string { return strconv.FormatFloat(longest[name], 'f', 2, 64) }
	m.add(st.ready.Seconds(), round("watch"), round("record"), round("look"), done.took.Seconds(),
		int(100*(figures["process_cpu_seconds_total"]-cpu)/length.Seconds()),
		memory/1024, memoryAfter/1024, mib(before.all), mib(after.all),
		int(kibPer1000(after.of(ofMessages...)-before.of(ofMessages...), answers+len(shown))),
		int(kibPer1000(after.of(ofAlerts...)-before.of(ofAlerts...), posted)))
	note := func(format string, args ...any) {
		m.notes = append(m.notes, fmt.Sprintf("%d bases, %d a second: ", len(st.world.idents), rate)+fmt.Sprintf(format, args...))
	}
	if done.err != nil {
		note("the import failed: %v", done.err)
	}
	if n := st.troubles.count.Load(); n > 0 {
		note("%d warnings and errors, the first: %s", n, st.trouble())
	}
	if c := st.slack.Problems(); len(c) > 0 {
		note("the service would have refused: %q", c[:min(len(c), 3)])
	}
	return m
}

// imports runs the import as a process of its own, as people do.
func (p *program) imports(ctx context.Context, st *stage, file string) imported {
	cmd := exec.CommandContext(ctx, p.firn, "import", "cifp", "--partial", file, "--config", "config.yaml")
	cmd.Dir = st.dir
	cmd.Env = append(os.Environ(), "FIRN_DATABASE_URL="+st.address, "FIRN_LOAD_PPROF=127.0.0.1:0")
	began := time.Now()
	msg, err := cmd.CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%w: %s", err, msg)
	}
	return imported{time.Since(began), err}
}

// take takes profiles of the time when everything happens at once.
func (s *scaling) take(ctx context.Context, name string) error {
	if s.profiles == "" {
		return nil
	}
	return takeProfiles(ctx, s.profiles, name, "profile?seconds=30", "heap")
}

// takeProfiles leaves profiles in files of a folder, one after the other.
func takeProfiles(ctx context.Context, folder, name string, kinds ...string) error {
	for _, kind := range kinds {
		short, _, _ := strings.Cut(kind, "?")
		f, err := os.Create(filepath.Join(folder, name+"-"+short))
		if err != nil {
			return err
		}
		if err := cmpErr(profile(ctx, pprofAddress, kind, f), f.Close()); err != nil {
			return err
		}
	}
	return nil
}

func sleepUntil(ctx context.Context, at time.Time) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(time.Until(at)):
		return nil
	}
}
