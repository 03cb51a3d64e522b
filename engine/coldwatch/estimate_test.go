package coldwatch_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/engine"
	"firn/engine/coldwatch"
)

// extremes makes a forecast that is valid for three days of pairs of an hour
// and a temperature.
func extremes(minimums, maximums [][2]float64) *coldwatch.Forecast {
	f := &coldwatch.Forecast{Source: "TAF", Issued: hour(-25), ValidFrom: hour(-24), ValidTo: hour(48)}
	for _, m := range minimums {
		f.Minimums = append(f.Minimums, coldwatch.Sample{At: hour(m[0]), C: engine.Celsius(m[1])})
	}
	for _, m := range maximums {
		f.Maximums = append(f.Maximums, coldwatch.Sample{At: hour(m[0]), C: engine.Celsius(m[1])})
	}
	return f
}

// The wanted hours follow from half a cosine alone: half-way in time between a
// minimum and a maximum it is half-way between their temperatures, a third of
// the way from the minimum a quarter.
func TestEstimatedHours(t *testing.T) {
	type list = [][2]float64
	short := extremes(list{{1, -31}}, list{{7, -19}})
	short.ValidTo = hour(9)
	for _, tt := range []struct {
		name     string
		f        *coldwatch.Forecast
		from, to float64 // hours of the window; equal: none are said
		note     string
	}{
		{"two cold spells are bounded as one", extremes(list{{0, -31}, {10, -31}}, list{{5, -19}, {20, -19}}), 0, 12, ""},
		{"a night's minimum, the line a quarter above it", extremes(list{{6, -28}}, list{{-3, -16}, {12, -16}}), 3, 8, ""},
		{"the line half-way", extremes(list{{6, -34}}, list{{0, -16}, {12, -16}}), 3, 9, ""},
		{"a minimum that only touches the line is an hour at it", extremes(list{{6, -25}}, list{{0, -10}, {12, -10}}), 5.5, 6.5, ""},
		{"even the maximums are at the line", extremes(list{{6, -40}}, list{{-1, -25}, {13, -25}}), 0, 12, ""},
		{"an extreme speaks for an hour beyond it", extremes(list{{11, -31}}, list{{2, -19}}), 6.5, 12, "estimated from 14:00Z 15 Jan to 01:00Z 16 Jan, and not known beyond"},
		{"both extremes are beyond the window, on either side", extremes(list{{20, -29}}, list{{-4, -21}}), 8, 12, "outside the duty window"},
		{"as far as the window goes, in another zone", extremes(list{{1, -31}}, list{{11, -19}}), 0, 6, ""},
		{"the rest of the window after the maximum is not known", extremes(list{{1, -31}}, list{{7, -19}}), 0, 4, "estimated from 13:00Z 15 Jan to 21:00Z 15 Jan, and not known beyond"},
		{"as far as it is valid", short, 0, 4, "covers only 13:00Z 15 Jan to 22:00Z 15 Jan"},

		{"a minimum alone", extremes(list{{1, -31}}, nil), 0, 0, ""},
		{"the minimum comes last: when it ends is not known", extremes(list{{6, -31}}, list{{-2, -19}}), 0, 0, "at or below from 15:00Z 15 Jan to 20:00Z 15 Jan at least"},
		{"the minimum comes first: when it begins is not known", extremes(list{{3, -31}}, list{{9, -19}}), 0, 0, "at or below from 15:00Z 15 Jan to 19:00Z 15 Jan at least"},
		{"both extremes before the window", extremes(list{{-14, -31}}, list{{-5, -19}}), 0, 0, "outside the duty window"},
		{"two minimums with nothing between them", extremes(list{{2, -31}, {9, -31}}, list{{-4, -19}, {20, -19}}), 0, 0, ""},
		{"a maximum below the minimum", extremes(list{{2, -26}}, list{{7, -31}}), 0, 0, "the forecast maximum, −31 °C, is colder than its minimum, −26 °C: the colder is used"},
		{"two at one time", extremes(list{{2, -31}}, list{{2, -31}}), 0, 0, ""},
		{"farther apart than a day", extremes(list{{1, -31}}, list{{26, -19}}), 0, 0, ""},
		{"no number", extremes(list{{1, -31}}, list{{7, math.NaN()}}), 0, 0, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			mountain := time.FixedZone("mountain", -7*3600)
			j := coldwatch.Judge(coldwatch.Window{From: window.From.In(mountain), To: window.To.In(mountain)}, line, tt.f)
			if j.State != coldwatch.Below || j.HoursKnown {
				t.Errorf("%v, hours known %v; want below, not known", j.State, j.HoursKnown)
			}
			if tt.from == tt.to {
				if !j.BelowFrom.IsZero() || !j.BelowTo.IsZero() || j.Estimated() {
					t.Errorf("hours %v to %v, want none", j.BelowFrom, j.BelowTo)
				}
			} else if !j.BelowFrom.Equal(hour(tt.from)) || !j.BelowTo.Equal(hour(tt.to)) || !j.Estimated() {
				t.Errorf("hours %v to %v, want %v to %v, estimated", j.BelowFrom, j.BelowTo, hour(tt.from), hour(tt.to))
			}
			if !strings.Contains(j.Note, tt.note) || tt.note == "" && j.Note != "" {
				t.Errorf("note %q, want %q", j.Note, tt.note)
			}
		})
	}
	own := curve(-26, -26)
	own.Minimums, own.Maximums = short.Minimums, short.Maximums
	if j := coldwatch.Judge(window, line, own); j.Estimated() {
		t.Errorf("hours of a forecast with values of its own are estimated: %v to %v", j.BelowFrom, j.BelowTo)
	}
}

