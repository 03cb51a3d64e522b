package folder

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

var noon = time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC)

// drop is a folder with a clock that the test moves.
type drop struct {
	*Source
	dir string
	now time.Time
	log bytes.Buffer
}

func open(t *testing.T, change func(*Options)) *drop {
	t.Helper()
	d := &drop{dir: t.TempDir(), now: noon}
	o := Options{Dir: d.dir, Now: func() time.Time { return d.now }, Log: slog.New(slog.NewTextHandler(&d.log, nil))}
	if change != nil {
		change(&o)
	}
	s, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	d.Source = s
	return d
}

// put writes a file as of a time and lets a second pass.
func (d *drop) put(t *testing.T, name, text string, modified time.Time) {
	t.Helper()
	path := filepath.Join(d.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(path, modified, modified); err != nil {
		t.Fatal(err)
	}
	d.now = d.now.Add(time.Second)
}

func (d *drop) want(t *testing.T, what, ident string, c engine.Celsius) {
	t.Helper()
	if o, err := d.Observation(t.Context(), ident); err != nil || o.C != c {
		t.Errorf("%s: got %+v, %v, want %v", what, o, err, c)
	}
}

func TestSuite(t *testing.T) {
	t.Parallel()
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		d := open(t, nil)
		d.put(t, "a.txt", "METAR XKLD 251153Z M38/M42\nTAF XKLD 251100Z 2512/2612 TXM22/2518Z\n   TNM31/2610Z=\n", noon)
		// A folder that has gone, and a file that cannot be read.
		gone := open(t, nil)
		gone.put(t, "big.txt", strings.Repeat("x", 2<<20), noon)
		return weathertest.Fixture{Source: d, Now: d.now, Observed: "XKLD", Foreseen: "XKLD", Unknown: "XRUN", Broken: gone, Secrets: []string{gone.dir}}
	})
}

func TestFilesComeChangeAndGo(t *testing.T) {
	t.Parallel()
	d := open(t, nil)
	if _, err := d.Observation(t.Context(), "XKLD"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("an empty folder: got %v", err)
	}
	d.put(t, "a.txt", "METAR XKLD 251053Z M30/M33\n", noon)
	d.want(t, "a file comes", "XKLD", -30)
	d.put(t, "B.TXT", "METAR XKLD 251153Z M38/M42\n", noon)
	d.want(t, "a newer report in another", "XKLD", -38)
	d.put(t, "B.TXT", "METAR XKLD 251155Z M39/M42\n", noon.Add(time.Minute))
	d.want(t, "it changes", "XKLD", -39)
	d.put(t, "B.TXT", "METAR COR XKLD 251155Z M40/M42\n", noon.Add(time.Minute))
	d.want(t, "it changes in size alone", "XKLD", -40)
	if err := os.Remove(filepath.Join(d.dir, "B.TXT")); err != nil {
		t.Fatal(err)
	}
	d.want(t, "within the second", "XKLD", -40)
	d.now = d.now.Add(time.Second)
	d.want(t, "it goes", "XKLD", -30)
	// An idle folder is not read again: the same board.
	before := d.board
	d.now = d.now.Add(time.Minute)
	d.want(t, "idle", "XKLD", -30)
	if d.board != before {
		t.Error("read again although nothing has changed")
	}
	if err := os.RemoveAll(d.dir); err != nil {
		t.Fatal(err)
	}
	d.now = d.now.Add(time.Second)
	if _, err := d.Observation(t.Context(), "XRUN"); err == nil {
		t.Error("no folder any more: want an error")
	}
}

// TestMonth: a report is of the month in which its file was last written.
func TestMonth(t *testing.T) {
	t.Parallel()
	d := open(t, nil)
	d.put(t, "old.txt", "METAR XKLD 251053Z M30/M33\n", noon.AddDate(0, -1, 0))
	if o, err := d.Observation(t.Context(), "XKLD"); err != nil || o.At.Format(time.DateOnly) != "2025-12-25" {
		t.Errorf("a file of last month: got %+v, %v", o, err)
	}
	d.put(t, "ahead.txt", "METAR XRUN 251153Z M30/M33\n", noon.AddDate(1, 0, 0))
	if o, err := d.Observation(t.Context(), "XRUN"); err != nil || o.At.Format(time.DateOnly) != "2026-01-25" {
		t.Errorf("a file of next year: got %+v, %v", o, err)
	}
}

