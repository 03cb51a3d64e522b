package coldwatch_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/wxreport"
)

// The duty window of the tests: 12 hours from 06:00 in Denver, winter.
var (
	six    = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
	window = coldwatch.Window{From: six, To: six.Add(12 * time.Hour)}
	line   = coldwatch.Line{Restriction: -25, Margin: 3}
)

func hour(h float64) time.Time { return six.Add(time.Duration(h * float64(time.Hour))) }

// curve has a value an hour from 06:00 on.
func curve(values ...engine.Celsius) *coldwatch.Forecast {
	f := &coldwatch.Forecast{Source: "hourly forecast", Issued: hour(-1), ValidFrom: six, ValidTo: hour(float64(len(values)))}
	for i, v := range values {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: hour(float64(i)), C: v})
	}
	return f
}

// flat is a curve for the whole window.
func flat(c engine.Celsius) *coldwatch.Forecast {
	return curve(slices.Repeat([]engine.Celsius{c}, 12)...)
}

// taf makes a forecast of a TAF's text, as the sources do.
func taf(t testing.TB, text string, at time.Time) *coldwatch.Forecast {
	t.Helper()
	got, err := wxreport.ParseTaf(text, at)
	if err != nil {
		t.Fatal(err)
	}
	f := &coldwatch.Forecast{Source: "TAF", Issued: got.Issued, ValidFrom: got.ValidFrom, ValidTo: got.ValidTo}
	for _, e := range got.Extremes {
		s := coldwatch.Sample{At: e.At, C: e.C}
		if e.Max {
			f.Maximums = append(f.Maximums, s)
		} else {
			f.Minimums = append(f.Minimums, s)
		}
	}
	return f
}

func TestThresholds(t *testing.T) {
	inF := engine.Fahrenheit(-13).Celsius() // -25 exactly
	for _, tt := range []struct {
		name string
		c    engine.Celsius
		want coldwatch.State
	}{
		{"a tenth colder than the restriction", -25.1, coldwatch.Below},
		{"exactly at it: it binds at or below (FAA AIM 7-3-5 b)", -25, coldwatch.Below},
		{"exactly at it, converted from -13 °F", inF, coldwatch.Below},
		{"a tenth warmer", -24.9, coldwatch.Near},
		{"a tenth inside the margin", -22.1, coldwatch.Near},
		{"exactly at the margin", -22, coldwatch.Near},
		{"a tenth outside it", -21.9, coldwatch.Clear},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if got := coldwatch.Judge(window, line, flat(tt.c)).State; got != tt.want {
				t.Errorf("curve at %v: %v, want %v", tt.c, got, tt.want)
			}
			f := &coldwatch.Forecast{ValidFrom: hour(-1), ValidTo: hour(13), Minimums: []coldwatch.Sample{{At: hour(2), C: tt.c}}}
			if got := coldwatch.Judge(window, line, f).State; got != tt.want {
				t.Errorf("minimum of %v: %v, want %v", tt.c, got, tt.want)
			}
		})
	}
	none := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	if got := coldwatch.Judge(window, none, flat(-89)).State; got != coldwatch.Clear {
		t.Errorf("without a restriction temperature: %v, want clear", got)
	}
	if got := coldwatch.Judge(window, coldwatch.Line{Restriction: -25}, flat(-24.9)).State; got != coldwatch.Clear {
		t.Errorf("without a margin: %v, want clear", got)
	}
}

