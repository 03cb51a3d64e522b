package drawing_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/drawing"
	"firn/bot/present"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/correction"
)

// corrected is a reply about XKLD, an invented field at 4802 ft. Its
// corrections are made up: no picture makes any.
func corrected(rows ...reply.Row) reply.Reply {
	for i := range rows {
		rows[i].HeightFt = rows[i].PublishedFt - 4802
		rows[i].CorrectionFt = 100
		rows[i].CorrectedFt = rows[i].PublishedFt + 100
	}
	return reply.Reply{
		Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", Name: "Kaldmoor", ElevationFt: 4802},
		TemperatureC: reply.Some(-38), TemperatureSource: "as typed", Required: reply.Yes, Method: "table", Altitudes: rows,
		Source: "the table, a rule set. A planning aid: whatever follows.",
	}
}

func row(label, segment string, ft float64) reply.Row {
	return reply.Row{Label: label, Segment: segment, PublishedFt: ft}
}

func TestFlyingOrder(t *testing.T) {
	for _, c := range []struct {
		name   string
		rows   []reply.Row
		want   string // the titles; > is flown to from the one before
		inTurn bool
	}{
		{"typed the other way round", []reply.Row{
			row("missed", "missed", 10200), row("DA", "final", 5340), row("step", "final", 6500), row("step", "final", 7100), row("FAF", "intermediate", 8000),
			row("IF", "initial", 9100), row("IAF", "initial", 10900), row("MSA", "sector", 12200),
		}, "MSA IAF >IF >FAF >step >step >DA missed", true},
		{"two ways in keep their order", []reply.Row{
			{Label: "IAF", Fix: "XA", Segment: "initial", PublishedFt: 10200}, {Label: "step", Fix: "XB", Segment: "initial", PublishedFt: 9200},
			{Label: "IAF", Fix: "XC", Segment: "initial", PublishedFt: 11200}, {Label: "step", Fix: "XD", Segment: "initial", PublishedFt: 9700},
			{Label: "FAF", Fix: "XE", Segment: "intermediate", PublishedFt: 8000},
		}, "IAF XA >step XB IAF XC >step XD >FAF XE", true},
		{"minimums are last and lead nowhere", []reply.Row{
			row("LNAV/VNAV", "final", 5340), row("LNAV", "final", 5500), {Label: "step", Fix: "XF", Segment: "final", PublishedFt: 6200},
		}, "step XF >LNAV/VNAV LNAV", true},
		{"without labels as given", []reply.Row{row("", "", 7400), row("", "", 8200), row("", "", 5340)}, "altitude 1 altitude 2 >altitude 3", false},
		{"one without a segment", []reply.Row{row("DA", "final", 5340), row("FAF", "intermediate", 8000), row("", "", 7400)}, "DA FAF >altitude 3", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, ok := drawing.ProfileOf(corrected(c.rows...), "")
			if !ok || p.Known != c.inTurn {
				t.Fatalf("drawn %v, in flying order %v, want %v", ok, p.Known, c.inTurn)
			}
			var got []string
			for _, f := range p.Fixes {
				mark := ""
				if f.Joined {
					mark = ">"
				}
				got = append(got, mark+f.Title())
			}
			if s := strings.Join(got, " "); s != c.want {
				t.Errorf("got  %s\nwant %s", s, c.want)
			}
		})
	}
}

// Where the aeroplane really is comes from the accurate equation, at the
// published altitude; the correction does not.
func TestTrueAltitude(t *testing.T) {
	p, _ := drawing.ProfileOf(corrected(row("FAF", "intermediate", 8200)), "")
	want := 8200 - float64(correction.Error(3398, correction.Air{Temperature: -38, Source: 4802}))
	if got := float64(p.Fixes[0].Real); math.Abs(got-want) > 1e-6 || got > 8200-correctionAtLeast {
		t.Errorf("got %.1f, want %.1f", got, want)
	}
	if got := p.Fixes[0].LowText(false); got != "−537" {
		t.Errorf("got %q", got)
	}
	if !p.Lower || !strings.Contains(p.Alt(), "FAF: 8200, corrected 8300, true 7663") {
		t.Errorf("%v, %s", p.Lower, p.Alt())
	}
	// The reply's own stands: a height with a remote source's additive in it is
	// none of the published altitude.
	r := corrected(row("LNAV", "final", 5460))
	r.Altitudes[0].HeightFt += 80
	r.Altitudes[0].TrueUncorrectedFt, r.Altitudes[0].TrueCorrectedFt = 5345.5, 5495.25
	p, ok := drawing.ProfileOf(r, "rnav 31")
	if !ok || p.Fixes[0].Real != 5345.5 || p.Fixes[0].RealCorrected != 5495.25 {
		t.Errorf("got %+v", p.Fixes)
	}
}

