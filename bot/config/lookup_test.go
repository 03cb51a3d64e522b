package config

import (
	"fmt"
	"slices"
	"testing"

	"firn/bot/strictyaml"
)

func TestFind(t *testing.T) {
	c := mustParse(t, `stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380}
  - {ident: XMBL, name: Marblewick, elevation_ft: 2450}
`)
	for _, x := range []struct {
		typed string
		n     int
		want  string
	}{
		{"", 2, "[XKLD XRUN]"},
		{"xk", 5, "[XKLD]"},
		{"m", 5, "[XMBL XKLD XRUN]"},
		{"run", 5, "[XRUN]"},
		{"kaldmore", 5, "[XKLD]"},
		{"x", 1, "[XKLD]"},
		{"zzzz", 5, "[]"},
	} {
		var got []string
		for _, s := range c.Find(x.typed, x.n) {
			got = append(got, s.Ident)
		}
		if fmt.Sprint(got) != x.want {
			t.Errorf("Find(%q, %d) = %v, want %s", x.typed, x.n, got, x.want)
		}
	}
}

func TestSuggest(t *testing.T) {
	tests := []struct {
		name, word string
		choices    []string
		want       string
	}{
		{"misspelt", "restricton_c", stationKeys, "restriction_c"},
		{"only its beginning", "restriction", stationKeys, "restriction_c"},
		{"with an ending", "monday", []string{"mon", "tue"}, "mon"},
		{"dashes for underscores", "rule-sets", topKeys, "rule_sets"},
		{"upper case", "IDENT", stationKeys, "ident"},
		{"nothing like it", "colour", stationKeys, ""},
		{"empty", "", stationKeys, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got, ok := strictyaml.Suggest(tt.word, tt.choices); got != tt.want || ok != (tt.want != "") {
				t.Errorf("suggest(%q) = %q, %v; want %q", tt.word, got, ok, tt.want)
			}
		})
	}
}

const fields = `stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802}
  - {ident: XKLT, name: Kaltrand, elevation_ft: 1}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380}
  - {ident: XRUM, name: Runmere, elevation_ft: 1}
  - {ident: XGLN, name: Glennorow Valley, elevation_ft: 3340}
  - {ident: XMBL, elevation_ft: 2450}
`

func TestLookUp(t *testing.T) {
	c := mustParse(t, fields)
	tests := []struct {
		name, word    string
		ident, byName string // what Station and Named find
		nearest       []string
	}{
		{name: "ident", word: "XKLD", ident: "XKLD", nearest: []string{"XKLD", "XKLT", "XGLN"}},
		{name: "ident in lower case", word: "xkld", ident: "XKLD", nearest: []string{"XKLD", "XKLT", "XGLN"}},
		{name: "ident with letters swapped", word: "XLKD", nearest: []string{"XKLD", "XKLT"}},
		{name: "ident without its first letter", word: "MBL", nearest: []string{"XMBL"}},
		{name: "name", word: "kaldmoor", byName: "XKLD", nearest: []string{"XKLD"}},
		{name: "name misspelt", word: "Kaldmor", nearest: []string{"XKLD"}},
		{name: "beginning of a name", word: "glenn", nearest: []string{"XGLN"}},
		{name: "name of two stations", word: "Runmere", nearest: []string{"XRUM", "XRUN"}},
		{name: "nothing near", word: "QQQQQQ"},
		{name: "one letter", word: "X"},
		{name: "empty", word: ""},
		{name: "too long", word: string(make([]byte, 1000))},
		{name: "not a text", word: "\xff\xfe\xff"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			ident, byName := "", ""
			if s, ok := c.Station(tt.word); ok {
				ident = s.Ident
			}
			if s, ok := c.Named(tt.word); ok {
				byName = s.Ident
			}
			if ident != tt.ident || byName != tt.byName {
				t.Errorf("%q: Station %q, Named %q; want %q, %q", tt.word, ident, byName, tt.ident, tt.byName)
			}
			if got := c.Nearest(tt.word, 3); !slices.Equal(got, tt.nearest) {
				t.Errorf("Nearest(%q) = %q; want %q", tt.word, got, tt.nearest)
			}
		})
	}
	if got := c.Nearest("XKLD", 1); !slices.Equal(got, []string{"XKLD"}) {
		t.Errorf("Nearest of one = %q", got)
	}
	if got := c.Nearest("XKLD", 0); got != nil {
		t.Errorf("Nearest of none = %q", got)
	}
	if s, ok := new(Config).Station("XKLD"); ok {
		t.Errorf("an empty config knows %v", s)
	}
}

func BenchmarkNearest10000Stations(b *testing.B) {
	c := mustParse(b, string(manyStations(10_000)))
	b.ReportAllocs()
	for b.Loop() {
		if got := c.Nearest("XKQLD", 3); len(got) != 3 {
			b.Fatalf("got %q", got)
		}
	}
}