func TestCurve(t *testing.T) {
	long := slices.Repeat([]engine.Celsius{-10}, 12)
	cold := slices.Clone(long)
	cold[1], cold[2], cold[3] = -25, -31, -26
	twice := slices.Clone(cold)
	twice[8] = -25
	before := curve(cold...)
	before.Hourly = slices.Insert(before.Hourly, 0, coldwatch.Sample{At: hour(-0.5), C: -40})
	before.Hourly[1].At = hour(0.5)
	gap := curve(cold...)
	gap.Hourly = slices.Delete(gap.Hourly, 4, 9)
	for _, tt := range []struct {
		name     string
		f        *coldwatch.Forecast
		state    coldwatch.State
		low      engine.Celsius
		lowAt    float64
		from, to float64 // hours at or below
		covered  bool
		note     string
	}{
		{"three cold hours", curve(cold...), coldwatch.Below, -31, 2, 1, 4, true, ""},
		{"two cold spells are bounded as one", curve(twice...), coldwatch.Below, -31, 2, 1, 9, true, ""},
		{"a value from before the window holds into it", before, coldwatch.Below, -40, 0, 0, 4, true, ""},
		{"only the first six hours", curve(cold[:6]...), coldwatch.Below, -31, 2, 1, 4, false, "covers only 13:00Z 15 Jan to 19:00Z 15 Jan"},
		{"a gap of six hours", gap, coldwatch.Below, -31, 2, 1, 4, false, "gaps"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			j := coldwatch.Judge(window, line, tt.f)
			if j.State != tt.state || j.Low != tt.low || !j.LowAt.Equal(hour(tt.lowAt)) {
				t.Errorf("%v %v at %v, want %v %v at %v", j.State, j.Low, j.LowAt, tt.state, tt.low, hour(tt.lowAt))
			}
			if !j.BelowFrom.Equal(hour(tt.from)) || !j.BelowTo.Equal(hour(tt.to)) || !j.HoursKnown {
				t.Errorf("below %v to %v, known %v; want %v to %v", j.BelowFrom, j.BelowTo, j.HoursKnown, hour(tt.from), hour(tt.to))
			}
			if j.Covered != tt.covered || !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
				t.Errorf("covered %v, note %q; want %v, %q", j.Covered, j.Note, tt.covered, tt.note)
			}
		})
	}
}

