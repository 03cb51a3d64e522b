package chartyaml

import (
	"log/slog"
	"slices"
	"testing"
	"testing/fstest"

	"firn/bot/airports"
	"firn/bot/config"
)

// TestOpenOfTheList: a chart may be typed for a field that only the list of
// airports knows.
func TestOpenOfTheList(t *testing.T) {
	t.Parallel()
	cfg, err := config.Parse("x.yaml", []byte("stations: [{ident: XKLD, elevation_ft: 4802}]"), config.Known{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := airports.NewDirectory([]airports.Airport{{Ident: "XABC", Elevation: 900, HasElevation: true}, {Ident: "XNOE", Restriction: -20, Restricted: true}})
	if err != nil {
		t.Fatal(err)
	}
	cfg.Know(d)
	chart := func(ident string) *fstest.MapFile {
		return &fstest.MapFile{Data: []byte("station: " + ident + "\nprocedure: rnav 31\nfixes:\n  - {fix: XIRTU, role: FAF, above: 6400}\neffective: 2026-09-03\nend: 2026-10-01\nsource: chart of 3 SEP 2026\nminimums: [{name: lnav, mda: 5300}]\nmissed_ft: 9000\nmissed_fix: XORLI\n")}
	}
	c, err := Open(slog.New(slog.DiscardHandler), fstest.MapFS{"a.yaml": chart("XKLD"), "b.yaml": chart("XABC"), "c.yaml": chart("XNOE"), "d.yaml": chart("XQQQ")}, "folder", cfg)
	if err != nil || len(c.Left) > 0 {
		t.Fatalf("%v, %v", err, c.Left)
	}
	var got []string
	for _, a := range c.Typed {
		got = append(got, a.Ident)
	}
	if !slices.Equal(got, []string{"XKLD", "XABC"}) || !slices.Equal(c.Others, []string{"c.yaml (XNOE)", "d.yaml (XQQQ)"}) {
		t.Errorf("typed for %q, not for %q", got, c.Others)
	}
}
