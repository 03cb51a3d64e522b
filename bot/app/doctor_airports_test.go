package app

import (
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/config"
)

// TestDoctorTellsTheListsAge: what is older than two cycles, what has ended, and
// where the configuration says otherwise.
func TestDoctorTellsTheListsAge(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC)
	day := func(ago int) time.Time { return now.Truncate(24*time.Hour).AddDate(0, 0, -ago) }
	cfg, err := config.Parse("x.yaml", []byte("airports: {path: airports.csv}\nstations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25}, {ident: XRUN, elevation_ft: 4380}]"), config.Known{})
	if err != nil {
		t.Fatal(err)
	}
	list := func(source string, ago int) airports.Edition { return airports.Edition{Source: source, Date: day(ago)} }
	d, err := airports.NewDirectory([]airports.Airport{
		{Ident: "XKLD", Elevation: 4813, HasElevation: true, From: list("fresh", 56), Restriction: -22, Restricted: true, RestrictedBy: list("this year's", 300)},
		{Ident: "XRUN", Elevation: 4370, HasElevation: true, From: list("stale", 57), Restriction: -20, Restricted: true, RestrictedBy: list("last year's", 366)},
		{Ident: "XABC", Elevation: 1, HasElevation: true, From: airports.Edition{Source: "undated"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	cfg.Know(d)
	var got strings.Builder
	doctor := Doctor{Now: func() time.Time { return now }, Print: func(m Mark, what, text string) { got.WriteString(string(m) + " " + what + ": " + text + "\n") }}
	doctor.airports(&App{cfg: cfg})
	const want = `ok airports: airports.csv: 3 airfields
note airports: 1 airfields of undated, which does not say what day it is of: import it with --date
note airports: 1 airfields of stale of 5 Oct 2026, 57 days old, more than 56: import a newer one
ok airports: 1 airfields of fresh of 6 Oct 2026, 56 days old
note airports: 1 restriction temperatures of last year's of 30 Nov 2025, 366 days old, which ended on 29 Nov 2026: every answer by it says so; import the one in force
ok airports: 1 restriction temperatures of this year's of 4 Feb 2026, 300 days old
note airports: XKLD: the configuration has it at 4802 ft, fresh of 6 Oct 2026 at 4813 ft; the configuration's counts
note airports: XKLD: the configuration has it restricted at −25 °C, this year's of 4 Feb 2026 at −22 °C; the configuration's counts
note airports: XRUN: the configuration has no restriction temperature, last year's of 30 Nov 2025 has −20 °C; the configuration's counts
`
	if got.String() != want || doctor.Ill() {
		t.Errorf("got\n%s\nwant\n%s", &got, want)
	}
	got.Reset()
	if doctor.airports(&App{cfg: &config.Config{}}); got.Len() > 0 {
		t.Errorf("without a list: %s", &got)
	}
}
