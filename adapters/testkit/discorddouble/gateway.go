package discorddouble

import (
	"encoding/json"
	"maps"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// Intents (Discord's reference, "Gateway Intents").
const (
	intentGuilds         = 1 << 0
	intentGuildMessages  = 1 << 9
	intentDirectMessages = 1 << 12
	intentContent        = 1 << 15
)

// kept is how many frames a session can replay.
const kept = 4096

// session is one that identified; it outlives its connections.
type session struct {
	id      string
	intents int
	shard   [2]int

	mu    sync.Mutex
	wake  sync.Cond
	log   [][]byte // frames not forgotten yet
	base  int64    // seq of log[0]
	next  int64    // seq of the frame to write next
	conn  *websocket.Conn
	write *sync.Mutex // of the connection
}

// frame is what goes over the gateway.
type frame struct {
	Op   int    `json:"op"`
	Data any    `json:"d"`
	Seq  *int64 `json:"s"`
	Type any    `json:"t"`
}

// push queues a dispatch.
func (x *session) push(event string, data any) {
	x.mu.Lock()
	defer x.mu.Unlock()
	seq := x.base + int64(len(x.log))
	raw, err := json.Marshal(frame{0, data, &seq, event})
	if err != nil {
		panic("discord double: " + err.Error()) // a mistake in here
	}
	x.log = append(x.log, raw)
	drop := min(int64(len(x.log)-kept), x.next-x.base)
	if len(x.log) > 8*kept { // nobody reads; a resume is refused
		drop = int64(len(x.log) - kept)
		x.next = x.base + drop
	}
	if drop > kept/4 {
		x.log = slices.Clone(x.log[drop:])
		x.base += drop
	}
	x.wake.Signal()
}

// attach makes a connection the session's; the writer goes on from seq.
func (x *session) attach(conn *websocket.Conn, write *sync.Mutex, from int64) {
	x.mu.Lock()
	x.conn, x.write, x.next = conn, write, from
	x.wake.Broadcast()
	x.mu.Unlock()
	go x.send(conn)
}

// send writes what is queued while the connection is the session's.
func (x *session) send(conn *websocket.Conn) {
	for {
		x.mu.Lock()
		for x.conn == conn && x.next >= x.base+int64(len(x.log)) {
			x.wake.Wait()
		}
		if x.conn != conn {
			x.mu.Unlock()
			return
		}
		raw := x.log[x.next-x.base]
		x.next++
		write := x.write
		x.mu.Unlock()
		write.Lock()
		err := conn.WriteMessage(websocket.TextMessage, raw)
		write.Unlock()
		if err != nil {
			x.detach(conn)
			return
		}
	}
}

func (x *session) detach(conn *websocket.Conn) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.conn == conn {
		x.conn = nil
		x.wake.Broadcast()
	}
}

// drop cuts the session's connection without a word.
func (x *session) drop() {
	x.mu.Lock()
	conn := x.conn
	x.conn = nil
	x.wake.Broadcast()
	x.mu.Unlock()
	if conn != nil {
		_ = conn.NetConn().Close() // it is to be cut
	}
}

var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

// gateway serves one connection.
func (s *Server) gateway(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	if q.Get("v") != "10" || q.Get("encoding") != "json" {
		s.mu.Lock()
		s.violation("the gateway was asked for with v=%q, encoding=%q", q.Get("v"), q.Get("encoding"))
		s.mu.Unlock()
	}
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return
	}
	defer conn.Close()
	g := &connection{s: s, conn: conn}
	g.put(frame{Op: 10, Data: map[string]any{"heartbeat_interval": s.set.Heartbeat.Milliseconds()}})
	g.read()
	if g.session != nil {
		g.session.detach(conn)
		s.mu.Lock()
		s.tell()
		s.mu.Unlock()
	}
}

// connection is one of the gateway.
type connection struct {
	s       *Server
	conn    *websocket.Conn
	write   sync.Mutex
	session *session
	frames  []time.Time
}

