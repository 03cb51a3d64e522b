package watch_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/bot/present"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

var update = flag.Bool("update", false, "write the golden alerts anew; read the difference before you commit it")

// TestGoldenAlerts holds what people read of a base's day, post by post.
func TestGoldenAlerts(t *testing.T) {
	minimum := func(issued time.Time, at time.Time) []weather.Forecast {
		f := weather.Forecast{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "TAF", Issued: issued, ValidFrom: six.Add(-time.Hour), ValidTo: six.Add(23 * time.Hour)}}
		f.Minimums = []coldwatch.Sample{{At: at, C: -31}}
		return []weather.Forecast{f}
	}
	for _, tt := range []struct {
		name, about string
		do          func(*stage)
	}{
		{"below", "The hours are known; nobody acknowledges; the cold goes by.", func(s *stage) {
			s.says = curve(at(-50), -20, -29, -31.4, -30, -26, -12)
			s.run(0, 310)
		}},
		{"minimum", "A TAF has only its minimum; acknowledged; amended by a colder one; closed with the window.", func(s *stage) {
			s.says = minimum(at(-80), at(60))
			s.run(0, 12)
			s.acknowledge(true)
			s.says = curve(at(20), -31, -35, -35, -35, -20)
			s.run(13, 720)
		}},
		{"bound", "The minimum is forecast for before the window.", func(s *stage) {
			s.says = minimum(at(-80), at(-60))
			s.run(0, 0)
		}},
		{"estimated", "A TAF has a minimum and a maximum: the hours are estimated; a newer one moves them; closed with the window.", func(s *stage) {
			s.says = minimum(at(-80), at(60))
			s.says[0].Maximums = []coldwatch.Sample{{At: at(8 * 60), C: -19}}
			s.run(0, 12)
			s.acknowledge(true)
			s.says = minimum(at(20), at(3*60))
			s.says[0].Maximums = []coldwatch.Sample{{At: at(-5 * 60), C: -17}, {At: at(11 * 60), C: -19}}
			s.run(13, 40)
			s.acknowledge(true)
			s.run(41, 720)
		}},
		{"part", "The forecast ends before the window does; what it had is over; the day ends not known.", func(s *stage) {
			s.says = part(at(-50), -23, 0, 4)
			s.run(0, 12)
			s.acknowledge(true)
			s.run(13, 241)
			s.acknowledge(true)
			s.run(242, 720)
		}},
		{"ended", "The window ends in the cold.", func(s *stage) {
			s.says = curve(at(-50), -31)
			s.run(0, 12)
			s.acknowledge(true)
			s.run(13, 720)
		}},
		{"near", "Near, and quiet.", func(s *stage) {
			s.says = curve(at(-50), -20, -23)
			s.run(0, 100)
		}},
		{"quiet", "The daily word that nothing is below the line.", func(s *stage) {
			s.set.DailyQuiet = true
			s.restart()
			s.run(0, 100)
		}},
		{"no_forecast", "The source fails; escalated; a forecast comes back.", func(s *stage) {
			s.says, s.err = nil, errDown
			s.run(0, 80)
			s.says, s.err = curve(at(80), -10, -10, -10, -27), nil
			s.run(81, 91)
			s.says = curve(at(91), -10)
			s.run(92, 121)
		}},
		{"late", "Down until 09:15; two sources disagree.", func(s *stage) {
			s.says = append(curve(at(-50), -26), curve(at(-800), -33)...)
			s.says[1].Source = "folder"
			s.run(195, 195)
		}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := newStage(t)
			tt.do(s)
			got := &txtar.Archive{Comment: []byte(tt.about + "\n\n")}
			for _, c := range s.posts() {
				name := strings.TrimPrefix(c.Key, "alert/XKLD/2026-01-15/") + " to " + c.Channel
				got.Files = append(got.Files, txtar.File{Name: name, Data: words(t, c.Body)})
			}
			file := filepath.Join("testdata", "alert", tt.name+".txtar")
			if *update {
				if err := os.WriteFile(file, txtar.Format(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if text := txtar.Format(got); !bytes.Equal(text, want) {
				t.Errorf("%s differs; got\n%s\nwant\n%s", file, text, want)
			}
		})
	}
}

// words is a reply as plain lines, with its contract form behind.
func words(t *testing.T, r reply.Reply) []byte {
	t.Helper()
	var b bytes.Buffer
	if r.Headline != "" {
		fmt.Fprintf(&b, "# %s\n", r.Headline)
	}
	for _, f := range r.Facts {
		fmt.Fprintln(&b, f)
	}
	for _, f := range present.Of(r).More {
		for _, of := range f.Blocks {
			switch of := of.(type) {
			case present.Table:
				fmt.Fprintf(&b, "%s, %s:\n  %s\n", f.Title, of.Title, strings.Join(of.Lines(present.RowMost), "\n  "))
			case present.List:
				if f.ID == "expected" {
					fmt.Fprintf(&b, "%s. %s:\n  %s\n", f.Title, of.Title, strings.Join(of.Lines, "\n  "))
				}
			}
		}
	}
	for _, c := range r.Cautions {
		fmt.Fprintf(&b, "(%s) %s\n", c.Code, c.Text)
	}
	for _, a := range r.Actions {
		fmt.Fprintf(&b, "[%s: %s]\n", a.Label, a.Message)
	}
	if r.Source != "" {
		fmt.Fprintln(&b, r.Source)
	}
	contract, err := json.Marshal(r.Alert)
	if err != nil {
		t.Fatal(err)
	}
	return append(append(b.Bytes(), contract...), '\n')
}
