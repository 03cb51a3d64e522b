package slackdouble

import (
	"net/http"
	"slices"
	"strconv"
	"time"

	"golang.org/x/time/rate"
)

// What Options.Limits enforces: 50 calls a minute of a method of tier 3 in a
// workspace (Slack's reference, "Rate limits", Web API tiers), and one message a
// second in a channel (the same, chat.postMessage), with "short bursts" of more;
// how many is common practice, no source.
const (
	updatesAMinute = 50
	burstOfPosts   = 3
)

// limited refuses a call that is one too many; it says after how many seconds
// the next may come. mu is held.
func (s *Server) limited(method, channel string) (again int, refused bool) {
	if !s.opts.Limits {
		return 0, false
	}
	now, left := s.opts.Now(), time.Duration(0)
	switch method {
	case "chat.update":
		s.updates = slices.DeleteFunc(s.updates, func(t time.Time) bool { return now.Sub(t) >= time.Minute })
		if len(s.updates) >= updatesAMinute {
			left = time.Minute - now.Sub(s.updates[0])
		} else {
			s.updates = append(s.updates, now)
		}
	case "chat.postMessage":
		if s.posts[channel] == nil {
			s.posts[channel] = rate.NewLimiter(rate.Every(time.Second), burstOfPosts)
		}
		turn := s.posts[channel].ReserveN(now, 1)
		if left = turn.DelayFrom(now).Truncate(time.Microsecond); left > 0 {
			turn.CancelAt(now)
		}
	}
	if left <= 0 {
		return 0, false
	}
	s.tooMany++
	return int((left + time.Second - 1) / time.Second), true
}

// TooMany is how many calls came too soon.
func (s *Server) TooMany() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.tooMany
}

func slowDown(w http.ResponseWriter, seconds int) {
	w.Header().Set("Retry-After", strconv.Itoa(seconds))
	http.Error(w, "ratelimited", http.StatusTooManyRequests)
}
