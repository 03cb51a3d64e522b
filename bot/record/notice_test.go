package record_test

import (
	"strings"
	"testing"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

func TestNotice(t *testing.T) {
	as := func(faf, da float64) record.Figures {
		return record.Figures{Required: true, Numbers: []record.Number{{CorrectedFt: faf}, {CorrectedFt: da}}}
	}
	same := as(9000, 5480)
	limited := func(f record.Figures) record.Figures {
		f.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."}}
		return f
	}
	observed := func(c engine.Celsius) record.Weather {
		return record.Weather{C: c, At: noon.Add(time.Hour), Since: noon.Add(time.Hour), Source: "METAR (folder)"}
	}
	forecast := func(c engine.Celsius) record.Weather {
		w := observed(c)
		w.Source, w.Forecast = "TAF (folder)", true
		return w
	}
	for _, c := range []struct {
		name   string
		change func(*record.Record)
		w      record.Weather
		then   record.Figures
		want   string // in the text; empty: nothing is noticed
	}{
		{"the same", nil, observed(-38), same, ""},
		{"a little colder, the same figures", nil, observed(-38.4), same, ""},
		{"a figure grows", nil, observed(-38.4), as(9000, 5490), "−38 °C was taken, and it is −38.4 °C (METAR (folder), observed 13:00Z): DA 5340: 5480 becomes 5490."},
		{"figures shrink", nil, observed(-30), as(8900, 5460), "FAF 8200: 9000 becomes 8900; DA 5340: 5480 becomes 5460"},
		{"a row, by less than the step", nil, observed(-40.5), same, ""},
		{"a row, by the step", nil, observed(-41), same, ""},
		{"a row, by more than the step", nil, observed(-41.1), same, "it has passed the table's row of −40 °C"},
		{"a row, getting warmer", nil, observed(-28.9), same, "row of −30 °C"},
		{"from the row itself, getting warmer", func(r *record.Record) { r.Reply.TemperatureC = reply.Some(-40) }, observed(-38.9), same, "row of −40 °C"},
		{"from the row itself, getting colder", func(r *record.Record) { r.Reply.TemperatureC = reply.Some(-40) }, observed(-42), same, ""},
		{"no correction is required any more", nil, observed(-24.5), record.Figures{Numbers: same.Numbers}, "no correction is required any more"},
		{"it is required now", func(r *record.Record) { r.Reply.Required = reply.No; r.Reply.TemperatureC = reply.Some(-24) }, observed(-25), same, "a correction is required now"},
		{"past the restriction, by less than the step", func(r *record.Record) { r.Reply.TemperatureC = reply.Some(-24) }, observed(-25.5), same, ""},
		{"past the restriction, by more", func(r *record.Record) { r.Reply.TemperatureC = reply.Some(-24) }, observed(-26.5), same, "it has passed the restriction temperature, −25 °C"},
		{"without altitudes, required now", func(r *record.Record) { r.Numbers = nil; r.Reply.Required = reply.No }, observed(-39), record.Figures{Required: true}, "a correction is required now"},

		{"a forecast, colder", nil, forecast(-40), as(9100, 5490), "−40 °C is forecast for 13:00Z (TAF (folder)): FAF 8200: 9000 becomes 9100"},
		{"a forecast, colder by no more than the step", nil, forecast(-39), as(9100, 5490), ""},
		{"a forecast, warmer", nil, forecast(-30), as(8900, 5460), ""},

		{"a barometric limit, no figure", nil, observed(-38.4), limited(same), "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."},
		{"a limit, warmer than the restriction", func(r *record.Record) { r.Reply.Required, r.Reply.TemperatureC = reply.No, reply.Some(-20) }, observed(-20.2), limited(record.Figures{Numbers: same.Numbers}), "Baro LNAV/VNAV NA"},
		{"a limit that is forecast, by less than the step", nil, forecast(-38.4), limited(same), "Baro LNAV/VNAV NA"},
		{"a limit passed as it was", func(r *record.Record) { r.Reply.Stops = limited(same).Stops }, observed(-38.4), limited(same), ""},
		{"a limit that was told", func(r *record.Record) {
			r.Noticed = []record.Noticed{{C: -38.2, Source: "TAF (folder)", Text: "so: " + limited(same).Stops[0].Text}}
		}, observed(-38.4), limited(same), ""},
		{"a limit after another word", func(r *record.Record) {
			r.Noticed = []record.Noticed{{C: -38.2, Source: "TAF (folder)", Text: "DA 5340: 5480 becomes 5490."}}
		}, observed(-38.4), limited(same), "Baro LNAV/VNAV NA"},
		{"a limit not passed any more", func(r *record.Record) { r.Reply.Stops = limited(same).Stops }, observed(-37.9), same, "not passed any more"},

		{"said already", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -41, Source: "TAF (folder)"}} }, observed(-41.8), as(9100, 5500), ""},
		{"gone on since", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -41, Source: "TAF (folder)"}} }, observed(-42.2), as(9100, 5500), "−42.2"},
		{"warmer after what was said", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -41, Source: "TAF (folder)"}} }, observed(-30), as(8900, 5460), ""},
		{"colder than the last, not than the coldest", func(r *record.Record) {
			r.Noticed = []record.Noticed{{C: -44, Source: "TAF (folder)"}, {C: -30, Source: "TAF (folder)"}}
		}, observed(-44.8), as(9200, 5500), ""},
		{"colder than all that was said", func(r *record.Record) {
			r.Noticed = []record.Noticed{{C: -44, Source: "TAF (folder)"}, {C: -30, Source: "TAF (folder)"}}
		}, observed(-45.2), as(9200, 5500), "−45.2"},
		{"colder after it was warmer", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -30, Source: "TAF (folder)"}} }, forecast(-42), as(9100, 5500), "−42 °C is forecast"},
		{"after a word on the field", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -38}} }, observed(-30), as(8900, 5460), "−30"},
		{"back at where it was", func(r *record.Record) { r.Noticed = []record.Noticed{{C: -41, Source: "TAF (folder)"}} }, observed(-38), same, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := result()
			if c.change != nil {
				c.change(&r)
			}
			changed, text := record.Notice(r, c.w, c.then, set)
			if changed != (c.want != "") || !strings.Contains(text, c.want) {
				t.Errorf("Notice = %v, %q; want %q", changed, text, c.want)
			}
		})
	}
}

