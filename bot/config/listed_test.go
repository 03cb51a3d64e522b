package config

import (
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
)

func day(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

// listing is a configuration of two stations beside a list of four fields.
func listing(t *testing.T) *Config {
	t.Helper()
	c := mustParse(t, "stations: [{ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25}, {ident: XRUN, elevation_ft: 4380, lat: 1, lon: 2}]")
	by := airports.Edition{Source: "cold.csv", Date: day(2026, 1, 22), Until: day(2027, 1, 21)}
	from := airports.Edition{Source: "CIFP 2612", Date: day(2026, 11, 26)}
	d, err := airports.NewDirectory([]airports.Airport{
		{Ident: "XKLD", Name: "Another", Elevation: 1, HasElevation: true, Lat: 46.9, Lon: -114, HasPlace: true, From: from},
		{Ident: "XKLM", Name: "Kalmar Regional", Elevation: 900, HasElevation: true, Lat: 47, Lon: -113, HasPlace: true, Zone: "America/Denver", Mountainous: airports.Yes, From: from,
			Restriction: -19, Restricted: true, Segments: airports.Final | airports.Missed, RestrictedBy: by},
		{Ident: "XOPN", Name: "Openfell", Elevation: 1200, HasElevation: true, From: from},
		{Ident: "XBAR", Restriction: -30, Restricted: true, RestrictedBy: airports.Edition{Source: "cold.csv"}},
	})
	if err != nil {
		t.Fatal(err)
	}
	c.Know(d)
	return c
}

func TestListed(t *testing.T) {
	c := listing(t)
	if s, ok := c.Station("xkld"); !ok || s.Elevation != 4802 || s.Listed != nil || !c.Configured("xkld") {
		t.Errorf("the file's own comes first: got %+v", s)
	}
	s, ok := c.Station("xklm")
	if !ok || s.Elevation != 900 || s.SourceElevation != 900 || *s.Restriction != -19 || s.Zone.String() != "America/Denver" || !s.Mountains() ||
		len(s.Segments) != 2 || s.Segments[0] != Final || *s.Place != (Place{47, -113}) || s.Watch != nil || c.Configured("XKLM") {
		t.Errorf("got %+v", s)
	}
	if s, _ := c.Station("XBAR"); !s.NoElevation() || s.Zone != time.UTC || !s.Mountains() {
		t.Errorf("got %+v", s)
	}
	if _, ok := c.Station("XQQQ"); ok {
		t.Error("a field that no list has")
	}
	for _, w := range []struct {
		ident string
		want  Place
		ok    bool
	}{{"XKLD", Place{46.9, -114}, true}, {"xrun", Place{1, 2}, true}, {"XKLM", Place{47, -113}, true}, {"XOPN", Place{}, false}, {"XQQQ", Place{}, false}} {
		if got, ok := c.Place(w.ident); got != w.want || ok != w.ok {
			t.Errorf("place of %s: got %v, %v", w.ident, got, ok)
		}
	}
}

func TestFindListed(t *testing.T) {
	c := listing(t)
	for _, w := range []struct{ typed, want string }{
		{"xk", "XKLD XKLM"}, {"kal", "XKLD XKLM"}, {"regional", "XKLM"}, {"opn", "XOPN"}, {"openfel", "XOPN"}, {"openfll", "XOPN"}, {"another", ""}, {"xklm", "XKLM"},
	} {
		var got []string
		for _, s := range c.Find(w.typed, 9) {
			got = append(got, s.Ident)
		}
		if strings.Join(got, " ") != w.want {
			t.Errorf("%q: got %v, want %s", w.typed, got, w.want)
		}
	}
	if got := c.Find("x", 3); len(got) != 3 || got[0].Ident != "XKLD" {
		t.Errorf("got %v", got)
	}
	if got := strings.Join(c.Nearest("XKLN", 3), " "); got != "XKLD XKLM XRUN" {
		t.Errorf("got %s", got)
	}
}

func TestSlipOfTheList(t *testing.T) {
	c := listing(t)
	for _, w := range []struct{ typed, want string }{
		{"XOPM", "XOPN"}, {"openfel", "XOPN"}, {"kalmar", "XKLM"},
		{"XKLN", ""}, // XKLD of the file is as near as XKLM of the list
		{"XRUM", "XRUN"}, {"XQQQ", ""},
	} {
		if got, ok := c.Slip(w.typed); got != w.want || ok != (w.want != "") {
			t.Errorf("%q: got %q, %v; want %q", w.typed, got, ok, w.want)
		}
	}
}

func TestListNotes(t *testing.T) {
	c := listing(t)
	for _, w := range []struct {
		ident string
		at    time.Time
		want  string
	}{
		{"XKLD", day(2030, 1, 1), ""},
		{"XKLM", day(2027, 1, 20), ""},
		{"XKLM", day(2027, 1, 21), "The list that the restriction of XKLM came from, cold.csv of 22 Jan 2026, ended on 20 Jan 2027: see the chart's snowflake note."},
		{"XKLM", time.Time{}, ""},
		{"XOPN", day(2026, 12, 1), "No restriction temperature is known for XOPN: it is on no list of restricted airports that firn has. See the chart's snowflake note."},
		{"XBAR", day(2026, 12, 1), "The list that the restriction of XBAR came from, cold.csv, does not say what day it is of: see the chart's snowflake note."},
	} {
		s, _ := c.Station(w.ident)
		if got := strings.Join(s.ListNotes(w.at), "|"); got != w.want {
			t.Errorf("%s at %v: got %q, want %q", w.ident, w.at, got, w.want)
		}
	}
}

// BenchmarkFind20000 is the autocompletion of both chat services over a list of
// 20 000: under 50 ms.
func BenchmarkFind20000(b *testing.B) {
	c, err := Parse("x.yaml", []byte("stations: [{ident: XKLD, name: Kaldmoor, elevation_ft: 4802}]"), Known{})
	if err != nil {
		b.Fatal(err)
	}
	all := make([]airports.Airport, 20000)
	digit := func(i int) string { return string("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"[i%36]) }
	for i := range all {
		all[i] = airports.Airport{Ident: "Y" + digit(i/1296) + digit(i/36) + digit(i), Name: "Fernmere " + digit(i) + digit(i/7) + " Regional Airport", HasElevation: true, HasPlace: true}
	}
	d, err := airports.NewDirectory(all)
	if err != nil {
		b.Fatal(err)
	}
	c.Know(d)
	for _, typed := range []string{"y", "yabc", "fern", "regional", "regonial", "zzzzzz", "kald"} {
		b.Run(typed, func(b *testing.B) {
			for b.Loop() {
				c.Find(typed, 25)
			}
		})
	}
}
