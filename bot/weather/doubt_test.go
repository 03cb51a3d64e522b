package weather_test

import (
	"errors"
	"testing"
	"time"

	"firn/bot/weather"
)

func TestDoubt(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, note string
		issued     time.Time
		want       string
	}{
		{"nothing", "", noon, ""},
		{"another note", "the forecast minimum, −31 °C, is for 12:00Z 30 Nov, outside the duty window", noon, ""},
		{"of a failed source", weather.FailedNote(noon), noon, "source failed, forecast of 12:00Z 25 Jan"},
		{"old, of a failed source", weather.FailedNote(noon.Add(-20 * time.Hour)), noon.Add(-20 * time.Hour), "source failed, forecast of 16:00Z 24 Jan"},
		{"old", "", noon.Add(-13 * time.Hour), "old forecast, of 23:00Z 24 Jan"},
		{"two that failed", "the source awc failed; the source nws failed", noon, "awc failed, nws failed"},
		{"all failed", weather.NoteWhy("awc: it does not answer; nws: it does not answer"), time.Time{}, "the sources failed"},
		{"they disagree", "sources disagree: TAF −31 °C, nws −24 °C; the colder is used", noon, "sources disagree"},
		{"a newer one cannot be read", "a newer TAF of 11:00Z 25 Jan cannot be read: no time", noon, "a newer TAF of 11:00Z 25 Jan cannot be read"},
	} {
		if got := weather.Doubt(c.note, c.issued, noon); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	failed := &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "awc", Err: errors.New("down")}, {Source: "nws", Err: weather.ErrNone}, {Source: "folder", Err: errors.New("down"), Kept: true}}}
	if got := weather.NoteFailed("it is so", failed); got != "it is so; the source awc failed" {
		t.Errorf("%q", got)
	}
	if got := weather.NoteFailed("", weather.ErrNone); got != "" {
		t.Errorf("%q", got)
	}
}
