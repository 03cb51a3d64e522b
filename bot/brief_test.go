package bot_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/present"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
)

// forecasts are hourly curves of one temperature, by station.
type forecasts map[string][]coldwatch.Forecast

func (f forecasts) Forecasts(_ context.Context, ident string) ([]weather.Forecast, error) {
	var out []weather.Forecast
	for _, one := range f[ident] {
		out = append(out, weather.Forecast{Forecast: one, Ident: ident})
	}
	if out == nil {
		return nil, weather.ErrNone
	}
	return out, nil
}

// curve is one temperature from noon for some hours.
func curve(source string, hours int, c engine.Celsius) coldwatch.Forecast {
	f := coldwatch.Forecast{Source: source, Issued: noon, ValidFrom: noon, ValidTo: noon.Add(time.Duration(hours) * time.Hour)}
	for h := range hours {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: noon.Add(time.Duration(h) * time.Hour), C: c})
	}
	return f
}

type charts []approach.Approach

func (c charts) Procedures(_ context.Context, ident string) (all []approach.Approach, _ error) {
	for _, a := range c {
		if a.Ident == ident {
			all = append(all, a)
		}
	}
	return all, nil
}

// TestBriefEstimatesHours: where the forecast of an arrival has only extremes,
// the hours at or below the line are estimated between them, and say so.
func TestBriefEstimatesHours(t *testing.T) {
	at := func(h int, c engine.Celsius) coldwatch.Sample {
		return coldwatch.Sample{At: noon.Add(time.Duration(h) * time.Hour), C: c}
	}
	for _, c := range []struct {
		name, asks  string
		f           coldwatch.Forecast
		want, short string // empty: none
	}{
		// Half a cosine between −31 and −19 is at −25 in the middle: common practice, no source.
		{"between two maximums", "brief XKLD 2000Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(10, -31)}, Maximums: []coldwatch.Sample{at(2, -19), at(18, -19)}},
			"At or below −25 °C about 18:00–Fri 02:00 local (estimated).", "; at or below −25 about 18:00–Fri 02:00Z (estimated)"},
		{"as far as the extremes reach", "brief XKLD 1430Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(2, -31)}, Maximums: []coldwatch.Sample{at(10, -19)}},
			"At or below −25 °C about 13:00–18:00 local (estimated), or longer.", "; at or below −25 about 13:00–18:00Z (estimated), or longer"},
		// The watch has 20:00 to 04:00 of the same forecast, whenever the crew arrives.
		{"longer than half a day behind the arrival", "brief XKLD 1330Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(12, -31)}, Maximums: []coldwatch.Sample{at(4, -19), at(20, -19)}},
			"At or below −25 °C about 20:00–Fri 04:00 local (estimated).", "; at or below −25 about 20:00–Fri 04:00Z (estimated)"},
		{"the nearer of two nights", "brief XKLD 1400Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(1, -31), at(23, -31)}, Maximums: []coldwatch.Sample{at(7, -19)}},
			"At or below −25 °C about 12:00–16:00 local (estimated), or longer.", "; at or below −25 about 12:00–16:00Z (estimated), or longer"},
		{"a single extreme", "brief XKLD 1430Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(2, -31)}}, "", ""},
		{"never at the line", "brief XKLD 1430Z", coldwatch.Forecast{Minimums: []coldwatch.Sample{at(2, -24)}, Maximums: []coldwatch.Sample{at(10, -19)}}, "", ""},
		{"values of its own", "brief XKLD 1430Z", curve("hourly", 24, -30), "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.f.Source == "" {
				c.f.Source, c.f.Issued, c.f.ValidFrom, c.f.ValidTo = "TAF", noon, noon, noon.Add(24*time.Hour)
			}
			r, err := briefBot(t, forecasts{"XKLD": {c.f}}).Handle(t.Context(), bot.Message{Text: c.asks, At: noon})
			if err != nil || len(r.Arrivals) != 1 {
				t.Fatal(r, err)
			}
			short := ""
			for _, b := range present.Of(r).Short {
				if l, ok := b.(present.Line); ok {
					short += l.Text
				}
			}
			if !strings.Contains(short, c.short) || c.short == "" && strings.Contains(short, "estimated") {
				t.Errorf("in short %q, want %q", short, c.short)
			}
			a, text := r.Arrivals[0], ""
			for _, s := range r.Sections {
				text += strings.Join(s.Lines, "\n")
			}
			if a.Estimated != (c.want != "") || a.BelowFrom.IsZero() == a.Estimated || !strings.Contains(text, c.want) || c.want == "" && strings.Contains(text, "estimated") {
				t.Errorf("%q, estimated %v from %v to %v, want %q", text, a.Estimated, a.BelowFrom, a.BelowTo, c.want)
			}
		})
	}
}