// correctionAtLeast is ten per cent of 3398 ft, less than −38 °C takes.
const correctionAtLeast = 339

func TestNothingToDraw(t *testing.T) {
	good := row("FAF", "intermediate", 8200)
	for _, c := range []struct {
		name   string
		change func(r *reply.Reply)
	}{
		{"a status", func(r *reply.Reply) { r.Kind = reply.KindStatus }},
		{"no altitudes", func(r *reply.Reply) { r.Altitudes = nil }},
		{"no temperature", func(r *reply.Reply) { r.TemperatureC = reply.OptFloat{} }},
		{"not a number", func(r *reply.Reply) { r.Altitudes[0].CorrectedFt = math.NaN() }},
		{"no end", func(r *reply.Reply) { r.Altitudes[0].PublishedFt = math.Inf(1) }},
		{"more than an approach has", func(r *reply.Reply) { r.Altitudes = slices.Repeat(r.Altitudes, 41) }},
		{"an elevation that is none", func(r *reply.Reply) { r.Station.ElevationFt = 1e9 }},
	} {
		r := corrected(good)
		c.change(&r)
		_, a := drawing.ProfileOf(r, "")
		_, b := drawing.CurveOf(r)
		_, d := drawing.KneeboardOf(r, drawing.Standing{})
		if a || b || d {
			t.Errorf("%s: drawn %v, %v, %v", c.name, a, b, d)
		}
	}
	r := corrected(good)
	r.Method = "guess"
	if _, ok := drawing.CurveOf(r); ok {
		t.Error("a method that is none has a curve")
	}
}

func TestCurve(t *testing.T) {
	r := corrected(row("FAF", "intermediate", 8200), row("missed", "missed", 11200))
	c, ok := drawing.CurveOf(r)
	if !ok || !c.Ends || c.Highest != 7000 {
		t.Fatalf("%v, ends %v, up to %v", ok, c.Ends, c.Highest)
	}
	for _, h := range []engine.Height{0, 1000, 5000} {
		want, err := correction.Table(h, -38)
		if got, ok := c.At(h); !ok || err != nil || got != want {
			t.Errorf("at %v ft: got %v, %v, want %v", h, got, ok, want)
		}
	}
	if _, ok := c.At(5100); ok {
		t.Error("the table goes on above its end")
	}
	// Colder than the table: the equation, never less than the last row, as
	// rule sets have it.
	r.TemperatureC = reply.Some(-55)
	c, ok = drawing.CurveOf(r)
	row, err := correction.Table(3000, -50)
	got, has := c.At(3000)
	if want := max(row, correction.Equation(3000, correction.Air{Temperature: -55, Source: 4802})); !ok || err != nil || !has || got != want {
		t.Errorf("at −55 °C: got %v, %v, want %v", got, has, want)
	}
	r.Method = "accurate"
	if c, ok = drawing.CurveOf(r); !ok || c.Ends || c.Accurate != nil {
		t.Errorf("accurate: %v, ends %v, to compare %d", ok, c.Ends, len(c.Accurate))
	}
}

var six = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)

