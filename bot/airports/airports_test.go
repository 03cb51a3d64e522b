package airports

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

func date(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

var (
	coded = Edition{Source: "CIFP 2609", Date: date(2026, 9, 3), Until: date(2026, 10, 1), Authority: true}
	open  = Edition{Source: "open.csv", Date: date(2026, 11, 1)}
	cold  = Edition{Source: "cold.csv", Date: date(2026, 1, 22), Until: date(2027, 1, 21)}
)

func field(ident, name string, lat, lon, ft float64, from Edition) Airport {
	a := Airport{Ident: ident, Name: name, Lat: lat, Lon: lon, HasPlace: true, HasElevation: true, From: from}
	return elevated(a, ft)
}

func merged(t *testing.T, rows ...Airport) Merged {
	t.Helper()
	var m Merger
	for _, r := range rows {
		if err := m.Add(r); err != nil {
			t.Fatal(err)
		}
	}
	return m.Merge()
}

func TestMergeOfElevations(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name           string
		coded, open    float64
		want           float64
		from, conflict string
	}{
		{"ten feet apart are the authority's", 4802, 4812, 4802, "CIFP 2609", ""},
		{"eleven feet apart are told, the lower is taken", 4802, 4813, 4802, "CIFP 2609", "4802 ft, the lower"},
		{"also where the authority's is the higher", 4813, 4802, 4802, "open.csv", "4802 ft, the lower"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got := merged(t, field("XKLD", "Kaldmoor", 46, -114, c.open, open), field("XKLD", "KALDMOOR", 46, -114, c.coded, coded))
			a := got.Airports[0]
			if float64(a.Elevation) != c.want || a.From.Source != c.from || a.Name != "Kaldmoor" {
				t.Errorf("got %v of %s, %q", a.Elevation, a.From.Source, a.Name)
			}
			told := ""
			for _, k := range got.Conflicts {
				told += k.Taken
			}
			if !strings.HasPrefix(told, c.conflict) || (told == "") != (c.conflict == "") {
				t.Errorf("told %q, want %q", told, c.conflict)
			}
		})
	}
}

func TestMergeOfPlacesAndRestrictions(t *testing.T) {
	t.Parallel()
	a := field("XKLD", "Kaldmoor", 46, -114, 4802, coded)
	b := field("XKLD", "Kaldmoor", 46.2, -114, 4802, open)
	old := Airport{Ident: "XKLD", Restriction: -25, Restricted: true, Segments: Initial, RestrictedBy: Edition{Source: "old.csv", Date: date(2025, 1, 22)}}
	is := Airport{Ident: "XKLD", Restriction: -20, Restricted: true, Segments: Final, RestrictedBy: cold}
	alone := Airport{Ident: "XQQQ", Name: "Quill", Restriction: -30, Restricted: true, RestrictedBy: cold}
	got := merged(t, a, old, b, is, alone)
	if len(got.Airports) != 2 || got.Rows != 5 || !slices.Equal(got.Placeless, []string{"XQQQ"}) {
		t.Errorf("got %d airports of %d rows, placeless %v", len(got.Airports), got.Rows, got.Placeless)
	}
	k := got.Airports[0]
	if k.Restriction != -20 || k.RestrictedBy != cold || k.Segments != Initial|Final {
		t.Errorf("the warmer, with the segments of both: got %v by %v, %v", k.Restriction, k.RestrictedBy, k.Segments)
	}
	var text strings.Builder
	if err := WriteConflicts(&text, got.Conflicts); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"XKLD   place", "12 NM apart", "-20 °C, the warmer", "-25 °C (old.csv)"} {
		if !strings.Contains(text.String(), want) {
			t.Errorf("%q is not told:\n%s", want, text.String())
		}
	}
	// One list that names no segments leaves none out.
	is.Segments = 0
	if got := merged(t, a, old, is); got.Airports[0].Segments != 0 {
		t.Errorf("got segments %v", got.Airports[0].Segments)
	}
}

