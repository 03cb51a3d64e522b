package slackdouble

import (
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// method is one of the Web API.
type method struct {
	app    bool     // takes the app token
	scopes []string // any of them
	do     func(s *Server, a args) (answer map[string]any, failure string)
}

// args are what a call was given: a form, or JSON.
type args struct {
	form    url.Values
	json    map[string]any
	arrived time.Time
}

func (a args) text(name string) string {
	if a.json != nil {
		return text(a.json, name)
	}
	return a.form.Get(name)
}

func (a args) yes(name string) bool {
	if v, ok := a.json[name].(bool); ok {
		return v
	}
	v := a.text(name)
	return v == "1" || v == "true"
}

// raw is a field that holds JSON: as text in a form, as itself in JSON.
func (a args) raw(name string) json.RawMessage {
	if a.json != nil {
		if v, ok := a.json[name]; ok {
			return encode(v)
		}
		return nil
	}
	return json.RawMessage(a.form.Get(name))
}

var history = []string{"channels:history", "groups:history", "im:history", "mpim:history"}

var methods = map[string]method{
	"auth.test":                    {do: (*Server).authTest},
	"apps.connections.open":        {app: true, do: (*Server).connectionsOpen},
	"chat.postMessage":             {scopes: []string{"chat:write"}, do: (*Server).postMessage},
	"chat.postEphemeral":           {scopes: []string{"chat:write"}, do: (*Server).postEphemeral},
	"chat.update":                  {scopes: []string{"chat:write"}, do: (*Server).update},
	"chat.delete":                  {scopes: []string{"chat:write"}, do: (*Server).remove},
	"conversations.history":        {scopes: history, do: (*Server).history},
	"conversations.replies":        {scopes: history, do: (*Server).thread},
	"conversations.open":           {scopes: []string{"im:write"}, do: (*Server).open},
	"users.info":                   {scopes: []string{"users:read"}, do: (*Server).userInfo},
	"usergroups.users.list":        {scopes: []string{"usergroups:read"}, do: (*Server).groupUsers},
	"views.open":                   {do: (*Server).viewOpen},
	"views.publish":                {do: (*Server).viewPublish},
	"files.getUploadURLExternal":   {scopes: []string{"files:write"}, do: (*Server).uploadURL},
	"files.completeUploadExternal": {scopes: []string{"files:write"}, do: (*Server).uploadDone},
}

func (s *Server) serveAPI(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(r.URL.Path, "/api/")
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 1<<20))
	if err != nil {
		return
	}
	arrived := time.Now()
	a, failure := s.arguments(r, body)
	a.arrived = arrived
	s.mu.Lock()
	s.calls[name]++
	fault := s.fault(name, a.text("channel"))
	again, refused := s.limited(name, a.text("channel"))
	s.mu.Unlock()
	if refused {
		slowDown(w, again)
		return
	}
	if fault != nil && s.fails(w, r, fault) {
		return
	}
	m, known := methods[name]
	var answer map[string]any
	switch {
	case !known:
		failure = "unknown_method"
	case failure == "":
		if failure = s.allowed(r, a, m); failure == "" {
			answer, failure = m.do(s, a)
		}
	}
	if fault != nil && fault.Lose {
		panic(http.ErrAbortHandler) // it was done, and nobody is told
	}
	if answer == nil {
		answer = map[string]any{}
	}
	answer["ok"] = failure == ""
	if failure != "" {
		failure, detail, _ := strings.Cut(failure, ": ")
		answer["error"] = failure
		switch {
		case failure == "missing_scope":
			answer["needed"], answer["provided"] = detail, strings.Join(s.opts.Scopes, ",")
		case detail != "":
			answer["response_metadata"] = map[string]any{"messages": []string{"[ERROR] " + detail}}
			s.problem("%s was refused: %s: %s", name, failure, detail)
		}
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_ = json.NewEncoder(w).Encode(answer) // a caller that is gone
}

