package coldwatch_test

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firn/engine"
	"firn/engine/coldwatch"
)

// reasons are those of what changed.
func reasons(all []coldwatch.Change) string {
	var out []string
	for _, c := range all {
		out = append(out, string(c.Reason))
	}
	return strings.Join(out, " ")
}

// minimum is a forecast with one minimum, valid all day.
func minimum(h float64, c engine.Celsius) *coldwatch.Forecast {
	return &coldwatch.Forecast{Source: "TAF", ValidFrom: hour(-6), ValidTo: hour(24), Minimums: []coldwatch.Sample{{At: hour(h), C: c}}}
}

// TestColderBoundIsTold has a newer forecast whose minimum lies just outside
// the window.
func TestColderBoundIsTold(t *testing.T) {
	for _, tt := range []struct {
		name   string
		before *coldwatch.Forecast
		want   string
	}{
		{"the day began clear", flat(-10), "crossed-line moved"},
		{"it began near", flat(-23), "crossed-line moved"},
		{"nothing was known", nil, "source-back"},
		{"it was below already", flat(-26), ""},
	} {
		rest := coldwatch.Window{From: hour(2), To: window.To}
		after := coldwatch.Judge(rest, line, minimum(13, -30))
		got := coldwatch.Changed(coldwatch.Judge(window, line, tt.before), after, rest, 3)
		if reasons(got) != tt.want || after.State != coldwatch.Below || !after.Bound(rest) {
			t.Errorf("%s: %v of %v, want %q", tt.name, got, after.State, tt.want)
		}
		if tt.want == "crossed-line moved" && !strings.Contains(got[0].Text, "perhaps at or below −25 °C: a minimum of −30 °C is forecast for 02:00Z 16 Jan") {
			t.Errorf("%s: %s", tt.name, got[0].Text)
		}
	}
}

func TestPartForecast(t *testing.T) {
	values := func(c engine.Celsius, hours int) *coldwatch.Forecast {
		return curve(slices.Repeat([]engine.Celsius{c}, hours)...)
	}
	gap := flat(-10)
	gap.Hourly = slices.Delete(gap.Hourly, 4, 9)
	late := flat(-10)
	late.Hourly = late.Hourly[2:]
	taf := minimum(1, -10)
	taf.ValidTo = hour(6)
	noLine := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	for _, tt := range []struct {
		name     string
		f        *coldwatch.Forecast
		line     coldwatch.Line
		want     coldwatch.State
		from, to float64
	}{
		{"one hour of twelve", values(-10, 1), line, coldwatch.PartForecast, 0, 1},
		{"near as far as it goes", values(-23, 6), line, coldwatch.PartForecast, 0, 6},
		{"below is below", values(-26, 6), line, coldwatch.Below, 0, 6},
		{"all but the last two hours", values(-10, 10), line, coldwatch.Clear, 0, 10},
		{"an hour less", values(-10, 9), line, coldwatch.PartForecast, 0, 9},
		{"from the third hour on", late, line, coldwatch.PartForecast, 2, 12},
		{"a gap", gap, line, coldwatch.PartForecast, 0, 4},
		{"a TAF that ends", taf, line, coldwatch.PartForecast, 0, 6},
		{"no line to be at", values(-10, 1), noLine, coldwatch.Clear, 0, 1},
		{"all of it", flat(-10), line, coldwatch.Clear, 0, 12},
	} {
		j := coldwatch.Judge(window, tt.line, tt.f)
		if j.State != tt.want || !j.CoveredFrom.Equal(hour(tt.from)) || !j.CoveredTo.Equal(hour(tt.to)) {
			t.Errorf("%s: %v, covered %v to %v, want %v, %v to %v", tt.name, j.State, j.CoveredFrom, j.CoveredTo, tt.want, hour(tt.from), hour(tt.to))
		}
		if chosen := coldwatch.Choose(window, 5, j); chosen != j {
			t.Errorf("%s: alone it is chosen as %+v", tt.name, chosen)
		}
	}
	if id, ok := coldwatch.ParseState("part-forecast"); !ok || id != coldwatch.PartForecast || !id.Asks() {
		t.Errorf("part-forecast is read as %v", id)
	}
}