func TestDayInventsNothing(t *testing.T) {
	b := drawing.Base{Ident: "XKLD"}
	w := coldwatch.Window{From: six, To: six.Add(12 * time.Hour)}
	l := coldwatch.Line{Restriction: -25}
	at := func(h float64, c engine.Celsius) coldwatch.Sample {
		return coldwatch.Sample{At: six.Add(time.Duration(h * float64(time.Hour))), C: c}
	}
	bulletin := &coldwatch.Forecast{ValidFrom: six, ValidTo: six.Add(24 * time.Hour), Minimums: []coldwatch.Sample{at(1, -31)}, Maximums: []coldwatch.Sample{at(8, -17)}}
	d, ok := drawing.DayOf(b, bulletin, w, l, six)
	if !ok || len(d.Runs) != 0 || len(d.Extremes) != 2 || d.Extremes[0].Maximum || !d.Extremes[0].Binds || !d.Extremes[1].Maximum || d.Extremes[1].Binds {
		t.Errorf("minimum and maximum: %v, %d runs, %+v", ok, len(d.Runs), d.Extremes)
	}
	if n := len(d.Estimated); n != 1 || len(d.Estimated[0]) != 7*4+1 || d.Estimated[0][14].C != -24 { // a value a quarter; half-way
		t.Errorf("%d curves between minimum and maximum: %v", n, d.Estimated)
	}
	if !strings.Contains(d.Alt(), "the dashed curve between them is estimated") || !strings.Contains(d.Alt(), "At or below −25 °C: about Thu 13:00 local (13:00Z) to Thu 17:15 local (17:15Z) (estimated).") {
		t.Errorf("got %s", d.Alt())
	}
	// Two cold stretches are two, of a curve and of what is estimated.
	warm := &coldwatch.Forecast{Hourly: []coldwatch.Sample{at(0, -26), at(1, -25), at(2, -24), at(3, -24), at(4, -30), at(5, -20)}}
	d, _ = drawing.DayOf(b, warm, w, l, six)
	if want := "At or below −25 °C: Thu 13:00 to 15:00 local (13:00Z to 15:00Z), and Thu 17:00 to 18:00 local (17:00Z to 18:00Z)."; !strings.Contains(d.Alt(), want) {
		t.Errorf("got %s, want %s", d.Alt(), want)
	}
	if got := d.Spells(six.Add(time.Hour)); got != "Thu 14:00 to 15:00 local (14:00Z to 15:00Z), and Thu 17:00 to 18:00 local (17:00Z to 18:00Z)" {
		t.Errorf("two to come: %q", got)
	}
	if got := d.Spells(six.Add(2 * time.Hour)); got != "" {
		t.Errorf("one to come: %q", got)
	}
	nights := &coldwatch.Forecast{ValidFrom: six, ValidTo: six.Add(12 * time.Hour), Minimums: []coldwatch.Sample{at(0, -31), at(12, -31)}, Maximums: []coldwatch.Sample{at(6, -17)}}
	d, _ = drawing.DayOf(b, nights, w, l, six)
	// From −31 to −17 in six hours it is at −25 after 6·acos(1 − 2·6/14)/π = 2 h 44.
	if want := "about Thu 13:00 local (13:00Z) to Thu 15:45 local (15:45Z) (estimated), and about Thu 22:15 local (22:15Z) to Fri 01:00 local (01:00Z) (estimated)."; !strings.Contains(d.Alt(), want) {
		t.Errorf("got %s, want %s", d.Alt(), want)
	}
	bulletin.Maximums = nil
	d, ok = drawing.DayOf(b, bulletin, w, l, six)
	if !ok || len(d.Estimated) != 0 || !strings.Contains(d.Alt(), "Points alone") || !strings.Contains(d.Alt(), "not known") {
		t.Errorf("a minimum alone: %v, %d curves, %s", ok, len(d.Estimated), d.Alt())
	}
	curve := &coldwatch.Forecast{Hourly: []coldwatch.Sample{at(0, -20), at(1, -21), at(3, -22), at(7, -26), at(8, engine.Celsius(math.NaN())), at(9, -20)}}
	d, ok = drawing.DayOf(b, curve, w, l, six)
	var lengths []int
	for _, r := range d.Runs {
		lengths = append(lengths, len(r.Values))
		if r.To.Sub(r.Values[len(r.Values)-1].At) > coldwatch.Step {
			t.Errorf("a value holds until %v", r.To)
		}
	}
	if !ok || !slices.Equal(lengths, []int{3, 1, 1}) {
		t.Errorf("gaps: %v, runs of %v", ok, lengths)
	}
	for _, c := range []struct {
		name string
		f    *coldwatch.Forecast
		w    coldwatch.Window
	}{
		{"no forecast", nil, w},
		{"nothing in it", &coldwatch.Forecast{}, w},
		{"of another day", &coldwatch.Forecast{Hourly: []coldwatch.Sample{at(80, -20)}}, w},
		{"no window", bulletin, coldwatch.Window{From: six, To: six}},
		{"not a number", &coldwatch.Forecast{Hourly: []coldwatch.Sample{at(1, engine.Celsius(math.NaN()))}}, w},
	} {
		if _, ok := drawing.DayOf(b, c.f, c.w, l, six); ok {
			t.Errorf("%s: drawn", c.name)
		}
	}
	d, ok = drawing.DayOf(b, bulletin, w, coldwatch.Line{Restriction: coldwatch.NoRestriction}, six)
	if low, _ := d.Range(); !ok || d.HasLine || low != -31 {
		t.Errorf("without a restriction temperature: %v, line %v, from %v", ok, d.HasLine, low)
	}
}