// failing are forecasts beside which a source has failed.
type failing struct{ forecasts }

func (f failing) Forecasts(ctx context.Context, ident string) ([]weather.Forecast, error) {
	all, _ := f.forecasts.Forecasts(ctx, ident)
	return all, &weather.Missing{Ident: ident, Passed: []weather.Passed{{Source: "awc", Err: errors.New("down")}}}
}

// TestBriefDoubts: what a tired reader needs to know of the sources stands in the
// arrival's own line.
func TestBriefDoubts(t *testing.T) {
	kept, old := curve("TAF (awc)", 48, -30), curve("TAF (folder)", 48, -30)
	kept.Note = weather.FailedNote(noon)
	old.Issued = noon.Add(-13 * time.Hour)
	b := briefBot(t, nil)
	b.Use(bot.Ports{Forecasts: failing{forecasts{"XKLD": {kept}, "XRUN": {old}}}, Procedures: charts{}})
	r, err := b.Handle(t.Context(), bot.Message{Text: "brief XKLD 1430Z XRUN 1530Z XSLT 1630Z", At: noon})
	if err != nil || len(r.Arrivals) != 3 {
		t.Fatal(r, err)
	}
	var lines []string
	for _, b := range present.Of(r).Short {
		if l, ok := b.(present.Line); ok {
			lines = append(lines, l.Text)
		}
	}
	for i, want := range []string{"; source failed, forecast of 12:00Z 15 Jan, awc failed.", "; awc failed, old forecast, of 23:00Z 14 Jan.", "not known (the weather sources do not answer for XSLT)."} {
		if i >= len(lines) || !strings.HasSuffix(lines[i], want) {
			t.Errorf("on the face stands %q, want %q", lines, want)
		}
	}
}

func ils(ident, runway string) approach.Approach {
	a := approach.Approach{Ident: ident, Code: "I" + runway, Name: "ils " + runway, Minimums: []approach.Minimum{{Name: "ILS", Role: procedure.DecisionAltitude, Altitude: 5340}}}
	a.Kind, a.Runway = approach.ILS, runway
	return a
}

func briefBot(t *testing.T, f forecasts) *bot.Bot {
	b := newBot(t)
	b.Use(bot.Ports{Forecasts: f, Procedures: charts{ils("XKLD", "31"), ils("XKLD", "10")}})
	return b
}

func TestBrief(t *testing.T) {
	night := forecasts{
		"XKLD": {curve("hourly", 48, -30)},
		"XRUN": {curve("first", 48, -18), curve("second", 48, -25)},
		"XSLT": {curve("short", 3, -5)},
	}
	for _, c := range []struct {
		name, text string
		want       []string // in this order, in the facts and sections
	}{
		{"a local time that is to come", "brief XKLD 1430", []string{"required at 1 of 1", "14:30 local (", "today", "Coldest −30 °C", "from hourly", "Correction required (restriction −25 °C)", "No procedure is named"}},
		{"a local time that has gone by is tomorrow's", "brief XKLD 0300", []string{"03:00 local (03:00Z), tomorrow"}},
		{"UTC", "brief XKLD 2130Z", []string{"(21:30Z)"}},
		{"tomorrow said", "brief XKLD 1430 tomorrow", []string{"tomorrow"}},
		{"a procedure named", "brief XKLD ils 31 1430", []string{"XKLD ils 31", "ILS 5340: "}},
		{"a procedure behind the time", "brief XKLD 1430 ils 31", []string{"XKLD ils 31"}},
		{"sources that disagree", "brief XRUN 1430", []string{"XRUN: sources disagree: first −18 °C, second −25 °C; the colder is used", "Coldest −25 °C"}},
		{"the forecast ends before the arrival", "brief XSLT 0700Z tomorrow", []string{"XSLT: its values", "cover none of the hours around the arrival", "No forecast temperature"}},
		{"no forecast", "brief XGLN 1430", []string{"XGLN: no source has a forecast for XGLN", "this does not mean warm"}},
		{"an alternate", "brief XKLD 1430 alternate XRUN 1515", []string{"XRUN", "alternate"}},
		{"a second arrival after midnight", "brief XKLD 2330 XRUN 0015", []string{"23:30 local", "00:15 local", "tomorrow"}},
		{"it says when to recompute", "brief XKLD 1430 ils 31", []string{"recompute at −"}},
		{"the rule set that was said", "brief XRUN 1430 icao", []string{"Whether a correction is required is not known"}},
		{"behind the procedure", "brief XKLD 1430 ils 31 canada", []string{"Whether a correction is required is not known", "XKLD ils 31"}},
		{"commas and small words", "brief XKLD at 1430, then XRUN at 1515 local", []string{"14:30 local", "15:15 local"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := briefBot(t, night).Handle(t.Context(), bot.Message{Surface: "console", Text: c.text, At: noon})
			if err != nil {
				t.Fatal(err)
			}
			if r.Problem != nil {
				t.Fatalf("it asks: %+v", *r.Problem)
			}
			rest := words(r)
			for _, w := range c.want {
				i := strings.Index(rest, w)
				if i < 0 {
					t.Fatalf("no %q (in this place) in:\n%s", w, words(r))
				}
				rest = rest[i+len(w):]
			}
		})
	}
}