func TestEnds(t *testing.T) {
	t.Parallel()
	if got := cold.Ends(); got != date(2027, 1, 21) {
		t.Errorf("got %v", got)
	}
	// Issued anew every year (common practice, no source).
	if got := (Edition{Date: date(2025, 1, 22)}).Ends(); got != date(2026, 1, 22) {
		t.Errorf("without an end of its own: got %v", got)
	}
	if got := (Edition{}).Ends(); !got.IsZero() {
		t.Errorf("undated: got %v", got)
	}
}

func TestCheck(t *testing.T) {
	t.Parallel()
	for _, a := range []Airport{
		{Ident: "X"}, {Ident: "1234"}, {Ident: "xkld"}, {Ident: "XKLDX"},
		{Ident: "XKLD", HasPlace: true, Lat: 91}, {Ident: "XKLD", HasPlace: true, Lon: math.NaN()},
		elevated(Airport{Ident: "XKLD", HasElevation: true}, 15001),
		{Ident: "XKLD", Restricted: true, Restriction: 25}, {Ident: "XKLD", Restricted: true, Restriction: -61},
	} {
		if a.Check() == nil {
			t.Errorf("%+v passes", a)
		}
	}
	if _, err := NewDirectory([]Airport{{Ident: "XKLD"}, {Ident: "XKLD"}}); err == nil {
		t.Error("one ident twice passes")
	}
}

// TestMiles: a degree of latitude is 60 NM by the mile's first definition, and
// a degree of longitude at 60° N half of it.
func TestMiles(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ a, b, c, d, want float64 }{
		{46, -114, 47, -114, 60}, {60, 10, 60, 11, 30}, {0, 179.5, 0, -179.5, 60}, {90, 0, -90, 0, 10800},
	} {
		if got := Miles(c.a, c.b, c.c, c.d); math.Abs(got-c.want) > 0.01 {
			t.Errorf("%v: got %v", c, got)
		}
	}
}

