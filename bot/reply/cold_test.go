package reply

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
)

// A low that is forecast beyond the duty window says so wherever it stands beside
// hours that end with the window: else the two contradict each other.
func TestLowBeyondTheWindow(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 1, 15, h, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name           string
		low, from, to  int // hours; from 0: none are known
		began          int // hour; 0: not known
		want           string
		hours, lowText string
	}{
		{"within the hours", 9, 6, 13, 0, "", "06:00–13:00", "−26 at 09:00, line"},
		{"at their end", 13, 6, 13, 0, "", "06:00–13:00", "−26 at 13:00, line"},
		{"after them", 18, 6, 13, 0, ", after the window", "06:00–13:00", "−26 at 18:00, after the window, line"},
		{"before them", 4, 6, 13, 0, ", before the window", "06:00–13:00", "−26 at 04:00, before the window, line"},
		{"it begins with them", 6, 6, 13, 6, "", "06:00–13:00", "−26 at 06:00, line"},
		{"before them, as the window began", 5, 6, 13, 5, ", earlier in the window", "06:00–13:00", "−26 at 05:00, earlier in the window, line"},
		{"before the window has begun", 4, 6, 13, 5, ", before the window", "06:00–13:00", "−26 at 04:00, before the window, line"},
		{"no hours", 18, 0, 0, 0, "", "hours not known", "−26 at 18:00, line"},
	} {
		t.Run(c.name, func(t *testing.T) {
			is := Cold{Ident: "XFRN", State: "below", LowC: Some(-26), LowAt: at(c.low), RestrictionC: Some(-22)}
			if c.from > 0 {
				is.BelowFrom, is.BelowTo = at(c.from), at(c.to)
			}
			if c.began > 0 {
				is.Began = at(c.began)
			}
			line := DigestLine{Cold: is, Zone: time.UTC}.line("2026-01-15")
			if got := is.LowBeyond(); got != c.want || !strings.Contains(line, c.lowText) || !strings.Contains(line, c.hours) {
				t.Errorf("%q, and %q; want %q", got, line, c.want)
			}
		})
	}
}

// TestDigestWithoutLine: what is held against nothing is clear in any cold, and
// says why.
func TestDigestWithoutLine(t *testing.T) {
	at := time.Date(2026, 1, 15, 20, 0, 0, 0, time.UTC)
	for want, is := range map[string]Cold{
		"XFRN: −31 at 20:00, no restriction temperature known.":                   {Ident: "XFRN", State: "clear", LowC: Some(-31), LowAt: at},
		"XFRN: −21 at 20:00, line −25.":                                           {Ident: "XFRN", State: "clear", LowC: Some(-21), LowAt: at, RestrictionC: Some(-25)},
		"XFRN: −31 at 20:00, line −25, past; how cold it still is, is not known.": {Ident: "XFRN", State: "below", LowC: Some(-31), LowAt: at, RestrictionC: Some(-25), Past: true},
		"XFRN: −21 at 20:00, line −25, awc failed.":                               {Ident: "XFRN", State: "near", LowC: Some(-21), LowAt: at, RestrictionC: Some(-25), Doubt: "awc failed"},
		"XFRN: no source has one.":                                                {Ident: "XFRN", State: "no-forecast", Note: "no source has one"},
	} {
		if got := (DigestLine{Cold: is, Zone: time.UTC}).line("2026-01-15"); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// TestMorningButtons: of many bases the first that nobody has seen have a button
// of their own, beside that for all.
func TestMorningButtons(t *testing.T) {
	var sc DigestScene
	for i := range 30 {
		c := Cold{Ident: fmt.Sprintf("X%03d", i), State: "below", LowC: Some(-20 - float64(i)), RestrictionC: Some(-10)}
		if i == 28 {
			c.SeenBy = "Kari"
		}
		sc.Bases = append(sc.Bases, DigestLine{Cold: c, Asks: true, Zone: time.UTC})
	}
	var ids []string
	for _, a := range MorningDigest(sc).Actions {
		ids = append(ids, a.ID)
	}
	want := []string{"ack", "ack-X029"} // the coldest first, without 28
	for i := 27; len(want) < mostSeen+1; i-- {
		want = append(want, fmt.Sprintf("ack-X%03d", i))
	}
	if want = append(want, "snooze"); !slices.Equal(ids, want) {
		t.Errorf("buttons %q, want %q", ids, want)
	}
}