// fails does what a fault says; false when the call still takes place.
func (s *Server) fails(w http.ResponseWriter, r *http.Request, f *Fault) bool {
	if f.Delay > 0 {
		select {
		case <-time.After(f.Delay):
		case <-r.Context().Done():
			return true
		}
	}
	if f.Until != nil {
		select {
		case <-f.Until:
		case <-r.Context().Done():
			return true
		}
	}
	switch {
	case f.RetryAfter > 0:
		slowDown(w, f.RetryAfter)
	case f.Status > 0:
		http.Error(w, "<html>not now</html>", f.Status)
	case f.Error != "":
		w.Header().Set("Content-Type", "application/json; charset=utf-8")
		_ = json.NewEncoder(w).Encode(map[string]any{"ok": false, "error": f.Error})
	default:
		return false
	}
	return true
}

// arguments reads a call's form or JSON.
func (s *Server) arguments(r *http.Request, body []byte) (a args, failure string) {
	if r.URL.Query().Has("token") {
		s.problem("a token in an address")
		return a, "invalid_auth"
	}
	if r.Method != http.MethodPost {
		a.form = r.URL.Query()
		return a, ""
	}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	var err error
	switch kind {
	case "application/x-www-form-urlencoded":
		a.form, err = url.ParseQuery(string(body))
	case "application/json":
		a.json = map[string]any{}
		if len(body) > 0 {
			err = json.Unmarshal(body, &a.json)
		}
	default:
		return a, "invalid_post_type"
	}
	if err != nil {
		return a, "invalid_form_data: " + err.Error()
	}
	return a, ""
}

// allowed checks the token and what it may.
func (s *Server) allowed(r *http.Request, a args, m method) string {
	token, header := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	s.mu.Lock()
	defer s.mu.Unlock()
	if !header {
		token = a.form.Get("token")
	}
	if a.form.Get("token") != "" {
		s.inBody++
	}
	want, other := s.opts.BotToken, s.opts.AppToken
	if m.app {
		want, other = other, want
	}
	switch {
	case token == "":
		return "not_authed"
	case s.revoked[token]:
		return "token_revoked"
	case token == other:
		return "not_allowed_token_type"
	case token != want:
		return "invalid_auth"
	}
	if s.opts.Scopes != nil && m.scopes != nil && !slices.ContainsFunc(m.scopes, func(sc string) bool { return slices.Contains(s.opts.Scopes, sc) }) {
		s.note("the scope %s is missing", m.scopes[0])
		return "missing_scope: " + m.scopes[0]
	}
	return ""
}

func (s *Server) authTest(args) (map[string]any, string) {
	return map[string]any{"url": "https://double.invalid/", "team": "Double", "user": "firn", "team_id": s.opts.Team, "user_id": s.opts.Bot, "bot_id": s.opts.BotID}, ""
}

func (s *Server) connectionsOpen(args) (map[string]any, string) {
	s.mu.Lock()
	ticket := s.id("ticket-")
	s.mu.Unlock()
	s.line.mu.Lock()
	s.line.tickets[ticket] = true
	s.line.mu.Unlock()
	return map[string]any{"url": "ws" + strings.TrimPrefix(s.base(), "http") + "/link?ticket=" + ticket + "&app_id=" + s.opts.App}, ""
}

// content checks what a message is made of. member: the bot must be in the
// channel.
func (s *Server) content(a args) (m *Message, failure string) {
	m = &Message{Text: a.text("text"), Blocks: a.raw("blocks"), Metadata: a.raw("metadata"), User: s.opts.Bot, BotID: s.opts.BotID}
	if len(m.Blocks) > 0 {
		if !s.opts.Unchecked {
			if bad := checkBlocks(m.Blocks, "message"); len(bad) > 0 {
				return nil, "invalid_blocks: " + strings.Join(bad, "; ")
			}
		}
		if m.Text == "" {
			s.note("a message with blocks and no text for notifications")
		}
	} else if m.Text == "" {
		return nil, "no_text"
	}
	if n := utf8.RuneCountInString(m.Text); n > 40000 {
		return nil, "msg_too_long"
	} else if n > 4000 {
		s.note("a text of %d characters", n)
	}
	if len(m.Metadata) > 0 && !s.opts.Unchecked {
		var meta struct {
			Type    string         `json:"event_type"`
			Payload map[string]any `json:"event_payload"`
		}
		if err := json.Unmarshal(m.Metadata, &meta); err != nil || meta.Type == "" || meta.Payload == nil {
			return nil, "invalid_metadata_format: event_type and event_payload"
		}
		if len(m.Metadata) > 8000 {
			return nil, "metadata_too_large"
		}
	}
	return m, ""
}

