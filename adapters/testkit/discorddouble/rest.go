package discorddouble

import (
	"encoding/json"
	"io"
	"math"
	"net/http"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// answer is what a call gets.
type answer struct {
	status int
	body   any
	header http.Header
}

func refusal(status, code int, text string) answer {
	return answer{status: status, body: map[string]any{"code": code, "message": text}}
}

// call is a request that was read.
type call struct {
	method string
	path   []string // below the base
	query  map[string]string
	data   []byte // JSON
	files  map[string]Attachment
}

// agent is the form that Discord asks of a client's User-Agent.
var agent = regexp.MustCompile(`^DiscordBot \(https?://[^ ,]+, [^ )]+\)`)

// mostBody is Discord's limit of a request, with files.
const mostBody = 25 << 20

// ServeHTTP answers REST calls and takes gateway connections.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if strings.HasPrefix(r.URL.Path, "/gateway") {
		s.gateway(w, r)
		return
	}
	path, ok := strings.CutPrefix(r.URL.Path, "/api/v10/")
	if !ok {
		s.mu.Lock()
		s.violation("asked for %s", r.URL.Path)
		s.mu.Unlock()
		write(w, refusal(http.StatusNotFound, 0, "404: Not Found"))
		return
	}
	raw, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostBody))
	if err != nil {
		write(w, refusal(http.StatusRequestEntityTooLarge, 40005, "Request entity too large"))
		return
	}
	s.mu.Lock()
	s.calls++
	s.mu.Unlock()
	f := s.fault(r.Method, path)
	if f != nil && f.Delay > 0 {
		select {
		case <-time.After(f.Delay):
		case <-r.Context().Done():
			return
		}
	}
	var a answer
	if f == nil || f.After || f.harmless() {
		s.mu.Lock()
		a = s.serve(r, path, raw)
		s.mu.Unlock()
	}
	if f != nil && !f.harmless() {
		if f.Cut {
			if h, ok := w.(http.Hijacker); ok {
				if conn, _, err := h.Hijack(); err == nil {
					_ = conn.Close() // it is to be cut
				}
			}
			return
		}
		a = f.answer()
	}
	write(w, a)
}

