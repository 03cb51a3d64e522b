package discorddouble

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"
)

func start(t *testing.T, o Options) *Server {
	t.Helper()
	o.Token = "double-token"
	s, err := Start(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

// ask makes a call and gives its status and Discord's code.
func ask(t *testing.T, s *Server, method, path, body string, change ...func(*http.Request)) (status, code int, out map[string]any) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, s.URL()+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bot double-token")
	r.Header.Set("User-Agent", "DiscordBot (https://example.org, 1)")
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	for _, c := range change {
		c(r)
	}
	resp, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	_ = json.NewDecoder(bytes.NewReader(raw)).Decode(&out) // some answers are no objects
	if c, ok := out["code"].(float64); ok {
		code = int(c)
	}
	return resp.StatusCode, code, out
}

const none = `,"allowed_mentions":{"parse":[]}}`

func TestRefusesMessages(t *testing.T) {
	button := func(id string) string {
		return `{"type":2,"style":1,"label":"Go","custom_id":"` + id + `"}`
	}
	row := func(buttons ...string) string { return `{"type":1,"components":[` + strings.Join(buttons, ",") + `]}` }
	for _, c := range []struct {
		name, body string
		code       int
	}{
		{"good", `{"content":"a"` + none, 0},
		{"good, with everything", `{"content":"a","embeds":[{"title":"t","fields":[{"name":"n","value":"v"}]}],"components":[` + row(button("a"), button("b")) + `],"nonce":"` + strings.Repeat("n", 25) + `","enforce_nonce":true` + none, 0},
		{"nothing in it", `{"content":" "` + none, 50006},
		{"no JSON", `{`, 50109},
		{"mentions not forbidden", `{"content":"a"}`, 50035},
		{"mentions allowed", `{"content":"a","allowed_mentions":{"parse":["everyone"]}}`, 50035},
		{"content too long", `{"content":"` + strings.Repeat("a", 2001) + `"` + none, 50035},
		{"title too long", `{"embeds":[{"title":"` + strings.Repeat("a", 257) + `"}]` + none, 50035},
		{"description too long", `{"embeds":[{"description":"` + strings.Repeat("a", 4097) + `"}]` + none, 50035},
		{"embeds too long together", `{"embeds":[{"description":"` + strings.Repeat("a", 4000) + `"},{"description":"` + strings.Repeat("a", 2001) + `"}]` + none, 50035},
		{"a field without a value", `{"embeds":[{"fields":[{"name":"n","value":""}]}]` + none, 50035},
		{"an id twice", `{"content":"a","components":[` + row(button("a")) + "," + row(button("a")) + `]` + none, 50035},
		{"an id too long", `{"content":"a","components":[` + row(button(strings.Repeat("a", 101))) + `]` + none, 50035},
		{"six buttons in a row", `{"content":"a","components":[` + row(button("1"), button("2"), button("3"), button("4"), button("5"), button("6")) + `]` + none, 50035},
		{"an empty row", `{"content":"a","components":[` + row() + `]` + none, 50035},
		{"nonce too long", `{"content":"a","nonce":"` + strings.Repeat("n", 26) + `"` + none, 50035},
		{"nothing to enforce", `{"content":"a","enforce_nonce":true` + none, 50035},
		{"a file that is not there", `{"content":"a","attachments":[{"id":0,"filename":"a.png","description":"a"}]` + none, 50035},
		{"an answer to nothing", `{"content":"a","message_reference":{"message_id":"1"}` + none, 50035},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := start(t, Options{})
			status, code, out := ask(t, s, http.MethodPost, "channels/"+s.Channels()[0]+"/messages", c.body)
			if code != c.code || (status == http.StatusOK) != (c.code == 0) || (len(s.Violations()) == 0) != (c.code == 0) {
				t.Errorf("status %d, %v, violations %q; want code %d", status, out, s.Violations(), c.code)
			}
		})
	}
}

func TestRefusesCallers(t *testing.T) {
	s := start(t, Options{})
	path := "channels/" + s.Channels()[0]
	if status, _, _ := ask(t, s, http.MethodGet, path, "", func(r *http.Request) { r.Header.Set("Authorization", "Bot other") }); status != http.StatusUnauthorized {
		t.Errorf("another token gets %d", status)
	}
	if status, _, _ := ask(t, s, http.MethodGet, path, "", func(r *http.Request) { r.Header.Set("User-Agent", "curl/8") }); status != http.StatusForbidden {
		t.Errorf("another client gets %d", status)
	}
	if status, code, _ := ask(t, s, http.MethodGet, "channels/1", ""); status != http.StatusNotFound || code != 10003 {
		t.Errorf("an unknown channel gets %d, %d", status, code)
	}
}