// writable is a channel that the bot may write to; mu is held.
func (s *Server) writable(id string) (*channel, string) {
	c := s.channels[id]
	switch {
	case c == nil:
		return nil, "channel_not_found"
	case c.archived:
		return nil, "is_archived"
	case !c.member:
		return nil, "not_in_channel"
	}
	return c, ""
}

func (s *Server) postMessage(a args) (map[string]any, string) {
	s.mu.Lock()
	c, failure := s.writable(a.text("channel"))
	if failure != "" {
		s.mu.Unlock()
		return nil, failure
	}
	m, failure := s.content(a)
	if failure != "" {
		s.mu.Unlock()
		return nil, failure
	}
	m.Channel, m.Thread, m.TS, m.Arrived = c.id, a.text("thread_ts"), s.stamp(), a.arrived
	if m.Thread != "" {
		if root := c.byTS[m.Thread]; root == nil {
			if s.opts.Keep == 0 {
				s.note("a message in the thread of %q, which is none", m.Thread)
			}
		} else if root.Thread != "" && root.Thread != root.TS {
			s.note("a message in the thread of an answer; its first message is meant")
		}
	}
	s.store(c, m)
	var echo []envelope
	if !s.opts.NoEcho {
		echo = s.told(c, m, "")
	}
	shown := map[string]any{"type": "message", "ts": m.TS}
	if !s.opts.Unchecked {
		shown = s.inner(c, m, true)
	}
	posted := *m
	s.mu.Unlock()
	if s.opts.OnPost != nil {
		s.opts.OnPost(posted)
	}
	s.deliver("", echo...)
	return map[string]any{"channel": posted.Channel, "ts": posted.TS, "message": shown}, ""
}

func (s *Server) postEphemeral(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c, failure := s.writable(a.text("channel"))
	if failure != "" {
		return nil, failure
	}
	user := a.text("user")
	if s.users[user] == "" {
		return nil, "user_not_in_channel"
	}
	m, failure := s.content(a)
	if failure != "" {
		return nil, failure
	}
	m.Channel, m.Thread, m.TS, m.Only = c.id, a.text("thread_ts"), s.stamp(), user
	s.private = append(s.private, m)
	return map[string]any{"message_ts": m.TS}, ""
}

func (s *Server) update(a args) (map[string]any, string) {
	s.mu.Lock()
	c, failure := s.writable(a.text("channel"))
	if failure != "" {
		s.mu.Unlock()
		return nil, failure
	}
	m := c.byTS[a.text("ts")]
	if m == nil {
		s.mu.Unlock()
		return nil, "message_not_found"
	}
	if m.BotID != s.opts.BotID {
		s.mu.Unlock()
		return nil, "cant_update_message"
	}
	fresh, failure := s.content(a)
	if failure != "" {
		s.mu.Unlock()
		return nil, failure
	}
	before := s.inner(c, m, false)
	m.Text, m.Blocks, m.Edited = fresh.Text, fresh.Blocks, s.stamp()
	if len(fresh.Metadata) > 0 {
		m.Metadata = fresh.Metadata
	}
	var echo []envelope
	if !s.opts.NoEcho {
		echo = s.changed(c, m, before)
	}
	ts, text := m.TS, m.Text
	s.mu.Unlock()
	s.deliver("", echo...)
	return map[string]any{"channel": c.id, "ts": ts, "text": text}, ""
}

func (s *Server) remove(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c, failure := s.writable(a.text("channel"))
	if failure != "" {
		return nil, failure
	}
	m := c.byTS[a.text("ts")]
	if m == nil {
		return nil, "message_not_found"
	}
	if m.BotID != s.opts.BotID {
		return nil, "cant_delete_message"
	}
	delete(c.byTS, m.TS)
	c.messages = slices.DeleteFunc(c.messages, func(o *Message) bool { return o == m })
	return map[string]any{"channel": c.id, "ts": m.TS}, ""
}

