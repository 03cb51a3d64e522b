package approach

import "testing"

func TestParseTitle(t *testing.T) {
	for _, tt := range []struct {
		title string
		want  Title
		said  string
		code  string
	}{
		{"RNAV (RNP) RWY 31", Title{Kind: RNP, Runway: "31"}, "rnp 31", "H31"},
		{"RNAV (RNP) Z RWY 31L", Title{Kind: RNP, Runway: "31L", Letter: "Z"}, "rnp z 31l", "H31LZ"},
		{"RNP Y RWY 31 (AR)", Title{Kind: RNP, Runway: "31", Letter: "Y"}, "rnp y 31", "H31-Y"},
		{"RNAV (GPS) Y RWY 12", Title{Kind: RNAV, Runway: "12", Letter: "Y"}, "rnav y 12", "R12-Y"},
		{"ILS or LOC RWY 12", Title{Kind: ILS, Runway: "12"}, "ils 12", "I12"},
		{"ILS Z or LOC Z RWY 12", Title{Kind: ILS, Runway: "12", Letter: "Z"}, "ils z 12", "I12-Z"},
		{"LOC/DME BC RWY 09", Title{Kind: BackCourse, Runway: "09"}, "loc bc 09", "B09"},
		{"VOR/DME RWY 3R", Title{Kind: VORDME, Runway: "03R"}, "vor/dme 03r", "D03R"},
		{"VOR RWY 35C", Title{Kind: VOR, Runway: "35C"}, "vor 35c", "V35C"},
		{"VOR-A", Title{Kind: VOR, Letter: "A"}, "vor a", "VOR-A"},
		{"VOR/DME-C", Title{Kind: VORDME, Letter: "C"}, "vor/dme c", "VDM-C"},
		{"RNAV (GPS)-D", Title{Kind: RNAV, Letter: "D"}, "rnav d", "RNV-D"},
		{"NDB RWY 07", Title{Kind: NDB, Runway: "07"}, "ndb 07", "N07"},
		{"COPTER RNAV (GPS) 027", Title{Kind: RNAV, Course: "027"}, "copter rnav 027", "R027"},
	} {
		got, err := ParseTitle(tt.title)
		if err != nil || got != tt.want {
			t.Errorf("%q: got %+v, %v, want %+v", tt.title, got, err, tt.want)
			continue
		}
		if got.Said() != tt.said || got.Code() != tt.code {
			t.Errorf("%q: got %q, %q, want %q, %q", tt.title, got.Said(), got.Code(), tt.said, tt.code)
		}
		if again, err := ParseTitle(got.Said()); err != nil || again != got {
			t.Errorf("%q: its name %q reads as %+v, %v, want %+v", tt.title, got.Said(), again, err, got)
		}
	}
}

func TestTitlesRefused(t *testing.T) {
	for title, want := range map[string]string{
		"":                      `"" does not say one kind of approach`,
		"RWY 31":                `"RWY 31" does not say one kind of approach`,
		"ILS":                   `"ILS" has neither a runway nor a circling letter`,
		"ILS or VOR RWY 12":     `"ILS or VOR RWY 12" does not say one kind of approach`,
		"ILS RWY 37":            `"37" is no word of an approach's title`,
		"ILS RWY 0":             `"0" is no word of an approach's title`,
		"ILS RWY 12 30":         `"30" is no word of an approach's title`,
		"ILS Y Z RWY 12":        `"z" is no word of an approach's title`,
		"VISUAL RWY 12":         `"visual" is no word of an approach's title`,
		"RNAV (GPS) RWY 12 027": `"RNAV (GPS) RWY 12 027" has a runway and a course`,
	} {
		if got, err := ParseTitle(title); err == nil || err.Error() != want {
			t.Errorf("%q: got %+v, %v, want %q", title, got, err, want)
		}
	}
}

// The letters are those of ARINC 424's route types; S, W and Y have no kind of
// their own.
func TestKindOf(t *testing.T) {
	for letter, want := range map[byte]Kind{'I': ILS, 'L': Localizer, 'B': BackCourse, 'X': LDA, 'R': RNAV, 'H': RNP, 'P': GPS,
		'S': VOR, 'V': VOR, 'D': VORDME, 'N': NDB, 'Q': NDBDME, 'J': GLS, 'W': MLS, 'A': NoKind, 'Z': NoKind, 0: NoKind} {
		if got := KindOf(letter); got != want {
			t.Errorf("%q: got %v, want %v", letter, got, want)
		}
	}
}
