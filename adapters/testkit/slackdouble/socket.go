package slackdouble

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"sync"
	"time"

	"github.com/gorilla/websocket"
)

// envelope is what goes over a socket, with what is needed to send it again.
type envelope struct {
	kind    string // events_api, interactive, slash_commands
	payload json.RawMessage
	accepts bool // takes a payload with its acknowledgement
	deed    string
}

// Ack is an acknowledgement: when the envelope was sent, and when it came.
type Ack struct{ Sent, Came time.Time }

// sending is an envelope on its way.
type sending struct {
	envelope
	id      string
	attempt int
	sent    time.Time
	conn    *conn
	timer   *time.Timer
	acked   chan ackFrame // for what somebody waits for
}

type ackFrame struct {
	payload json.RawMessage
	err     error
}

// again is the next attempt at one that was not acknowledged.
func (e *sending) again() *sending {
	return &sending{envelope: e.envelope, attempt: e.attempt + 1}
}

// sockets are the app's connections.
type sockets struct {
	mu      sync.Mutex
	conns   []*conn
	next    int
	serial  int
	tickets map[string]bool
	pending map[string]*sending
	queue   []*sending // events for which there is no connection
	holding bool
	held    []*sending
	refuse  int
	opened  int
	slowest time.Duration
	acks    int
	acked   map[string][]Ack // by deed
	closed  bool
	wg      sync.WaitGroup
}

func (l *sockets) init() {
	l.tickets, l.pending, l.acked = map[string]bool{}, map[string]*sending{}, map[string][]Ack{}
}

type conn struct {
	ws    *websocket.Conn
	write sync.Mutex
	gone  chan struct{}
	once  sync.Once
}

func (c *conn) send(v any) error {
	c.write.Lock()
	defer c.write.Unlock()
	if err := c.ws.SetWriteDeadline(time.Now().Add(10 * time.Second)); err != nil {
		return err
	}
	return c.ws.WriteJSON(v)
}

func (c *conn) cut() {
	c.once.Do(func() { close(c.gone) })
	_ = c.ws.NetConn().Close() // whatever was under way is lost: that is the point
}

var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

// pingEvery is well within the 30 s after which clients take a connection for
// dead.
const pingEvery = 10 * time.Second

func (s *Server) serveSocket(w http.ResponseWriter, r *http.Request) {
	l := &s.line
	ticket := r.URL.Query().Get("ticket")
	l.mu.Lock()
	known := l.tickets[ticket]
	delete(l.tickets, ticket) // good once
	refused := l.refuse > 0
	if refused {
		l.refuse--
	}
	if l.closed {
		known = false
	}
	l.mu.Unlock()
	if !known || refused {
		http.Error(w, "no", http.StatusForbidden)
		return
	}
	ws, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return
	}
	c := &conn{ws: ws, gone: make(chan struct{})}
	l.mu.Lock()
	if l.closed {
		l.mu.Unlock()
		c.cut()
		return
	}
	l.opened++
	n := len(l.conns) + 1
	l.wg.Add(1)
	l.mu.Unlock()
	defer l.wg.Done()
	hello := map[string]any{
		"type": "hello", "num_connections": n, "connection_info": map[string]string{"app_id": s.opts.App},
		"debug_info": map[string]any{"host": "double", "build_number": 1, "approximate_connection_time": 18060},
	}
	l.mu.Lock() // whoever has read the hello is connected
	if c.send(hello) != nil {
		l.mu.Unlock()
		c.cut()
		return
	}
	l.conns = append(l.conns, c)
	waiting := l.queue
	l.queue = nil
	l.mu.Unlock()
	for _, e := range waiting {
		s.transmit(e)
	}
	go func() {
		t := time.NewTicker(pingEvery)
		defer t.Stop()
		for {
			c.write.Lock()
			err := c.ws.WriteControl(websocket.PingMessage, []byte("ping"), time.Now().Add(5*time.Second))
			c.write.Unlock()
			if err != nil {
				return
			}
			select {
			case <-c.gone:
				return
			case <-t.C:
			}
		}
	}()
	for {
		_, data, err := ws.ReadMessage()
		if err != nil {
			break
		}
		s.acknowledged(c, data)
	}
	c.cut()
	s.lost(c)
}

// lost takes a connection out; events that it was to acknowledge go over
// another, and what somebody waits for has failed, as on Slack.
func (s *Server) lost(c *conn) {
	l := &s.line
	l.mu.Lock()
	l.conns = slices.DeleteFunc(l.conns, func(o *conn) bool { return o == c })
	var again []*sending
	for id, e := range l.pending {
		if e.conn != c {
			continue
		}
		delete(l.pending, id)
		e.timer.Stop()
		if e.acked != nil {
			e.acked <- ackFrame{err: errors.New("the connection was lost before the acknowledgement")}
		} else {
			again = append(again, e)
		}
	}
	closed := l.closed
	l.mu.Unlock()
	if closed {
		return
	}
	for _, e := range again {
		s.transmit(e.again())
	}
}

// deliver sends envelopes, and remembers them for Redeliver.
func (s *Server) deliver(deed string, list ...envelope) {
	if deed != "" {
		s.mu.Lock()
		if s.opts.Keep == 0 { // long runs repeat nothing
			for i := range list {
				list[i].deed = deed
			}
			s.deeds[deed] = append(s.deeds[deed], list...)
		}
		s.mu.Unlock()
	}
	for _, e := range list {
		s.transmit(&sending{envelope: e})
	}
}

