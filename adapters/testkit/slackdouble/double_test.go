package slackdouble

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/slack-go/slack"
	"github.com/slack-go/slack/slackevents"
	"github.com/slack-go/slack/socketmode"
)

func start(t *testing.T, o Options) *Server {
	t.Helper()
	s, err := Start(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	s.AddChannel("C0CREW")
	s.AddUser("U0KARI", "Kari")
	return s
}

func TestChecks(t *testing.T) {
	long := func(n int) string { return strings.Repeat("x", n) }
	section := func(text string) string {
		return `{"type":"section","text":{"type":"mrkdwn","text":` + fmt.Sprintf("%q", text) + `}}`
	}
	button := func(id, label, value string) string {
		return fmt.Sprintf(`{"type":"button","action_id":%q,"value":%q,"text":{"type":"plain_text","text":%q}}`, id, value, label)
	}
	menu := func(n int) string {
		option := `{"text":{"type":"plain_text","text":"A"},"value":"a"}`
		return `{"type":"overflow","action_id":"m","options":[` + strings.Repeat(option+",", n-1) + option + `]}`
	}
	row := `[{"type":"raw_text","text":"a"},{"type":"raw_text","text":"b"}]`
	for _, c := range []struct{ name, surface, blocks, want string }{
		{"a section", "message", section("text"), ""},
		{"an empty section", "message", section(""), "0 characters"},
		{"a long section", "message", section(long(3001)), "3001 characters"},
		{"a header with markup", "message", `{"type":"header","text":{"type":"mrkdwn","text":"x"}}`, `text of type "mrkdwn"`},
		{"a long header", "message", `{"type":"header","text":{"type":"plain_text","text":"` + long(151) + `"}}`, "151 characters"},
		{"buttons", "message", `{"type":"actions","elements":[` + button("a", "A", "1") + "," + button("b", "B", "2") + `]}`, ""},
		{"an id twice", "message", `{"type":"actions","elements":[` + button("a", "A", "1") + "," + button("a", "B", "2") + `]}`, `action_id "a" is there twice`},
		{"a long label", "message", `{"type":"actions","elements":[` + button("a", long(76), "1") + `]}`, "76 characters"},
		{"a long value", "message", `{"type":"actions","elements":[` + button("a", "A", long(2001)) + `]}`, "2001 characters"},
		{"a menu", "message", `{"type":"actions","elements":[` + menu(5) + `]}`, ""},
		{"a long menu", "message", `{"type":"actions","elements":[` + menu(6) + `]}`, "6 options, 1 to 5 are allowed"},
		{"a table", "message", `{"type":"table","rows":[` + row + `,` + row + `]}`, ""},
		{"two tables", "message", `{"type":"table","rows":[` + row + `]},{"type":"table","rows":[` + row + `]}`, "only one is allowed"},
		{"a table of 101 rows", "message", `{"type":"table","rows":[` + strings.Repeat(row+",", 100) + row + `]}`, "101 rows"},
		{"a table with an empty cell", "message", `{"type":"table","rows":[[{"type":"raw_text","text":""}]]}`, "empty cell"},
		{"a table on the front page", "home", `{"type":"table","rows":[` + row + `]}`, "outside a message"},
		{"an input in a message", "message", `{"type":"input","label":{"type":"plain_text","text":"x"},"element":{"type":"plain_text_input"}}`, "in a message"},
		{"51 blocks", "message", strings.Repeat(section("x")+",", 50) + section("x"), "51 blocks"},
		{"51 blocks on the front page", "home", strings.Repeat(section("x")+",", 50) + section("x"), ""},
		{"a picture without words", "message", `{"type":"image","image_url":"https://example.invalid/x.png"}`, "alt_text"},
		{"something new", "message", `{"type":"hologram"}`, "not a block"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := strings.Join(checkBlocks(json.RawMessage("["+c.blocks+"]"), c.surface), "; ")
			if c.want == "" && got != "" || c.want != "" && !strings.Contains(got, c.want) {
				t.Errorf("checked as %q, want %q", got, c.want)
			}
		})
	}
}

