package discorddouble

import (
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gorilla/websocket"
)

// Fault is what happens to calls instead of an answer, or before it.
type Fault struct {
	Method string // empty: every
	Path   string // a part of the path below the base; empty: every
	Times  int    // how many calls; 0: one; -1: all from now on

	Delay      time.Duration // the answer is late by this
	Status     int           // what is answered; 0: what is right
	Code       int           // Discord's own code
	Text       string
	RetryAfter time.Duration // of a 429
	Global     bool          // the 429 is for every call
	Plain      bool          // the 429 is not Discord's own: what stands before it says so
	After      bool          // what was asked is done first
	Cut        bool          // no answer: the connection is cut
}

// Fail makes calls fail from now on. Several faults are tried in order.
func (s *Server) Fail(f Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if f.Times == 0 {
		f.Times = 1
	}
	s.faults = append(s.faults, &f)
}

// Break makes every call fail from now on, as an outage does.
func (s *Server) Break() {
	s.Fail(Fault{Times: -1, Status: http.StatusServiceUnavailable})
}

// Mend ends every fault.
func (s *Server) Mend() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = nil
}

func (f *Fault) harmless() bool { return f.Status == 0 && !f.Cut }

func (f *Fault) answer() answer {
	switch {
	case f.Status == http.StatusTooManyRequests && f.Plain:
		return answer{
			status: f.Status, body: "<html><body>" + http.StatusText(f.Status) + "</body></html>",
			header: http.Header{"Retry-After": {strconv.FormatFloat(math.Ceil(f.RetryAfter.Seconds()), 'f', 0, 64)}},
		}
	case f.Status == http.StatusTooManyRequests:
		return tooMany(f.RetryAfter, f.Global)
	case f.Status >= 500 && f.Code == 0:
		// What stands before Discord answers these, not Discord.
		return answer{status: f.Status, body: "<html><body>" + http.StatusText(f.Status) + "</body></html>"}
	}
	return refusal(f.Status, f.Code, f.Text)
}

// fault is the one for a call, which it uses up.
func (s *Server) fault(method, path string) *Fault {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, f := range s.faults {
		if f.Method != "" && f.Method != method || !strings.Contains(path, f.Path) {
			continue
		}
		if f.Times > 0 {
			if f.Times--; f.Times == 0 {
				s.faults = append(s.faults[:i:i], s.faults[i+1:]...)
			}
		}
		used := *f
		return &used
	}
	return nil
}

// CutSockets cuts every gateway connection without a word; sessions can be
// resumed.
func (s *Server) CutSockets() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, x := range s.sessions {
		x.drop()
	}
}

// Reconnect asks every connection to come again (op 7).
func (s *Server) Reconnect() { s.toAll(frame{Op: 7}, 0, false) }

// EndSessions tells every connection that its session is over (op 9).
func (s *Server) EndSessions() { s.toAll(frame{Op: 9, Data: false}, 0, true) }

// Forget ends the sessions without telling: a resume is refused.
func (s *Server) Forget() {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, x := range s.sessions {
		x.drop()
		delete(s.sessions, id)
	}
}

// Revoke makes the token worthless: calls get 401, the gateway closes with
// 4004.
func (s *Server) Revoke() {
	s.mu.Lock()
	s.revoked = true
	s.mu.Unlock()
	s.toAll(frame{}, 4004, true)
}

// Restore makes the token good again.
func (s *Server) Restore() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.revoked = false
}

func (s *Server) toAll(f frame, code int, forget bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, x := range s.sessions {
		x.mu.Lock()
		conn, write := x.conn, x.write
		x.mu.Unlock()
		if conn != nil {
			write.Lock()
			if code != 0 {
				_ = conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, ""), time.Now().Add(time.Second))
			} else {
				_ = conn.WriteJSON(f) // a reader sees that it is gone
			}
			write.Unlock()
		}
		if forget {
			x.detach(conn)
			delete(s.sessions, id)
		}
	}
}

// Twice lets each of the next n dispatches come twice.
func (s *Server) Twice(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.twice = n
}

// Swap lets the next dispatch come behind the one after it.
func (s *Server) Swap() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.swap = true
}

// DenyThreads says whether threads may be begun in a channel.
func (s *Server) DenyThreads(channel string, deny bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.noThreads[channel] = deny
}

// DenyAccess says whether the bot may see a channel.
func (s *Server) DenyAccess(channel string, deny bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.noAccess[channel] = deny
}
