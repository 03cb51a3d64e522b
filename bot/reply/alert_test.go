package reply_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

var six = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)

func TestColdJSON(t *testing.T) {
	mountain, err := time.LoadLocation("America/Edmonton")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		j    coldwatch.Judgement
		want string
	}{
		{"below, times in UTC", coldwatch.Judgement{
			State: coldwatch.Below, Low: -31, LowAt: six.In(mountain), BelowFrom: six.In(mountain), BelowTo: six.Add(time.Hour).In(mountain),
			HoursKnown: true, Restriction: -25, Source: "TAF", Issued: six.Add(-time.Hour).In(mountain),
		}, `{"ident":"XKLD","state":"below","low_c":-31,"low_at":"2026-01-15T13:00:00Z","below_from":"2026-01-15T13:00:00Z","below_to":"2026-01-15T14:00:00Z","restriction_c":-25,"source":"TAF","issued":"2026-01-15T12:00:00Z"}`},
		{"the hours are estimated", coldwatch.Judgement{State: coldwatch.Below, Low: -31, LowAt: six, BelowFrom: six, BelowTo: six.Add(time.Hour), Restriction: -25},
			`{"ident":"XKLD","state":"below","low_c":-31,"low_at":"2026-01-15T13:00:00Z","below_from":"2026-01-15T13:00:00Z","below_to":"2026-01-15T14:00:00Z","estimated":true,"restriction_c":-25}`},
		{"a low of zero is not absent", coldwatch.Judgement{LowAt: six, Restriction: -25}, `{"ident":"XKLD","state":"clear","low_c":0,"low_at":"2026-01-15T13:00:00Z","restriction_c":-25}`},
		{"no forecast", coldwatch.Judgement{State: coldwatch.NoForecast, Restriction: 0, Note: "why"}, `{"ident":"XKLD","state":"no-forecast","restriction_c":0,"note":"why"}`},
		{"no restriction temperature", coldwatch.Judgement{LowAt: six, Low: -30.126, Restriction: coldwatch.NoRestriction}, `{"ident":"XKLD","state":"clear","low_c":-30.13,"low_at":"2026-01-15T13:00:00Z"}`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got, err := json.Marshal(reply.ColdOf("XKLD", tt.j))
			if err != nil || string(got) != tt.want {
				t.Errorf("got  %s, %v\nwant %s", got, err, tt.want)
			}
			var back reply.Cold
			if err := json.Unmarshal(got, &back); err != nil || !reflect.DeepEqual(back, reply.ColdOf("XKLD", tt.j)) {
				t.Errorf("back: %+v, %v", back, err)
			}
		})
	}
}

// TestHours: estimated hours are marked and rounded outwards, over the change of
// the clocks and the end of a month; known ones stand as they are.
func TestHours(t *testing.T) {
	mountain, err := time.LoadLocation("America/Edmonton")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ name, from, to, estimated, known string }{
		{"a night", "2026-01-15T06:04:00Z", "2026-01-15T16:01:00Z", "about Wed 23:00–Thu 09:15 local (estimated)", "Wed 23:04–Thu 09:01 local"},
		{"at the quarter", "2026-01-15T06:15:00Z", "2026-01-15T16:00:00Z", "about Wed 23:15–Thu 09:00 local (estimated)", "Wed 23:15–Thu 09:00 local"},
		{"the clocks go on between", "2026-03-08T07:50:00Z", "2026-03-08T14:50:00Z", "about Sun 00:45–Sun 09:00 local (estimated)", "Sun 00:50–Sun 08:50 local"},
		{"the clocks go back between", "2026-11-01T06:50:00Z", "2026-11-01T14:50:00Z", "about Sun 00:45–Sun 08:00 local (estimated)", "Sun 00:50–Sun 07:50 local"},
		{"the end of a year", "2026-12-31T23:50:00Z", "2027-01-01T16:20:00Z", "about Thu 16:45–Fri 09:30 local (estimated)", "Thu 16:50–Fri 09:20 local"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := reply.Cold{Estimated: true}
			for text, at := range map[string]*time.Time{tt.from: &c.BelowFrom, tt.to: &c.BelowTo} {
				if *at, err = time.Parse(time.RFC3339, text); err != nil {
					t.Fatal(err)
				}
			}
			say := func() string {
				return c.Hours("–", " local", func(at time.Time) string { return at.In(mountain).Format("Mon 15:04") })
			}
			if got := say(); got != tt.estimated {
				t.Errorf("estimated: %s, want %s", got, tt.estimated)
			}
			c.Estimated = false
			if got := say(); got != tt.known {
				t.Errorf("known: %s, want %s", got, tt.known)
			}
		})
	}
	if got := (reply.Cold{}).Hours("–", " local", time.Time.String); got != "" {
		t.Errorf("not known: %q", got)
	}
}

func scene(t *testing.T, set string) reply.AlertScene {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	sc := reply.AlertScene{
		Base: reply.Scene{Ident: "XKLD", Elevation: 4802, Source: 4802, Restriction: -25, Restricted: true},
		Zone: time.UTC, Segments: []procedure.Segment{procedure.Final}, Mountainous: true, Margin: 3, Kind: "opened", Day: "2026-01-15",
		Window:    coldwatch.Window{From: six, To: six.Add(12 * time.Hour)},
		Judgement: coldwatch.Judgement{State: coldwatch.Below, Low: -31, LowAt: six, Restriction: -25, Source: "TAF"},
		Due:       six, Now: six,
	}
	for _, s := range sets {
		if s.ID == set {
			sc.Base.Set = s
		}
	}
	return sc
}