func (g *connection) put(f frame) {
	g.write.Lock()
	defer g.write.Unlock()
	_ = g.conn.WriteJSON(f) // a reader sees that it is gone
}

func (g *connection) shut(code int) {
	g.write.Lock()
	defer g.write.Unlock()
	_ = g.conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, ""), time.Now().Add(time.Second))
}

// read takes what the client says until the connection ends.
func (g *connection) read() {
	for {
		_, raw, err := g.conn.ReadMessage()
		if err != nil {
			if websocket.IsCloseError(err, websocket.CloseNormalClosure, websocket.CloseGoingAway) && g.session != nil {
				g.s.mu.Lock()
				delete(g.s.sessions, g.session.id) // as Discord does
				g.s.mu.Unlock()
			}
			return
		}
		now := time.Now()
		g.frames = append(slices.DeleteFunc(g.frames, func(t time.Time) bool { return now.Sub(t) > time.Minute }), now)
		if len(g.frames) > 120 {
			g.violation("more than 120 frames in a minute")
			g.shut(4008)
			return
		}
		var in struct {
			Op   int             `json:"op"`
			Data json.RawMessage `json:"d"`
		}
		if len(raw) > 4096 || json.Unmarshal(raw, &in) != nil {
			g.violation("a frame that cannot be read")
			g.shut(4002)
			return
		}
		code := 0
		switch in.Op {
		case 1:
			g.put(frame{Op: 11})
		case 2:
			code = g.identify(in.Data)
		case 6:
			code = g.resume(in.Data)
		case 3, 4, 8:
			if g.session == nil {
				code = 4003
			}
		default:
			g.violation("unknown op %d", in.Op)
			code = 4001
		}
		if code != 0 {
			g.shut(code)
			return
		}
	}
}

func (g *connection) violation(format string, a ...any) {
	g.s.mu.Lock()
	defer g.s.mu.Unlock()
	g.s.violation(format, a...)
}

func (s *Server) tokenOK(token string) bool {
	return !s.revoked && token != "" && (s.token == "" || token == s.token)
}

