package record_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// What holds for a brief is the weather at its arrival: tonight's cold says
// nothing of tomorrow evening, the forecast for then does.
func TestBriefIsHeldAgainstItsArrival(t *testing.T) {
	const arrival = 20 * time.Hour
	for _, tt := range []struct {
		name     string
		observed time.Duration // from now, when there is an observation of -40
		forecast time.Duration // from now, when there is a forecast sample of -40
		minimum  time.Duration // from now, when a forecast has its minimum of -40 and a maximum of -31 early
		issued   time.Duration // from now
		says     string
	}{
		{name: "tonight", observed: time.Hour},
		{name: "two hours and a minute before", observed: arrival - 2*time.Hour - time.Minute},
		{name: "two hours before", observed: arrival - 2*time.Hour, says: "XKLD is −40 °C (METAR (folder), observed"},
		{name: "a forecast of tonight", forecast: 3 * time.Hour, issued: time.Hour},
		{name: "a forecast of the day after", forecast: arrival + 4*time.Hour, issued: time.Hour},
		{name: "a minimum just after the hours", minimum: arrival + 90*time.Minute, issued: time.Hour, says: "XKLD may be as cold as −40 °C within an hour of"},
		{name: "a forecast of the hour", forecast: arrival, issued: time.Hour, says: "XKLD will be −40 °C within an hour of"},
		{name: "the forecast that the brief was made with", forecast: arrival, issued: -time.Minute},
	} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t, nil)
				start := time.Now()
				s.ask(s.Book, "1", func(m *record.Result) {
					m.Text, m.Line, m.Numbers = "brief XKLD tomorrow", "brief XKLD 012000Z", nil
					m.Reply = reply.Reply{Kind: reply.KindBrief, Arrivals: []reply.Arrival{{
						Station: reply.Station{Ident: "XKLD", Known: true}, At: start.Add(arrival).UTC(), TemperatureC: reply.Some(-31), RecomputeC: reply.Some(-31.1),
					}}}
				})
				if tt.forecast != 0 {
					time.Sleep(max(0, tt.issued))
					f := coldwatch.Forecast{Source: "hourly", Issued: start.Add(tt.issued), ValidFrom: start, ValidTo: start.Add(30 * time.Hour)}
					for at := time.Duration(0); at <= 30*time.Hour; at += time.Hour {
						c := engine.Celsius(-31)
						if at == tt.forecast {
							c = -40
						}
						f.Hourly = append(f.Hourly, coldwatch.Sample{At: start.Add(at), C: c})
					}
					s.outlook = []weather.Forecast{{Ident: "XKLD", Forecast: f}}
				}
				if tt.minimum != 0 {
					time.Sleep(tt.issued)
					s.outlook = []weather.Forecast{{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "TAF", Issued: start.Add(tt.issued), ValidFrom: start, ValidTo: start.Add(30 * time.Hour),
						Maximums: []coldwatch.Sample{{At: start.Add(2 * time.Hour), C: -20}}, Minimums: []coldwatch.Sample{{At: start.Add(tt.minimum), C: -40}}}}}
				}
				if tt.observed != 0 {
					time.Sleep(tt.observed)
					s.c, s.at = -40, time.Now()
				}
				s.Sweep(t.Context())
				saw := s.saw()
				if (tt.says == "") == strings.Contains(saw, "tell ") || !strings.Contains(saw, tt.says) {
					t.Errorf("the cards showed %q, want %q", saw, tt.says)
				}
			})
		})
	}
}