// TestCoveredTogether has two sources that each know a part.
func TestCoveredTogether(t *testing.T) {
	afternoon := flat(-12)
	afternoon.Hourly = afternoon.Hourly[6:]
	cold := flat(-20)
	cold.Hourly = cold.Hourly[6:]
	cold.Hourly[3].C = -26
	for _, tt := range []struct {
		name string
		js   []coldwatch.Judgement
		want coldwatch.State
		low  engine.Celsius
		note string
	}{
		{"the other half", []coldwatch.Judgement{judged(curve(-10, -10, -10, -10, -10, -10), "a"), judged(afternoon, "b")}, coldwatch.Clear, -12, ""},
		{"the colder half", []coldwatch.Judgement{judged(curve(-10, -10, -10, -10, -10, -10, -10), "a"), judged(cold, "b")}, coldwatch.Below, -26, ""},
		{"an hour is missing", []coldwatch.Judgement{judged(curve(-10, -10, -10, -10), "a"), judged(afternoon, "b")}, coldwatch.PartForecast, -12, "covers only 13:00Z 15 Jan to 17:00Z 15 Jan"},
		{"a part near, the whole clear", []coldwatch.Judgement{judged(flat(-20), "a"), judged(curve(-23), "b")}, coldwatch.Near, -23, "sources disagree"},
	} {
		j := coldwatch.Choose(window, 5, tt.js...)
		if j.State != tt.want || j.Low != tt.low || !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
			t.Errorf("%s: %v %v, %q; want %v %v, %q", tt.name, j.State, j.Low, j.Note, tt.want, tt.low, tt.note)
		}
	}
}

// TestEndOfForecastIsTold follows a forecast of six hours of twelve.
func TestEndOfForecastIsTold(t *testing.T) {
	values := func(from, to int, c engine.Celsius) *coldwatch.Forecast {
		f := flat(c)
		f.Hourly, f.ValidTo = f.Hourly[from:to], hour(float64(to))
		return f
	}
	for _, tt := range []struct {
		name          string
		before, after *coldwatch.Forecast
		now           float64
		want          string
	}{
		{"as it was", values(0, 6, -10), values(0, 6, -10), 3, ""},
		{"its end", values(0, 6, -10), values(0, 6, -10), 6, "source-gone"},
		{"its end, in the last two hours", values(0, 9, -10), values(0, 9, -10), 10.5, "source-gone"},
		{"the end of one that was enough", flat(-10), values(0, 10, -10), 10.5, ""},
		{"a newer one that goes on", values(0, 6, -10), values(4, 9, -10), 5, ""},
		{"and the told one is over", values(0, 6, -10), values(4, 9, -10), 6, "covers"},
		{"a newer one to the end", values(0, 6, -10), values(3, 12, -10), 3, "covers"},
		{"a newer one that ends earlier", values(0, 9, -10), values(3, 6, -10), 3, "covers-less"},
		{"the whole was known", flat(-10), values(3, 6, -10), 3, "covers-less"},
		{"near, and the whole was known", flat(-23), values(3, 6, -10), 3, "covers-less"},
		{"it was below", flat(-30), values(3, 6, -10), 3, "crossed-line"},
		{"it turns cold", values(0, 6, -10), values(3, 6, -26), 3, "crossed-line moved"},
		{"near as far as it goes, colder", values(0, 6, -10), values(3, 6, -23), 3, "moved"},
		{"a forecast again", nil, values(3, 6, -10), 3, "source-back"},
	} {
		rest := coldwatch.Window{From: hour(tt.now), To: window.To}
		got := coldwatch.Changed(coldwatch.Judge(window, line, tt.before), coldwatch.Judge(rest, line, tt.after), rest, 3)
		if reasons(got) != tt.want {
			t.Errorf("%s: %v, want %q", tt.name, got, tt.want)
		}
	}
}

// TestColderBoundIsUsed has a warm curve beside a minimum outside the window.
func TestColderBoundIsUsed(t *testing.T) {
	for _, tt := range []struct {
		name  string
		bound *coldwatch.Forecast
		want  engine.Celsius
	}{
		{"two hours before", minimum(-2, -33), -33},
		{"an hour after", minimum(13, -33), -33},
		{"by the limit exactly", minimum(-2, -25), -20},
		{"by more", minimum(-2, -25.1), -25.1},
		{"at the end of another night: both may be right", minimum(22, -33), -20},
	} {
		for _, js := range [][]coldwatch.Judgement{
			{judged(flat(-20), "hourly"), judged(tt.bound, "TAF")},
			{judged(tt.bound, "TAF"), judged(flat(-20), "hourly")},
		} {
			j := coldwatch.Choose(window, 5, js...)
			if j.Low != tt.want || (tt.want != -20) != strings.Contains(j.Note, "sources disagree: hourly −20 °C, TAF −") {
				t.Errorf("%s: %v, %q; want %v", tt.name, j.Low, j.Note, tt.want)
			}
		}
	}
}

