package slack_test

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"sync"
	"testing"
	"time"

	"github.com/goccy/go-yaml"

	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
)

// manifest is what the tests read of manifest.yaml.
type manifest struct {
	Features struct {
		AppHome struct {
			Home     bool `yaml:"home_tab_enabled"`
			Messages bool `yaml:"messages_tab_enabled"`
			ReadOnly bool `yaml:"messages_tab_read_only_enabled"`
		} `yaml:"app_home"`
		Shortcuts []struct {
			Name        string `yaml:"name"`
			Type        string `yaml:"type"`
			Callback    string `yaml:"callback_id"`
			Description string `yaml:"description"`
		} `yaml:"shortcuts"`
		Commands []struct {
			Command string `yaml:"command"`
			Escape  bool   `yaml:"should_escape"`
		} `yaml:"slash_commands"`
	} `yaml:"features"`
	OAuth struct {
		Scopes struct {
			Bot  []string `yaml:"bot"`
			User []string `yaml:"user"`
		} `yaml:"scopes"`
	} `yaml:"oauth_config"`
	Settings struct {
		Events struct {
			Bot []string `yaml:"bot_events"`
		} `yaml:"event_subscriptions"`
		Interactivity struct {
			On bool `yaml:"is_enabled"`
		} `yaml:"interactivity"`
		Socket bool `yaml:"socket_mode_enabled"`
	} `yaml:"settings"`
}

func readManifest(t *testing.T) (m manifest) {
	t.Helper()
	raw, err := os.ReadFile("manifest.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if err := yaml.Unmarshal(raw, &m); err != nil {
		t.Fatalf("manifest.yaml: %v", err)
	}
	return m
}

// Who and where; all invented.
const (
	crew            = "C0CREW"
	north           = "C0NORTH"
	closed          = "C0CLOSED" // the bot is not in it
	other           = "C0OTHER"  // the bot is in it and is not to answer
	kari            = "U0KARI"
	odd             = "U0ODD"
	pia             = "U0PIA"
	guest, stranger = "U0GRY", "U0XAVER"
	onDuty          = "S0DUTY"
)

// double starts Slack, as the manifest would have installed the app.
func double(t *testing.T, change func(*slackdouble.Options)) *slackdouble.Server {
	t.Helper()
	m := readManifest(t)
	// A machine that others use too must not make acknowledgements late; that
	// they wait for nothing is a test of its own.
	o := slackdouble.Options{AckWithin: 20 * time.Second, Scopes: m.OAuth.Scopes.Bot, Events: m.Settings.Events.Bot}
	if change != nil {
		change(&o)
	}
	d, err := slackdouble.Start(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.Close(); err != nil {
			t.Error(err)
		}
	})
	for _, id := range []string{crew, north, closed, other} {
		d.AddChannel(id)
	}
	d.Kick(closed)
	d.AddUser(kari, "Kari")
	d.AddUser(odd, "Odd")
	d.AddUser(pia, "Pia")
	d.AddGuest(guest, "Gry")
	d.AddOutsider(stranger, "Xaver", "T0ELSEWHERE")
	d.SetGroup(onDuty, kari)
	return d
}

// tidy says at the end of a test that Slack had nothing to complain of.
func tidy(t *testing.T, d *slackdouble.Server) {
	t.Helper()
	for _, p := range d.Problems() {
		t.Errorf("Slack: %s", p)
	}
	if n := d.TokensInBody(); n > 0 {
		t.Errorf("%d calls had their token in the form, want it in the header", n)
	}
}

// surface makes one for a double; its pauses are short.
func surface(t *testing.T, d *slackdouble.Server, change func(*slack.Options)) *slack.Surface {
	t.Helper()
	o := slack.Options{
		AppToken: slack.Token(d.AppToken()), BotToken: slack.Token(d.BotToken()), APIURL: d.URL(),
		Groups: []string{onDuty}, FirstBackoff: 20 * time.Millisecond, MaxBackoff: 100 * time.Millisecond,
		Pace: 20 * time.Millisecond, Grace: 2 * time.Second,
	}
	if change != nil {
		change(&o)
	}
	s, err := slack.New(slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})), o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// run runs a surface until the test ends or stop is called.
func run(t *testing.T, s *slack.Surface, taker chat.Handler) (stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx, taker) }()
	stop = sync.OnceFunc(func() {
		cancel()
		select {
		case err := <-done:
			if !errors.Is(err, context.Canceled) {
				t.Errorf("Run = %v, want the context's error", err)
			}
		case <-time.After(10 * time.Second):
			t.Error("Run has not ended 10 s after its context")
		}
	})
	t.Cleanup(stop)
	return stop
}

// connected waits until a surface can hear and speak.
func connected(t *testing.T, s *slack.Surface) {
	t.Helper()
	eventually(t, "the surface is connected", func() bool { return s.State() == nil })
}

func eventually(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(2 * time.Millisecond) {
		if holds() {
			return
		}
		if time.Now().After(end) {
			t.Fatalf("not within 15 s: %s", what)
		}
	}
}