func (g *connection) identify(raw json.RawMessage) (code int) {
	s := g.s
	var in struct {
		Token      string         `json:"token"`
		Intents    *int           `json:"intents"`
		Properties map[string]any `json:"properties"`
		Shard      *[2]int        `json:"shard"`
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	now := time.Now()
	s.identifies++
	s.left--
	early := now.Sub(s.identified) < s.set.IdentifyEvery
	s.identified = now
	defer s.tell()
	switch {
	case json.Unmarshal(raw, &in) != nil || in.Intents == nil || in.Properties == nil:
		s.violation("an identification that cannot be read")
		return 4002
	case g.session != nil && s.sessions[g.session.id] == g.session:
		s.violation("identified twice")
		return 4005
	case !s.tokenOK(strings.TrimPrefix(in.Token, "Bot ")):
		return 4004
	case s.left < 0:
		s.violation("more identifications than the day has")
		return 4004
	case *in.Intents&intentContent != 0 && !s.set.AllowContent:
		return 4014
	case early:
		s.violation("identified too early")
		go g.put(frame{Op: 9, Data: false})
		return 0
	}
	x := &session{id: "session-" + s.id(), intents: *in.Intents, base: 1, next: 1, shard: [2]int{0, 1}}
	if in.Shard != nil {
		x.shard = *in.Shard
		if x.shard[0] >= x.shard[1] {
			return 4010
		}
	}
	x.wake.L = &x.mu
	g.session = x
	s.sessions[x.id] = x
	guilds := map[string]bool{}
	for _, c := range s.channels {
		if c.Guild != "" {
			guilds[c.Guild] = true
		}
	}
	var list []any
	for _, id := range slices.Sorted(maps.Keys(guilds)) {
		list = append(list, map[string]any{"id": id, "unavailable": true})
	}
	x.push("READY", map[string]any{
		"v": 10, "user": s.user(s.set.Bot.ID), "guilds": list, "session_id": x.id,
		"resume_gateway_url": "ws://" + s.addr + "/gateway", "shard": x.shard,
		"application": map[string]any{"id": s.set.Bot.ID, "flags": 0},
	})
	if x.intents&intentGuilds != 0 {
		for _, id := range slices.Sorted(maps.Keys(guilds)) {
			x.push("GUILD_CREATE", s.guild(id))
		}
	}
	x.attach(g.conn, &g.write, 1)
	return 0
}

func (s *Server) guild(id string) map[string]any {
	channels, threads := []any{}, []any{}
	for _, at := range s.order {
		c := s.channels[at]
		switch {
		case c.Guild != id:
		case c.Kind == kindThread:
			threads = append(threads, s.channelObject(c))
		default:
			channels = append(channels, s.channelObject(c))
		}
	}
	return map[string]any{"id": id, "name": "Kaldmoor", "unavailable": false, "channels": channels, "threads": threads, "members": []any{}, "roles": []any{}}
}

func (s *Server) channelObject(c *Channel) map[string]any {
	o := map[string]any{"id": c.ID, "type": c.Kind}
	if c.Guild != "" {
		o["guild_id"], o["name"] = c.Guild, c.Name
	}
	if c.Kind == kindThread {
		o["parent_id"], o["owner_id"] = c.Parent, c.Owner
		o["thread_metadata"] = map[string]any{"archived": false, "auto_archive_duration": 1440, "archive_timestamp": stamp(time.Now()), "locked": false}
	}
	if c.Kind == kindDirect {
		o["recipients"] = []any{s.user(c.With)}
	}
	return o
}

func (g *connection) resume(raw json.RawMessage) (code int) {
	s := g.s
	var in struct {
		Token   string `json:"token"`
		Session string `json:"session_id"`
		Seq     int64  `json:"seq"`
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if json.Unmarshal(raw, &in) != nil {
		return 4002
	}
	if !s.tokenOK(strings.TrimPrefix(in.Token, "Bot ")) {
		return 4004
	}
	x := s.sessions[in.Session]
	if x == nil {
		go g.put(frame{Op: 9, Data: false})
		return 0
	}
	x.mu.Lock()
	from, end := in.Seq+1, x.base+int64(len(x.log))
	if from < x.base || from > end {
		x.mu.Unlock()
		return 4007
	}
	x.mu.Unlock()
	s.resumes++
	x.push("RESUMED", map[string]any{})
	g.session = x
	x.attach(g.conn, &g.write, from)
	s.tell()
	return 0
}

// dispatch tells every session of something; object makes it for a session
// that has the message content intent or not. It needs s.mu.
func (s *Server) dispatch(event, guild string, data func(content bool) any) {
	var held []func()
	for _, x := range s.sessions {
		need := intentGuilds
		switch {
		case strings.HasPrefix(event, "INTERACTION"):
			need = 0
		case strings.HasPrefix(event, "MESSAGE") && guild == "":
			need = intentDirectMessages
		case strings.HasPrefix(event, "MESSAGE"):
			need = intentGuildMessages
		}
		if x.intents&need != need {
			continue
		}
		if guild == "" && x.shard[0] != 0 {
			continue // direct messages go to the first shard
		}
		d := data(x.intents&intentContent != 0)
		if s.swap {
			held = append(held, func() { x.push(event, d) })
			continue
		}
		x.push(event, d)
		if s.twice > 0 {
			x.push(event, d)
		}
	}
	if s.twice > 0 {
		s.twice--
	}
	if s.swap {
		s.swap, s.held = false, held
		return
	}
	for _, push := range s.held {
		push()
	}
	s.held = nil
}

// announce tells of a message that came or changed; it needs s.mu.
func (s *Server) announce(event string, m *Message) {
	if m.Only != "" {
		return
	}
	open := m.Guild == "" || m.Author == s.set.Bot.ID || slices.Contains(m.Mentions, s.set.Bot.ID)
	s.dispatch(event, m.Guild, func(content bool) any { return s.object(m, !content && !open, true) })
}
