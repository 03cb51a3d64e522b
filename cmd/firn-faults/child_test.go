package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	mathrand "math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"firn/adapters/console"
	"firn/adapters/discord"
	"firn/adapters/folder"
	"firn/adapters/health"
	"firn/adapters/httpwx/awc"
	"firn/adapters/httpwx/fetch"
	"firn/adapters/jsonl"
	"firn/adapters/page"
	"firn/adapters/scheduler"
	"firn/adapters/slack"
	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/request"
	"firn/bot/weather"
	"firn/engine/ruleset"
)

// The variables by which a child finds what the test has made.
const (
	envDatabase   = "FIRN_DATABASE_URL"
	envSlackApp   = "FIRN_SLACK_APP_TOKEN"
	envSlackBot   = "FIRN_SLACK_BOT_TOKEN"
	envSlackURL   = "FIRN_SLACK_API_URL"
	envDiscord    = "FIRN_DISCORD_TOKEN"
	envDiscordURL = "FIRN_DISCORD_API_URL"
)

func TestMain(m *testing.M) {
	switch {
	case os.Getenv(childBegan) != "":
		childMain()
	case os.Getenv(childFaults) != "":
		faultsMain()
	}
	os.Exit(m.Run())
}

// exit ends a child.
func exit(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, "firn:", err)
		os.Exit(1)
	}
	os.Exit(0)
}

// store is what a child works with, and the test counts in.
type store interface {
	app.Store
	Close() error
}

// openStore opens a database, or the file below the folder of a test.
func openStore(ctx context.Context, dir, url string) (store, error) {
	if url != "" {
		return sqlstore.OpenPostgres(ctx, url, sqlstore.MayCreate)
	}
	return sqlstore.OpenSQLite(ctx, filepath.Join(dir, "data", "firn.db"), sqlstore.MayCreate)
}

// configured reads the configuration of a test's folder.
func configured(dir string) (*config.Config, []*ruleset.Set, error) {
	data, err := os.ReadFile(filepath.Join(dir, "config.yaml"))
	if err != nil {
		return nil, nil, err
	}
	return app.Configure("config.yaml", data)
}

// serve is firn at work in a child, which stands in the folder of its test: the
// store and what it posts by are mined.
func serve(ctx context.Context, now func() time.Time, pace app.Pace) error {
	cfg, sets, err := configured(".")
	if err != nil {
		return err
	}
	url := os.Getenv(envDatabase)
	m := lay(os.Stdin, url)
	s, err := openStore(ctx, ".", url)
	if err != nil {
		return err
	}
	meters := health.NewMeters(health.Build{})
	log := slog.New(meters.Log(request.Handler(slog.NewTextHandler(os.Stderr, nil))))
	holder := fmt.Sprint("child/", os.Getpid(), "/", time.Now().UnixNano())
	kept := m.store(s)
	p := app.Parts{
		Log: log, Now: now, Config: cfg, Name: "config.yaml", Rules: sets, Store: kept, Where: "the test's store", Holder: holder,
		Homes:   map[string]string{slack.Name: "ours", discord.Name: cfg.Discord.Guild},
		Wanting: func(config.Surface) string { return "the test does not set it up" },
		Senders: map[string]outbox.Sender{
			jsonl.Surface:            minedSender{jsonl.New(log, "data/posts"), m},
			string(config.OnConsole): console.NewSender(io.Discard, console.Style{}),
		},
		Meter: meters, Jitter: mathrand.Float64, Pace: pace,
		Schedule: func(ctx context.Context, name string, every time.Duration, fn func(context.Context)) (func() error, error) {
			t, err := scheduler.Start(ctx, log, kept.(scheduler.Locks), name, every, fn)
			if err != nil {
				return nil, err
			}
			return t.Close, nil
		},
		Page: func(a *app.App) (app.Page, error) {
			return page.New(log, page.Options{Now: now, Zone: a.Bot().Zone, Records: a.Book(), Procedures: a, Room: kept})
		},
	}
	if p.Sources, err = sources(log, cfg, now); err != nil {
		return err
	}
	if p.Surfaces, err = surfaces(log, cfg); err != nil {
		return err
	}
	for _, on := range p.Surfaces {
		p.Senders[on.Name()] = m.sender(on)
	}
	err = app.Serve(ctx, make(chan struct{}), func(context.Context, *app.App) (*app.App, error) {
		a, err := app.New(p)
		if err != nil {
			return nil, err
		}
		a.ServeAt(quietFront{make(chan struct{})})
		return a, a.ChannelsServed()
	})
	return errors.Join(err, s.Close())
}

func sources(log *slog.Logger, cfg *config.Config, now func() time.Time) (all []weather.Source, err error) {
	for _, w := range cfg.Weather {
		var src weather.Source
		switch w.Kind {
		case config.Folder:
			src, err = folder.New(folder.Options{Dir: w.Path, Now: now, Log: log})
		case config.AWC:
			o := awc.Options{Options: fetch.Options{Now: now, UserAgent: "firn's tests", BaseURL: w.URL, Private: w.Private}}
			for i := range cfg.Stations {
				o.Idents = append(o.Idents, cfg.Stations[i].Ident)
			}
			src, err = awc.New(o)
		}
		if err != nil {
			return nil, err
		}
		all = append(all, src)
	}
	return all, nil
}

func surfaces(log *slog.Logger, cfg *config.Config) (all []app.Surface, err error) {
	if token := os.Getenv(envSlackBot); token != "" {
		on, err := slack.New(log, slack.Options{
			AppToken: slack.Token(os.Getenv(envSlackApp)), BotToken: slack.Token(token), APIURL: os.Getenv(envSlackURL),
			Home: "ours", Groups: app.DutyGroups(cfg, config.OnSlack),
		})
		if err != nil {
			return nil, err
		}
		all = append(all, on)
	}
	if token := os.Getenv(envDiscord); token != "" {
		on, err := discord.New(log, discord.Options{Token: discord.Token(token), APIURL: os.Getenv(envDiscordURL), Guild: cfg.Discord.Guild})
		if err != nil {
			return nil, err
		}
		all = append(all, on)
	}
	return all, nil
}

// quietFront is a front that nobody comes to.
type quietFront struct{ ended chan struct{} }

// Serve waits for Shutdown.
func (f quietFront) Serve() error {
	<-f.ended
	return nil
}

// Shutdown ends Serve.
func (f quietFront) Shutdown(context.Context) error {
	close(f.ended)
	return nil
}

// URL is nowhere.
func (quietFront) URL() string { return "http://127.0.0.1:0/" }