func write(w http.ResponseWriter, a answer) {
	for k, v := range a.header {
		w.Header()[k] = v
	}
	if w.Header().Get("X-RateLimit-Limit") == "" {
		w.Header().Set("X-RateLimit-Limit", "1000")
		w.Header().Set("X-RateLimit-Remaining", "999")
		w.Header().Set("X-RateLimit-Reset", strconv.FormatInt(time.Now().Unix()+1, 10))
		w.Header().Set("X-RateLimit-Reset-After", "0.001")
		w.Header().Set("X-RateLimit-Bucket", "0123456789abcdef")
	}
	if a.body == nil {
		w.WriteHeader(a.status)
		return
	}
	if text, ok := a.body.(string); ok {
		w.Header().Set("Content-Type", "text/html")
		w.WriteHeader(a.status)
		_, _ = io.WriteString(w, text) // the client may be gone
		return
	}
	raw, err := json.Marshal(a.body)
	if err != nil {
		panic("discord double: " + err.Error()) // a mistake in here
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(a.status)
	_, _ = w.Write(raw) // the client may be gone
}

// tooMany is a 429 as Discord writes it.
func tooMany(after time.Duration, global bool) answer {
	seconds := after.Seconds()
	h := http.Header{
		"Retry-After":             {strconv.FormatFloat(math.Ceil(seconds), 'f', 0, 64)},
		"X-Ratelimit-Limit":       {"5"},
		"X-Ratelimit-Remaining":   {"0"},
		"X-Ratelimit-Reset-After": {strconv.FormatFloat(seconds, 'f', 3, 64)},
		"X-Ratelimit-Bucket":      {"0123456789abcdef"},
		"X-Ratelimit-Scope":       {"user"},
	}
	if global {
		h["X-Ratelimit-Global"] = []string{"true"}
		h["X-Ratelimit-Scope"] = []string{"global"}
	}
	return answer{
		status: http.StatusTooManyRequests, header: h,
		body: map[string]any{"message": "You are being rate limited.", "retry_after": seconds, "global": global},
	}
}

// serve does what a call asks; it needs s.mu.
func (s *Server) serve(r *http.Request, path string, raw []byte) answer {
	if ua := r.Header.Get("User-Agent"); !agent.MatchString(ua) {
		s.violation("User-Agent %q", ua)
		return answer{status: http.StatusForbidden, body: "<html>blocked</html>"}
	}
	q := &call{method: r.Method, path: strings.Split(strings.Trim(path, "/"), "/"), query: map[string]string{}}
	for k := range r.URL.Query() {
		q.query[k] = r.URL.Query().Get(k)
	}
	if len(raw) > 0 {
		var err error
		if q.data, q.files, err = body(r, raw); err != nil {
			s.violation("%s %s: %v", r.Method, q.path[0], err)
			return refusal(http.StatusBadRequest, 50109, "The request body contains invalid JSON.")
		}
	}
	n := len(q.path)
	at := func(i int) string {
		if i < n {
			return q.path[i]
		}
		return ""
	}
	switch {
	case at(0) == "interactions" && n == 4 && at(3) == "callback" && q.method == http.MethodPost:
		return s.callback(at(1), at(2), q.data, q.files, q.query["with_response"] == "true")
	case at(0) == "webhooks" && n >= 3:
		return s.hook(q)
	case at(0) == "gateway" && n == 1 && q.method == http.MethodGet:
		return answer{status: http.StatusOK, body: map[string]any{"url": "ws://" + s.addr + "/gateway"}}
	}
	if token, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bot "); !ok || !s.tokenOK(token) {
		return refusal(http.StatusUnauthorized, 0, "401: Unauthorized")
	}
	if no := s.global(); no != nil {
		return *no
	}
	switch {
	case at(0) == "gateway" && at(1) == "bot" && q.method == http.MethodGet:
		return answer{status: http.StatusOK, body: map[string]any{
			"url": "ws://" + s.addr + "/gateway", "shards": 1,
			"session_start_limit": map[string]any{"total": s.set.Identifies, "remaining": max(0, s.left), "reset_after": 3600000, "max_concurrency": 1},
		}}
	case at(0) == "users" && at(1) == "@me" && n == 2 && q.method == http.MethodGet:
		return answer{status: http.StatusOK, body: s.user(s.set.Bot.ID)}
	case at(0) == "users" && at(1) == "@me" && at(2) == "channels" && q.method == http.MethodPost:
		return s.openDM(q)
	case at(0) == "applications" && at(n-1) == "commands":
		return s.command(q)
	case at(0) == "channels" && n >= 2:
		return s.channel(q)
	case at(0) == "guilds" && at(2) == "members" && n == 4 && q.method == http.MethodGet:
		return s.memberOf(at(1), at(3))
	}
	s.violation("%s %s is not known here", q.method, path)
	return refusal(http.StatusNotFound, 0, "404: Not Found")
}

// memberOf is somebody as a member of a guild. All are of the double's own.
func (s *Server) memberOf(guild, id string) answer {
	switch {
	case guild != s.set.Guild:
		return refusal(http.StatusNotFound, 10004, "Unknown Guild")
	case !slices.ContainsFunc(slices.Concat(s.set.People, s.set.Guests), func(p Person) bool { return p.ID == id }):
		return refusal(http.StatusNotFound, 10007, "Unknown Member")
	}
	m := s.member(id)
	m["user"] = s.user(id)
	return answer{status: http.StatusOK, body: m}
}

func (s *Server) openDM(q *call) answer {
	var in struct {
		ID string `json:"recipient_id"`
	}
	if json.Unmarshal(q.data, &in) != nil {
		return s.invalid(problems{"recipient_id": "This field is required."})
	}
	if _, ok := s.people[in.ID]; !ok {
		return refusal(http.StatusBadRequest, 50033, "Invalid Recipient(s)")
	}
	return answer{status: http.StatusOK, body: s.channelObject(s.dm(in.ID))}
}

var commandName = regexp.MustCompile(`^[-_a-z0-9]{1,32}$`)

// command looks up or overwrites the commands.
func (s *Server) command(q *call) answer {
	scope := strings.Join(q.path, "/")
	if q.path[1] != s.set.Bot.ID || len(q.path) == 5 && q.path[3] != s.set.Guild {
		return refusal(http.StatusForbidden, 50001, "Missing Access")
	}
	switch q.method {
	case http.MethodGet:
		if s.commands[scope] == nil {
			return answer{status: http.StatusOK, body: []any{}}
		}
	case http.MethodPut:
		var list []map[string]any
		if json.Unmarshal(q.data, &list) != nil {
			return s.invalid(problems{"commands": "Not a list."})
		}
		for i, c := range list {
			if bad := checkCommand(strconv.Itoa(i), c, 0); len(bad) > 0 {
				return s.invalid(bad)
			}
			c["id"], c["application_id"], c["version"], c["nsfw"] = s.id(), s.set.Bot.ID, s.id(), false
		}
		raw, err := json.Marshal(list)
		if err != nil {
			return s.invalid(problems{"commands": "Not a list."})
		}
		s.commands[scope] = raw
		s.registers++
		s.tell()
	default:
		return refusal(http.StatusMethodNotAllowed, 0, "405: Method Not Allowed")
	}
	return answer{status: http.StatusOK, body: json.RawMessage(s.commands[scope])}
}

