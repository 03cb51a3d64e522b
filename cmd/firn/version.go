package main

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"runtime"
	"runtime/debug"

	"github.com/alecthomas/kong"

	"firn/adapters/health"
	"firn/bot/request"
	"firn/engine"
)

// build is which firn this is.
type build struct {
	Version  string // of the module, as Go makes it of the commit; "devel" where it does not know
	Revision string // of the commit; "+" behind it where files were changed; empty where it is not known
	Go       string
	Engine   string // of the calculation, which every record has
}

// thisBuild asks the binary itself.
func thisBuild() build {
	b := build{Go: runtime.Version(), Engine: engine.Version}
	info, ok := debug.ReadBuildInfo()
	if ok {
		b.Version = info.Main.Version
		for _, s := range info.Settings {
			switch {
			case s.Key == "vcs.revision":
				b.Revision = s.Value + b.Revision
			case s.Key == "vcs.modified" && s.Value == "true":
				b.Revision += "+"
			}
		}
	}
	if b.Version == "(devel)" {
		b.Version = ""
	}
	b.Version = cmp.Or(b.Version, "devel")
	return b
}

// String is one line for people.
func (b build) String() string {
	text := "firn " + b.Version
	if b.Revision != "" {
		text += ", commit " + b.Revision
	}
	return text + ", calculation " + b.Engine + ", " + b.Go
}

// versionCommand says which firn this is.
type versionCommand struct{}

// Run says it.
func (versionCommand) Run(h host) error {
	_, err := fmt.Fprintln(h.stdout, thisBuild())
	return err
}

// helpCommand is --help for those who type the word.
type helpCommand struct {
	Command []string `arg:"" optional:"" help:"Of which command."`
}

// Run shows the help that --help shows.
func (c helpCommand) Run(ctx context.Context, h host) error {
	if code := run(ctx, append(c.Command, "--help"), h); code != exitAnswered {
		return fmt.Errorf("%w: see firn help", errUsage)
	}
	return nil
}

// versionFlag is --version.
type versionFlag bool

// BeforeReset prints and ends.
func (versionFlag) BeforeReset(app *kong.Kong, h host) error {
	fmt.Fprintln(h.stdout, thisBuild())
	app.Exit(0)
	return nil
}

// logging is how serve writes its log.
type logging struct {
	LogLevel  string `help:"What is logged: debug, info, warn or error." enum:"debug,info,warn,error" default:"info" placeholder:"LEVEL"`
	LogFormat string `help:"How: text, or json, one object a line." enum:"text,json" default:"text" placeholder:"FORM"`
}

// level is the least that is logged.
func (l logging) level() (level slog.Level) {
	if err := level.UnmarshalText([]byte(l.LogLevel)); err != nil {
		return slog.LevelInfo // enum lets nothing else in
	}
	return level
}

// newLog writes to stderr.
func newLog(h host, level slog.Level, form string, m *health.Meters) *slog.Logger {
	o := &slog.HandlerOptions{Level: level}
	var to slog.Handler = slog.NewTextHandler(h.stderr, o)
	if form == "json" {
		to = slog.NewJSONHandler(h.stderr, o)
	}
	return slog.New(m.Log(request.Handler(to)))
}