// TestMinimumInsideCounts has a minimum inside the window, and a colder one far
// outside it that the same forecast also has.
func TestMinimumInsideCounts(t *testing.T) {
	for _, tt := range []struct {
		inside, want engine.Celsius
	}{{-26, -35}, {-19, -20}, {-24.9, -20}, {-25, -35}} {
		f := minimum(1, tt.inside)
		f.Minimums = append(f.Minimums, coldwatch.Sample{At: hour(22), C: -35})
		f.ValidTo = hour(30)
		near := coldwatch.Line{Restriction: -25, Margin: 0}
		hourly := coldwatch.Judge(window, near, flat(-20))
		if j := coldwatch.Choose(window, 5, hourly, coldwatch.Judge(window, near, f)); j.Low != tt.want || (j.State == coldwatch.Below) != (tt.inside <= -25) {
			t.Errorf("%v inside: %v, low %v; want %v", tt.inside, j.State, j.Low, tt.want)
		}
	}
}

// TestColderOnly has forecasts of which a newer one cannot be read.
func TestColderOnly(t *testing.T) {
	old := func(c engine.Celsius) coldwatch.Judgement {
		f := flat(c)
		f.ColderOnly, f.Note = true, "a newer one cannot be read"
		return judged(f, "TAF")
	}
	for _, tt := range []struct {
		name  string
		js    []coldwatch.Judgement
		state coldwatch.State
		low   engine.Celsius
	}{
		{"alone and clear", []coldwatch.Judgement{old(-10)}, coldwatch.NoForecast, 0},
		{"alone and near", []coldwatch.Judgement{old(-23)}, coldwatch.NoForecast, 0},
		{"alone and below", []coldwatch.Judgement{old(-26)}, coldwatch.Below, -26},
		{"warmer than another", []coldwatch.Judgement{old(-10), judged(flat(-26), "b")}, coldwatch.Below, -26},
		{"colder than another", []coldwatch.Judgement{judged(flat(-20), "b"), old(-26)}, coldwatch.Below, -26},
		{"beside a part", []coldwatch.Judgement{judged(curve(-20, -20), "b"), old(-20)}, coldwatch.PartForecast, -20},
		{"near beside one that is clear", []coldwatch.Judgement{judged(flat(-20), "b"), old(-23)}, coldwatch.Near, -23},
		{"near beside a part that is clear", []coldwatch.Judgement{judged(curve(-20), "b"), old(-23)}, coldwatch.PartForecast, -23},
		{"colder, both clear", []coldwatch.Judgement{judged(minimum(1, 0), "c"), old(-10)}, coldwatch.Clear, -10},
		{"beside one with nothing", []coldwatch.Judgement{coldwatch.Judge(window, line, nil), old(-10)}, coldwatch.NoForecast, 0},
	} {
		j := coldwatch.Choose(window, 5, tt.js...)
		if j.State != tt.state || j.Low != tt.low || !strings.Contains(j.Note, "a newer one cannot be read") {
			t.Errorf("%s: %v %v, %q; want %v %v and the reason", tt.name, j.State, j.Low, j.Note, tt.state, tt.low)
		}
	}
}