// window is the part of a channel's messages that is asked for; mu is held.
func (s *Server) window(a args, c *channel, list []*Message) (map[string]any, string) {
	inside := func(m *Message) bool {
		oldest, latest, inclusive := a.text("oldest"), a.text("latest"), a.yes("inclusive")
		after := oldest == "" || m.TS > oldest || inclusive && m.TS == oldest
		before := latest == "" || m.TS < latest || inclusive && m.TS == latest
		return after && before
	}
	list = slices.DeleteFunc(list, func(m *Message) bool { return !inside(m) })
	size := s.opts.Page
	if n, err := strconv.Atoi(a.text("limit")); err == nil {
		if n < 1 || n > 999 {
			return nil, "invalid_limit: " + a.text("limit")
		}
		size = min(size, n)
	}
	start := 0
	if cursor := a.text("cursor"); cursor != "" {
		n, err := strconv.Atoi(strings.TrimPrefix(cursor, "next:"))
		if err != nil || n > len(list) {
			return nil, "invalid_cursor"
		}
		start = n
	}
	end := min(len(list), start+size)
	shown := []any{}
	for _, m := range list[start:end] {
		shown = append(shown, s.inner(c, m, a.yes("include_all_metadata")))
	}
	next := ""
	if end < len(list) {
		next = fmt.Sprintf("next:%d", end)
	}
	return map[string]any{"messages": shown, "has_more": next != "", "response_metadata": map[string]any{"next_cursor": next}}, ""
}

func (s *Server) history(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[a.text("channel")]
	if c == nil {
		return nil, "channel_not_found"
	}
	if !c.member {
		return nil, "not_in_channel"
	}
	var list []*Message
	for _, m := range c.messages {
		if m.Thread == "" || m.Thread == m.TS {
			list = append(list, m)
		}
	}
	slices.Reverse(list)
	return s.window(a, c, list)
}

func (s *Server) thread(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[a.text("channel")]
	if c == nil {
		return nil, "channel_not_found"
	}
	if !c.member {
		return nil, "not_in_channel"
	}
	root := c.byTS[a.text("ts")]
	if root == nil {
		return nil, "thread_not_found"
	}
	list := []*Message{}
	for _, m := range c.messages {
		if m == root || m.Thread == root.TS {
			list = append(list, m)
		}
	}
	return s.window(a, c, list)
}

func (s *Server) open(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	user := a.text("users")
	if s.users[user] == "" {
		return nil, "user_not_found"
	}
	return map[string]any{"channel": map[string]any{"id": s.direct(user).id}}, ""
}

func (s *Server) userInfo(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	name := s.users[a.text("user")]
	if name == "" {
		return nil, "user_not_found"
	}
	team := s.outside[a.text("user")]
	stranger := team != ""
	if !stranger {
		team = s.opts.Team
	}
	return map[string]any{"user": map[string]any{
		"id": a.text("user"), "team_id": team, "name": strings.ToLower(name), "real_name": name,
		"is_stranger": stranger, "is_restricted": s.guests[a.text("user")], "is_ultra_restricted": false,
		"profile": map[string]any{"display_name": name, "real_name": name},
	}}, ""
}

func (s *Server) groupUsers(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	users, ok := s.groups[a.text("usergroup")]
	if !ok {
		return nil, "no_such_subteam"
	}
	return map[string]any{"users": users}, ""
}

func (s *Server) viewOpen(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := s.triggers[a.text("trigger_id")]
	switch {
	case t == nil:
		return nil, "invalid_trigger_id"
	case t.used:
		return nil, "exchanged_trigger_id"
	case time.Since(t.made) > s.opts.TriggerLife:
		return nil, "expired_trigger_id"
	}
	v, failure := readView(a.raw("view"), "modal")
	if failure != "" {
		return nil, failure
	}
	t.used = true
	v.ID, v.User, v.Hash, v.Open = s.id("V"), t.user, s.id("h"), true
	s.views[v.ID] = v
	return map[string]any{"view": map[string]any{"id": v.ID, "type": "modal", "hash": v.Hash, "callback_id": v.Callback}}, ""
}

func (s *Server) viewPublish(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	user := a.text("user_id")
	if s.users[user] == "" {
		return nil, "user_not_found"
	}
	v, failure := readView(a.raw("view"), "home")
	if failure != "" {
		return nil, failure
	}
	s.homes[user] = v.Blocks
	return map[string]any{"view": map[string]any{"id": "V0HOME", "type": "home"}}, ""
}