// ask sends an envelope and waits for its acknowledgement.
func (s *Server) ask(deed string, e envelope) (json.RawMessage, error) {
	s.mu.Lock()
	s.deeds[deed] = append(s.deeds[deed], e)
	s.mu.Unlock()
	out := &sending{envelope: e, acked: make(chan ackFrame, 1)}
	s.transmit(out)
	a := <-out.acked
	return a.payload, a.err
}

// transmit sends over one of the connections, any of them, as Slack does.
func (s *Server) transmit(e *sending) {
	l := &s.line
	l.mu.Lock()
	if l.closed {
		l.mu.Unlock()
		if e.acked != nil {
			e.acked <- ackFrame{err: errors.New("the double is closed")}
		}
		return
	}
	if l.holding && e.acked == nil {
		l.held = append(l.held, e)
		l.mu.Unlock()
		return
	}
	if len(l.conns) == 0 {
		if e.acked != nil {
			e.acked <- ackFrame{err: errors.New("the app is not connected")}
		} else {
			l.queue = append(l.queue, e)
		}
		l.mu.Unlock()
		return
	}
	l.next++
	c := l.conns[l.next%len(l.conns)]
	l.serial++
	id := fmt.Sprintf("e-%d", l.serial)
	e.id, e.sent, e.conn = id, time.Now(), c
	e.timer = time.AfterFunc(s.opts.AckWithin, func() { s.late(id) })
	l.pending[id] = e
	l.mu.Unlock()
	frame := map[string]any{"type": e.kind, "envelope_id": id, "payload": e.payload, "accepts_response_payload": e.accepts}
	if e.kind == "events_api" {
		frame["retry_attempt"], frame["retry_reason"] = e.attempt, ""
		if e.attempt > 0 {
			frame["retry_reason"] = "timeout"
		}
	}
	if c.send(frame) != nil {
		c.cut() // its reader sends it again
	}
}

// late is called when an acknowledgement has not come in time.
func (s *Server) late(id string) {
	l := &s.line
	l.mu.Lock()
	e := l.pending[id]
	delete(l.pending, id)
	l.mu.Unlock()
	if e == nil {
		return
	}
	s.problem("a %s envelope was not acknowledged within %v", e.kind, s.opts.AckWithin)
	if e.acked != nil {
		e.acked <- ackFrame{err: fmt.Errorf("not acknowledged within %v", s.opts.AckWithin)}
		return
	}
	if e.attempt >= len(s.opts.Again) {
		return
	}
	time.AfterFunc(s.opts.Again[e.attempt], func() { s.transmit(e.again()) })
}

// mostAck is the size from which Slack drops an acknowledgement without a word.
const mostAck = 20 * 1024

func (s *Server) acknowledged(c *conn, data []byte) {
	var a struct {
		EnvelopeID string          `json:"envelope_id"`
		Payload    json.RawMessage `json:"payload"`
	}
	if err := json.Unmarshal(data, &a); err != nil || a.EnvelopeID == "" {
		s.problem("an acknowledgement that cannot be read: %.100s", data)
		return
	}
	if len(data) >= mostAck {
		s.problem("an acknowledgement of %d bytes", len(data))
		return
	}
	l := &s.line
	l.mu.Lock()
	e := l.pending[a.EnvelopeID]
	delete(l.pending, a.EnvelopeID)
	if e != nil {
		l.acks++
		l.slowest = max(l.slowest, time.Since(e.sent))
		if e.deed != "" {
			l.acked[e.deed] = append(l.acked[e.deed], Ack{e.sent, time.Now()})
		}
		e.timer.Stop()
	}
	l.mu.Unlock()
	if e == nil {
		return // late, or of a connection that is gone
	}
	if len(a.Payload) > 0 && string(a.Payload) != "null" && !e.accepts {
		s.problem("an acknowledgement of %s with a payload", e.kind)
	}
	if e.acked != nil {
		e.acked <- ackFrame{payload: a.Payload}
	}
}

func (l *sockets) close() {
	l.mu.Lock()
	l.closed = true
	conns := slices.Clone(l.conns)
	for _, e := range l.pending {
		e.timer.Stop()
		if e.acked != nil {
			e.acked <- ackFrame{err: errors.New("the double is closed")}
		}
	}
	l.pending = map[string]*sending{}
	l.mu.Unlock()
	for _, c := range conns {
		c.cut()
	}
	l.wg.Wait()
}

// Connections is how many sockets are open; Opened how many there were.
func (s *Server) Connections() int {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	return len(s.line.conns)
}

// Opened is how many sockets were opened in all.
func (s *Server) Opened() int {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	return s.line.opened
}

// SlowestAck is the longest that an acknowledgement took, and how many came.
func (s *Server) SlowestAck() (slowest time.Duration, n int) {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	return s.line.slowest, s.line.acks
}

// Unacknowledged is how many envelopes are on their way or wait for a socket.
func (s *Server) Unacknowledged() int {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	return len(s.line.pending) + len(s.line.queue) + len(s.line.held)
}

// Acks are the acknowledgements of a deed that Say or another of the double's
// methods named, in the order in which they came.
func (s *Server) Acks(deed string) []Ack {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	return slices.Clone(s.line.acked[deed])
}
