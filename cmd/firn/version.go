package main

import (
	"context"
	"fmt"
	"log/slog"

	"github.com/alecthomas/kong"

	"firn/adapters/health"
)

// versionCommand says which firn this is.
type versionCommand struct{}

// Run says it.
func (versionCommand) Run(h host) error {
	_, err := fmt.Fprintln(h.stdout, health.ThisBuild())
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
	fmt.Fprintln(h.stdout, health.ThisBuild())
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