func TestSeason(t *testing.T) {
	zone := time.FixedZone("XST", -7*3600)
	b := drawing.Base{Ident: "XKLD", Zone: zone}
	day := func(d, hour int, c engine.Celsius) drawing.Low {
		return drawing.Low{Day: time.Date(2026, 1, d, hour, 0, 0, 0, zone), C: c}
	}
	s, ok := drawing.SeasonOf(b, []drawing.Low{day(5, 6, -24), day(1, 23, -25), day(1, 3, -20), day(2, 6, -31), day(4, 6, -26)}, -25, "")
	if !ok || len(s.Days) != 5 || s.Bound != 3 || s.Unknown != 1 || s.Longest != 2 || s.Lowest.C != -31 {
		t.Fatalf("%v, %+v", ok, s)
	}
	if s.Days[2].Known || s.Days[0].C != -25 || s.Days[4].Binds {
		t.Errorf("%+v", s.Days)
	}
	if _, ok := drawing.SeasonOf(b, nil, -25, ""); ok {
		t.Error("no days are drawn")
	}
	if _, ok := drawing.SeasonOf(b, []drawing.Low{day(1, 1, -20)}, coldwatch.NoRestriction, ""); ok {
		t.Error("a season without a line is drawn")
	}
	if _, ok := drawing.SeasonOf(b, []drawing.Low{day(1, 1, -20), day(500, 1, -20)}, -25, ""); ok {
		t.Error("more than a year is drawn")
	}
}

func TestCardStanding(t *testing.T) {
	r := corrected(row("FAF", "intermediate", 8200))
	until := six.Add(time.Hour)
	for _, c := range []struct {
		name     string
		s        drawing.Standing
		notValid string
	}{
		{"a minute before it expires", drawing.Standing{ValidUntil: until, Now: until.Add(-time.Minute)}, ""},
		{"exactly then", drawing.Standing{ValidUntil: until, Now: until}, "Expired 14:00Z 15 Jan 2026."},
		{"no end known", drawing.Standing{Now: until}, ""},
		{"the temperature has moved", drawing.Standing{ValidUntil: until, Now: six, Void: "−41 °C since 13:53Z."}, "−41 °C since 13:53Z."},
	} {
		card, ok := drawing.KneeboardOf(r, c.s)
		if !ok || card.NotValid != c.notValid || strings.HasPrefix(card.Alt(), "NOT VALID") != (c.notValid != "") {
			t.Errorf("%s: %v, got %q, want %q; %s", c.name, ok, card.NotValid, c.notValid, card.Alt())
		}
		if !strings.Contains(card.Alt(), "Not checked") {
			t.Errorf("%s: %s", c.name, card.Alt())
		}
	}
	r.Procedure = "RNAV\n(GPS)  RWY\u202e 31\x00"
	card, _ := drawing.KneeboardOf(r, drawing.Standing{
		Record: "KALOMI-RUTA", Computed: drawing.Signed{By: "A", At: six}, Checked: []drawing.Signed{{By: "B", At: until}, {}},
	})
	if card.Kind != "KALOMI-RUTA · checked" || card.Title != "XKLD RNAV (GPS) RWY 31, −38 °C: correction required" {
		t.Errorf("%q, %q", card.Kind, card.Title)
	}
	if card.Computed.String() != "A, 13:00Z 15 Jan 2026" || !slices.Equal(card.Checked, []drawing.Signature{{By: "B", At: "14:00Z 15 Jan 2026"}}) {
		t.Errorf("%q, %q", card.Computed, card.Checked)
	}
	card, _ = drawing.KneeboardOf(r, drawing.Standing{Computed: drawing.Signed{At: six}})
	if card.Kind != "No record · not checked" || card.Computed != (drawing.Signature{At: "13:00Z 15 Jan 2026"}) || strings.Contains(card.Alt(), "Computed by") {
		t.Errorf("nobody has given a name: %q, %q, %s", card.Kind, card.Computed, card.Alt())
	}
}