// The extremes and validities are examples in the reference's notes on WMO FM
// 51 and its users; the stations and the rest of the text are invented.
func TestTaf(t *testing.T) {
	at := time.Date(2026, 1, 13, 17, 0, 0, 0, time.UTC)
	duty := coldwatch.Window{From: time.Date(2026, 1, 14, 6, 0, 0, 0, time.UTC), To: time.Date(2026, 1, 14, 18, 0, 0, 0, time.UTC)}
	hk := time.Date(2026, 1, 25, 5, 0, 0, 0, time.UTC)
	warm := coldwatch.Line{Restriction: 26, Margin: 1}
	for _, tt := range []struct {
		name  string
		text  string
		at    time.Time
		w     coldwatch.Window
		l     coldwatch.Line
		state coldwatch.State
		low   engine.Celsius
		note  string
	}{
		{"TXM05/1318Z TNM15/1410Z, the minimum in the window", "TAF XAAA 131130Z 1312/1418 00000KT 9999 TXM05/1318Z TNM15/1410Z", at, duty,
			coldwatch.Line{Restriction: -15, Margin: 3}, coldwatch.Below, -15, "estimated between its extremes, it is at or below from 09:30Z 14 Jan to 11:00Z 14 Jan at least"},
		{"the same, the minimum after the window: a bound", "TAF XAAA 131130Z 1312/1418 00000KT 9999 TXM05/1318Z TNM15/1410Z", at,
			coldwatch.Window{From: duty.From.Add(-10 * time.Hour), To: duty.From.Add(2 * time.Hour)},
			coldwatch.Line{Restriction: -18, Margin: 3}, coldwatch.Near, -15, "outside the duty window"},
		{"TX32/2506Z TN27/2522Z (Hong Kong practice)", "TAF XAAA 250500Z 2506/2612 00000KT 9999 TX32/2506Z TN27/2522Z", hk,
			coldwatch.Window{From: hk.Add(6 * time.Hour), To: hk.Add(18 * time.Hour)}, warm, coldwatch.Near, 27, ""},
		{"a maximum only", "TAF XAAA 131130Z 1312/1418 00000KT 9999 TXM05/1318Z", at, duty, line, coldwatch.NoForecast, 0, "a maximum only, −5 °C at 18:00Z 13 Jan"},
		{"a maximum only, at or below the line", "TAF XAAA 131130Z 1312/1418 00000KT 9999 TXM26/1318Z", at, duty, line, coldwatch.NoForecast, 0, "even the maximum"},
		{"no extremes, as US civil TAFs", "TAF XAAA 131130Z 1312/1412 00000KT P6SM SKC", at, duty, line, coldwatch.NoForecast, 0, "no temperature"},
		{"none of the window", "TAF XAAA 131130Z 1312/1400 00000KT 9999 TNM30/1323Z", at, duty, line, coldwatch.NoForecast, 0, "none of the duty window"},
		{"none of what is left of the window, though of what has gone by", "TAF XAAA 131130Z 1312/1409 00000KT 9999 TNM30/1407Z", at, duty.Rest(duty.From.Add(4 * time.Hour)), line, coldwatch.NoForecast, 0, "which is none of what is left of the duty window"},
		{"a part of the window", "TAF XAAA 131130Z 1312/1412 00000KT 9999 TNM30/1410Z", at, duty, line, coldwatch.Below, -30, "covers only 06:00Z 14 Jan to 12:00Z 14 Jan"},
		{"two minimums, the night before is nearer to none of the window", "TAF XAAA 131130Z 1312/1418 00000KT 9999 TNM40/1313Z TNM20/1413Z", at, duty, line, coldwatch.Clear, -20, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			j := coldwatch.Judge(tt.w, tt.l, taf(t, tt.text, tt.at))
			if j.State != tt.state || j.Low != tt.low {
				t.Errorf("%v, %v; want %v, %v (note %q)", j.State, j.Low, tt.state, tt.low, j.Note)
			}
			if j.HoursKnown || !j.BelowFrom.IsZero() || !j.BelowTo.IsZero() {
				t.Errorf("hours %v to %v where the extremes do not bound them", j.BelowFrom, j.BelowTo)
			}
			if !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
				t.Errorf("note %q, want %q", j.Note, tt.note)
			}
		})
	}
}

func TestNothing(t *testing.T) {
	for name, f := range map[string]*coldwatch.Forecast{
		"nil": nil, "empty": {}, "a curve elsewhere": {Hourly: []coldwatch.Sample{{At: hour(-9), C: -40}, {At: hour(40), C: -40}}},
	} {
		j := coldwatch.Judge(window, line, f)
		if j.State != coldwatch.NoForecast || j.Note == "" || j.Covered || j.HoursKnown || !j.LowAt.IsZero() || j.Restriction != -25 {
			t.Errorf("%s: %+v, want no-forecast with the reason", name, j)
		}
	}
}

func judged(f *coldwatch.Forecast, source string) coldwatch.Judgement {
	f.Source = source
	return coldwatch.Judge(window, line, f)
}