// anySwings are extremes in turn, at full hours, up to a day apart; from is any
// hour of two years, so that days lie across the ends of months and of years.
func anySwings(t *rapid.T) *coldwatch.Forecast {
	at := hour(float64(rapid.IntRange(0, 2*366*24).Draw(t, "from")))
	f := &coldwatch.Forecast{ValidFrom: at}
	maximum := rapid.Bool().Draw(t, "maximum first")
	for range rapid.IntRange(2, 5).Draw(t, "extremes") {
		s := coldwatch.Sample{At: at, C: engine.Celsius(rapid.IntRange(-40, -26).Draw(t, "low"))}
		if maximum {
			s.C = engine.Celsius(rapid.IntRange(-26, 0).Draw(t, "high"))
			f.Maximums = append(f.Maximums, s)
		} else {
			f.Minimums = append(f.Minimums, s)
		}
		maximum = !maximum
		f.ValidTo = at
		at = at.Add(time.Duration(rapid.IntRange(1, 24).Draw(t, "apart")) * time.Hour)
	}
	return f
}

func TestEstimateStaysBetweenTheExtremes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anySwings(t)
		e := coldwatch.EstimateOf(f)
		all := slices.Concat(f.Minimums, f.Maximums)
		slices.SortFunc(all, func(a, b coldwatch.Sample) int { return a.At.Compare(b.At) })
		for i, b := range all {
			if c, ok := e.At(b.At); !ok || c != b.C {
				t.Fatalf("%v at an extreme of %v", c, b.C)
			}
			if i == 0 {
				continue
			}
			a := all[i-1]
			last, step := a.C, b.At.Sub(a.At)/24
			for at := a.At; !at.After(b.At); at = at.Add(step) {
				c, ok := e.At(at)
				if !ok || c < min(a.C, b.C) || c > max(a.C, b.C) || (c < last) != (b.C < a.C) && c != last {
					t.Fatalf("%v, %v at %v, after %v, on the way from %v to %v", c, ok, at, last, a, b)
				}
				last = c
			}
		}
		for _, beyond := range []time.Time{all[0].At.Add(-1), all[len(all)-1].At.Add(1)} {
			if c, ok := e.At(beyond); ok {
				t.Fatalf("%v beyond the extremes", c)
			}
		}
	})
}