// TestBriefOfWhatIsObserved: within an hour of an arrival the latest observation
// counts where it is colder than the forecast.
func TestBriefOfWhatIsObserved(t *testing.T) {
	mild := []coldwatch.Forecast{curve("hourly", 24, -18)}
	early := coldwatch.Forecast{Source: "TAF", Issued: noon, ValidFrom: noon, ValidTo: noon.Add(24 * time.Hour), Minimums: []coldwatch.Sample{{At: noon.Add(20 * time.Hour), C: -20}}}
	for _, c := range []struct {
		name, text string
		forecast   []coldwatch.Forecast
		observed   engine.Celsius
		want       string // of its line in short
		low        float64
	}{
		{"colder", "brief XKLD 1230Z", mild, -38, "XKLD 12:30Z, observed −38 °C: correct", -38},
		{"before the hour before", "brief XKLD 1259Z", mild, -38, "XKLD 12:59Z, observed −38 °C: correct", -38},
		{"warmer", "brief XKLD 1230Z", mild, -10, "XKLD 12:30Z, −18 °C: no correction", -18},
		{"an arrival of the afternoon", "brief XKLD 1530Z", mild, -38, "XKLD 15:30Z, −18 °C: no correction", -18},
		{"colder than a bound", "brief XKLD 1230Z", []coldwatch.Forecast{early}, -30, "XKLD 12:30Z, observed −30 °C: correct", -30},
		{"nothing forecast", "brief XKLD 1230Z", nil, -38, "XKLD 12:30Z, observed −38 °C: correct", -38},
		{"nothing forecast, and warmer than the line", "brief XKLD 1230Z", nil, -10, "XKLD 12:30Z: not known", 0},
	} {
		b := newBot(t)
		b.Use(bot.Ports{Forecasts: forecasts{"XKLD": c.forecast}, Observer: latest{weather.Reading{
			Observation: weather.Observation{Ident: "XKLD", C: c.observed, At: noon.Add(-15 * time.Minute), Source: "METAR (folder)"}, Age: 15 * time.Minute,
		}}})
		r, err := b.Handle(t.Context(), bot.Message{Text: c.text, At: noon})
		if err != nil || len(r.Arrivals) != 1 {
			t.Fatal(c.name, r, err)
		}
		short := ""
		for _, b := range present.Of(r).Short {
			if l, ok := b.(present.Line); ok {
				short += l.Text + "\n"
			}
		}
		note := "−" + fmt.Sprintf("%.0f", -c.low) + " °C is observed at 11:45Z 15 Jan (METAR (folder))"
		if a := r.Arrivals[0]; a.TemperatureC.Value != c.low || !strings.Contains(short, c.want) || a.Observed != strings.Contains(words(r), note) || a.Observed != strings.Contains(c.want, "observed") {
			t.Errorf("%s: %v °C, observed %v, in short %q, want %q; %q", c.name, a.TemperatureC.Value, a.Observed, short, c.want, a.Note)
		}
	}
}

// TestBriefTerms: a brief is worked out by the rule set and for the aircraft that
// it names, says so, and what follows it up stands under the same.
func TestBriefTerms(t *testing.T) {
	b := briefBot(t, forecasts{"XKLD": {curve("hourly", 48, -30)}, "XRUN": {curve("hourly", 48, -18)}})
	for _, c := range []struct{ text, rules, notes, line string }{
		{"brief XKLD 1430 ils 31", "faa-all-segments", "", ""},
		{"strict", "strict", "Rules: strict unit rule, as you said.", ""},
		{"1545", "strict", "Rules: strict unit rule, as you said.", ""},
		{"compensated yes", "strict", "With compensation, as you said. Rules: strict unit rule, as you said.", ""},
		{"and XRUN 1700z", "strict", "With compensation, as you said. Rules: strict unit rule, as you said.", ""},
		{"brief XRUN 1700 strict", "strict", "Rules: strict unit rule, as you said.", "required at 1 of 1"}, // -18 °C: at or below 0 °C in mountainous terrain
		{"brief XRUN 1700", "faa-all-segments", "", "No correction will be required"},                       // above -20 °C
	} {
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Thread: "a", Text: c.text, At: noon})
		if err != nil {
			t.Fatal(err)
		}
		if notes := strings.Join(r.Notes, " "); r.Rules != c.rules || notes != c.notes || !strings.Contains(words(r), c.line) {
			t.Errorf("%s: rules %s, notes %q, %+v:\n%s", c.text, r.Rules, notes, r.Problem, words(r))
		}
	}
}