func TestChoose(t *testing.T) {
	bound := &coldwatch.Forecast{ValidFrom: hour(-5), ValidTo: hour(20), Minimums: []coldwatch.Sample{{At: hour(-2), C: -33}}}
	none := coldwatch.Judge(window, line, &coldwatch.Forecast{Source: "TAF", ValidFrom: hour(-1), ValidTo: hour(20)})
	for _, tt := range []struct {
		name, source, note string
		js                 []coldwatch.Judgement
	}{
		{"they agree: the first", "a", "", []coldwatch.Judgement{judged(flat(-28), "a"), judged(flat(-30), "b")}},
		{"exactly at the limit: the first", "a", "", []coldwatch.Judgement{judged(flat(-27), "a"), judged(flat(-32), "b")}},
		{"a tenth more: the colder, and told", "b", "sources disagree: a −27 °C, b −32.1 °C; the colder is used", []coldwatch.Judgement{judged(flat(-27), "a"), judged(flat(-32.1), "b")}},
		{"the first is the colder, and told", "a", "sources disagree: a −33 °C, b −20 °C", []coldwatch.Judgement{judged(flat(-33), "a"), judged(flat(-20), "b")}},
		{"across the line by a tenth: the colder", "b", "sources disagree: a −24.9 °C, b −25 °C", []coldwatch.Judgement{judged(flat(-24.9), "a"), judged(flat(-25), "b")}},
		{"a part of the window that is warmer", "a", "", []coldwatch.Judgement{judged(flat(-30), "a"), judged(curve(-10, -10), "b")}},
		{"all of the window before a part", "b", "", []coldwatch.Judgement{judged(curve(-28, -28), "a"), judged(flat(-29), "b")}},
		{"a bound within the limit is no disagreement", "b", "", []coldwatch.Judgement{judged(bound, "a"), judged(flat(-28), "b")}},
		{"one has nothing", "b", "", []coldwatch.Judgement{none, judged(flat(-20), "b")}},
		{"none has anything", "TAF", "TAF: it forecasts no temperature; there is no forecast", []coldwatch.Judgement{none, coldwatch.Judge(window, line, nil)}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			j := coldwatch.Choose(window, 5, tt.js...)
			if j.Source != tt.source || !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
				t.Errorf("%s, note %q; want %s, %q", j.Source, j.Note, tt.source, tt.note)
			}
		})
	}
	if j := coldwatch.Choose(window, 5); j.State != coldwatch.NoForecast {
		t.Errorf("of nothing: %v, want no-forecast", j.State)
	}
}

func TestChanged(t *testing.T) {
	judge := func(f *coldwatch.Forecast) coldwatch.Judgement { return coldwatch.Judge(window, line, f) }
	values := func(cold engine.Celsius, from, to int) *coldwatch.Forecast {
		v := slices.Repeat([]engine.Celsius{-10}, 12)
		for i := from; i < to; i++ {
			v[i] = cold
		}
		return curve(v...)
	}
	nothing := judge(nil)
	for _, tt := range []struct {
		name          string
		before, after *coldwatch.Forecast
		now           float64
		want          string
	}{
		{"the same", values(-30, 4, 8), values(-30, 4, 8), 1, ""},
		{"moved by the step exactly", values(-30, 4, 8), values(-33, 4, 8), 1, ""},
		{"moved by a tenth more", values(-30, 4, 8), values(-33.1, 4, 8), 1, "moved"},
		{"moved by a tenth more, warmer", values(-33.1, 4, 8), values(-30, 4, 8), 1, "moved"},
		{"across the line by a tenth", values(-24.9, 4, 8), values(-25, 4, 8), 1, "crossed-line"},
		{"back by a tenth", values(-25, 4, 8), values(-24.9, 4, 8), 1, "crossed-line"},
		{"into the margin", flat(-21), flat(-22), 0, "crossed-margin"},
		{"out of the margin", flat(-22), flat(-21), 0, "crossed-margin"},
		{"both clear, however far", flat(-20), flat(5), 0, ""},
		{"hours moved by two", values(-30, 4, 8), values(-30, 4, 10), 1, ""},
		{"hours moved by three", values(-30, 4, 8), values(-30, 4, 11), 1, "hours-moved"},
		{"the low has gone by, the rest is clear", values(-30, 0, 3), values(-30, 0, 3), 5, "over"},
		{"the low has gone by, the rest is near", values(-30, 0, 3), flat(-23), 5, ""},
		{"the low has gone by, but not the hours that were told", values(-30, 0, 12), flat(-23), 5, "crossed-line"},
		{"half an hour before the hours that were told are over", values(-30, 0, 3), flat(-10), 2.5, "over"},
		{"the low has gone by, still below", values(-30, 0, 3), flat(-26), 5, "hours-moved"},
		{"the low has gone by, colder than it was", values(-30, 0, 12), flat(-34), 5, "moved"},
		{"near has gone by", values(-23, 0, 3), values(-23, 0, 3), 5, ""},
		{"no forecast any more", values(-30, 4, 8), nil, 1, "source-gone"},
		{"no forecast any more, when the cold has gone by", values(-30, 0, 3), nil, 5, "source-gone"},
		{"no forecast any more, in the last two hours", values(-30, 0, 3), nil, 10.5, ""},
		{"a forecast again", nil, flat(-10), 1, "source-back"},
		{"still none", nil, nil, 1, ""},
		{"a bound that is colder, where it was below already, is no news", values(-30, 4, 8), &coldwatch.Forecast{ValidFrom: six, ValidTo: hour(24), Minimums: []coldwatch.Sample{{At: hour(23), C: -40}}}, 1, ""},
		{"a bound that is clear is", values(-30, 4, 8), &coldwatch.Forecast{ValidFrom: six, ValidTo: hour(24), Minimums: []coldwatch.Sample{{At: hour(23), C: -15}}}, 1, "crossed-line moved"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			before := nothing
			if tt.before != nil {
				before = judge(tt.before)
			}
			rest := coldwatch.Window{From: hour(tt.now), To: window.To}
			var got []string
			for _, c := range coldwatch.Changed(before, coldwatch.Judge(rest, line, tt.after), rest, 3) {
				got = append(got, string(c.Reason))
				if c.Text == "" {
					t.Errorf("%s has no words", c.Reason)
				}
			}
			if strings.Join(got, " ") != tt.want {
				t.Errorf("%v, want %q", got, tt.want)
			}
		})
	}
}