// country is a made-up one.
func country(t testing.TB) *Directory {
	t.Helper()
	k := field("XKLD", "Kaldmoor", 46.9163, -113.9871, 4802, coded)
	k.Restriction, k.Restricted, k.Segments, k.RestrictedBy, k.Mountainous, k.Zone = -25, true, AllSegments, cold, Yes, "America/Denver"
	r := field("XRUN", "Runmere Regional", 47.4, -114.5, 4380, open)
	r.Restriction, r.Restricted, r.RestrictedBy, r.Mountainous = -20.5, true, cold, No
	far := field("XFRN", "Fernfirth", 62, 7, 820, open)
	far.Restriction, far.Restricted, far.RestrictedBy = -22, true, cold
	d, err := NewDirectory([]Airport{
		r, k, far, field("X1K", "Tarn Lake", 46.5, -114, -12, open),
		{Ident: "XNOP", Name: "Nopelace", Restriction: -10, Restricted: true, RestrictedBy: cold},
	})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestDirectory(t *testing.T) {
	t.Parallel()
	d := country(t)
	got, ok := d.Find("XKLD")
	want := field("XKLD", "Kaldmoor", 46.9163, -113.9871, 4802, coded)
	want.Restriction, want.Restricted, want.Segments, want.RestrictedBy, want.Mountainous, want.Zone = -25, true, AllSegments, cold, Yes, "America/Denver"
	if !ok || got != want {
		t.Errorf("got %+v, %v\nwant %+v", got, ok, want)
	}
	if a, ok := d.Find("X1K"); !ok || float64(a.Elevation) != -12 || a.Restricted || a.Mountainous != NotKnown {
		t.Errorf("got %+v, %v", a, ok)
	}
	if a, _ := d.Find("XRUN"); a.Restriction != -20.5 || a.Mountainous != No {
		t.Errorf("got %+v", a)
	}
	for _, ident := range []string{"XKL", "XKLE", "", "XKLDX", "xkld"} {
		if a, ok := d.Find(ident); ok {
			t.Errorf("%q: got %+v", ident, a)
		}
	}
	var none *Directory
	if _, ok := none.Find("XKLD"); ok || none.Len() != 0 || none.Search("x", 3) != nil || none.Misspelt("XKLE", 3) != nil || none.Editions() != nil {
		t.Error("a nil directory is not empty")
	}
	if got, want := d.Location("America/Denver").String(), "America/Denver"; got != want || d.Location("No/Where") != time.UTC {
		t.Errorf("got %v", got)
	}
	used := d.Editions()
	if len(used) != 3 || used[0].Source != "CIFP 2609" || used[1].Fields != 3 || !used[2].Restricts || used[2].Fields != 4 {
		t.Errorf("got %+v", used)
	}
}

func TestSearch(t *testing.T) {
	t.Parallel()
	d := country(t)
	for _, c := range []struct{ typed, search, misspelt string }{
		{"xk", "XKLD", ""},
		{"X", "X1K XFRN XKLD XNOP XRUN", ""},
		{"regional", "XRUN", "XRUN"},
		{"lake", "X1K", ""},
		{"firth", "XFRN", ""},
		{"tarn l", "X1K", ""},
		{"XKDL", "", "XKLD"},
		{"XKL", "XKLD", "XKLD"},
		{"XXKLD", "", "XKLD"},
		{"YKLD", "", "XKLD"},
		{"kaldmor", "", "XKLD"},
		{"Regoinal", "", "XRUN"},
		{"ZZZZ", "", ""},
	} {
		if got := strings.Join(d.Search(c.typed, 9), " "); got != c.search {
			t.Errorf("search %q: got %q, want %q", c.typed, got, c.search)
		}
		if got := strings.Join(d.Misspelt(c.typed, 9), " "); got != c.misspelt {
			t.Errorf("misspelt %q: got %q, want %q", c.typed, got, c.misspelt)
		}
	}
	if got := d.Search("x", 2); len(got) != 2 {
		t.Errorf("got %v", got)
	}
}

func TestNearAndCold(t *testing.T) {
	t.Parallel()
	d := country(t)
	names := func(all []Away) (s string) {
		for _, a := range all {
			s += fmt.Sprintf("%s %.0f ", a.Ident, a.Miles)
		}
		return strings.TrimSpace(s)
	}
	if got, want := names(d.Near(46.9163, -113.9871, 200, 9)), "XKLD 0 X1K 25 XRUN 36"; got != want {
		t.Errorf("near: got %q, want %q", got, want)
	}
	if got := names(d.Near(46.9163, -113.9871, 30, 9)); got != "XKLD 0 X1K 25" {
		t.Errorf("within 30: got %q", got)
	}
	for _, c := range []struct {
		at   float64
		want string
	}{{-25, "XKLD 0 XRUN 36"}, {-24.9, "XRUN 36"}, {-20.5, "XRUN 36"}, {-20.4, ""}} {
		got, more := coldAt(d, c.at, 9)
		if names(got) != c.want || more != 0 {
			t.Errorf("cold at %v: got %q and %d more, want %q", c.at, names(got), more, c.want)
		}
	}
	if got, more := coldAt(d, -25, 1); len(got) != 1 || more != 1 {
		t.Errorf("got %d and %d more", len(got), more)
	}
	if got, more := d.ColdAnywhere(-22, 2); len(got) != 2 || more != 1 {
		t.Errorf("anywhere: got %v and %d more", got, more)
	}
}

func TestSlips(t *testing.T) {
	t.Parallel()
	d := country(t)
	for _, c := range []struct{ typed, want string }{
		{"XKLE", "XKLD"}, {"YKLD", ""}, {"KLD", "XKLD"}, {"kaldmor", "XKLD"}, {"fernfirth", "XFRN"}, {"lake", ""}, {"XRUM", "XRUN"}, {"moor", ""}, {"two words", ""},
	} {
		if got := strings.Join(d.Slips(c.typed), " "); got != c.want {
			t.Errorf("%q: got %q, want %q", c.typed, got, c.want)
		}
	}
}
