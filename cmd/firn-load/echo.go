package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// demoStation is the configuration of firn under load: one station, so that
// every question is a real one.
const demoStation = `rules: faa-all-segments
page: {listen: "127.0.0.1:0"}
store: {path: data/firn.db}
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, mountainous: true}
`

// echo is the bare bot that firn is measured against.
func echo(ctx context.Context, service string) error {
	switch service {
	case "slack":
		return echoSlack(ctx, false)
	case "slack-card":
		return echoSlack(ctx, true)
	case "discord":
		return echoDiscord(ctx, false)
	case "discord-card":
		return echoDiscord(ctx, true)
	}
	return fmt.Errorf("there is no echo bot for %q", service)
}

func newService(s *settings, reply func(name string, came time.Time)) (service, error) {
	switch s.service {
	case "slack":
		return newSlack(s, reply)
	case "discord":
		return newDiscord(s, reply)
	}
	return nil, fmt.Errorf("%q is no service: write slack or discord", s.service)
}

// card is an answer of firn's, for a bare bot that posts as much.
type card struct {
	Text     string
	Blocks   json.RawMessage `json:",omitempty"` // of Slack
	Metadata json.RawMessage `json:",omitempty"`
	Body     json.RawMessage `json:",omitempty"` // of Discord: the request's
}

// leave leaves the last card of firn's in a bot's folder.
func (s *settings) leave(dir string) error {
	c := s.card.Load()
	if c == nil {
		return nil
	}
	text, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "card.json"), text, 0o600)
}

// left is the card that was left.
func left() (c card, err error) {
	text, err := os.ReadFile("card.json")
	if err == nil {
		err = json.Unmarshal(text, &c)
	}
	return c, err
}

// quiet is where the bots log to: nowhere, unless FIRN_LOAD_LOG is set.
func quiet() io.Writer {
	if os.Getenv("FIRN_LOAD_LOG") != "" {
		return os.Stderr
	}
	return io.Discard
}

// listens is the setting by which a bot shows its profiles, where they are wanted.
func (s *settings) listens() string {
	at := ""
	if s.profiles != "" {
		at = pprofAddress
	}
	return "FIRN_LOAD_PPROF=" + at
}
