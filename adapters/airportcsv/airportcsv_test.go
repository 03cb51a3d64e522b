package airportcsv

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
)

// read is what a list holds.
func read(t *testing.T, text string) ([]airports.Airport, Summary) {
	t.Helper()
	var all []airports.Airport
	sum, err := Read(strings.NewReader(text), Options{File: "list.csv", Edition: airports.Edition{Source: "list.csv"}}, func(a airports.Airport) error {
		all = append(all, a)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all, sum
}

func TestColumnsInAnyOrder(t *testing.T) {
	t.Parallel()
	want, _ := read(t, "ident,name,lat,lon,elevation_ft\nXKLD,\"Kaldmoor, Old\",46.9,-113.9,4802\n")
	for _, text := range []string{
		"elevation_ft,lon,lat,name,ident\n4802,-113.9,46.9,\"Kaldmoor, Old\",xkld\n",
		"\ufeffid,ident,type,name,latitude_deg,longitude_deg,elevation_ft,continent\r\n7,XKLD,small_airport,\"Kaldmoor, Old\",46.9,-113.9,4802,NA\r\n8,XHEL,heliport,Pad,46,-113,4800,NA\r\n",
		"# a remark\n# another: one\nIdent, Name ,Lat,Lon,Elevation ft\nXKLD,\"Kaldmoor, Old\",46.9,-113.9,4802.9\n",
	} {
		got, sum := read(t, text)
		if len(got) != 1 || got[0] != want[0] || sum.Faulty > 0 {
			t.Errorf("%q:\n got %+v\nwant %+v, %v", text, got, want, sum.Problems)
		}
	}
}

func TestRestricted(t *testing.T) {
	t.Parallel()
	by := airports.Edition{Source: "list.csv", Date: time.Date(2026, 1, 22, 0, 0, 0, 0, time.UTC), Until: time.Date(2027, 1, 21, 0, 0, 0, 0, time.UTC)}
	for _, text := range []string{
		"# date: 2026-01-22\n# until: 2027-01-21\nident,temperature_c,segments\nXKLD,-25,initial final\n",
		"segments,ident,temperature_c,restriction_date,restriction_until\nFinal;initial,XKLD,−25,2026-01-22,2027-01-21\n",
		"# date: 2026-01-22\n# until: 2027-01-21\nident,temp_c,initial,intermediate,final,missed\nXKLD,-25,x,,yes,no\n",
	} {
		got, sum := read(t, text)
		want := airports.Airport{Ident: "XKLD", Restriction: -25, Restricted: true, Segments: airports.Initial | airports.Final, RestrictedBy: by}
		if len(got) != 1 || got[0] != want || sum.Faulty > 0 {
			t.Errorf("%q:\n got %+v\nwant %+v, %v", text, got, want, sum.Problems)
		}
	}
}

// TestWhatCannotBeRead: an import tells each and goes on, a configured list is
// refused at the first.
func TestWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	const head = "ident,name,lat,lon,elevation_ft,restriction_c,segments,time_zone,mountainous,date\n"
	for _, c := range []struct{ row, want string }{
		{"XKLD,a,91,1,1,,,,,", `list.csv:2:8: lat 91 is outside -90 to 90 degrees north`},
		{"XKLD,a,46,-181,1,,,,,", `list.csv:2:11: lon -181 is outside`},
		{"XKLD,a,46,-114,48o2,,,,,", `list.csv:2:16: elevation_ft "48o2" is not a plain number of feet`},
		{"XKLD,a,46,-114,48020,,,,,", `list.csv:2:16: elevation_ft 48020 is outside -1500 to 15000 feet`},
		{"XKLD,a,46,-114,4802,25,,,,", `list.csv:2:21: restriction_c 25 is outside -60 to 10 degrees Celsius with a sign`},
		{"XKLD,a,46,-114,4802,-25,middle,,,", `list.csv:2:25: segments "middle" is no segment`},
		{"XKLD,a,46,-114,4802,,,Mars/Base,,", `list.csv:2:23: time_zone "Mars/Base" is no time zone`},
		{"XKLD,a,46,-114,4802,,,,perhaps,", `list.csv:2:24: mountainous "perhaps" is neither true nor false`},
		{"XKLD,a,46,-114,4802,,,,,22 Jan", `list.csv:2:25: date "22 Jan" is not a day such as 2026-01-22`},
		{",a,46,-114,4802,,,,,", `list.csv:2:1: this row has no ident`},
		{"XKLD,Kaldmoor, Old,46,-114,4802,,,,,", `list.csv:2:15: lat "Old" is not a plain number of degrees north`},
		{"XKLD,a\"b,46,-114,4802,,,,,", `list.csv:2:7: not readable as CSV: bare "`},
	} {
		_, err := Load(strings.NewReader(head+c.row+"\n"), "list.csv")
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s:\n got %v\nwant %s", c.row, err, c.want)
		}
		got, sum := read(t, head+c.row+"\nXRUN,b,47,-114,4380,,,,,\n")
		if len(got) != 1 || got[0].Ident != "XRUN" || sum.Faulty != 1 || !strings.HasPrefix(sum.Problems[0].Error(), c.want) {
			t.Errorf("%s: got %+v, %+v", c.row, got, sum)
		}
	}
	for _, c := range []struct{ text, want string }{
		{"", "list.csv:1:1: the list is empty"},
		{"# only\n", "list.csv:2:1: the list is empty"},
		{"ident;name;lat\n", "list.csv:1:1: the columns are parted by semicolons"},
		{"name,lat,lon,elevation_ft\n", "list.csv:1:1: no column is called ident"},
		{"ident,name\n", "list.csv:1:1: the list says neither where"},
		{"ident,lat,lon,elevatoin_ft\n", `list.csv:1:15: unknown column "elevatoin_ft"; did you mean "elevation_ft"?`},
		{"ident,lat,lon,elevation_ft,icao\n", `list.csv:1:28: column "icao" stands here twice`},
		{"# date: soon\nident,temperature_c\n", `list.csv:1:1: "soon" is not a day`},
		{"ident,temperature_c\nX,-5\n", `list.csv:2:1: ident "X" is not 3 or 4`},
		{"ident,temperature_c\nXKLD,-5\nXKLD,-6\n", "list.csv: XKLD is there twice"},
	} {
		if _, err := Load(strings.NewReader(c.text), "list.csv"); err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%q:\n got %v\nwant %s", c.text, err, c.want)
		}
	}
	if _, sum := read(t, "ident,temperature_c\nUS-0042,-5\nXKLD,-6\n"); sum.Left != 1 || sum.Rows != 1 {
		t.Errorf("got %+v", sum)
	}
}