// TestContradictsItself has TAFs whose extremes cannot all be right: they count
// only as far as they are colder, so that no slip makes a cold day clear.
func TestContradictsItself(t *testing.T) {
	for _, tt := range []struct {
		name, extremes string
		state          coldwatch.State
		note           string
	}{
		{"a minimum without its minus", "TXM08/1520Z TN31/1515Z", coldwatch.NoForecast, "the forecast maximum, −8 °C, is colder than its minimum, 31 °C: the colder is used; its low, −8 °C, does not count for clear"},
		{"beside one that has it", "TXM08/1520Z TN31/1515Z TNM18/1606Z", coldwatch.NoForecast, "the forecast maximum, −8 °C, is colder than its minimum, 31 °C: the colder is used; its low, −18 °C, does not count for clear"},
		{"a maximum after the window", "TXM08/1602Z TN31/1515Z", coldwatch.NoForecast, "the forecast maximum, −8 °C, is colder than its minimum, 31 °C: the colder is used; its low, 31 °C, does not count for clear"},
		{"the two set the wrong way round", "TXM30/1515Z TNM08/1520Z", coldwatch.Below, "the forecast maximum, −30 °C, is colder than its minimum, −8 °C: the colder is used"},
		{"a minimum of another day", "TXM08/1520Z TNM18/3014Z", coldwatch.NoForecast, "its minimum of −18 °C is for 14:00Z 30 Jan, which is far outside its time; its low, −18 °C, does not count for clear"},
		{"a cold one of another day", "TXM08/1520Z TNM31/1314Z", coldwatch.Below, "its minimum of −31 °C is for 14:00Z 13 Jan, which is far outside its time"},
		{"a maximum of another day says nothing of the low", "TXM08/1720Z TNM18/1514Z", coldwatch.Clear, ""},
		{"a minimum of the hours before an amendment", "TXM08/1520Z TNM18/1509Z", coldwatch.Clear, "outside the duty window"},
		{"a maximum at its minimum", "TXM18/1520Z TNM18/1514Z", coldwatch.Clear, ""},
	} {
		f := taf(t, "TAF XKLD 151140Z 1512/1612 "+tt.extremes, six)
		j := coldwatch.Choose(window, 5, coldwatch.Judge(window, line, f))
		if j.State != tt.state || !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
			t.Errorf("%s: %v, %q; want %v, %q", tt.name, j.State, j.Note, tt.state, tt.note)
		}
		if j := coldwatch.Choose(window, 5, coldwatch.Judge(window, line, f), judged(flat(-20), "b")); j.State != coldwatch.Below && (j.State != coldwatch.Clear || j.Low > -18) {
			t.Errorf("%s, beside another source: %v %v", tt.name, j.State, j.Low)
		}
	}
}

// TestJudgedAsShown has a low of -3.99 °F at a line of -4 °F (-20 °C): both
// are shown as -20 °C.
func TestJudgedAsShown(t *testing.T) {
	l := coldwatch.Line{Restriction: engine.Fahrenheit(-4).Celsius(), Margin: 3}
	for _, f := range []*coldwatch.Forecast{flat(engine.Fahrenheit(-3.99).Celsius()), minimum(2, engine.Fahrenheit(-3.99).Celsius())} {
		j := coldwatch.Judge(window, l, f)
		if j.State != coldwatch.Below || j.Low != -20 {
			t.Errorf("%v, low %v", j.State, j.Low)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		c := engine.Fahrenheit(rapid.Float64Range(-60, 20).Draw(t, "low")).Celsius()
		l := coldwatch.Line{Restriction: engine.Celsius(rapid.Float64Range(-50, -5).Draw(t, "line")), Margin: 3}
		j := coldwatch.Judge(window, l, flat(c))
		shown, line := j.Low.ColderTenth(), l.Restriction.ColderTenth()
		if shown != j.Low || (j.State == coldwatch.Below) != (shown <= line+1e-9) {
			t.Fatalf("%v with %v shown at a line shown as %v", j.State, shown, line)
		}
	})
}

// What the figures say is left out of a note, also of one that was stored; what
// else it says stays, whoever adds it. Own facts: common practice, no source.
func TestFurther(t *testing.T) {
	for _, tt := range []struct{ note, want string }{
		{"", ""},
		{"the forecast minimum, −30 °C, was for 03:00Z 15 Jan, earlier in the duty window; what is left of it is no colder, how cold is not known", ""},
		{"the forecast minimum, −30 °C, is for 03:00Z 15 Jan, outside the duty window, in which it is no colder; how cold is not known", ""},
		{"the hours are estimated from 03:00Z 15 Jan to 09:00Z 15 Jan, and not known beyond; the forecast covers only 03:00Z 15 Jan to 09:00Z 15 Jan of the duty window", ""},
		{"sources disagree: a −33 °C, b −20 °C; the colder is used; the forecast covers only 03:00Z 15 Jan to 09:00Z 15 Jan of the duty window; b: a newer one cannot be read",
			"sources disagree: a −33 °C, b −20 °C; the colder is used; b: a newer one cannot be read"},
		{"the forecast maximum, −30 °C, is colder than its minimum, −10 °C: the colder is used", "the forecast maximum, −30 °C, is colder than its minimum, −10 °C: the colder is used"},
	} {
		if got := (coldwatch.Judgement{Note: tt.note}).Further(); got != tt.want {
			t.Errorf("%q: got %q, want %q", tt.note, got, tt.want)
		}
	}
}
