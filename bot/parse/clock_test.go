package parse

import (
	"testing"
	"time"
)

func TestStops(t *testing.T) {
	utc := func(h, m int) Clock { return Clock{Said: true, Hour: h, Minute: m, Zone: UTC} }
	on := func(c Clock, d Day) Clock { c.Day = d; return c }
	local := Clock{Said: true, Hour: 14, Minute: 30}
	bare := Clock{Said: true, Hour: 14, Minute: 30, Zone: UTC, Unzoned: true}
	for text, want := range map[string]Clock{
		"brief XKLD 1430":          bare,
		"brief XKLD 1430 local":    local,
		"brief XKLD 14:30":         bare,
		"brief XKLD 2:30pm":        local,
		"brief XKLD 1430Z":         utc(14, 30),
		"brief XKLD 14:30z":        utc(14, 30),
		"brief XKLD 1430 UTC":      utc(14, 30),
		"brief XKLD 1430 zulu":     utc(14, 30),
		"brief XKLD 021430Z":       on(utc(14, 30), 2),
		"brief XKLD eta 1430z":     utc(14, 30),
		"brief XKLD in 2h":         {Said: true, In: 2 * time.Hour},
		"brief XKLD in 90 min":     {Said: true, In: 90 * time.Minute},
		"brief XKLD 1430 tomorrow": on(bare, Tomorrow),
		"brief XKLD tomorrow 1430": on(bare, Tomorrow),
		"brief XKLD tonight 1430Z": on(utc(14, 30), Today),
		"brief me XKLD 1430 today": on(bare, Today),
	} {
		req, p := demoReader().Parse(text)
		if p != nil || len(req.Stops) != 1 || req.Stops[0] != (Stop{Station: "XKLD", At: want}) {
			t.Errorf("%q: got %+v, %v; want %+v", text, req.Stops, p, want)
			continue
		}
		again, p := demoReader().Parse(BriefLine(req.Stops))
		if p != nil || again.Stops[0] != req.Stops[0] {
			t.Errorf("%q: its line %q reads as %+v, %v", text, BriefLine(req.Stops), again.Stops, p)
		}
	}
}

func TestInstant(t *testing.T) {
	now := time.Date(2026, 11, 28, 20, 50, 0, 0, time.UTC)
	zone := time.FixedZone("there", -7*3600)
	hour := now.Add(-time.Hour)
	for _, c := range []struct {
		clock, want string
	}{
		{"1430", "2026-11-29T14:30:00Z"}, // no zone is UTC
		{"1430 local", "2026-11-28T21:30:00Z"},
		{"1430Z", "2026-11-29T14:30:00Z"},
		{"2000Z", "2026-11-28T20:00:00Z"}, // within the hour before
		{"021430Z", "2026-12-02T14:30:00Z"},
		{"0600 local tomorrow", "2026-11-29T13:00:00Z"},
		{"0600 tomorrow", "2026-11-30T06:00:00Z"},
		{"0600 local today", "2026-11-28T13:00:00Z"},
		{"24:00", "2026-11-29T00:00:00Z"},
		{"24:00 today", "2026-11-30T00:00:00Z"},
		{"in 2h", "2026-11-28T22:50:00Z"},
	} {
		req, p := demoReader().Parse("brief XKLD " + c.clock)
		if p != nil {
			t.Fatalf("%s: %v", c.clock, p)
		}
		if got := req.Stops[0].At.Instant(now, hour, zone).UTC().Format(time.RFC3339); got != c.want {
			t.Errorf("%s is %s, want %s", c.clock, got, c.want)
		}
	}
}