// The card has the cells, the call and the cautions of the short answer, and
// nothing to say where it may not be flown or does not hold any more.
func TestCardIsTheShortAnswer(t *testing.T) {
	answer := func(lines ...reply.State) reply.Reply {
		rows := []reply.Row{row("missed", "missed", 10200), row("FAF", "intermediate", 8000)}
		rows[1].Report, rows[0].Fix = true, "XORLI"
		for i, s := range lines {
			l := row([]string{"LNAV/VNAV", "LNAV"}[i], "final", 5340)
			if l.State = s; s == reply.StateNotUsable {
				l.Mark = "not usable"
			}
			rows = append(rows, l)
		}
		r := corrected(rows...)
		r.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "Not below −28."}}
		r.Cautions = []reply.Caution{{Code: "own", Text: "Of this answer."}, {Code: "every", Text: "Of every answer.", Standing: true}}
		r.Requests = []reply.Request{{When: "later", Text: "Another."}}
		r.Notes = []string{"A note."}
		return r
	}
	r := answer(reply.StateNotUsable, reply.StateRequired)
	r.Call = &reply.Call{Text: "Request 8100.", Spoken: "Request eight thousand one hundred."}
	card, ok := drawing.KneeboardOf(r, drawing.Standing{})
	want := []present.Row{
		{Name: "FAF", Fly: "8100", Chart: "8000"},
		{Name: "LNAV/VNAV", Fly: "–", Chart: "5340", Mark: "not usable", State: reply.StateNotUsable},
		{Name: "LNAV", Fly: "5440", Chart: "5340", State: reply.StateRequired},
		{Name: "missed", Fly: "10300", Chart: "10200", Mark: "hold XORLI"},
	}
	if !ok || !slices.Equal(card.Table.Rows, want) || card.Missed != 3 {
		t.Errorf("%v, the missed approach at %d, %+v", ok, card.Missed, card.Table.Rows)
	}
	if !slices.Equal(card.Stops, []string{"Not below −28."}) || !slices.Equal(card.Notes, []string{"A note."}) || !slices.Equal(card.Cautions, []string{"Of this answer."}) {
		t.Errorf("%q, %q, %q", card.Stops, card.Notes, card.Cautions)
	}
	r.TemperatureSource = "METAR, 5 min old"
	card, _ = drawing.KneeboardOf(r, drawing.Standing{})
	profile, _ := drawing.ProfileOf(r, "")
	if !strings.Contains(card.From, "METAR") || !slices.Equal(card.Notes, profile.Notes) || !strings.Contains(card.Alt(), "A note.") || !strings.Contains(profile.Alt(), "A note.") {
		t.Errorf("%q, %q, %q, %s, %s", card.From, card.Notes, profile.Notes, card.Alt(), profile.Alt())
	}
	if card.Call != (present.Call{Title: "Say on check-in", Text: "Request 8100."}) || card.NoCall != "" || !strings.HasPrefix(card.Standing, "For −38 °C only.") {
		t.Errorf("%+v, %q, %q", card.Call, card.NoCall, card.Standing)
	}
	card, _ = drawing.KneeboardOf(r, drawing.Standing{Void: "−41 °C since 13:53Z."})
	if card.Call.Text != "" || card.NoCall != "No call: this card is not valid." {
		t.Errorf("not valid: %+v, %q", card.Call, card.NoCall)
	}
	r.Call = nil
	if card, _ = drawing.KneeboardOf(r, drawing.Standing{}); card.NoCall != "" {
		t.Errorf("a line may be flown: %q", card.NoCall)
	}
	card, _ = drawing.KneeboardOf(answer(reply.StateNotUsable, reply.StateNotUsable), drawing.Standing{})
	if card.NoCall != "No call. Not below −28." || !strings.Contains(card.Alt(), "No call.") {
		t.Errorf("none may: %q, %s", card.NoCall, card.Alt())
	}
	for _, code := range []string{reply.StopEdition, reply.StopAge} {
		r.Stops[0].Code = code
		if card, _ = drawing.KneeboardOf(r, drawing.Standing{}); card.NoCall != "No call. Not below −28." {
			t.Errorf("%s: %q", code, card.NoCall)
		}
	}
}

func TestStandingOf(t *testing.T) {
	k := record.Record{Result: record.Result{ID: "KALOMI-RUTA", At: six, Expires: six.Add(time.Hour), Asked: record.Person{Address: "console"}, Numbers: []record.Number{{PublishedFt: 8000}}}}
	zone := func(string) *time.Location { return time.UTC }
	if s := drawing.StandingOf(k, six, zone); s.Record != k.ID || s.State != "not checked" || s.Computed.By != "" || s.Void != "" {
		t.Errorf("%+v", s)
	}
	k.Asked.Name = "anna"
	if s := drawing.StandingOf(k, six.Add(time.Hour), zone); s.State != "expired" || s.Computed.By != "anna" {
		t.Errorf("%+v", s)
	}
}

func TestPapers(t *testing.T) {
	for _, p := range []drawing.Paper{drawing.A5, drawing.HalfLetter, drawing.Letter} {
		if got, ok := drawing.ParsePaper(strings.ToUpper(p.String())); !ok || got != p {
			t.Errorf("%v: got %v, %v", p, got, ok)
		}
	}
	if _, ok := drawing.ParsePaper("a3"); ok {
		t.Error("a3 is taken")
	}
	if got := drawing.Paper(9).String(); got != "a5" {
		t.Errorf("got %s", got)
	}
}
