// Command firn answers a crew's one-line message with altitudes corrected for
// cold air.
//
// This package only wires: it reads the arguments, the configuration and the
// streams, and hands them to bot and adapters. One file a command.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"
	_ "time/tzdata" // the zones of stations, also on a machine without them

	"github.com/alecthomas/kong"

	"firn/adapters/machine"
	"firn/adapters/sqlstore"
	"firn/bot/access"
	"firn/bot/airports"
	"firn/bot/app"
	"firn/bot/reply"
)

func main() { os.Exit(thisProcess(app.Pace{})) }

// thisProcess is this process as firn, at a pace; it gives the exit code.
func thisProcess(pace app.Pace) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return run(ctx, os.Args[1:], host{
		stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr,
		getenv: os.Getenv, now: time.Now, pace: pace,
	})
}

// host is the outside world, handed in so that all of run stands in tests.
type host struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	getenv         func(string) string
	now            func() time.Time
	pace           app.Pace // zero: as people run it
	message        string   // what followed the flags of ask and decode, as typed
}

// The exit codes.
const (
	exitAnswered = 0
	exitOther    = 1
	exitFixing   = 2 // the message, or the command line, needs fixing
)

// errNeedsFixing ends a command with exitFixing; the reply has said why.
var errNeedsFixing = errors.New("the message needs fixing")

type commands struct {
	Ask     askCommand     `cmd:"" help:"Answer one message: firn ask XKLD -38 8200 7400 5340"`
	Chat    chatCommand    `cmd:"" help:"Talk with firn on the console; follow-ups go on from the answer before."`
	Serve   serveCommand   `cmd:"" help:"Run everything that is configured: the watch, its posts, the page."`
	Watch   watchCommand   `cmd:"" help:"Show what the watched bases are like now, or judge them as of a time."`
	Doctor  doctorCommand  `cmd:"" help:"Look whether configuration, clock, store and weather sources are as they must be."`
	Picture pictureCommand `cmd:"" help:"Draw an answer: its profile, the curve, or the day of a base."`
	Card    cardCommand    `cmd:"" help:"Make the page to print and clip to the kneeboard."`
	Import  importCommand  `cmd:"" help:"Take in coded procedures."`
	Export  exportCommand  `cmd:"" help:"Write the record: who computed what, from what, and who checked it."`
	Access  accessCommand  `cmd:"" help:"Look after the links by which people come in to the page from other machines."`
	Backup  backupCommand  `cmd:"" help:"Copy the SQLite store to a file while firn serve goes on."`
	Restore restoreCommand `cmd:"" help:"Put a copy back in the store's place; nothing is posted twice afterwards."`
	Move    moveCommand    `cmd:"" help:"Move everything from the SQLite store to PostgreSQL: firn move --to postgres"`
	Decode  decodeCommand  `cmd:"" help:"Show what is read from METAR and TAF text, a report a line."`

	Version    versionCommand    `cmd:"" help:"Say which firn this is."`
	Help       helpCommand       `cmd:"" help:"Show this, or the help of a command."`
	Completion completionCommand `cmd:"" help:"Write what bash, zsh or fish needs to complete commands and flags."`

	VersionFlag versionFlag `name:"version" help:"Say which firn this is."`
}

func run(ctx context.Context, args []string, h host) int {
	out, within := h.stdout.(*output) // of the help command's
	if !within {
		out = &output{to: h.stdout}
		h.stdout = out
	}
	args, h.message = splitMessage(args)
	var cli commands
	exited := -1
	parser, err := kong.New(&cli,
		kong.Name("firn"),
		kong.Description("Altitudes corrected for cold air, for flight crews. "+reply.Aid),
		kong.Writers(h.stdout, h.stderr),
		kong.Exit(func(code int) { exited = code }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(h),
	)
	if err != nil {
		fmt.Fprintln(h.stderr, "firn:", err)
		return exitOther
	}
	if len(args) == 0 {
		args = []string{"--help"}
	}
	command, err := parser.Parse(args)
	switch {
	case exited >= 0 && out.lost() == nil: // --help has printed
		return exited
	case exited < 0 && err == nil:
		err = command.Run()
	case err != nil:
		err = fmt.Errorf("%w: %w", errUsage, err)
	}
	if lost := out.lost(); lost != nil {
		if err = lost; within {
			return exitOther // which the outer run tells
		}
	}
	switch {
	case err == nil:
		return exitAnswered
	case errors.Is(err, errNeedsFixing):
		return exitFixing
	case errors.Is(err, errUsage), errors.Is(err, access.ErrTyped), errors.Is(err, airports.ErrDated):
		fmt.Fprintln(h.stderr, "firn:", err)
		return exitFixing
	case errors.Is(err, context.Canceled):
		return exitOther
	}
	if say := machine.Advice(err); say != "" && sqlstore.Unwritable(err) { // else the error has its own
		err = fmt.Errorf("%w; %s", err, say)
	}
	fmt.Fprintln(h.stderr, "firn:", err)
	return exitOther
}