func (s *Server) uploadURL(a args) (map[string]any, string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, err := strconv.Atoi(a.text("length"))
	if a.text("filename") == "" || err != nil || n <= 0 {
		return nil, "invalid_arguments: filename and length"
	}
	u := &upload{id: s.id("F"), name: a.text("filename"), alt: a.text("alt_txt"), length: n}
	if u.alt == "" {
		s.note("a picture without words: %s", u.name)
	}
	if len([]rune(u.alt)) > 1000 {
		return nil, "alt_txt_too_large"
	}
	s.uploads[u.id] = u
	return map[string]any{"upload_url": s.base() + "/upload/" + u.id, "file_id": u.id}, ""
}

func (s *Server) serveUpload(w http.ResponseWriter, r *http.Request) {
	size := -1
	if file, _, err := r.FormFile("file"); err == nil {
		n, _ := io.Copy(io.Discard, file)
		size = int(n)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	u := s.uploads[strings.TrimPrefix(r.URL.Path, "/upload/")]
	if u == nil || size != u.length {
		http.Error(w, "not the file that was announced", http.StatusBadRequest)
		return
	}
	u.got = size
	fmt.Fprintf(w, "OK - %d", size)
}

func (s *Server) uploadDone(a args) (map[string]any, string) {
	var list []struct{ ID, Title string }
	if err := json.Unmarshal(a.raw("files"), &list); err != nil || len(list) == 0 {
		return nil, "invalid_arguments: files"
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	c, failure := s.writable(a.text("channel_id"))
	if failure != "" {
		return nil, failure
	}
	m := &Message{Channel: c.id, Thread: a.text("thread_ts"), User: s.opts.Bot, BotID: s.opts.BotID}
	files := []any{}
	for _, f := range list {
		u := s.uploads[f.ID]
		if u == nil || u.got != u.length || u.done {
			return nil, "file_not_found"
		}
		u.done = true
		m.Files = append(m.Files, File{ID: u.id, Name: u.name, Alt: u.alt, Size: u.got})
		files = append(files, map[string]any{"id": u.id, "title": f.Title})
	}
	m.TS = s.stamp()
	s.store(c, m)
	return map[string]any{"files": files}, ""
}

// serveResponse is a response address.
func (s *Server) serveResponse(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, 1<<20))
	if err != nil {
		return
	}
	s.mu.Lock()
	s.calls["response"]++
	fault := s.fault("response", "")
	s.mu.Unlock()
	if fault != nil && s.fails(w, r, fault) {
		return
	}
	failure := s.respond(strings.TrimPrefix(r.URL.Path, "/response/"), r.Header.Get("Content-Type"), body)
	if fault != nil && fault.Lose {
		panic(http.ErrAbortHandler)
	}
	if failure != "" {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(http.StatusOK)
		_ = json.NewEncoder(w).Encode(map[string]any{"ok": false, "error": failure})
		return
	}
	w.Header().Set("Content-Type", "text/plain")
	_, _ = io.WriteString(w, "ok")
}

func (s *Server) respond(id, kind string, body []byte) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	to := s.replies[id]
	a := args{json: map[string]any{}}
	switch {
	case to == nil:
		return "no_such_response_url"
	case time.Since(to.made) > 30*time.Minute:
		return "expired_url"
	case !strings.HasPrefix(kind, "application/json"):
		return "invalid_payload"
	case json.Unmarshal(body, &a.json) != nil:
		return "invalid_payload"
	}
	if to.posts++; to.posts > 5 {
		s.note("a response address used more than 5 times")
		return "used_url"
	}
	delete(a.json, "metadata") // not taken there
	m, failure := s.content(a)
	if failure != "" {
		s.note("a response was refused: %s", failure)
		failure, _, _ = strings.Cut(failure, ": ")
		return failure
	}
	if a.yes("replace_original") && to.message != nil {
		to.message.Text, to.message.Blocks, to.message.Edited = m.Text, m.Blocks, s.stamp()
		return ""
	}
	m.Channel, m.Thread, m.TS, m.Response = to.channel, a.text("thread_ts"), s.stamp(), true
	if m.Thread == "" && to.thread != "" && to.ephemeral {
		m.Thread = to.thread
	}
	if a.text("response_type") == "in_channel" {
		if c := s.channels[to.channel]; c != nil {
			s.store(c, m)
		}
		return ""
	}
	m.Only = to.user
	s.private = append(s.private, m)
	return ""
}
