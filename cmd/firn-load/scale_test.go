package main

import (
	"os"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/installed"
	"firn/bot/config"
)

// asShipped has firn built without C where .ci/run has done so already, so that
// nothing is compiled anew; elsewhere it is what the tests were compiled from.
func asShipped(t *testing.T) {
	if os.Getenv(installed.All) == "1" {
		t.Setenv("CGO_ENABLED", "0")
	}
}

func TestWorld(t *testing.T) {
	w := newWorld(mostBases, 20, time.Date(2026, 1, 15, 6, 0, 0, 0, time.UTC))
	seen := map[string]bool{}
	cold := 0
	for i, ident := range w.idents {
		if len(ident) != 4 || ident[0] != 'X' || seen[ident] {
			t.Fatalf("base %d is called %q", i, ident)
		}
		seen[ident] = true
		if w.isCold(i) {
			cold++
		}
	}
	if cold != w.coldBases() {
		t.Errorf("%d bases are cold, want %d", cold, w.coldBases())
	}
	cfg, err := config.Parse("config.yaml", []byte(newWorld(50, 20, w.due).config()), config.Known{Rules: []string{"faa-all-segments"}})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(cfg.Stations); n != 50 || cfg.Stations[7].Watch == nil {
		t.Errorf("%d stations", n)
	}
}

// TestScale runs the whole of it small: two bases, a few messages.
func TestScale(t *testing.T) {
	asShipped(t)
	p, err := newProgram(t.Context(), "sqlite", "")
	if err != nil {
		t.Fatal(err)
	}
	defer p.close()
	w := newWorld(2, 50, time.Now().Add(-time.Minute))
	s := &scaling{}
	st, err := p.start(t.Context(), w, 20)
	if err != nil {
		t.Fatal(err)
	}
	defer st.stop()
	if err := pace(t.Context(), 100, 40, st.say); err != nil {
		t.Fatal(err)
	}
	st.asked.settle(time.Minute)
	if !st.slack.Wait(time.Minute, func() bool { posted, _ := st.lags.counts(); return posted == 1 }) {
		t.Error("the alert was not posted")
	}
	figures, err := scrape(t.Context(), st.page)
	if err != nil {
		t.Fatal(err)
	}
	size, err := st.size(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if live(figures) <= 0 || size.all <= 0 || size.of(ofAlerts...) <= 0 {
		t.Errorf("figures: live %v, store %+v", live(figures), size)
	}
	file := p.dir + "/procedures.txt"
	if err := w.procedures(p.root, file, 500); err != nil {
		t.Fatal(err)
	}
	m := s.result(st, &rooms{}, size, size, 1, 1, figures, nil, 0, time.Second, 0, p.imports(t.Context(), st, file), 100)
	if got := strings.Split(m.line(), "\t"); len(got) != len(columns) || got[5] != "0" || got[8] != "1" || got[9] != "0" {
		t.Errorf("the line is %q", got)
	}
	for _, n := range m.notes {
		if strings.Contains(n, "import") || strings.Contains(n, "refused") {
			t.Error(n)
		}
	}
}
