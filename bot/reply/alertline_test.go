package reply_test

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// The first line of an alert says where, how cold, when by the base's own
// clock, its line, and in a word what else it is.
func TestAlertHeadline(t *testing.T) {
	mountain, err := time.LoadLocation("America/Edmonton")
	if err != nil {
		t.Fatal(err)
	}
	local := func(day, hour int) time.Time { return time.Date(2026, 1, day, hour, 0, 0, 0, mountain) }
	low := func(state coldwatch.State, c float64, at time.Time) coldwatch.Judgement {
		return coldwatch.Judgement{State: state, Low: engine.Celsius(c), LowAt: at, Restriction: -25, Source: "TAF"}
	}
	// Thu 15 Jan 2026, 06:00 local.
	for _, tt := range []struct {
		name string
		kind string
		now  time.Time
		j    coldwatch.Judgement
		want string
	}{
		{"the same morning", "opened", local(15, 6), low(coldwatch.Below, -31, local(15, 7)), "XKLD −31 this morning (line −25)"},
		{"the afternoon", "opened", local(15, 6), low(coldwatch.Below, -31.4, local(15, 14)), "XKLD −31.4 this afternoon (line −25)"},
		{"the evening", "opened", local(15, 6), low(coldwatch.Below, -31, local(15, 18)), "XKLD −31 tonight (line −25)"},
		{"before the next dawn", "opened", local(15, 6), low(coldwatch.Below, -31, local(16, 5)), "XKLD −31 tonight (line −25)"},
		{"after midnight, of the same night", "opened", local(16, 1), low(coldwatch.Below, -31, local(16, 5)), "XKLD −31 tonight (line −25)"},
		{"the next morning", "opened", local(15, 12), low(coldwatch.Below, -31, local(16, 6)), "XKLD −31 Fri morning (line −25)"},
		{"the next night", "opened", local(15, 12), low(coldwatch.Below, -31, local(17, 3)), "XKLD −31 Fri night (line −25)"},
		{"gone by", "escalated", local(15, 6), low(coldwatch.Below, -31, local(15, 4)), "XKLD −31 last night (line −25), escalated"},
		{"near, amended", "amended", local(15, 6), low(coldwatch.Near, -23, local(15, 7)), "XKLD −23 this morning (line −25), near, amended"},
		{"a reminder", "repeated", local(15, 6), low(coldwatch.Below, -31, local(15, 7)), "XKLD −31 this morning (line −25), reminder"},
		{"part forecast", "opened", local(15, 6), low(coldwatch.PartForecast, -20, local(15, 7)), "XKLD −20 this morning (line −25), part forecast"},
		{"all clear", "all-clear", local(15, 6), low(coldwatch.Clear, -20, local(15, 10)), "XKLD −20 this morning (line −25), all clear"},
		{"ended", "ended", local(15, 18), low(coldwatch.Below, -31, local(15, 7)), "XKLD −31 this morning (line −25), watch ended"},
		{"a bound", "opened", local(15, 6), low(coldwatch.Below, -31, local(15, 5)), "XKLD no colder than −31 (line −25)"},
		{"no forecast", "opened", local(15, 6), coldwatch.Judgement{State: coldwatch.NoForecast, Restriction: -25}, "XKLD: no forecast (line −25)"},
		{"no forecast, a reminder", "repeated", local(15, 6), coldwatch.Judgement{State: coldwatch.NoForecast, Restriction: -25}, "XKLD: no forecast (line −25), reminder"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			sc := scene(t, "strict")
			sc.Zone, sc.Kind, sc.Now, sc.Judgement = mountain, tt.kind, tt.now, tt.j
			sc.Window = coldwatch.Window{From: local(15, 3), To: local(17, 12)}
			if tt.name == "a bound" {
				sc.Window.From = local(15, 6)
			}
			r := reply.Alert(sc)
			if r.Headline != tt.want || r.Alert.Kind != tt.kind {
				t.Errorf("got %q of kind %q, wanted %q", r.Headline, r.Alert.Kind, tt.want)
			}
		})
	}
}

// However much there is to say, it is one line, with the base and the low.
func TestAlertHeadlineFits(t *testing.T) {
	for _, kind := range []string{"opened", "amended", "repeated", "escalated", "all-clear", "ended"} {
		for _, state := range []coldwatch.State{coldwatch.Below, coldwatch.Near, coldwatch.PartForecast, coldwatch.NoForecast, coldwatch.Clear} {
			for _, from := range []time.Duration{-12 * time.Hour, time.Hour} {
				sc := scene(t, "strict")
				sc.Kind, sc.Base.Restriction = kind, -25.5
				sc.Judgement = coldwatch.Judgement{State: state, Low: -31.4, LowAt: six.AddDate(0, 0, 3), Restriction: -25.5}
				sc.Window = coldwatch.Window{From: sc.Judgement.LowAt.Add(from), To: sc.Judgement.LowAt.Add(from + 24*time.Hour)}
				got := reply.Alert(sc).Headline
				if utf8.RuneCountInString(got) > 60 || !strings.HasPrefix(got, "XKLD") || state != coldwatch.NoForecast && !strings.Contains(got, "−31.4") {
					t.Errorf("%s, %v: %q", kind, state, got)
				}
			}
		}
	}
}