func checkCommand(at string, c map[string]any, depth int) problems {
	bad := problems{}
	name, _ := c["name"].(string)
	text, _ := c["description"].(string)
	if kind, _ := c["type"].(float64); depth == 0 && kind == 3 { // on a message: any name, no description
		if name == "" || length(name) > 32 {
			bad.add(at+".name", "Must be between 1 and 32 in length.")
		}
		if text != "" || c["options"] != nil {
			bad.add(at+".description", "A command on a message has neither a description nor options.")
		}
		return bad
	}
	if !commandName.MatchString(name) {
		bad.add(at+".name", "Not a command's name.")
	}
	if text == "" || length(text) > 100 {
		bad.add(at+".description", "Must be between 1 and 100 in length.")
	}
	options, _ := c["options"].([]any)
	if len(options) > 25 || depth > 2 {
		bad.add(at+".options", "Too many.")
	}
	if choices, _ := c["choices"].([]any); len(choices) > 25 || len(choices) > 0 && c["autocomplete"] == true {
		bad.add(at+".choices", "At most 25, and none with autocompletion.")
	}
	names, optional := map[any]bool{}, false
	for i, o := range options {
		option, ok := o.(map[string]any)
		if !ok {
			bad.add(at+".options", "Not options.")
			continue
		}
		if names[option["name"]] {
			bad.add(at+".options", "Option names must be unique.")
		}
		names[option["name"]] = true
		if kind, _ := option["type"].(float64); kind > 2 {
			if option["required"] == true && optional {
				bad.add(at+".options", "Required options must be placed before non-required options.")
			}
			optional = optional || option["required"] != true
		}
		for k, v := range checkCommand(at+".options."+strconv.Itoa(i), option, depth+1) {
			bad.add(k, "%s", v)
		}
	}
	return bad
}

// channel answers the calls under channels/.
func (s *Server) channel(q *call) answer {
	c := s.channels[q.path[1]]
	if c == nil {
		return refusal(http.StatusNotFound, 10003, "Unknown Channel")
	}
	if s.noAccess[c.ID] {
		return refusal(http.StatusForbidden, 50001, "Missing Access")
	}
	n := len(q.path)
	switch {
	case n == 2 && q.method == http.MethodGet:
		return answer{status: http.StatusOK, body: s.channelObject(c)}
	case n == 3 && q.path[2] == "messages" && q.method == http.MethodPost:
		return s.limited(c, &c.posts, func() answer { return s.post(c, q) })
	case n == 3 && q.path[2] == "messages" && q.method == http.MethodGet:
		return s.list(c, q)
	case n == 4 && q.path[2] == "messages":
		m := s.find(c.ID, q.path[3])
		if m == nil || m.Only != "" {
			return refusal(http.StatusNotFound, 10008, "Unknown Message")
		}
		switch q.method {
		case http.MethodGet:
			return answer{status: http.StatusOK, body: s.object(m, s.withheld(m), false)}
		case http.MethodPatch:
			if m.Author != s.set.Bot.ID {
				return refusal(http.StatusForbidden, 50005, "Cannot edit a message authored by another user")
			}
			return s.limited(c, &c.edits, func() answer { return s.patch(m, q) })
		case http.MethodDelete:
			s.remove(c.ID, m.ID)
			return answer{status: http.StatusNoContent}
		}
	case n == 5 && q.path[2] == "messages" && q.path[4] == "threads" && q.method == http.MethodPost:
		return s.thread(c, q)
	}
	s.violation("%s channels/.../%s is not known here", q.method, strings.Join(q.path[2:], "/"))
	return refusal(http.StatusNotFound, 0, "404: Not Found")
}

func (s *Server) withheld(m *Message) bool {
	return !s.set.AllowContent && m.Guild != "" && m.Author != s.set.Bot.ID && !slices.Contains(m.Mentions, s.set.Bot.ID)
}

