package main

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// BenchmarkImportAirports20000 takes in a made-up coded file of 20 000 airports
// and a list of the same: at most 2 s, the borders of the time zones included.
func BenchmarkImportAirports20000(b *testing.B) {
	dir := b.TempDir()
	var coded, list bytes.Buffer
	digit := func(i int) byte { return "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"[i%36] }
	list.WriteString("ident,name,lat,lon,elevation_ft\n")
	fmt.Fprintf(&coded, "%-132s\n", "HDR01FAACIFP18      001P013203974672612  04-NOV-202609:43:22  U.S.A. DOT FAA")
	for i := range 20000 {
		ident := fmt.Sprintf("X%c%c%c", digit(i/1296), digit(i/36), digit(i))
		// Columns as in the records of testdata/cifp/sample.txt.
		line := fmt.Sprintf("SUSAP %sK6A%.3s     0     083YHN%02d281904W%03d091179W015%06d         1800018000C    MNAR    %-30s%05d2612", ident, ident, 30+i%35, 70+i%90, i%9000, fmt.Sprintf("KALDMOOR %d", i), i)
		coded.WriteString(line + "\n")
		fmt.Fprintf(&list, "%s,Kaldmoor %d,%d.472,-%d.153,%d\n", ident, i, 30+i%35, 70+i%90, i%9000+i%12)
	}
	if n := strings.Index(coded.String()[133:], "\n"); n != 132 {
		b.Fatalf("a record has %d columns", n)
	}
	for name, data := range map[string]*bytes.Buffer{"coded.txt": &coded, "list.csv": &list} {
		if err := os.WriteFile(filepath.Join(dir, name), data.Bytes(), 0o644); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		c := importAirports{Partial: true, Files: []string{filepath.Join(dir, "coded.txt"), filepath.Join(dir, "list.csv")}, Out: filepath.Join(dir, "airports.csv")}
		if err := c.Run(b.Context(), host{stdout: io.Discard, stderr: io.Discard}); err != nil {
			b.Fatal(err)
		}
	}
	if info, err := os.Stat(filepath.Join(dir, "airports.csv")); err != nil || info.Size() < 20000*60 {
		b.Fatalf("%v, %v", info, err)
	}
}

// TestListWithNothingInIt: a file of which no airfield can be read, cut off behind
// its header or another altogether, takes nothing away from the list before.
func TestListWithNothingInIt(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	out := filepath.Join(dir, "airports.csv")
	put := func(name, text string) string {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// With its zone: what the race detector makes of reading the borders takes longest.
	open := put("open.csv", "ident,name,lat,lon,elevation_ft,time_zone\nXKLD,Kaldmoor,47,-113,4802,America/Denver\n")
	cold := put("cold.csv", "ident,temperature_c,segments\nXKLD,-25,final\n")
	take := func(files ...string) (string, error) {
		var said bytes.Buffer
		err := (&importAirports{Files: files, Out: out, Partial: true}).Run(t.Context(), host{stdout: &said, stderr: &said})
		return said.String(), err
	}
	if said, err := take(open, cold); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	before, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"cut.csv":   "ident,temperature_c,segments\n",
		"high.csv":  "ident,name,lat,lon,elevation_ft\nXKLD,Kaldmoor,47,-113,999999\n",
		"coded.txt": fmt.Sprintf("%-132s\n", "HDR01FAACIFP18      001P013203974672612  04-NOV-202609:43:22  U.S.A. DOT FAA"),
	} {
		said, err := take(open, put(name, text))
		if err == nil || !strings.Contains(err.Error(), "nothing is written") || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v\n%s", name, err, said)
		}
		if after, err := os.ReadFile(out); err != nil || !bytes.Equal(after, before) {
			t.Errorf("%s: the list before is now\n%s, %v", name, after, err)
		}
	}
}

// TestFieldNobodyConfigured: with the list and the coded procedures imported and
// no station configured, any airport's procedure answers at the temperature that
// the service has of it.
func TestFieldNobodyConfigured(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 9, 15, 13, 0, 0, 0, time.UTC) // within cycle 2609
	var asked atomic.Int32
	awc := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		w.Header().Set("Content-Type", "application/json")
		if ident := r.URL.Query().Get("ids"); strings.Contains(r.URL.Path, "metar") && ident == "KBTV" {
			fmt.Fprint(w, `[{"icaoId":"KBTV","rawOb":"METAR KBTV 151253Z 00000KT 10SM CLR M31/M35 A3012"}]`)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	defer awc.Close()
	dir := t.TempDir()
	config := filepath.Join(dir, "config.yaml")
	if err := os.WriteFile(config, fmt.Appendf(nil, "airports: {path: airports.csv}\nweather: [{kind: awc, url: %q}]\n", awc.URL), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	h := host{stdin: strings.NewReader("KBTV ils 15\nkbtv ils 15\nKASE\n"), stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: func() time.Time { return at }}
	for _, args := range [][]string{
		{"import", "airports", "--partial", "../../testdata/cifp/sample.txt", "../../testdata/airports/airports.csv", "-o", filepath.Join(dir, "airports.csv")},
		{"import", "cifp", "--partial", "--config", config, "../../testdata/cifp/sample.txt"},
		{"chat", "--config", config},
	} {
		if code := run(t.Context(), args, h); code != exitAnswered {
			t.Fatalf("%v: exit %d\n%s%s", args, code, &out, &errs)
		}
	}
	got := strings.Join(strings.Fields(out.String()), " ")
	for _, want := range []string{
		"KBTV ils 15, −31 °C: required or not: not known",
		"No restriction temperature is known for KBTV",
		"No weather source has an observation of KASE",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not said:\n%s", want, &out)
		}
	}
	if n := asked.Load(); n != 2 {
		t.Errorf("the service was asked %d times; once a station", n)
	}
}