// anyForecast is a curve or extremes, with tenths around the line.
func anyForecast(t *rapid.T) *coldwatch.Forecast {
	tenths := rapid.IntRange(-450, 50)
	f := &coldwatch.Forecast{ValidFrom: hour(float64(rapid.IntRange(-24, 10).Draw(t, "from")))}
	valid := rapid.IntRange(1, 36).Draw(t, "valid")
	f.ValidTo = f.ValidFrom.Add(time.Duration(valid) * time.Hour)
	if rapid.Bool().Draw(t, "curve") {
		at := f.ValidFrom
		for range rapid.IntRange(1, 20).Draw(t, "values") {
			f.Hourly = append(f.Hourly, coldwatch.Sample{At: at, C: engine.Celsius(tenths.Draw(t, "c")) / 10})
			at = at.Add(time.Duration(rapid.IntRange(1, 5).Draw(t, "step")) * time.Hour)
		}
		return f
	}
	for range rapid.IntRange(0, 3).Draw(t, "minimums") {
		// One farther off is in TestContradictsItself.
		at := f.ValidFrom.Add(time.Duration(rapid.IntRange(-12, valid+12).Draw(t, "at")) * time.Hour)
		f.Minimums = append(f.Minimums, coldwatch.Sample{At: at, C: engine.Celsius(tenths.Draw(t, "c")) / 10})
	}
	return f
}

func anyWindow(t *rapid.T) coldwatch.Window {
	from := rapid.IntRange(-24, 24).Draw(t, "window from")
	return coldwatch.Window{From: hour(float64(from)), To: hour(float64(from + rapid.IntRange(1, 36).Draw(t, "window")))}
}

// byLow is the state of the low alone, however much is covered.
func byLow(j coldwatch.Judgement) coldwatch.State {
	if j.State == coldwatch.PartForecast {
		return line.Of(j.Low)
	}
	return j.State
}

func TestColderIsNeverLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, w := anyForecast(t), anyWindow(t)
		colder := *f
		colder.Hourly, colder.Minimums = slices.Clone(f.Hourly), slices.Clone(f.Minimums)
		for _, s := range [][]coldwatch.Sample{colder.Hourly, colder.Minimums} {
			for i := range s {
				s[i].C -= engine.Celsius(rapid.IntRange(0, 100).Draw(t, "colder")) / 10
			}
		}
		a, b := coldwatch.Judge(w, line, f), coldwatch.Judge(w, line, &colder)
		if byLow(b) < byLow(a) || (b.State == coldwatch.NoForecast) != (a.State == coldwatch.NoForecast) || b.Low > a.Low {
			t.Fatalf("%v %v, colder %v %v", a.State, a.Low, b.State, b.Low)
		}
	})
}

func TestWiderWindowIsNeverLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f, w := anyForecast(t), anyWindow(t)
		wide := coldwatch.Window{From: w.From.Add(-time.Duration(rapid.IntRange(0, 9).Draw(t, "before")) * time.Hour), To: w.To.Add(time.Duration(rapid.IntRange(0, 9).Draw(t, "after")) * time.Hour)}
		a, b := coldwatch.Judge(w, line, f), coldwatch.Judge(wide, line, f)
		if a.State != coldwatch.NoForecast && (byLow(b) < byLow(a) || b.State == coldwatch.NoForecast || b.Low > a.Low) {
			t.Fatalf("%v %v, wider %v %v", a.State, a.Low, b.State, b.Low)
		}
		if !a.BelowFrom.IsZero() && (b.BelowFrom.After(a.BelowFrom) || b.BelowTo.Before(a.BelowTo)) {
			t.Fatalf("below %v to %v, wider %v to %v", a.BelowFrom, a.BelowTo, b.BelowFrom, b.BelowTo)
		}
	})
}

func TestChoiceIsNeverLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := anyWindow(t)
		var js []coldwatch.Judgement
		for range rapid.IntRange(1, 4).Draw(t, "sources") {
			js = append(js, coldwatch.Judge(w, line, anyForecast(t)))
		}
		got := coldwatch.Choose(w, 5, js...)
		for _, j := range js {
			if j.State != coldwatch.NoForecast && !j.Bound(w) && (byLow(got) < byLow(j) || got.State == coldwatch.NoForecast) {
				t.Fatalf("chose %v of %v", got.State, js)
			}
		}
		if len(coldwatch.Changed(got, got, w, 3)) != 0 {
			t.Fatal("a judgement differs from itself")
		}
	})
}

func ExampleJudge() {
	day := time.Date(2026, 1, 15, 0, 0, 0, 0, time.UTC)
	w := coldwatch.Window{From: day.Add(13 * time.Hour), To: day.Add(25 * time.Hour)}
	f := &coldwatch.Forecast{Source: "TAF", ValidFrom: day.Add(12 * time.Hour), ValidTo: day.Add(36 * time.Hour),
		Minimums: []coldwatch.Sample{{At: day.Add(14 * time.Hour), C: -31}}}
	j := coldwatch.Judge(w, coldwatch.Line{Restriction: -25, Margin: 3}, f)
	fmt.Println(j.State, float64(j.Low), j.HoursKnown)
	// Output: below -31 false
}

// The figure to reach is 10 000 bases within a second.
func BenchmarkJudge10000Bases(b *testing.B) {
	v := make([]engine.Celsius, 48)
	for i := range v {
		v[i] = engine.Celsius(-20 - i%12)
	}
	hourly, extremes := curve(v...), &coldwatch.Forecast{ValidFrom: six, ValidTo: hour(24), Minimums: []coldwatch.Sample{{At: hour(1), C: -31}}}
	b.ReportAllocs()
	for b.Loop() {
		for i := range 10000 {
			l := coldwatch.Line{Restriction: engine.Celsius(-i % 40), Margin: 3}
			coldwatch.Choose(window, 5, coldwatch.Judge(window, l, hourly), coldwatch.Judge(window, l, extremes))
		}
	}
}