func TestNonceGivesTheSame(t *testing.T) {
	s := start(t, Options{})
	body := `{"content":"a","nonce":"n","enforce_nonce":true` + none
	path := "channels/" + s.Channels()[0] + "/messages"
	_, _, first := ask(t, s, http.MethodPost, path, body)
	_, _, second := ask(t, s, http.MethodPost, path, body)
	s.ForgetNonces()
	_, _, third := ask(t, s, http.MethodPost, path, body)
	if first["id"] != second["id"] || first["id"] == third["id"] || len(s.FromBot(s.Channels()[0])) != 2 {
		t.Errorf("ids %v, %v, %v", first["id"], second["id"], third["id"])
	}
}

func TestInteractionOnce(t *testing.T) {
	s := start(t, Options{Answer: time.Hour})
	callback := func(id, body string) (int, int) {
		s.mu.Lock()
		token := s.interactions[id].token
		s.mu.Unlock()
		status, code, _ := ask(t, s, http.MethodPost, "interactions/"+id+"/"+token+"/callback", body)
		return status, code
	}
	begin := func() string {
		id, err := s.Command(s.Channels()[0], s.People()[0].ID, "help", nil)
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	id := begin()
	if _, code := callback(id, `{"type":6}`); code != 50035 {
		t.Errorf("a press's answer to a command gets %d", code)
	}
	if status, _ := callback(id, `{"type":4,"data":{"content":"a"`+none+`}`); status != http.StatusNoContent {
		t.Errorf("the answer gets %d", status)
	}
	if _, code := callback(id, `{"type":5}`); code != 40060 {
		t.Errorf("the second answer gets %d", code)
	}
	late := begin()
	s.Age(late, 2*time.Hour)
	if _, code := callback(late, `{"type":5}`); code != 10062 {
		t.Errorf("a late answer gets %d", code)
	}
}

// A gateway connection by hand: who does not know the token is sent away, and
// a session is taken up where it was left.
func TestGateway(t *testing.T) {
	s := start(t, Options{})
	dial := func() *websocket.Conn {
		conn, resp, err := websocket.DefaultDialer.Dial("ws://"+s.addr+"/gateway/?v=10&encoding=json", nil)
		if err != nil {
			t.Fatal(err)
		}
		_ = resp.Body.Close()
		t.Cleanup(func() { conn.Close() })
		return conn
	}
	next := func(conn *websocket.Conn) (f struct {
		Op   int            `json:"op"`
		Type string         `json:"t"`
		Seq  int64          `json:"s"`
		Data map[string]any `json:"d"`
	}) {
		if err := conn.ReadJSON(&f); err != nil {
			t.Fatal(err)
		}
		return f
	}
	send := func(conn *websocket.Conn, text string) {
		if err := conn.WriteMessage(websocket.TextMessage, []byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	bad := dial()
	next(bad)
	send(bad, `{"op":2,"d":{"token":"other","intents":513,"properties":{}}}`)
	if _, _, err := bad.ReadMessage(); !websocket.IsCloseError(err, 4004) {
		t.Errorf("another token: %v", err)
	}
	conn := dial()
	if f := next(conn); f.Op != 10 || f.Data["heartbeat_interval"] != 41250.0 {
		t.Errorf("hello is %+v", f)
	}
	send(conn, `{"op":2,"d":{"token":"double-token","intents":513,"properties":{}}}`)
	ready := next(conn)
	if ready.Type != "READY" || ready.Seq != 1 {
		t.Fatalf("ready is %+v", ready)
	}
	if f := next(conn); f.Type != "GUILD_CREATE" {
		t.Errorf("then comes %+v", f)
	}
	_ = conn.NetConn().Close()
	for _, text := range []string{"secret", s.Mention() + " hello"} {
		if _, err := s.Say(Say{Channel: s.Channels()[0], By: s.People()[0].ID, Text: text}); err != nil {
			t.Fatal(err)
		}
	}
	again := dial()
	next(again)
	send(again, `{"op":6,"d":{"token":"double-token","session_id":"`+ready.Data["session_id"].(string)+`","seq":2}}`)
	first, second, third := next(again), next(again), next(again)
	if first.Data["content"] != "" || second.Data["content"] != s.Mention()+" hello" || second.Seq != 4 || third.Type != "RESUMED" {
		t.Errorf("after the resume come %+v, %+v, %+v", first, second, third)
	}
	if v := s.Violations(); len(v) > 0 {
		t.Errorf("violations %q", v)
	}
}
