package cifp

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

// readAll keeps every approach of a file.
func readAll(t testing.TB, data []byte, airports ...string) ([]approach.Approach, Summary) {
	t.Helper()
	var all []approach.Approach
	s, err := Read(bytes.NewReader(data), Handler{Airports: airports, Approach: func(a *approach.Approach) error {
		all = append(all, a.Clone())
		return nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	return all, s
}

// where is the place of a leg in a file.
type where struct {
	ident, code, route, transition string
	sequence                       int
}

// The second reader is cifparse 2.0.9; sample.ref.jsonl has what it read of
// the same records. Every primary leg must be there, and no other.
func TestAgainstSecondReader(t *testing.T) {
	all, s := readAll(t, excerpt(t))
	got := map[where]approach.LegObject{}
	for i := range all {
		o := all[i].Object()
		for _, l := range o.Legs {
			got[where{o.Ident, o.Procedure, l.Route, l.Transition, l.Sequence}] = l
		}
	}
	f, err := os.Open("../../testdata/cifp/sample.ref.jsonl")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	text := func(p *string) string {
		if p == nil {
			return ""
		}
		return strings.TrimSpace(*p)
	}
	meanings := map[string]string{"+": "at-or-above", "-": "at-or-below", "B": "between", "G": "glide-path", "H": "glide-path",
		"I": "glide-path-intercept", "J": "glide-path-intercept", "V": "vertical-path"}
	legs := 0
	for dec := json.NewDecoder(f); ; {
		var r struct {
			Airport, Approach, Route_type string
			Transition, Fix               *string
			Seq                           int
			Path                          *string
			Alt_desc                      *string
			Alt1, Alt2, Vert_angle        *float64
			Line                          string
		}
		if err := dec.Decode(&r); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		if r.Line[38] != '0' && r.Line[38] != '1' {
			continue // it goes on with a leg that stands there already
		}
		legs++
		at := where{r.Airport, r.Approach, r.Route_type, text(r.Transition), r.Seq}
		l, ok := got[at]
		if !ok {
			t.Errorf("%+v: got no such leg, want %s", at, r.Line)
			continue
		}
		delete(got, at)
		meaning := meanings[text(r.Alt_desc)]
		if meaning == "" && r.Alt1 != nil {
			meaning = "at"
		}
		if l.Meaning != meaning || !equal(l.Altitude, r.Alt1) || !equal(l.Altitude2, r.Alt2) || l.Fix != text(r.Fix) || l.Path != text(r.Path) {
			t.Errorf("%+v: got %+v, want %s", at, l, r.Line)
		}
		if r.Vert_angle != nil && *r.Vert_angle == 0 {
			r.Vert_angle = nil // 000 is no angle, not level flight
		}
		if !equal(l.Angle, r.Vert_angle) {
			t.Errorf("%+v: got angle %v, want %v", at, l.Angle, r.Vert_angle)
		}
	}
	if len(got) > 0 || legs != 1688 || s.Legs != 1688 {
		t.Errorf("got %d legs, %v not in the reference of %d, want all 1688", s.Legs, got, legs)
	}
	if len(all) != 184 || s.Approaches != 184 || s.Malformed != 0 || s.Records != 3334 {
		t.Errorf("got %d approaches, %d counted, %d records of %d malformed, want 184 and none of 3334", len(all), s.Approaches, s.Malformed, s.Records)
	}
}

func equal(a, b *float64) bool { return a == nil && b == nil || a != nil && b != nil && *a == *b }

// partition holds the counts of a summary to each other: every record is in
// one of them.
func partition(t testing.TB, s Summary) {
	t.Helper()
	if got := s.Headers + s.Airports + s.Runways + s.Fixes + s.Sectors + s.Legs + s.Skipped(); got != s.Records {
		t.Errorf("got %d records counted by what they are, want %d; %+v", got, s.Records, s)
	}
}

// Counted in sample.txt with grep and cut, columns 5, 13 and 39.
func TestSummary(t *testing.T) {
	_, s := readAll(t, excerpt(t))
	partition(t, s)
	if s.Airports != 15 || s.Fixes != 397 || s.Runways != 54 || s.Sectors != 53 || s.Legs != 1688 || s.Continuations != 51 {
		t.Errorf("got %+v", s)
	}
	want := []Section{{"D ", "VHF navigation aids", 11}, {"EA", "en-route waypoints", 5}, {"PD", "departures", 425}, {"PE", "arrivals", 535},
		{"PI", "localizers and glide slopes", 28}, {"PN", "terminal beacons", 1}, {"PP", "path points", 70}}
	if !slices.Equal(s.Others, want) {
		t.Errorf("got sections %v, want %v", s.Others, want)
	}
	if s.Cycle != "2609" || s.Effective.Format(time.DateOnly) != "2026-09-03" || s.End.Format(time.DateOnly) != "2026-10-01" {
		t.Errorf("got cycle %s from %v to %v, want 2609 from 3 Sep to 1 Oct 2026", s.Cycle, s.Effective, s.End)
	}
	if s.Expired(s.End.Add(-time.Second)) || !s.Expired(s.End) {
		t.Error("the cycle ends on the day the next one begins")
	}
	var b strings.Builder
	if err := s.Write(&b, s.End); err != nil {
		t.Fatal(err)
	}
	wantText := `cycle 2609, EXPIRED since 2026-10-01
3334 records: 184 approaches with 1688 legs, 179 holdings among them
15 airports, 54 runways, 397 fixes, 53 minimum sector altitudes
NOT WHOLE: the header says 396811 records, and there are 3334
no minimums: a coded file has none
1126 records skipped
  51 continuation records
  11 of section "D ", VHF navigation aids
  5 of section "EA", en-route waypoints
  425 of section "PD", departures
  535 of section "PE", arrivals
  28 of section "PI", localizers and glide slopes
  1 of section "PN", terminal beacons
  70 of section "PP", path points
`
	if b.String() != wantText {
		t.Errorf("got\n%s\nwant\n%s", b.String(), wantText)
	}
	b.Reset()
	one := Summary{Records: 1, Approaches: 1, Legs: 1, Airports: 1, Fixes: 1}
	if err := one.Write(&b, s.End); err != nil {
		t.Fatal(err)
	}
	if want := "1 record: 1 approach with 1 leg, 0 holdings among them\n1 airport, 0 runways, 1 fix, 0 minimum sector altitudes\n"; !strings.Contains(b.String(), want) {
		t.Errorf("got\n%s\nwant in it\n%s", b.String(), want)
	}
}

func TestAirportsAsked(t *testing.T) {
	all, s := readAll(t, excerpt(t), "kbtv", "KWJF", "XKLD", "3B1")
	partition(t, s)
	idents := map[string]int{}
	for i := range all {
		idents[all[i].Ident]++
	}
	// Complete in the excerpt: nine and three procedures.
	if len(idents) != 2 || idents["KBTV"] != 9 || idents["KWJF"] != 3 || s.Elsewhere == 0 {
		t.Errorf("got %v, %d records of others, want KBTV 9 and KWJF 3", idents, s.Elsewhere)
	}
	if !slices.Equal(s.NotFound, []string{"XKLD", "3B1"}) {
		t.Errorf("got %q not found, want XKLD and 3B1", s.NotFound)
	}
	for _, ident := range []string{"", "KB", "KBTVX", "K TV", "KB\u00e9"} {
		if _, err := Read(bytes.NewReader(excerpt(t)), Handler{Airports: []string{ident}}); err == nil {
			t.Errorf("airport %q: got no error", ident)
		}
	}
}

func TestRecordsBesideApproaches(t *testing.T) {
	var airports []Airport
	var runways []Runway
	var fixes []Fix
	var sectors []Sector
	_, err := Read(bytes.NewReader(excerpt(t)), Handler{Airports: []string{"KBTV", "PAFA"},
		Airport: func(a Airport) { airports = append(airports, a) }, Runway: func(r Runway) { runways = append(runways, r) },
		Fix: func(f Fix) { fixes = append(fixes, f) }, Sector: func(s Sector) { sectors = append(sectors, s) }})
	if err != nil {
		t.Fatal(err)
	}
	// SUSAP KBTVK6ABTV     0     083YHN44281904W073091179W015000335         1800018000C    MNAR    PATRICK LEAHY BURLINGTON INTL 412312310
	// 44°28′19.04″ N 73°09′11.79″ W in degrees
	if want := (Airport{"KBTV", "PATRICK LEAHY BURLINGTON INTL", 335, true, 44.47195555555556, -73.15327500000001, true}); airports[0] != want {
		t.Errorf("got %+v, want %+v", airports[0], want)
	}
	// SUSAP KBTVK6GRW33    0083193260 N44275996W073083556         +0073000334050055150IIVOE1 ...
	if want := (Runway{"KBTV", "33", 334, true, 55}); !slices.Contains(runways, want) {
		t.Errorf("got %+v, want in it %+v", runways, want)
	}
	// SUSAP KBTVK6CEHIKO K60    C     N44212566W072580032 ...
	for _, f := range fixes {
		if f.Ident == "EHIKO" && (fmt.Sprintf("%.6f %.6f", f.Latitude, f.Longitude) != "44.357128 -72.966756" || !f.HasPlace) {
			t.Errorf("EHIKO: got %+v, want 44 21 25.66 N, 072 58 00.32 W", f)
		}
	}
	// SUSAP KBTVK6SBTV  K6D                 0   0901800492518009005925 ...
	want := []Sector{{"KBTV", "BTV", "", 90, 180, 4900, 25}, {"KBTV", "BTV", "", 180, 90, 5900, 25}}
	if !slices.Equal(sectors[:2], want) {
		t.Errorf("got %+v, want %+v", sectors[:2], want)
	}
}

// Names as crews say them. VDM- and RNV- stand for the kinds of column 20.
func TestNames(t *testing.T) {
	for _, tt := range []struct {
		code  string
		route byte
		want  string
		run   string
	}{
		{"R33-Y", 'R', "rnav y 33", "33"}, {"H05LZ", 'H', "rnp z 05l", "05L"}, {"I33", 'I', "ils 33", "33"}, {"I22L", 'I', "ils 22l", "22L"},
		{"L33", 'L', "loc 33", "33"}, {"S01", 'S', "vor 01", "01"}, {"D03", 'D', "vor/dme 03", "03"}, {"B10", 'B', "loc bc 10", "10"},
		{"X25", 'X', "lda 25", "25"}, {"Q02", 'Q', "ndb/dme 02", "02"}, {"N02", 'N', "ndb 02", "02"}, {"P10", 'P', "gps 10", "10"},
		{"VDM-A", 'D', "vor/dme a", ""}, {"RNV-A", 'R', "rnav a", ""}, {"VOR-A", 'S', "vor a", ""}, {"VOR-A", 'V', "vor a", ""},
		{"VOR-B", 0, "vor b", ""}, {"R027", 'R', "copter rnav 027", ""}, {"R33-Y", 0, "rnav y 33", "33"},
		{"E33", 'E', "e33", "33"}, {"R37", 'R', "r37", ""}, {"ODD", 'I', "odd", ""}, {"R3", 'R', "r3", ""},
	} {
		got := titleOf(tt.code, tt.route)
		if got.name != tt.want || got.Runway != tt.run || got.code != tt.code {
			t.Errorf("%s %q: got %q runway %q, want %q runway %q", tt.code, tt.route, got.name, got.Runway, tt.want, tt.run)
		}
	}
}

// What crews say finds the excerpt's approaches.
func TestFoundAsCrewsSay(t *testing.T) {
	all, _ := readAll(t, excerpt(t))
	for _, tt := range []struct{ ident, words, fits string }{
		{"KBTV", "rnp y 33", "R33-Y"}, {"KBTV", "rnav 33", "R33-Y R33-Z"}, {"KBTV", "ils 33", "I33"}, {"KBTV", "loc 15", "L15"}, {"KBTV", "vor 1", "S01"},
		{"KIDP", "vor a", "VOR-A"}, {"KJFK", "rnp z 31l", "H31LZ"}, {"KJFK", "ils 31", "I31L I31R"}, {"KBTV", "ils 28", ""},
	} {
		var here []approach.Approach
		for i := range all {
			if all[i].Ident == tt.ident {
				here = append(here, all[i])
			}
		}
		var codes []string
		for _, a := range approach.Find(here, tt.words).Fits {
			codes = append(codes, a.Code)
		}
		if got := strings.Join(codes, " "); got != tt.fits {
			t.Errorf("%s %s: got %q, want %q", tt.ident, tt.words, got, tt.fits)
		}
	}
}

// record is a real one, and the base of the faulty ones below.
const record = "SUSAP KBTVK6FI33   I      020EHIKOK6PC0E  F    CF IVOEK6      1458011532600029PI  H 0380003800                      0 NS   412802601"

const header = "HDR01FAACIFP18      001P013203968112609  12-AUG-202618:29:21  U.S.A. DOT FAA                                                FBB95AD8"

// with writes text into columns of the record.
func with(column int, text string) string {
	return record[:column-1] + text + record[column-1+len(text):]
}

func TestMalformed(t *testing.T) {
	first := with(27, "010")
	for _, tt := range []struct{ name, line, want string }{
		{"too short", record[:131], "KBTV I33: a record has 132 characters, this line 131"},
		{"too long", record + "0", "KBTV I33: a record has 132 characters, this line 133"},
		{"far too short", "SUSAP", "a record has 132 characters, this line 5"},
		{"record type", with(1, "X"), `KBTV I33: the record type is neither S (standard) nor T (tailored) (column 1: "X")`},
		{"route type", with(20, "1"), `KBTV I33: the route type is no letter (column 20: "1")`},
		{"a transition on a final route", with(21, "JANUD"), `KBTV I33: a final route has a transition (columns 21-25: "JANUD")`},
		{"a transition without a name", with(20, "A"), `KBTV I33: a transition has no name (columns 21-25: "     ")`},
		{"sequence", with(27, "02O"), `KBTV I33: the sequence is not three figures (columns 27-29: "02O")`},
		{"sequence again", with(27, "010"), `KBTV I33: the sequence is that of the leg before (columns 27-29: "010")`},
		{"sequence back", with(27, "005"), `KBTV I33: the sequence is less than that of the leg before (columns 27-29: "005")`},
		{"two words for a fix", with(30, "EH KO"), `KBTV I33: the fix is not one word (columns 30-34: "EH KO")`},
		{"no fix", with(30, "     "), `KBTV I33: a leg that ends at a fix has none (columns 30-34: "     ")`},
		{"path terminator", with(48, "ZZ"), `KBTV I33: the path terminator is not known (columns 48-49: "ZZ")`},
		{"continuation number", with(39, "?"), `KBTV I33: the continuation number is neither a figure nor a letter (column 39: "?")`},
		{"altitude with a letter", with(85, "O3800"), `KBTV I33: the altitude is not five figures of feet (columns 85-89: "O3800")`},
		{"altitude with a gap", with(85, "038 0"), `KBTV I33: the altitude is not five figures of feet (columns 85-89: "038 0")`},
		{"flight level", with(85, "FL240"), `KBTV I33: the altitude is not five figures of feet (columns 85-89: "FL240")`},
		{"unknown altitude", with(85, "UNKNN"), `KBTV I33: the altitude is not five figures of feet (columns 85-89: "UNKNN")`},
		{"second altitude", with(90, "GRND "), `KBTV I33: the second altitude is not five figures of feet (columns 90-94: "GRND ")`},
		{"a description never seen", with(83, "X"), `KBTV I33: the altitude description has no known meaning (column 83: "X")`},
		{"a description of two without the second", with(90, "     "), `KBTV I33: an altitude description without its second altitude (columns 83-94: "H 03800     ")`},
		{"a description without an altitude", with(83, "+           "), `KBTV I33: an altitude description without its altitude (columns 83-89: "+      ")`},
		{"two altitudes for a description of one", with(83, "+"), `KBTV I33: a second altitude that the description does not explain (columns 83-94: "+ 0380003800")`},
		{"two altitudes and no description", with(83, " "), `KBTV I33: a second altitude that the description does not explain (columns 83-94: "  0380003800")`},
		{"between, lower first", with(83, "B 0320006000"), `KBTV I33: between two altitudes, the lower comes first (columns 85-94: "0320006000")`},
		{"angle", with(103, "-3.0"), `KBTV I33: the vertical angle is not three figures (columns 103-106: "-3.0")`},
		{"angle upwards", with(103, " 300"), `KBTV I33: the vertical angle does not lead down (columns 103-106: " 300")`},
		{"airport", with(7, "K TV"), `K TV I33: the airport is not one word (columns 7-10: "K TV")`},
		{"approach identifier", with(14, "I 3   "), `KBTV I 3: the approach identifier is not one word (columns 14-19: "I 3   ")`},
		{"section", with(5, "\xe9"), `the section is no letter (columns 5-6: "é ")`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			all, s := readAll(t, []byte(header+"\n"+first+"\n"+tt.line+"\n"))
			partition(t, s)
			if s.Malformed != 1 || len(s.Problems) != 1 || s.Problems[0].Line != 3 || s.Problems[0].Text != tt.want {
				t.Fatalf("got %d malformed, %v, want line 3: %s", s.Malformed, s.Problems, tt.want)
			}
			if len(all) == 0 || len(all[0].Legs) != 1 {
				t.Fatalf("got %+v, want the leg before alone", all)
			}
			mine := len(tt.line) >= 19 && tt.line[4:19] == record[4:19]
			if (all[0].Unread == 1) != mine || (s.Incomplete == 1) != mine {
				t.Errorf("got %d unread of the approach, %d incomplete, want it said: %v", all[0].Unread, s.Incomplete, mine)
			}
		})
	}
}

// What is right although it looks odd.
func TestOddAndRight(t *testing.T) {
	leg := func(line string) approach.Leg {
		all, s := readAll(t, []byte(line))
		if s.Malformed != 0 || len(all) != 1 || len(all[0].Legs) != 1 {
			t.Fatalf("%s: got %+v, %v", line, all, s.Problems)
		}
		return all[0].Legs[0]
	}
	if l := leg(with(83, "+ -0070     ")); l.Altitude != -70 || l.Limit != approach.AtOrAbove {
		t.Errorf("below the sea: got %+v, want -70", l)
	}
	if l := leg(with(83, "@ 03800     ")); l.Altitude != 3800 || l.Limit != approach.At {
		t.Errorf("description @: got %+v, want at 3800", l)
	}
	if l := leg(with(83, "- 03800     ")); l.Limit != approach.AtOrBelow {
		t.Errorf("description -: got %+v, want at or below", l)
	}
	if l := leg(with(83, "+A03000     ")); l.Altitude != 3000 {
		t.Errorf("column 84 is no part of the altitude: got %+v, want 3000", l)
	}
	if l := leg(with(103, " 000")); l.HasAngle {
		t.Errorf("000 is no angle: got %+v", l)
	}
	if l := leg(with(83, "            ")); l.Limit != approach.NoAltitude {
		t.Errorf("no altitude: got %+v", l)
	}
	all, s := readAll(t, []byte(record[:38]+"2WALPV       ALNAV/VNAV ALNAV"+strings.Repeat(" ", 64)+"1"))
	if len(all) != 0 || s.Continuations != 1 || s.Malformed != 0 {
		t.Errorf("a continuation record alone: got %+v, %+v", all, s)
	}
	// A terminal beacon (PN) has a letter in column 6; what stands in column
	// 13 is no subsection then.
	if all, s := readAll(t, []byte(with(6, "N"))); len(all) != 0 || s.Others[0] != (Section{"PN", "terminal beacons", 1}) {
		t.Errorf("PN: got %+v, %+v", all, s)
	}
}

func TestHeaders(t *testing.T) {
	four := "HDR04 FAA CIFP VOLUME 2609  EFFECTIVE 03 SEP 2026"
	for _, tt := range []struct{ name, file, cycle, problem string }{
		{"both agree", header + "\n" + four, "2609", ""},
		{"HDR01 alone", header, "2609", ""},
		{"none", record, "", ""},
		{"no such cycle", header[:35] + "2614" + header[39:], "", `cycle "2614": 2026 does not have so many cycles`},
		{"no figures", header[:35] + "26 9" + header[39:], "", `cycle "26 9" is not four figures, year and number, as 2609`},
		{"other volume", header + "\n" + strings.Replace(four, "2609", "2610", 1), "", `HDR04 says cycle "2610", HDR01 says "2609": the cycle of the file is not known`},
		{"other day", header + "\n" + strings.Replace(four, "03 SEP", "04 SEP", 1), "", `HDR04 says effective 2026-09-04, and cycle "2609" begins on 2026-09-03: the cycle of the file is not known`},
		{"twice", header + "\n" + header[:35] + "2610" + header[39:], "2609", "a second HDR01; the first one's cycle holds"},
		{"cut short", "HDR01FAACIFP18", "", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, s := readAll(t, []byte(tt.file+"\n"+record))
			problem := ""
			if len(s.Problems) > 0 {
				problem = s.Problems[0].Text
			}
			if tt.name == "none" {
				problem = "" // the record stands there twice
			}
			if s.Cycle != tt.cycle || problem != tt.problem {
				t.Errorf("got cycle %q, %q, want %q, %q", s.Cycle, problem, tt.cycle, tt.problem)
			}
		})
	}
}

// HDR04 of the FAA's file of cycle 2609 says EFFECTIVE 03 SEP 2026. The first
// day of each year's first cycle, 28 days apart by definition (ICAO Annex 15);
// 2020 has fourteen.
func TestCycleDates(t *testing.T) {
	for cycle, want := range map[string]string{"2609": "2026-09-03 2026-10-01", "2601": "2026-01-22 2026-02-19", "2613": "2026-12-24 2027-01-21",
		"2701": "2027-01-21 2027-02-18", "2001": "2020-01-02 2020-01-30", "2014": "2020-12-31 2021-01-28", "2101": "2021-01-28 2021-02-25", "0209": "2002-09-05 2002-10-03"} {
		from, to, err := CycleDates(cycle)
		if got := from.Format(time.DateOnly) + " " + to.Format(time.DateOnly); err != nil || got != want {
			t.Errorf("%s: got %s, %v, want %s", cycle, got, err, want)
		}
	}
	for _, cycle := range []string{"", "26", "2600", "2614", "260", "26009", "26O9", "2699"} {
		if from, to, err := CycleDates(cycle); err == nil || !from.IsZero() || !to.IsZero() {
			t.Errorf("%q: got %v %v, %v, want an error", cycle, from, to, err)
		}
	}
	// Every cycle begins where the one before ends.
	last, _, _ := CycleDates("9001")
	n := 0
	for y := 1990; y < 2090; y++ {
		for i := 1; i < 15; i++ {
			from, to, err := CycleDates(fmt.Sprintf("%02d%02d", y%100, i))
			if err != nil {
				continue
			}
			if n > 0 && !from.Equal(last) {
				t.Errorf("%02d%02d begins on %v, the one before ends on %v", y%100, i, from, last)
			}
			last = to
			n++
		}
	}
	if n < 1300 {
		t.Errorf("got %d cycles in a hundred years", n)
	}
}

func TestLines(t *testing.T) {
	data := excerpt(t)
	want, _ := readAll(t, data)
	check := func(name string, src io.Reader) {
		t.Helper()
		i := 0
		s, err := Read(src, Handler{Approach: func(a *approach.Approach) error {
			if i < len(want) && !slices.Equal(a.Legs, want[i].Legs) {
				return fmt.Errorf("approach %d: got %+v, want %+v", i, a, want[i])
			}
			i++
			return nil
		}})
		if err != nil || i != len(want) || s.Malformed > 0 {
			t.Errorf("%s: got %d approaches, %d malformed, %v, want %d", name, i, s.Malformed, err, len(want))
		}
	}
	check("a byte at a time", iotest.OneByteReader(bytes.NewReader(data)))
	check("half of what is asked", iotest.HalfReader(bytes.NewReader(data)))
	check("data beside the end", iotest.DataErrReader(bytes.NewReader(data)))
	check("carriage returns", bytes.NewReader(bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n"))))
	check("no end to the last line", bytes.NewReader(bytes.TrimSuffix(data, []byte("\n"))))
	check("blank lines", bytes.NewReader(bytes.ReplaceAll(data, []byte("\n"), []byte("\n\n"))))

	broken := errors.New("disk is gone")
	if _, err := Read(io.MultiReader(bytes.NewReader(data), iotest.ErrReader(broken)), Handler{}); !errors.Is(err, broken) || !strings.Contains(err.Error(), "after line") {
		t.Errorf("a read error: got %v", err)
	}
	if _, err := Read(bytes.NewReader(data), Handler{Approach: func(*approach.Approach) error { return broken }}); err != broken {
		t.Errorf("an error of the handler: got %v, want it as it is", err)
	}
	if _, err := Read(neverReader{}, Handler{}); !errors.Is(err, io.ErrNoProgress) {
		t.Errorf("a reader that gives nothing: got %v", err)
	}
}

type neverReader struct{}

func (neverReader) Read([]byte) (int, error) { return 0, nil }

// A line longer than what is held is told once and passed over; what stands
// behind it is read. The lengths lie about what is held at a time.
func TestLongLine(t *testing.T) {
	for _, n := range []int{recordLength + 1, chunkSize - 1, chunkSize, chunkSize + 1, 2*chunkSize - 1, 2 * chunkSize, 3*chunkSize + 7} {
		for _, before := range []string{"", header + "\n"} {
			file := before + strings.Repeat("x", n) + "\n" + record + "\n"
			all, s := readAll(t, []byte(file))
			partition(t, s)
			if len(all) != 1 || s.Malformed != 1 || s.Problems[0].Line != 1+strings.Count(before, "\n") {
				t.Errorf("a line of %d behind %d: got %d approaches, %v", n, len(before), len(all), s.Problems)
			}
		}
		if _, s := readAll(t, []byte(record+"\n"+strings.Repeat("x", n))); s.Malformed != 1 || s.Approaches != 1 {
			t.Errorf("a line of %d at the end: got %+v", n, s)
		}
	}
}

// Lines of a record's length whose middle ends a line: the lengths of what is
// held at once must not hide that.
func TestShortLinesOfOneLength(t *testing.T) {
	half := strings.Repeat("x", 66) + "\n" + strings.Repeat("y", 65) + "\n" // 133 characters
	_, s := readAll(t, []byte(record+"\n"+strings.Repeat(half, 10)))
	if s.Malformed != 20 || s.Records != 21 {
		t.Errorf("got %d malformed of %d, want 20 of 21", s.Malformed, s.Records)
	}
}

func TestTwice(t *testing.T) {
	other := with(14, "I15   ")
	all, s := readAll(t, []byte(record+"\n"+other+"\n"+record+"\n"))
	if len(all) != 3 || s.Repeated != 1 || len(s.Problems) != 1 || s.Problems[0].Text != "KBTV I33 stands in the file twice, the second time up to the line before" {
		t.Errorf("got %d approaches, %d twice, %v", len(all), s.Repeated, s.Problems)
	}
	if s.Malformed != 0 {
		t.Errorf("got %d malformed, want none: nothing is unreadable", s.Malformed)
	}
}

// The missed approach point cannot be read: what follows is missed approach
// all the same, and nothing of it passes for the final segment.
func TestUnreadableMissedPoint(t *testing.T) {
	var file []byte
	for _, l := range byHand[0].legs { // KBTV I33
		r := l.record
		if strings.HasPrefix(l.want, "RW33") {
			r = r[:84] + "O0389" + r[89:]
		}
		if !strings.HasPrefix(l.want, "40|") { // and the record that says it begins is missing
			file = append(file, r+"\n"...)
		}
	}
	all, s := readAll(t, file)
	if len(all) != 1 || all[0].Unread != 1 || s.Incomplete != 1 {
		t.Fatalf("got %+v, want one approach with one record unread", all)
	}
	for _, l := range all[0].Legs {
		if l.Fix == "BTV" && l.Segment != procedure.Missed {
			t.Errorf("%s %d: got segment %q, want missed", l.Fix, l.Sequence, l.Segment)
		}
	}
}

func TestProblemsAreBounded(t *testing.T) {
	told := 0
	s, err := Read(strings.NewReader(strings.Repeat("x\n", 500)), Handler{Problem: func(Problem) { told++ }})
	if err != nil || told != 500 || s.Malformed != 500 || len(s.Problems) != keptProblems {
		t.Errorf("got %d told, %d counted, %d kept, %v", told, s.Malformed, len(s.Problems), err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(header + "\n" + record))
	f.Add([]byte(record + "\r\n" + with(27, "030") + "\n" + with(39, "2") + "\n"))
	f.Add([]byte(with(13, "A") + "\n" + with(13, "S") + "\n" + with(13, "G") + "\n" + with(13, "C")))
	f.Add([]byte(with(83, "B 0600003200") + "\n\n" + with(14, "VDM-A ")))
	f.Add([]byte("HDR04 VOLUME 2609 EFFECTIVE 03 SEP 2026\nHDR01"))
	f.Fuzz(func(t *testing.T, data []byte) {
		legs, problems := 0, 0
		s, err := Read(bytes.NewReader(data), Handler{
			Approach: func(a *approach.Approach) error {
				legs += len(a.Legs)
				if len(a.Legs) == 0 && a.Unread == 0 || a.Name == "" || a.Ident == "" {
					return fmt.Errorf("handed over %+v", a)
				}
				for i := range a.Legs {
					l := &a.Legs[i]
					// Every figure stands in the file as it was handed over.
					if l.Limit != approach.NoAltitude && !bytes.Contains(data, []byte(columns(l.Altitude))) {
						return fmt.Errorf("%s %s: %v ft is not in the file", a.Code, l.Fix, l.Altitude)
					}
					if !bytes.Contains(data, []byte(l.Fix)) || !bytes.Contains(data, []byte(l.Transition)) {
						return fmt.Errorf("%s: fix %q of %q is not in the file", a.Code, l.Fix, l.Transition)
					}
					if l.Limit == approach.Between && l.Altitude < l.Altitude2 {
						return fmt.Errorf("%s %s: between %v and %v", a.Code, l.Fix, l.Altitude, l.Altitude2)
					}
				}
				if _, err := json.Marshal(a.Object()); err != nil {
					return err
				}
				a.Points()
				return nil
			},
			Airport: func(Airport) {}, Runway: func(Runway) {}, Fix: func(Fix) {}, Sector: func(Sector) {},
			Problem: func(Problem) { problems++ },
		})
		if err != nil {
			t.Fatal(err)
		}
		partition(t, s)
		if s.Legs != legs || problems < s.Malformed {
			t.Errorf("got %d legs handed over of %d, %d problems told of %d", legs, s.Legs, problems, s.Malformed)
		}
		if err := s.Write(io.Discard, time.Unix(0, 0)); err != nil {
			t.Error(err)
		}
	})
}

// columns writes an altitude as the file has it.
func columns(a engine.Altitude) string {
	if a < 0 {
		return fmt.Sprintf("-%04d", int(-a))
	}
	return fmt.Sprintf("%05d", int(a))
}
