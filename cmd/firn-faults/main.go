// Command firn-faults breaks things around firn while people work with it, and
// prints what was lost, came twice or was wrong:
//
//	go run ./cmd/firn-faults [-rounds N] [-bases 200] [-pace 160ms] [-for D] [-store postgres|sqlite|both] [-seed S]
//
// Two replicas on a PostgreSQL database, and one process on SQLite, run
// between stand-ins for both chat services and for a weather service. The run
// itself is TestFaults of this package: its processes are the test's binary,
// since a clock that is fast, and wrong, would be a switch in the program that a
// unit could set by mistake. This command runs that test by its flags, from
// within the repository, and shows its table. go test runs it for three rounds
// with less to do.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strconv"
	"syscall"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	if errors.Is(err, flag.ErrHelp) {
		os.Exit(2)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "firn-faults:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out, errs io.Writer) error {
	flags := flag.NewFlagSet("firn-faults", flag.ContinueOnError)
	flags.SetOutput(errs)
	rounds := flags.Int("rounds", 20, "rounds on each store")
	bases := flags.Int("bases", 200, "bases that are watched")
	pace := flags.Duration("pace", 160*time.Millisecond, "time between two questions on a service")
	length := flags.Duration("for", 0, "go on for so long on each store, whatever the rounds")
	store := flags.String("store", "both", "postgres, sqlite or both")
	seed := flags.Uint64("seed", 1, "which faults come when")
	if err := flags.Parse(args); err != nil {
		return err
	}
	if flags.NArg() > 0 {
		return fmt.Errorf("%q is no flag; type firn-faults -h", flags.Arg(0))
	}
	switch *store {
	case "postgres", "sqlite", "both":
	default:
		return fmt.Errorf("-store is %q: type postgres, sqlite or both", *store)
	}
	if *pace <= 0 {
		return errors.New("-pace must be above zero")
	}
	if *rounds < 1 || *bases < 1 || *bases > 999 {
		return errors.New("-rounds must be above zero, and -bases from 1 to 999")
	}
	dir, err := os.MkdirTemp("", "firn-faults-")
	if err != nil {
		return err
	}
	report := filepath.Join(dir, "report")
	limit := *length + time.Duration(*rounds)*time.Minute + 10*time.Minute
	cmd := exec.CommandContext(ctx, "go", "test", "firn/cmd/firn-faults", "-count", "1", "-run", "^TestFaults$", "-timeout", limit.String(),
		"-faults.rounds", strconv.Itoa(*rounds), "-faults.bases", strconv.Itoa(*bases), "-faults.pace", pace.String(), "-faults.for", length.String(),
		"-faults.store", *store, "-faults.seed", strconv.FormatUint(*seed, 10), "-faults.report", report)
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
	said, failed := cmd.CombinedOutput()
	table, err := os.ReadFile(report)
	if err != nil {
		return errors.Join(failed, fmt.Errorf("there is no table: %w\n%s", err, said))
	}
	fmt.Fprintf(out, "%s", table)
	if failed != nil {
		return fmt.Errorf("%w; the logs are in %s\n%s", failed, dir, said)
	}
	return os.RemoveAll(dir)
}
