package slackdouble

import (
	"fmt"
	"slices"
	"time"
)

// Fault is what goes wrong with calls of the Web API.
type Fault struct {
	Method  string // such as chat.postMessage; response for response addresses; empty: all
	Channel string // only calls for this channel; empty: all
	Times   int    // how often; 0: until Mend
	Skip    int    // how many calls go well before

	RetryAfter int           // answers 429 with so many seconds
	Status     int           // answers an HTTP status, such as 503
	Error      string        // answers ok: false with this error
	Delay      time.Duration // answers late; alone it answers well then
	Until      chan struct{} // answers when it is closed; alone it answers well then
	Lose       bool          // does what was asked, then cuts the connection
}

// Fail adds a fault.
func (s *Server) Fail(f Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = append(s.faults, &f)
}

// Mend takes all faults away, and lets revoked tokens work again.
func (s *Server) Mend() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = nil
	clear(s.revoked)
}

// fault is the one that meets a call, or nil; mu is held.
func (s *Server) fault(method, channel string) *Fault {
	for i, f := range s.faults {
		if f.Method != "" && f.Method != method || f.Channel != "" && f.Channel != channel {
			continue
		}
		if f.Skip > 0 {
			f.Skip--
			continue
		}
		now := *f
		if f.Times > 0 {
			if f.Times--; f.Times == 0 {
				s.faults = slices.Delete(s.faults, i, i+1)
			}
		}
		return &now
	}
	return nil
}

// Revoke makes a token one that Slack refuses.
func (s *Server) Revoke(token string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.revoked[token] = true
}

// Cut ends every socket without a word, with what is under way on them.
func (s *Server) Cut() {
	s.line.mu.Lock()
	conns := slices.Clone(s.line.conns)
	s.line.mu.Unlock()
	for _, c := range conns {
		c.cut()
	}
}

// Refuse refuses the next n sockets at their handshake.
func (s *Server) Refuse(n int) {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	s.line.refuse = n
}

// Disconnect asks every socket to make place for a new one, as Slack does
// every few hours, and ends it a moment later.
func (s *Server) Disconnect(reason string) {
	s.line.mu.Lock()
	conns := slices.Clone(s.line.conns)
	s.line.mu.Unlock()
	for _, c := range conns {
		_ = c.send(map[string]any{"type": "disconnect", "reason": reason, "debug_info": map[string]string{"host": "double"}})
		time.AfterFunc(500*time.Millisecond, c.cut)
	}
}

// Hold keeps events back until Release.
func (s *Server) Hold() {
	s.line.mu.Lock()
	defer s.line.mu.Unlock()
	s.line.holding = true
}

// Release lets go what Hold kept back, the last first where backwards.
func (s *Server) Release(backwards bool) {
	s.line.mu.Lock()
	held := s.line.held
	s.line.held, s.line.holding = nil, false
	s.line.mu.Unlock()
	if backwards {
		slices.Reverse(held)
	}
	for _, e := range held {
		s.transmit(e)
	}
}

// Redeliver sends a deed again, in every form in which it was sent.
func (s *Server) Redeliver(deed string) error {
	s.mu.Lock()
	list := slices.Clone(s.deeds[deed])
	s.mu.Unlock()
	if len(list) == 0 {
		return fmt.Errorf("slack double: nothing was sent for %q", deed)
	}
	for _, e := range list {
		out := &sending{envelope: e, attempt: 1}
		if e.kind != "events_api" {
			out.acked = make(chan ackFrame, 1) // nobody listens
		}
		s.transmit(out)
	}
	return nil
}