func TestCancelled(t *testing.T) {
	t.Parallel()
	d := open(t, nil)
	d.put(t, "a.txt", "TAF XKLD 251100Z 2512/2612 TNM31/2610Z\n", noon)
	if f, err := d.Forecast(t.Context(), "XKLD"); err != nil || len(f.Minimums) != 1 {
		t.Errorf("got %+v, %v", f, err)
	}
	d.put(t, "b.txt", "TAF AMD XKLD 251140Z 2512/2612 CNL\n", noon)
	if f, err := d.Forecast(t.Context(), "XKLD"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("got %+v, %v, want ErrNone", f, err)
	}
}

// TestNothingOutside: links and names that lead out of the folder.
func TestNothingOutside(t *testing.T) {
	t.Parallel()
	outside := filepath.Join(t.TempDir(), "secret.txt")
	if err := os.WriteFile(outside, []byte("METAR XSEC 251153Z M38/M42\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	d := open(t, nil)
	relative, err := filepath.Rel(d.dir, outside)
	if err != nil {
		t.Fatal(err)
	}
	for name, target := range map[string]string{"absolute.txt": outside, "relative.txt": relative, "folder.txt": filepath.Dir(outside), "dangling.txt": "nowhere", "self.txt": "self.txt", "inside.txt": "real.dat"} {
		if err := os.Symlink(target, filepath.Join(d.dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Mkdir(filepath.Join(d.dir, "sub.txt"), 0o755); err != nil {
		t.Fatal(err)
	}
	d.put(t, "real.dat", "METAR XRUN 251153Z M30/M33\n", noon)
	d.put(t, "a.txt", "METAR XKLD 251153Z M38/M42\n", noon)
	d.want(t, "the others are used", "XKLD", -38)
	d.want(t, "a link inside the folder", "XRUN", -30)
	if o, err := d.Observation(t.Context(), "XSEC"); err == nil || errors.Is(err, weather.ErrNone) {
		t.Errorf("outside the folder: got %+v, %v", o, err)
	}
	problems, err := d.Problems(t.Context())
	if err != nil || len(problems) != 5 {
		t.Errorf("got %q, %v, want the five bad links", problems, err)
	}
	for _, p := range problems {
		if strings.Contains(p.Error(), filepath.Dir(outside)) {
			t.Errorf("tells where it leads: %v", p)
		}
	}
	if n := strings.Count(d.log.String(), "level=WARN"); n != 1 {
		t.Errorf("logged %d times:\n%s", n, d.log.String())
	}
}

func TestLimits(t *testing.T) {
	t.Parallel()
	d := open(t, func(o *Options) { o.MaxBytes, o.MaxFiles = 100, 3 })
	d.put(t, "a.txt", "METAR XKLD 251153Z M38/M42\n", noon)
	d.put(t, "big.txt", "METAR XRUN 251153Z M38/M42\n"+strings.Repeat("#", 100), noon)
	d.want(t, "beside a large file", "XKLD", -38)
	problems, err := d.Problems(t.Context())
	if e, ok := errors.AsType[*UnreadError](errors.Join(problems...)); err != nil || len(problems) != 1 || !ok || e.File != "big.txt" {
		t.Errorf("got %q, %v", problems, err)
	}
	for i := range 5 {
		d.put(t, fmt.Sprintf("more%d.txt", i), "#\n", noon)
	}
	problems, err = d.Problems(t.Context())
	if err != nil || !strings.Contains(errors.Join(problems...).Error(), "more than 3 entries") {
		t.Errorf("got %q, %v", problems, err)
	}
}

// TestOddFiles: text that is no weather harms nothing.
func TestOddFiles(t *testing.T) {
	t.Parallel()
	d := open(t, nil)
	d.put(t, "README.txt", "Drop METAR and TAF here.\nTAF files too.\n", noon)
	d.put(t, "binary.txt", "\xff\xfe\x00METAR XKLD\x00", noon)
	d.put(t, "bom.txt", "\ufeffMETAR XKLD 251153Z M38/M42\r\n", noon)
	d.put(t, "broken.txt", "METAR XRUN 999999Z M38/M42\nMETAR XSLT 251150Z 01/M01\n", noon)
	d.put(t, "note.md", "METAR XFRN 251153Z M38/M42\n", noon)
	d.put(t, ".hidden.txt", "METAR XFRN 251153Z M38/M42\n", noon)
	d.want(t, "byte order mark", "XKLD", -38)
	d.want(t, "beside a broken report", "XSLT", 1)
	if o, err := d.Observation(t.Context(), "XRUN"); err == nil || errors.Is(err, weather.ErrNone) {
		t.Errorf("the broken one: got %+v, %v", o, err)
	}
	if o, err := d.Observation(t.Context(), "XFRN"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("files of another name: got %+v, %v", o, err)
	}
	problems, _ := d.Problems(t.Context())
	if !strings.Contains(errors.Join(problems...).Error(), `file "broken.txt", line 1`) {
		t.Errorf("got %q", problems)
	}
}

func TestNoFolder(t *testing.T) {
	t.Parallel()
	if _, err := New(Options{Dir: filepath.Join(t.TempDir(), "none")}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("got %v", err)
	}
}

func TestRender(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, time.January, 31, 20, 40, 0, 0, time.UTC)
	for _, c := range []struct {
		text string
		taf  bool
		want string // empty: an error
	}{
		{"METAR XKLD {DDHHMM-7m}Z", false, "METAR XKLD 311953Z"},
		{"METAR XKLD {DDHHMM}Z", false, "METAR XKLD 312000Z"},
		{"TAF XKLD {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} TNM31/{DD}{HH+9h}Z", true, "TAF XKLD 311730Z 3112/0118 TNM31/3103Z"},
		{"METAR XKLD {DDHHMM-7d}Z", false, ""},
		{"METAR XKLD {now}Z", false, ""},
		{"METAR XKLD 251153Z }", false, ""},
	} {
		got, err := render(weather.Report{Text: c.text, Taf: c.taf}, now)
		if got != c.want || (c.want == "") != (err != nil) {
			t.Errorf("%q: got %q, %v, want %q", c.text, got, err, c.want)
		}
	}
}

// TestDemo: the folder of the example configuration is fresh at any hour of
// a year, and each day's duty window has a minimum in it whenever the program
// is started during the window.
func TestDemo(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, time.January, 1, 0, 0, 1, 0, time.UTC)
	s, err := New(Options{Dir: "../../testdata/demo-weather", Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = s.Close() })
	// The restriction temperatures are those of the example configuration.
	bases := map[string]struct {
		restriction, low engine.Celsius
		state            coldwatch.State
	}{
		"XKLD": {-25, -31, coldwatch.Below},
		"XRUN": {-20, -18, coldwatch.Near},
		"XGLN": {-15, -19, coldwatch.Below},
		"XSLT": {-12, -2, coldwatch.Clear},
		"XFRN": {-22, -26, coldwatch.Below},
		"XPBR": {-8, -6, coldwatch.Near},
		"XTAR": {-14, -17, coldwatch.Below},
	}
	for range 500 {
		if problems, err := s.Problems(t.Context()); err != nil || len(problems) > 0 {
			t.Fatalf("%v: %q, %v", now, problems, err)
		}
		for ident, b := range bases {
			o, err := s.Observation(t.Context(), ident)
			if age := now.Sub(o.At); err != nil || age < 0 || age > weather.StaleAfter || o.Source != "METAR (demo)" {
				t.Fatalf("%v: %+v, %v", now, o, err)
			}
			f, err := s.Forecast(t.Context(), ident)
			if err != nil || f.Issued.After(now) || now.Sub(f.Issued) > 7*time.Hour || f.ValidFrom.After(now) || f.ValidTo.Sub(now) < 18*time.Hour || f.Source != "TAF (demo)" {
				t.Fatalf("%v: %+v, %v", now, f, err)
			}
			// Started x hours into a window of twelve.
			for x := range 12 {
				from := now.Add(-time.Duration(x) * time.Hour)
				w := coldwatch.Window{From: from, To: from.Add(12 * time.Hour)}
				j := coldwatch.Judge(w, coldwatch.Line{Restriction: b.restriction, Margin: 3}, &f.Forecast)
				if j.Low != b.low || j.Bound(w) {
					t.Fatalf("%v, %s, from %v: %+v", now, ident, from, j)
				}
				// What is left of it, and of one of a day, is covered.
				for _, hours := range []int{12, 24} {
					w = coldwatch.Window{From: now, To: from.Add(time.Duration(hours) * time.Hour)}
					if j := coldwatch.Judge(w, coldwatch.Line{Restriction: b.restriction, Margin: 3}, &f.Forecast); j.State != b.state {
						t.Fatalf("%v, %s, %d hours from %v: %+v", now, ident, hours, from, j)
					}
				}
			}
		}
		if o, err := s.Observation(t.Context(), "XHGH"); err != nil || o.C != -21 {
			t.Fatalf("XHGH: %+v, %v", o, err)
		}
		if f, err := s.Forecast(t.Context(), "XHGH"); !errors.Is(err, weather.ErrNone) {
			t.Fatalf("XHGH has a forecast: %+v, %v", f, err)
		}
		now = now.Add(17*time.Hour + 11*time.Minute)
	}
}
