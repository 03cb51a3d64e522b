package discorddouble

import (
	"net/http"
	"slices"
	"strconv"
	"time"
)

// perChannel is the time in which Options.PerChannel are counted.
const perChannel = 5 * time.Second

// limited answers a call that is counted a channel, with the headers that say
// what is left; it needs s.mu.
func (s *Server) limited(c *Channel, had *[]time.Time, do func() answer) answer {
	most := s.set.PerChannel
	if most <= 0 {
		return do()
	}
	now := s.set.Now()
	*had = slices.DeleteFunc(*had, func(t time.Time) bool { return now.Sub(t) > perChannel })
	if len(*had) >= most {
		s.refused++
		return tooMany(perChannel-now.Sub((*had)[0])+time.Millisecond, false)
	}
	*had = append(*had, now)
	a := do()
	if a.header == nil {
		a.header = http.Header{}
	}
	left := perChannel - now.Sub((*had)[0]) + time.Millisecond
	for name, value := range map[string]string{
		"X-Ratelimit-Limit": strconv.Itoa(most), "X-Ratelimit-Remaining": strconv.Itoa(most - len(*had)), "X-Ratelimit-Bucket": "channel-" + c.ID,
		"X-Ratelimit-Reset-After": strconv.FormatFloat(left.Seconds(), 'f', 3, 64),
		"X-Ratelimit-Reset":       strconv.FormatFloat(float64(now.Add(left).UnixMilli())/1000, 'f', 3, 64),
	} {
		a.header[name] = []string{value}
	}
	return a
}

// global refuses a call that is one too many of all; it needs s.mu.
func (s *Server) global() *answer {
	if s.set.PerSecond <= 0 {
		return nil
	}
	now := s.set.Now()
	s.lately = slices.DeleteFunc(s.lately, func(t time.Time) bool { return now.Sub(t) > time.Second })
	if len(s.lately) >= s.set.PerSecond {
		s.refused++
		no := tooMany(time.Second-now.Sub(s.lately[0])+time.Millisecond, true)
		return &no
	}
	s.lately = append(s.lately, now)
	return nil
}