func (s *Server) post(c *Channel, q *call) answer {
	var p payload
	if json.Unmarshal(q.data, &p) != nil {
		s.violation("a message that cannot be read")
		return refusal(http.StatusBadRequest, 50109, "The request body contains invalid JSON.")
	}
	p.files = q.files
	bad, rows := p.check()
	if len(bad) > 0 {
		return s.invalid(bad)
	}
	key := p.nonce() // unique for its author, in whichever channel ("Create Message", enforce_nonce)
	if p.Enforce {
		if had, ok := s.nonces[key]; ok && time.Since(had.at) < s.set.NonceFor {
			return answer{status: http.StatusOK, body: s.object(had.message, false, false)}
		}
	}
	m := &Message{ID: s.id(), Channel: c.ID, Guild: c.Guild, Author: s.set.Bot.ID, Flags: p.Flags, Nonce: p.nonce()}
	if ref := p.Reference; ref != nil {
		m.Reply, m.kind = ref.Message, 19
		if s.find(c.ID, ref.Message) == nil {
			if ref.Must == nil || *ref.Must {
				return s.invalid(problems{"message_reference": "Unknown message"})
			}
			m.Reply, m.kind = "", 0
		}
	}
	p.apply(m, rows)
	if m.empty() {
		return s.emptyMessage()
	}
	if p.Enforce {
		if len(s.nonces) > 5000 {
			clear(s.nonces)
		}
		s.nonces[key] = nonce{m, time.Now()}
	}
	s.add(c, m)
	s.announce("MESSAGE_CREATE", m)
	return answer{status: http.StatusOK, body: s.object(m, false, false)}
}

func (s *Server) patch(m *Message, q *call) answer {
	var p payload
	if json.Unmarshal(q.data, &p) != nil {
		s.violation("a message that cannot be read")
		return refusal(http.StatusBadRequest, 50109, "The request body contains invalid JSON.")
	}
	p.files = q.files
	bad, rows := p.check()
	if len(bad) > 0 {
		return s.invalid(bad)
	}
	changed := *m
	p.apply(&changed, rows)
	if changed.empty() {
		return s.emptyMessage()
	}
	changed.Edited = time.Now()
	*m = changed
	s.tell()
	s.announce("MESSAGE_UPDATE", m)
	return answer{status: http.StatusOK, body: s.object(m, false, false)}
}

// list gives messages, newest first.
func (s *Server) list(c *Channel, q *call) answer {
	limit, err := strconv.Atoi(q.query["limit"])
	if q.query["limit"] == "" {
		limit, err = 50, nil
	}
	if err != nil || limit < 1 || limit > 100 {
		return s.invalid(problems{"limit": "Must be between 1 and 100."})
	}
	before, _ := strconv.ParseInt(q.query["before"], 10, 64)
	out := []any{}
	for i := len(c.messages) - 1; i >= 0 && len(out) < limit; i-- {
		m := c.messages[i]
		id, _ := strconv.ParseInt(m.ID, 10, 64)
		if m.Only != "" || before > 0 && id >= before {
			continue
		}
		out = append(out, s.object(m, s.withheld(m), false))
	}
	return answer{status: http.StatusOK, body: out}
}

func (s *Server) thread(c *Channel, q *call) answer {
	var in struct {
		Name string `json:"name"`
		Keep int    `json:"auto_archive_duration"`
	}
	if json.Unmarshal(q.data, &in) != nil || in.Name == "" || length(in.Name) > 100 {
		return s.invalid(problems{"name": "Must be between 1 and 100 in length."})
	}
	if !slices.Contains([]int{0, 60, 1440, 4320, 10080}, in.Keep) {
		return s.invalid(problems{"auto_archive_duration": "Not one of those that there are."})
	}
	switch m := s.find(c.ID, q.path[3]); {
	case c.Kind != kindText:
		return refusal(http.StatusBadRequest, 50024, "Cannot execute action on this channel type")
	case s.noThreads[c.ID]:
		return refusal(http.StatusForbidden, 50013, "Missing Permissions")
	case m == nil || m.Only != "":
		return refusal(http.StatusNotFound, 10008, "Unknown Message")
	case s.channels[m.ID] != nil:
		return refusal(http.StatusBadRequest, 160004, "A thread has already been created for this message")
	}
	t := &Channel{ID: q.path[3], Guild: c.Guild, Name: in.Name, Kind: kindThread, Parent: c.ID, Owner: s.set.Bot.ID}
	s.addChannel(t)
	if len(s.order) > 20000 { // what a long load leaves behind
		for _, id := range s.order[:5000] {
			if s.channels[id].Kind == kindThread {
				delete(s.channels, id)
			}
		}
		s.order = slices.DeleteFunc(s.order, func(id string) bool { return s.channels[id] == nil })
	}
	s.dispatch("THREAD_CREATE", t.Guild, func(bool) any { return s.channelObject(t) })
	s.tell()
	return answer{status: http.StatusCreated, body: s.channelObject(t)}
}
