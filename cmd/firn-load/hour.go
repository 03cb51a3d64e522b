package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"slices"
	"time"
)

// hour sends an hour's worth of messages, faster than an hour, and looks
// whether firn's memory stays flat: the live heap after each collection, and
// what the process has resident.
func hour(ctx context.Context, args []string, out io.Writer) error {
	flags := flag.NewFlagSet("firn-load hour", flag.ContinueOnError)
	rate := flags.Int("rate", 100, "messages a second, of which an hour's worth is sent")
	speed := flags.Int("speed", 600, "messages a second, as they are sent")
	bases := flags.Int("bases", 100, "how many bases")
	store := flags.String("store", "sqlite", "sqlite or postgres")
	pages := flags.Int("pages", 10, "browsers, each with two open pages")
	samples := flags.Int("samples", 24, "how often the memory is looked at")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if *rate < 1 || *speed < 1 || *bases < 1 || *bases > mostBases || *samples < 4 || *pages < 0 {
		return errors.New("-rate, -speed and -bases must be above zero, -samples 4 or more")
	}
	p, err := newProgram(ctx, *store, "")
	if err != nil {
		return err
	}
	defer p.close()
	// The bases' morning was an hour ago, so that alerts are part of it.
	st, err := p.start(ctx, newWorld(*bases, 20, time.Now().Add(-time.Hour)), min(max(4**speed, 40), 8000))
	if err != nil {
		return err
	}
	defer st.stop()
	asking, enough := context.WithCancel(ctx)
	defer enough()
	browsers := &rooms{base: st.page, every: 10 * time.Second}
	closed, err := browsers.open(asking, *pages, st.world.idents)
	defer func() { enough(); closed() }()
	if err != nil {
		return err
	}
	fmt.Fprintf(out, "%s, %d bases, an hour of %d messages a second, sent at %d a second\n", *store, *bases, *rate, *speed)
	fmt.Fprintf(out, "%9s %8s %9s %9s %9s %9s %13s %11s %10s %13s\n", "messages", "seconds", "answered", "p50", "p99", "live MiB", "resident MiB", "goroutines", "store MiB", "record round")
	began := time.Now()
	var lives, residents []float64
	for i := range *samples {
		st.asked.measure()
		if err := pace(ctx, *speed, 3600**rate / *samples, st.say); err != nil {
			return err
		}
		if i == *samples-1 {
			st.asked.settle(time.Minute)
		}
		least, figures, err := leastLive(ctx, st.page)
		if err != nil {
			return err
		}
		size, err := st.size(ctx)
		if err != nil {
			return err
		}
		lives = append(lives, least)
		residents = append(residents, float64(residentOf(st.cmd.Process.Pid))/1024)
		count, answers, _ := st.asked.counts()
		st.asked.mu.Lock()
		took := st.asked.took
		st.asked.mu.Unlock()
		fmt.Fprintf(out, "%9d %8.0f %9d %9v %9v %9.1f %13.0f %11.0f %10.0f %12.1fs\n", count, time.Since(began).Seconds(), answers, percentile(took, 50), percentile(took, 99),
			least, residents[i], figures["go_goroutines"], float64(size.all)/(1<<20), figures[`firn_round_seconds{round="record"}`])
	}
	growth(out, "live heap", lives)
	growth(out, "resident", residents)
	if n := st.troubles.count.Load(); n > 0 {
		fmt.Fprintf(out, "%d warnings and errors, the first: %s\n", n, st.trouble())
	}
	return nil
}

// leastLive is the live heap in MiB, with the last figures. Now and then a
// collection runs that saw more than was in use; the least of a few is what
// there is.
func leastLive(ctx context.Context, page string) (least float64, figures map[string]float64, err error) {
	for try := range 3 {
		if figures, err = scrape(ctx, page); err != nil {
			return 0, nil, err
		}
		if l := live(figures) / (1 << 20); try == 0 || l < least {
			least = l
		}
		time.Sleep(200 * time.Millisecond)
	}
	return least, figures, nil
}

// growth says whether a memory grew. The bounded ones are full after some of
// the hour: the quarters behind that must be alike.
func growth(out io.Writer, name string, all []float64) {
	quarter := len(all) / 4
	second, last := median(all[quarter:2*quarter]), median(all[len(all)-quarter:])
	fmt.Fprintf(out, "%s: median of the second quarter %.1f MiB, of the last %.1f MiB, %+.1f percent\n", name, second, last, 100*(last/second-1))
}

func median(all []float64) float64 { return slices.Sorted(slices.Values(all))[len(all)/2] }
