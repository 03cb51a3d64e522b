package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/adapters/console"
	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
	"firn/cmd/wiring"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
)

// alertOf is the morning's word for the golden base with a low, of the demo's
// chart whose barometric line ends at −28 °C.
func alertOf(t *testing.T, a *txtar.Archive, low float64, state coldwatch.State) reply.Reply {
	t.Helper()
	dir := t.TempDir()
	for _, f := range a.Files {
		if f.Name == "config.yaml" || strings.Contains(f.Name, "/") {
			if err := makeFile(filepath.Join(dir, f.Name), f.Data); err != nil {
				t.Fatal(err)
			}
		}
	}
	s, err := wiring.New(t.Context(), host{stderr: &bytes.Buffer{}}.wiring(), wiring.Wanted{Places: wiring.Places{Config: filepath.Join(dir, "config.yaml")}, Now: func() time.Time { return goldenTime }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	st, _ := s.Loaded.Station("XKLD")
	all, err := s.Procedures(t.Context(), "XKLD")
	if err != nil {
		t.Fatal(err)
	}
	p, one := approach.Find(all, "rnav 31").One()
	if !one {
		t.Fatal("the base's procedure is not stored")
	}
	at := goldenTime.Add(3 * time.Hour)
	return reply.Alert(reply.AlertScene{
		Base: reply.Scene{Ident: st.Ident, Name: st.Name, Elevation: st.Elevation, Source: st.HeightsFrom(), Restriction: *st.Restriction, Restricted: true, Set: s.Bot().Rules()},
		Zone: st.Zone, Segments: []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}, Mountainous: true, Margin: 3,
		Usual: []reply.UsualProcedure{s.Bot().Usual(st, p)},
		Kind:  "opened", Day: "2026-01-25", Window: coldwatch.Window{From: goldenTime, To: goldenTime.Add(12 * time.Hour)},
		Judgement: coldwatch.Judgement{State: state, Low: engine.Celsius(low), LowAt: at, HoursKnown: true, BelowFrom: at.Add(-time.Hour), BelowTo: at.Add(time.Hour),
			Restriction: *st.Restriction, CoveredFrom: goldenTime, CoveredTo: goldenTime.Add(12 * time.Hour), Source: "hourly forecast", Issued: goldenTime.Add(-time.Hour)},
		Due: goldenTime, Now: goldenTime,
	})
}

// The stop of a passed barometric limit comes first in an alert, before any
// figure, on every surface, and is in what a locked screen shows; also where it
// is warmer than the restriction temperature.
func TestAlertWithAStop(t *testing.T) {
	const name = "../../testdata/alert/baro_limit.txtar"
	a, err := txtar.ParseFile(name)
	if err != nil {
		t.Fatal(err)
	}
	const stop = "rnav 31: Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."
	for low, state := range map[float64]coldwatch.State{-31: coldwatch.Below, -28.5: coldwatch.Near} {
		r := alertOf(t, a, low, state)
		d := present.Of(r)
		if s, ok := d.Short[1].(present.Stop); !ok || s.Text != stop {
			t.Errorf("%v: the second block is %+v, want the stop", low, d.Short[1])
		}
		if !strings.Contains(d.Notice, "Baro LNAV/VNAV NA below −28") {
			t.Errorf("%v: a locked screen shows %q, without the stop", low, d.Notice)
		}
	}
	if r := alertOf(t, a, -28, coldwatch.Below); len(r.Stops) > 0 {
		t.Errorf("exactly at the limit: %+v", r.Stops)
	}
	r := alertOf(t, a, -31, coldwatch.Below)
	var text bytes.Buffer
	if err := console.Render(&text, r, console.Style{}); err != nil {
		t.Fatal(err)
	}
	shown := map[string][]byte{"console.txt": text.Bytes(), "slack.txt": onSlack(t, chat.Message{Reply: r}), "discord.txt": onDiscord(t, chat.Message{Reply: r}), "page.txt": onPage(t, chat.Message{Reply: r})}
	out := &txtar.Archive{Comment: a.Comment}
	for _, f := range a.Files {
		if _, ok := shown[f.Name]; !ok {
			out.Files = append(out.Files, f)
		}
	}
	for _, surface := range []string{"console.txt", "slack.txt", "discord.txt", "page.txt"} {
		out.Files = append(out.Files, txtar.File{Name: surface, Data: shown[surface]})
		one := strings.Join(strings.Fields(string(shown[surface])), " ")
		at, first := strings.Index(one, "Baro LNAV/VNAV NA"), strings.Index(one, "add ")
		if at < 0 || first >= 0 && first < at {
			t.Errorf("%s: the stop is not before the figures:\n%s", surface, shown[surface])
		}
	}
	if *update {
		if err := os.WriteFile(name, txtar.Format(out), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if got := txtar.Format(out); !bytes.Equal(got, txtar.Format(a)) {
		t.Errorf("the alert differs; got\n%s", got)
	}
}