func words(r reply.Reply) string {
	all := append([]string(nil), r.Facts...)
	for _, s := range r.Sections {
		all = append(all, s.Title)
		all = append(all, s.Lines...)
	}
	return strings.Join(all, "\n")
}

func TestBriefAsks(t *testing.T) {
	for _, c := range []struct{ name, text, word, try string }{
		{"no station", "brief", "brief", "brief XKLD 1430Z XRUN 1515Z"},
		{"no time", "brief XKLD", "XKLD", ""},
		{"no time, others kept", "brief XKLD 1430 XRUN", "XRUN", ""},
		{"two times", "brief XKLD 1430 1515", "1515", "brief XKLD 1430"},
		{"no time of the day", "brief XKLD 2530", "2530", ""},
		{"three figures", "brief XKLD 730 XRUN 1515", "730", ""},
		{"an unknown station", "brief XKLX 1430", "XKLX", "brief XKLD 1430"},
		{"an unknown station behind a known one", "brief XKLD 1430 XRUX 1515", "XRUX", "brief XKLD 1430 XRUN 1515"},
		{"an unknown procedure, others kept", "brief XKLD 1430 ils 5 XRUN 1515", "ils 5", "brief XKLD 1430 ils 31 XRUN 1515"},
		{"several procedures", "brief XKLD 1430 ils", "ils", "brief XKLD 1430 ils 10"},
		{"today, gone by", "brief XKLD 0100 today", "0100 today", "brief XKLD 0100 tomorrow"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := briefBot(t, forecasts{"XKLD": {curve("hourly", 48, -30)}}).Handle(t.Context(), bot.Message{Surface: "console", Text: c.text, At: noon})
			if err != nil {
				t.Fatal(err)
			}
			if r.Problem == nil || r.Problem.Word != c.word || r.Problem.Try != c.try {
				t.Errorf("got %+v, want word %q and try %q", r.Problem, c.word, c.try)
			}
		})
	}
	r, err := newBot(t).Handle(t.Context(), bot.Message{Surface: "console", Text: "brief XKLD 1430", At: noon})
	if err != nil || r.Problem == nil || !strings.Contains(r.Problem.Text, "no weather source") {
		t.Errorf("without forecasts: %+v, %v", r.Problem, err)
	}
}

func TestRoute(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       string // the second or third fact
		least      float64
		strict     bool
	}{
		// 6798 ft above the source, 30.5 °C colder than standard: by the rule of
		// thumb of 4 % a 10 °C (ICAO Doc 8168, I-4) 829 ft.
		{"cold", "route min 11600 XKLD -25", "fly at least 12500 ft", 829, true},
		{"without the word", "route 11600 XKLD -25", "fly at least 12500 ft", 829, true},
		{"warm", "route min 11600 XKLD +20", "nothing is added", 0, false},
		{"colder at the level", "route min 11600 XKLD -25 oat -45", "fly at least 12800 ft", 1103, true},
		{"colder at the level, within the same hundred", "route min 11600 XKLD -25 oat -38", "fly at least 12500 ft", 868, true},
		{"warmer at the level takes nothing away", "route min 11600 XKLD -25 oat 0", "fly at least 12500 ft", 829, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := newBot(t).Handle(t.Context(), bot.Message{Surface: "console", Text: c.text, At: noon})
			if err != nil || r.Problem != nil || r.Route == nil {
				t.Fatalf("%+v, %v", r.Problem, err)
			}
			if !strings.Contains(words(r), c.want) || r.Route.CorrectionFt < c.least || r.Route.Strict != c.strict {
				t.Errorf("got %+v\n%s\nwant %q, at least %v, strict %v", *r.Route, words(r), c.want, c.least, c.strict)
			}
		})
	}
	for _, c := range []struct{ name, text, word string }{
		{"no altitude", "route XKLD -25", "route"},
		{"two altitudes", "route 11600 10200 XKLD -25", "route"},
		{"below the field", "route 4000 XKLD -25", "4000"},
		{"no sign", "route 11600 XKLD 25", "25"},
		{"no figure behind oat", "route 11600 XKLD -25 oat", "oat"},
		{"oat without a sign", "route 11600 XKLD -25 oat 40", "40"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := newBot(t).Handle(t.Context(), bot.Message{Surface: "console", Text: c.text, At: noon})
			if err != nil || r.Problem == nil || r.Problem.Word != c.word || r.Problem.Try != "" && !strings.HasPrefix(r.Problem.Try, "route ") {
				t.Errorf("got %+v, %v; want word %q and no line but one with route", r.Problem, err, c.word)
			}
		})
	}
}