// call makes a call as a bot without a library does.
func call(t *testing.T, s *Server, method string, header string, form url.Values) map[string]any {
	t.Helper()
	req, err := http.NewRequest(http.MethodPost, s.URL()+method, strings.NewReader(form.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if header != "" {
		req.Header.Set("Authorization", "Bearer "+header)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	var out map[string]any
	if err := json.Unmarshal(body, &out); err != nil {
		t.Fatalf("%s: %s", err, body)
	}
	return out
}

func TestCallsRefused(t *testing.T) {
	s := start(t, Options{Scopes: []string{"chat:write"}})
	post := func(more ...string) url.Values {
		v := url.Values{"channel": {"C0CREW"}, "text": {"x"}}
		for i := 0; i < len(more); i += 2 {
			v.Set(more[i], more[i+1])
		}
		return v
	}
	for _, c := range []struct {
		name, method, header string
		form                 url.Values
		want                 string
	}{
		{"well", "chat.postMessage", s.BotToken(), post(), ""},
		{"no token", "chat.postMessage", "", post(), "not_authed"},
		{"the token in the form", "chat.postMessage", "", post("token", s.BotToken()), ""},
		{"the other token", "chat.postMessage", s.AppToken(), post(), "not_allowed_token_type"},
		{"a wrong token", "chat.postMessage", "wrong", post(), "invalid_auth"},
		{"the token in the address", "chat.postMessage?token=" + s.BotToken(), "", post(), "invalid_auth"},
		{"an unknown method", "chat.shout", s.BotToken(), post(), "unknown_method"},
		{"no such channel", "chat.postMessage", s.BotToken(), post("channel", "C0NONE"), "channel_not_found"},
		{"nothing to say", "chat.postMessage", s.BotToken(), post("text", ""), "no_text"},
		{"metadata without a payload", "chat.postMessage", s.BotToken(), post("metadata", `{"event_type":"x"}`), "invalid_metadata_format"},
		{"blocks that are none", "chat.postMessage", s.BotToken(), post("blocks", `[{"type":"section"}]`), "invalid_blocks"},
		{"a scope that is missing", "users.info", s.BotToken(), url.Values{"user": {"U0KARI"}}, "missing_scope"},
		{"a form without its trigger", "views.open", s.BotToken(), url.Values{"trigger_id": {"1"}}, "invalid_trigger_id"},
		{"the sockets with the bot token", "apps.connections.open", s.BotToken(), nil, "not_allowed_token_type"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := call(t, s, c.method, c.header, c.form)
			failure, _ := got["error"].(string)
			if failure != c.want || got["ok"] != (c.want == "") {
				t.Errorf("answered %v, want the error %q", got, c.want)
			}
		})
	}
	if s.TokensInBody() != 1 {
		t.Errorf("%d tokens in the form, want 1", s.TokensInBody())
	}
}

// An event that is not acknowledged comes again, on time and with its count;
// an acknowledged one does not.
func TestRedelivery(t *testing.T) {
	s := start(t, Options{AckWithin: 50 * time.Millisecond, Again: []time.Duration{0, 20 * time.Millisecond}})
	api := slack.New(s.BotToken(), slack.OptionAppLevelToken(s.AppToken()), slack.OptionAPIURL(s.URL()))
	client := socketmode.New(api)
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); _ = client.RunContext(ctx) }() // ends with its context
	defer func() { cancel(); <-done }()
	if !s.Wait(5*time.Second, func() bool { return s.Connections() == 1 }) {
		t.Fatal("no connection")
	}
	if _, err := s.Say(Said{User: "U0KARI", Channel: "C0CREW", Text: "x"}); err != nil {
		t.Fatal(err)
	}
	for want := range 3 {
		e := next(t, client)
		if e.Request.RetryAttempt != want {
			t.Errorf("attempt %d, want %d", e.Request.RetryAttempt, want)
		}
		if want == 2 {
			if err := client.Ack(*e.Request); err != nil {
				t.Fatal(err)
			}
		}
	}
	if !s.Wait(5*time.Second, func() bool { return s.Unacknowledged() == 0 }) {
		t.Error("the acknowledgement has not arrived")
	}
	if got := s.Problems(); len(got) != 2 {
		t.Errorf("problems %q, want the two late ones", got)
	}
}

func next(t *testing.T, client *socketmode.Client) socketmode.Event {
	t.Helper()
	for {
		select {
		case e := <-client.Events:
			if outer, ok := e.Data.(slackevents.EventsAPIEvent); ok && outer.InnerEvent.Type == "message" {
				return e
			}
		case <-time.After(5 * time.Second):
			t.Fatal("no event")
		}
	}
}

func TestRead(t *testing.T) {
	m := Message{Text: "x &lt;!channel&gt; <@U1> https://example.invalid", Blocks: json.RawMessage(`[
		{"type":"section","text":{"type":"mrkdwn","text":"*Bold &amp; so*\n> quoted\n∗as typed∗ ` + "`code`" + `"}},
		{"type":"section","text":{"type":"mrkdwn","text":"<!here> https://example.invalid"}},
		{"type":"section","text":{"type":"mrkdwn","verbatim":true,"text":"https://example.invalid"}},
		{"type":"section","text":{"type":"plain_text","text":"<!everyone>"}}]`)}
	if got, want := m.Read(), "Bold & so\nquoted\n*as typed* code\n!here https://example.invalid\nhttps://example.invalid\n<!everyone>"; got != want {
		t.Errorf("read as %q, want %q", got, want)
	}
	if got, want := fmt.Sprint(m.Pings()), "[<@U1> <!here> https://example.invalid]"; got != want {
		t.Errorf("pings %s, want %s", got, want)
	}
}