// TestWrittenIsRead: what Write writes is what Load and Read read, of the real
// lists beside it.
func TestWrittenIsRead(t *testing.T) {
	t.Parallel()
	var m airports.Merger
	for _, file := range []string{"airports.csv", "cold.csv"} {
		data, err := os.ReadFile("../../testdata/airports/" + file)
		if err != nil {
			t.Fatal(err)
		}
		sum, err := Read(bytes.NewReader(data), Options{File: file, Edition: airports.Edition{Source: file, Date: time.Date(2024, 5, 31, 0, 0, 0, 0, time.UTC)}}, m.Add)
		if err != nil || sum.Faulty > 0 || sum.Left > 0 {
			t.Fatalf("%s: %+v, %v", file, sum, err)
		}
	}
	all := m.Merge().Airports
	all[5].Mountainous, all[6].Mountainous, all[7].Zone = airports.Yes, airports.No, "America/Denver"
	all[8].Segments, all[8].Restricted = airports.AllSegments, true
	all[8].RestrictedBy = airports.Edition{Source: "by", Date: time.Date(2026, 1, 22, 0, 0, 0, 0, time.UTC), Until: time.Date(2027, 1, 22, 0, 0, 0, 0, time.UTC)}
	// What a spreadsheet would run is text in the file, and the same name again.
	all[9].Name, all[10].Name, all[9].From.Source = `=HYPERLINK("http://x.example","XKLD")`, "＋1", "@list.csv"
	var text bytes.Buffer
	if err := Write(&text, all); err != nil {
		t.Fatal(err)
	}
	rows := csv.NewReader(bytes.NewReader(text.Bytes()))
	rows.Comment = '#'
	cells, err := rows.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range cells {
		for _, cell := range row {
			if _, err := strconv.ParseFloat(cell, 64); err != nil && strings.IndexAny(cell, "=+-@＝＋－＠") == 0 {
				t.Errorf("%q is run by a spreadsheet", cell)
			}
		}
	}
	d, err := Load(bytes.NewReader(text.Bytes()), "airports.csv")
	if err != nil {
		t.Fatal(err)
	}
	if d.Len() != len(all) || len(all) != 350 {
		t.Errorf("%d of %d; 348 in one list, two of the 12 restricted in none", d.Len(), len(all))
	}
	for _, want := range all {
		if got, ok := d.Find(want.Ident); !ok || got != want {
			t.Errorf("got %+v\nwant %+v", got, want)
		}
	}
}

// made is a made-up list of n fields as Write writes it.
func made(n int) []byte {
	var b bytes.Buffer
	b.WriteString(strings.Join(written, ",") + "\n")
	digit := func(i int) byte { return "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"[i%36] }
	for i := range n {
		cold := ",,,,"
		if i%40 == 0 {
			cold = fmt.Sprintf("%d,initial final,cold.csv,2026-01-22,2027-01-21", -10-i%25)
		}
		fmt.Fprintf(&b, "X%c%c%c,Kaldmoor %d Regional Airport,%d.%06d,-%d.%06d,%d,%s,,CIFP 2612,2026-11-26,2026-12-24,%s\n",
			digit(i/1296), digit(i/36), digit(i), i, 30+i%40, i, 70+i%90, i, i%9000, []string{"America/Denver", "Europe/Oslo", "America/Anchorage", "Europe/Zurich"}[i%4], cold)
	}
	return b.Bytes()
}

// BenchmarkLoad20000 is what the start pays for a list of 20 000: at most 50 ms.
func BenchmarkLoad20000(b *testing.B) {
	data := made(20000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if d, err := Load(bytes.NewReader(data), "airports.csv"); err != nil || d.Len() != 20000 {
			b.Fatal(err)
		}
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte("# date: 2026-01-22\nident,temperature_c,segments\nXKLD,-25,all\n"))
	f.Add([]byte("ident,name,lat,lon,elevation_ft\nXKLD,\"a,b\",46.9,-113.9,4802\n"))
	f.Add(made(2))
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := Load(bytes.NewReader(data), "x.csv")
		if err != nil {
			return
		}
		for _, ident := range d.Search("x", 10) {
			if a, ok := d.Find(ident); !ok || a.Check() != nil {
				t.Errorf("%q is no field", ident)
			}
		}
	})
}