func TestNewer(t *testing.T) {
	typed, looked := result(), result()
	looked.Measured = noon.Add(-7 * time.Minute)
	for _, c := range []struct {
		name           string
		r              record.Record
		since, arrived time.Duration // from noon
		want           bool
	}{
		{"the report that was taken", looked, -7 * time.Minute, -time.Minute, false},
		{"the report that was taken, which came again elsewhere", looked, -7 * time.Minute, time.Minute, false},
		{"a special one before the question", looked, -2 * time.Minute, time.Minute, true},
		{"the next one", looked, 53 * time.Minute, 55 * time.Minute, true},
		{"typed: a report from before", typed, -7 * time.Minute, -time.Minute, false},
		{"typed: a report from before, which came after", typed, -7 * time.Minute, 5 * time.Minute, true},
		{"typed: the next one", typed, 53 * time.Minute, 55 * time.Minute, true},
	} {
		if got := c.r.Newer(record.Weather{Since: noon.Add(c.since), Arrived: noon.Add(c.arrived)}); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestColdest(t *testing.T) {
	at := func(h int, c engine.Celsius) coldwatch.Sample {
		return coldwatch.Sample{At: noon.Add(time.Duration(h) * time.Hour), C: c}
	}
	f := weather.Forecast{Forecast: coldwatch.Forecast{
		Source: "hourly forecast", Issued: noon,
		Hourly:   []coldwatch.Sample{at(-1, -60), at(0, -30), at(2, -35), at(6, -37), at(7, -50)},
		Minimums: []coldwatch.Sample{at(3, -36.5), at(9, -55)},
		Maximums: []coldwatch.Sample{at(1, -58)},
	}}
	w, ok := record.Coldest(f, noon, noon.Add(6*time.Hour))
	if !ok || w.C != -37 || !w.At.Equal(noon.Add(6*time.Hour)) || !w.Forecast || !w.Since.Equal(noon) {
		t.Errorf("Coldest = %+v, %v; want −37 at 18:00", w, ok)
	}
	if _, ok := record.Coldest(f, noon.Add(100*time.Hour), noon.Add(101*time.Hour)); ok {
		t.Error("a forecast that is over has a coldest")
	}
}