// A maximum that is colder than the minimum beside it: one of the two is wrong, and
// the colder is used. A base at −30 all day must not be called clear.
func TestContradictionIsCold(t *testing.T) {
	day := time.Date(2026, 1, 31, 6, 0, 0, 0, time.UTC)
	f := &coldwatch.Forecast{Source: "TAF", Issued: day, ValidFrom: day, ValidTo: day.Add(30 * time.Hour),
		Maximums: []coldwatch.Sample{{At: day.Add(6 * time.Hour), C: -30}}, Minimums: []coldwatch.Sample{{At: day.Add(12 * time.Hour), C: -10}}}
	j := coldwatch.Judge(coldwatch.Window{From: day, To: day.Add(24 * time.Hour)}, coldwatch.Line{Restriction: -25}, f)
	if j.State != coldwatch.Below || j.Low != -30 || !j.LowAt.Equal(day.Add(6*time.Hour)) || !strings.Contains(j.Note, "its minimum, −10 °C: the colder is used") {
		t.Errorf("it is %s, %v at %v: %s", j.State, j.Low, j.LowAt, j.Note)
	}
}

// Every minute of the estimate that is at or below the line lies in the hours
// that are said, and the hours end where it is above.
func TestEstimatedHoursHoldTheCold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anySwings(t)
		w := coldwatch.Window{From: f.ValidFrom.Add(time.Duration(rapid.IntRange(-90, 20*60).Draw(t, "window")) * time.Minute)}
		w.To = w.From.Add(time.Duration(rapid.IntRange(1, 36*60).Draw(t, "long")) * time.Minute)
		j := coldwatch.Judge(w, line, f)
		if !j.Estimated() {
			return
		}
		if j.BelowFrom.Before(w.From) || j.BelowTo.After(w.To) || !j.BelowFrom.Before(j.BelowTo) {
			t.Fatalf("%v to %v in %v", j.BelowFrom, j.BelowTo, w)
		}
		e := coldwatch.EstimateOf(f)
		for at := j.CoveredFrom; at.Before(j.CoveredTo); at = at.Add(time.Minute) {
			c, ok := e.At(at)
			if in := !at.Before(j.BelowFrom) && !at.After(j.BelowTo); ok && c <= line.Restriction && !in {
				t.Fatalf("%v at %v, outside %v to %v", c, at, j.BelowFrom, j.BelowTo)
			}
		}
		for _, end := range []time.Time{j.BelowFrom, j.BelowTo} {
			if c, ok := e.At(end); ok && end.After(j.CoveredFrom) && end.Before(j.CoveredTo) && c < line.Restriction-0.5 {
				t.Fatalf("hours end at %v, where it is %v", end, c)
			}
		}
	})
}

func TestColderMinimumIsNeverShorter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := anySwings(t)
		w := coldwatch.Window{From: f.ValidFrom, To: f.ValidTo}
		colder := *f
		colder.Minimums = slices.Clone(f.Minimums)
		for i := range colder.Minimums {
			colder.Minimums[i].C -= engine.Celsius(rapid.IntRange(0, 100).Draw(t, "colder")) / 10
		}
		a, b := coldwatch.Judge(w, line, f), coldwatch.Judge(w, line, &colder)
		if a.Estimated() && (!b.Estimated() || b.BelowFrom.After(a.BelowFrom) || b.BelowTo.Before(a.BelowTo)) {
			t.Fatalf("%v to %v, colder %v to %v (%s)", a.BelowFrom, a.BelowTo, b.BelowFrom, b.BelowTo, b.Note)
		}
	})
}

func TestEstimatedHoursThatMoveAreTold(t *testing.T) {
	at := func(h float64) coldwatch.Judgement {
		return coldwatch.Judge(window, line, extremes([][2]float64{{h, -31}}, [][2]float64{{h - 6, -19}, {h + 6, -19}}))
	}
	for _, tt := range []struct {
		by   float64
		want string
	}{{2, ""}, {3, "the hours at or below moved from about 15:00Z–21:00Z (estimated) to about 18:00Z–00:00Z (estimated)"}} {
		var got string
		for _, c := range coldwatch.Changed(at(5), at(5+tt.by), window, 3) {
			got += c.Text
		}
		if got != tt.want {
			t.Errorf("moved by %v hours: %q, want %q", tt.by, got, tt.want)
		}
	}
}
