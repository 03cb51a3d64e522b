package sqlite_test

import (
	"database/sql"
	"os"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"firn/bot/watch"
	"firn/engine/coldwatch"
)

// TestAlertsSurviveAnUpgrade: an alert that was written before it was kept how
// far its forecast goes reads back, and a new state beside it.
func TestAlertsSurviveAnUpgrade(t *testing.T) {
	where := temp(t)
	db, err := sql.Open("sqlite", where)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	const before = 7 // 00008_covered.sql
	p, err := goose.NewProvider(goose.DialectSQLite3, db, os.DirFS("migrations"), goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(t.Context(), before); err != nil {
		t.Fatal(err)
	}
	made := time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
	const never = -62135596800000000 // the time zero, in microseconds
	if _, err := db.Exec(`INSERT INTO alert (base, day, seq, kind, state, low_c, low_at, below_from, below_to, hours_known, covered, restriction_c, source, issued, note, made)
		VALUES ('XKLD', '2026-01-15', 1, 'opened', 'below', -31, ?, ?, ?, 1, 1, -25, 'TAF', ?, '', ?)`,
		made.UnixMicro(), never, never, made.UnixMicro(), made.UnixMicro()); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	s := mustOpen(t, where)
	second := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 2, Kind: watch.Ended, Made: made,
		Judgement: coldwatch.Judgement{State: coldwatch.PartForecast, CoveredFrom: made, CoveredTo: made.Add(time.Hour)}}
	if fresh, err := s.Open(t.Context(), second, nil); err != nil || !fresh {
		t.Fatal(fresh, err)
	}
	d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil || len(d.Alerts) != 2 || d.Alerts[1] != second {
		t.Fatalf("%+v, %v", d, err)
	}
	if j := d.Alerts[0].Judgement; j.State != coldwatch.Below || j.Low != -31 || !j.CoveredFrom.IsZero() || !j.CoveredTo.IsZero() {
		t.Errorf("the alert of before reads back as %+v", j)
	}
}
