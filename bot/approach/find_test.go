package approach

import (
	"slices"
	"strings"
	"testing"

	"firn/engine/procedure"
)

// stored makes approaches of their titles.
func stored(t testing.TB, titles ...string) []Approach {
	t.Helper()
	var all []Approach
	for _, s := range titles {
		title, err := ParseTitle(s)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, Approach{Ident: "XKLD", Title: title, Name: title.Said(), Code: title.Code()})
	}
	return all
}

func names(all []*Approach) string {
	var s []string
	for _, a := range all {
		s = append(s, a.Name)
	}
	return strings.Join(s, ", ")
}

func TestFind(t *testing.T) {
	large := stored(t, "ILS RWY 12", "LOC RWY 12", "ILS Z RWY 30L", "ILS Y RWY 30L", "LOC Z RWY 30L", "ILS RWY 30R", "RNAV (RNP) Z RWY 31",
		"RNAV (GPS) Y RWY 31", "RNAV (GPS) RWY 12", "VOR-A", "VOR/DME-B", "VOR/DME RWY 03", "NDB RWY 07", "LOC BC RWY 10", "COPTER RNAV (GPS) 027")
	small := stored(t, "ILS or LOC RWY 12", "RNAV (RNP) RWY 31")
	small[0].Minimums = []Minimum{{Name: "ILS 12", Role: procedure.DecisionAltitude}, {Name: "LOC 12", Role: procedure.MinimumDescent}}
	for _, tt := range []struct {
		name, words string
		all         []Approach
		fits, near  string
		unknown     []string
	}{
		{"by its name", "ils 12", large, "ils 12", "", nil},
		{"upper case and noise", "the ILS approach RWY 12", large, "ils 12", "", nil},
		{"without a space", "ILS12", large, "ils 12", "", nil},
		{"localizer approach", "loc 12", large, "loc 12", "", nil},
		{"localizer line of an ILS", "loc 12", small, "ils 12", "", nil},
		{"either of the two", "ils or loc 12", large, "ils 12", "", nil}, // the chart's title is the ILS
		{"letter and kind", "rnp y 31", large, "rnav y 31", "", nil},
		{"letter told", "rnp zulu 31", large, "rnp z 31", "", nil},
		{"letter behind", "rnp 31 z", large, "rnp z 31", "", nil},
		{"all in one", "rnpy31", large, "rnav y 31", "", nil},
		{"which of the two is asked", "rnp 31", large, "rnp z 31, rnav y 31", "", nil},
		{"which of the two, by the other name", "rnav 31", large, "rnav y 31, rnp z 31", "", nil},
		{"one of its kind", "rnp 31", small, "rnp 31", "", nil},
		{"the whole name decides", "rnp 31", append(stored(t, "RNAV (GPS) Y RWY 31"), small...), "rnp 31", "", nil},
		{"gps", "gps 31", large, "rnav y 31", "", nil},
		{"parallel runways are asked", "ils 30", large, "ils 30r, ils y 30l, ils z 30l", "", nil},
		{"side", "ils 30 right", large, "ils 30r", "", nil},
		{"side glued", "ils 30L", large, "ils y 30l, ils z 30l", "", nil},
		{"side and letter glued", "ils 30lz", large, "ils z 30l", "", nil},
		{"runway without its zero", "vor 3", large, "vor/dme 03", "", nil},
		{"runway alone is asked", "12", large, "ils 12, loc 12, rnav 12", "", nil},
		{"circling", "vor a", large, "vor a", "", nil},
		{"circling by kind", "vor-b", large, "vor/dme b", "", nil},
		{"back course", "back course 10", large, "loc bc 10", "", nil},
		{"back course called localizer", "loc 10", large, "loc bc 10", "", nil},
		{"coded identifier", "r31-y", large, "rnav y 31", "", nil},
		{"helicopters' course", "rnav 027", large, "copter rnav 027", "", nil},
		{"no such runway for the kind", "ndb 31", large, "", "rnp z 31, rnav y 31", nil},
		{"no such runway at all", "ils 18", large, "", "ils 12, ils z 30l, ils y 30l, ils 30r", nil},
		{"unknown word", "ils blah 12", large, "", "ils 12", []string{"blah"}},
		{"letter that is not there", "ils x 30l", large, "", "ils z 30l, ils y 30l, loc z 30l, ils 30r", nil},
		{"two runways", "ils 12 30", large, "", "ils 12", []string{"30"}},
		{"nothing said", "approach", large, "", "", nil},
		{"empty", "", large, "", "", nil},
		{"nothing stored", "ils 12", nil, "", "", nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := Find(tt.all, tt.words)
			if names(got.Fits) != tt.fits || names(got.Near) != tt.near || !slices.Equal(got.Unknown, tt.unknown) {
				t.Errorf("%q: got fits %q, near %q, unknown %q, want %q, %q, %q", tt.words, names(got.Fits), names(got.Near), got.Unknown, tt.fits, tt.near, tt.unknown)
			}
			if one, ok := got.One(); ok != (tt.fits != "" && !strings.Contains(tt.fits, ",")) || ok && one != got.Fits[0] {
				t.Errorf("%q: One: got %v, %v", tt.words, one, ok)
			}
		})
	}
}

// Every approach is found by the name that is shown for it.
func TestFindByName(t *testing.T) {
	all := stored(t, "ILS RWY 12", "LOC RWY 12", "ILS Z RWY 30L", "RNAV (RNP) RWY 31", "RNAV (GPS) RWY 31", "RNAV (GPS) RWY 01", "VOR RWY 01",
		"VOR/DME RWY 01", "NDB/DME RWY 01", "NDB RWY 01", "TACAN RWY 01", "GPS RWY 01", "LDA RWY 01", "SDF RWY 01", "GLS RWY 01", "VOR-A", "VOR/DME-B", "RNAV (GPS)-C")
	for i := range all {
		for _, words := range []string{all[i].Name, strings.ToUpper(all[i].Name), all[i].Code} {
			if got, ok := Find(all, words).One(); !ok || got != &all[i] {
				t.Errorf("%q: got %q, want %q", words, names(Find(all, words).Fits), all[i].Name)
			}
		}
	}
}

func FuzzFind(f *testing.F) {
	for _, s := range []string{"rnp y 31", "ILS12", "vor-a", "ils 30lz", "r31-y", "é 12", ""} {
		f.Add(s)
	}
	all := stored(f, "ILS RWY 12", "LOC RWY 12", "RNAV (RNP) Z RWY 31", "RNAV (GPS) Y RWY 31", "VOR-A")
	f.Fuzz(func(t *testing.T, words string) {
		got := Find(all, words)
		if len(got.Unknown) > 0 && len(got.Fits) > 0 {
			t.Errorf("%q: got %q although %q is unknown", words, names(got.Fits), got.Unknown)
		}
	})
}
