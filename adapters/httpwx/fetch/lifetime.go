package fetch

import (
	"net/http"
	"strconv"
	"strings"
	"time"
)

// Figures of ours.
const (
	// floor is how long an answer is used whatever its headers say: one
	// request carries many stations, which are looked up one after the other.
	floor = 10 * time.Second
	// unsaid is how long an answer without a lifetime is used.
	unsaid = time.Minute
	// afterFailure is how long a request that failed is not tried again.
	afterFailure = 30 * time.Second
	// longestWait bounds Retry-After: a slip there must not end the watch.
	longestWait = time.Hour
	// unsaidWait is for 429 without a usable Retry-After.
	unsaidWait = time.Minute
)

// lifetime is how long an answer stays fresh from now on. Source: RFC 9111,
// sections 4.2.1 and 4.2.3 (from memory): max-age before Expires, less Age.
func lifetime(h http.Header, now time.Time, ceiling time.Duration) time.Duration {
	d := unsaid
	maxAge, stated := time.Duration(0), false
	for _, line := range h.Values("Cache-Control") {
		for part := range strings.SplitSeq(line, ",") {
			name, value, _ := strings.Cut(strings.ToLower(strings.TrimSpace(part)), "=")
			switch name {
			case "no-store", "no-cache":
				return floor
			case "max-age":
				if s, err := strconv.ParseInt(strings.Trim(value, `"`), 10, 64); err == nil && s >= 0 {
					maxAge, stated = seconds(s), true
				}
			}
		}
	}
	switch expires, err := http.ParseTime(h.Get("Expires")); {
	case stated:
		age, err := strconv.ParseInt(h.Get("Age"), 10, 64)
		if err != nil || age < 0 {
			age = 0
		}
		d = maxAge - seconds(age)
	case err == nil:
		date, err := http.ParseTime(h.Get("Date"))
		if err != nil {
			date = now
		}
		d = expires.Sub(date)
	case h.Get("Expires") != "":
		d = 0 // "0" and the like mean: already over (RFC 9111, 5.3)
	}
	return min(max(d, floor), max(ceiling, floor))
}

// retryAfter is how long to wait. Source: RFC 9110, 10.2.3 (from memory):
// seconds or a date.
func retryAfter(h http.Header, now time.Time) (time.Duration, bool) {
	text := strings.TrimSpace(h.Get("Retry-After"))
	var d time.Duration
	if s, err := strconv.ParseInt(text, 10, 64); err == nil {
		d = seconds(s)
	} else if t, err := http.ParseTime(text); err == nil {
		d = t.Sub(now)
	} else {
		return 0, false
	}
	return min(max(d, 0), longestWait), true
}

// seconds does not overflow.
func seconds(s int64) time.Duration {
	const most = int64(1<<63-1) / int64(time.Second)
	return time.Duration(min(s, most)) * time.Second
}