func TestAlertUsualProcedure(t *testing.T) {
	sc := scene(t, "strict")
	points := []procedure.Point{
		{Role: procedure.FinalFix, Fix: "FROST", Altitude: 8200},
		{Role: procedure.DecisionAltitude, Altitude: 5340},
	}
	if err := procedure.AssignSegments(points); err != nil {
		t.Fatal(err)
	}
	sc.Usual = []reply.UsualProcedure{{Name: "ILS 31", Points: points}}
	r := reply.Alert(sc)
	if len(r.Expected) != 1 || r.Expected[0].Name != "ILS 31" || len(r.Expected[0].Altitudes) != 2 {
		t.Fatalf("expected %+v", r.Expected)
	}
	if da := r.Expected[0].Altitudes[1]; da.PublishedFt != 5340 || da.CorrectedFt != 5340+da.CorrectionFt || da.CorrectionFt <= 0 {
		t.Errorf("the DA is %+v", da)
	}
	if r.Unverified == "" || r.Cautions[len(r.Cautions)-1].Code != "forecast-only" && !strings.Contains(r.Cautions[0].Text, "Unverified") {
		t.Errorf("an unverified rule set is not marked: %+v", r.Cautions)
	}
}

// Whatever is absent, the words hold.
func TestAlertWithoutMuch(t *testing.T) {
	sc := scene(t, "")
	r := reply.Alert(sc)
	if len(r.Expected) != 0 || !strings.Contains(strings.Join(r.Facts, " "), "when it was issued is not known") {
		t.Errorf("without a rule set and an issue time: %+v", r)
	}
	sc.Judgement = coldwatch.Judgement{State: coldwatch.NoForecast}
	sc.Base.Restricted = false
	if r := reply.Alert(sc); !strings.Contains(strings.Join(r.Facts, " "), "No reason is known.") {
		t.Errorf("no forecast without a reason: %q", r.Facts)
	}
}

// TestAlertSaysWhatTheForecastHas: what the low and the hours leave out stands on the
// screen, and nothing twice.
func TestAlertSaysWhatTheForecastHas(t *testing.T) {
	sc := scene(t, "")
	at := func(h float64, c engine.Celsius) coldwatch.Sample {
		return coldwatch.Sample{At: six.Add(time.Duration(h * float64(time.Hour))), C: c}
	}
	// A cold morning in the window, and a colder one after its end.
	twice := coldwatch.Forecast{
		Source: "TAF", ValidFrom: six.Add(-7 * time.Hour), ValidTo: six.Add(23 * time.Hour),
		Minimums: []coldwatch.Sample{at(2, -27), at(12.5, -29)}, Maximums: []coldwatch.Sample{at(7, -8)},
	}
	kept := twice
	kept.Note = "source failed, forecast of 11:40Z 15 Jan"
	warmer := coldwatch.Forecast{Source: "other", ValidFrom: twice.ValidFrom, ValidTo: twice.ValidTo, Minimums: []coldwatch.Sample{at(2, -18)}}
	line := coldwatch.Line{Restriction: -25, Margin: 3}
	for _, tt := range []struct {
		name string
		j    coldwatch.Judgement
		want string
	}{
		{"colder after the window", coldwatch.Judge(sc.Window, line, &twice), "Estimated between its extremes, it is at or below from 14:00Z 15 Jan to 16:04Z 15 Jan and from 23:55Z 15 Jan to 01:00Z 16 Jan at least."},
		{"its source has failed", coldwatch.Judge(sc.Window, line, &kept), "Source failed, forecast of 11:40Z 15 Jan; estimated between its extremes, it is at or below from 14:00Z 15 Jan to 16:04Z 15 Jan and from 23:55Z 15 Jan to 01:00Z 16 Jan at least."},
		{"sources disagree", coldwatch.Choose(sc.Window, 5, coldwatch.Judge(sc.Window, line, &warmer), coldwatch.Judge(sc.Window, line, &twice)), "Sources disagree: other −18 °C, TAF −29 °C; the colder is used; estimated between its extremes, it is at or below from 14:00Z 15 Jan to 16:04Z 15 Jan and from 23:55Z 15 Jan to 01:00Z 16 Jan at least."},
		{"nothing besides", coldwatch.Judge(sc.Window, line, &coldwatch.Forecast{Source: "TAF", ValidFrom: twice.ValidFrom, ValidTo: six.Add(9 * time.Hour), Minimums: []coldwatch.Sample{at(-2, -29)}}), ""},
	} {
		sc.Judgement = tt.j
		facts := reply.Alert(sc).Facts
		if found := slices.Contains(facts, tt.want); found != (tt.want != "") || strings.Count(strings.Join(facts, "\n"), "outside the duty window") != 1 {
			t.Errorf("%s: %q, of the note %q; want %q", tt.name, facts, tt.j.Note, tt.want)
		}
	}
}
