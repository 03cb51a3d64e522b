package bases_test

import (
	"errors"
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/bases"
	"firn/bot/config"
	"firn/bot/testkit/storetest"
)

var now = time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC)

// watcher notes what it is to watch.
type watcher struct{ all []config.Station }

func (w *watcher) Watch(all []config.Station) { w.all = all }

func (w *watcher) idents() string {
	var all []string
	for _, s := range w.all {
		all = append(all, s.Ident)
	}
	return strings.Join(all, " ")
}

// unit is a process on a store.
type unit struct {
	*bases.Keeper
	cfg     *config.Config
	watch   *watcher
	changed int
}

func newUnit(t *testing.T, s bases.Store) *unit {
	t.Helper()
	cfg, err := config.Parse("x.yaml", []byte(`
slack: {channels: [C01]}
stations:
  - {ident: XKLD, elevation_ft: 4802, restriction_c: -25, time_zone: America/Edmonton, watch: {at: "05:00"}}
  - {ident: XRUN, elevation_ft: 4380, time_zone: America/Edmonton}
  - {ident: XSLT, elevation_ft: 14}
`), config.Known{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := airports.NewDirectory([]airports.Airport{
		{Ident: "XABC", Name: "Abbeyfell", Elevation: 900, HasElevation: true, Zone: "America/Denver", Restriction: -19, Restricted: true,
			RestrictedBy: airports.Edition{Source: "cold.csv", Date: now.AddDate(-2, 0, 0)}},
		{Ident: "XOPN", Elevation: 900, HasElevation: true},
		{Ident: "2X3", Restriction: -19, Restricted: true, Zone: "America/Denver"},
	})
	if err != nil {
		t.Fatal(err)
	}
	cfg.Know(d)
	u := &unit{cfg: cfg, watch: &watcher{}}
	u.Keeper = bases.New(s, bases.Settings{
		Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return now }, Config: cfg, Watch: u.watch,
		Changed: func() { u.changed++ },
		Served: func(a config.Address) error {
			if a.String() == "slack:C09" {
				return errors.New("slack:C09 is no channel that firn answers in")
			}
			return nil
		},
	})
	if err := u.Refresh(t.Context()); err != nil {
		t.Fatal(err)
	}
	return u
}

func TestAddAndDrop(t *testing.T) {
	t.Parallel()
	s := storetest.NewMemory(func() time.Time { return now })
	here, there := newUnit(t, s), newUnit(t, s)
	if got := here.watch.idents(); got != "XKLD" {
		t.Fatalf("at first %s is watched", got)
	}
	o, err := here.Add(t.Context(), bases.Wish{Ident: "XABC", At: "05:30", Window: 24 * time.Hour, Channel: "slack:C02", Here: "slack:C01", By: "Anna"})
	for _, want := range []string{
		"XABC is watched from now on, added by Anna: daily at 05:30 local (America/Denver), 24 hours ahead, told in slack:C02.",
		"It is restricted at −19 °C.", "The list that the restriction of XABC came from, cold.csv of 1 Dec 2024, ended on 30 Nov 2025",
	} {
		if err != nil || !o.Done || !strings.Contains(o.Text, want) {
			t.Errorf("got %+v, %v; want %q in it", o, err, want)
		}
	}
	st, _ := here.cfg.Station("XABC")
	if here.watch.idents() != "XKLD XABC" || st.Watch == nil || st.Watch.At != (config.TimeOfDay{Hour: 5, Minute: 30}) || st.Watch.Window != 24*time.Hour || st.Watch.Days != config.Daily {
		t.Errorf("watched %s, %+v", here.watch.idents(), st.Watch)
	}
	// The other process follows in its next round, and then changes nothing.
	for range 2 {
		if err := there.Refresh(t.Context()); err != nil || there.watch.idents() != "XKLD XABC" || there.changed != 1 {
			t.Errorf("there: watched %s, %d changes, %v", there.watch.idents(), there.changed, err)
		}
	}
	if o, err = there.Add(t.Context(), bases.Wish{Ident: "XABC", By: "Bo"}); err != nil || o.Done || o.Try != "base drop XABC" {
		t.Errorf("a second time: %+v, %v", o, err)
	}
	if o, err = there.Drop(t.Context(), bases.Wish{Ident: "XABC", Here: "slack:C02", By: "Bo"}); err != nil || !o.Done || o.Text != "XABC is not watched any more, dropped by Bo; it was added by Anna on 1 Dec 2026." {
		t.Errorf("got %+v, %v", o, err)
	}
	if err := here.Refresh(t.Context()); err != nil || here.watch.idents() != "XKLD" {
		t.Errorf("watched %s, %v", here.watch.idents(), err)
	}
	if st, _ := here.cfg.Station("XABC"); st.Watch != nil {
		t.Errorf("it has a watch still: %+v", st.Watch)
	}
	// Told in its channel; where it was asked the answer stands.
	claims, err := s.Claim(t.Context(), now, time.Minute, 9)
	if err != nil || len(claims) != 1 || claims[0].Channel != "slack:C02" || !strings.Contains(claims[0].Body.Facts[0], "XABC is watched from now on") {
		t.Errorf("posts: %+v, %v", claims, err)
	}
}

func TestDefaults(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		wish bases.Wish
		told string
	}{
		{"where it was asked", bases.Wish{Ident: "XABC", Here: "slack:C01"}, "daily at 06:00 local (America/Denver), 12 hours ahead, told in slack:C01."},
		{"here", bases.Wish{Ident: "XABC", Here: "discord:77", Channel: "here"}, "told in discord:77."},
		{"where nobody else reads it", bases.Wish{Ident: "XABC"}, "told where alerts go."},
		{"where firn does not answer", bases.Wish{Ident: "XABC", Here: "slack:C09"}, "told where alerts go."},
		{"a station of the configuration that it does not watch", bases.Wish{Ident: "XRUN"}, "XRUN is watched from now on"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			u := newUnit(t, storetest.NewMemory(func() time.Time { return now }))
			c.wish.By = "Anna"
			if o, err := u.Add(t.Context(), c.wish); err != nil || !o.Done || !strings.Contains(o.Text, c.told) {
				t.Errorf("got %+v, %v; want %q", o, err, c.told)
			}
			if !strings.Contains(u.watch.idents(), c.wish.Ident) {
				t.Errorf("watched: %s", u.watch.idents())
			}
		})
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()
	u := newUnit(t, storetest.NewMemory(func() time.Time { return now }))
	for _, c := range []struct {
		wish bases.Wish
		want string
	}{
		{bases.Wish{Ident: "XKLD"}, "XKLD is a base of the configuration: it is watched at 05:00 local already."},
		{bases.Wish{Ident: "XQQQ"}, "XQQQ is not a station firn knows."},
		{bases.Wish{Ident: "XOPN"}, "The time zone of XOPN is not known"},
		{bases.Wish{Ident: "XSLT"}, "The time zone of XSLT is not known"},
		{bases.Wish{Ident: "2X3"}, "The field elevation of 2X3 is on no list"},
		{bases.Wish{Ident: "XABC", Window: 48 * time.Hour}, "A window is from 1 hour to 36 hours, not 48 hours."},
		{bases.Wish{Ident: "XABC", Channel: "slack:C09"}, "slack:C09 is no channel that firn answers in."},
		{bases.Wish{Ident: "XABC", Channel: "slack:S0123ABCD"}, "slack:S0123ABCD is a group of people"},
		{bases.Wish{Ident: "XABC", Channel: "teams:1"}, `"teams:1" is no channel`},
		{bases.Wish{Ident: "XABC", Channel: "here"}, "“here” is no channel that others read"},
	} {
		if o, err := u.Add(t.Context(), c.wish); err != nil || o.Done || !strings.HasPrefix(o.Text, c.want) {
			t.Errorf("%+v: got %+v, %v; want %q", c.wish, o, err, c.want)
		}
	}
	for ident, want := range map[string]string{"XKLD": "XKLD is a base of the configuration, which alone ends its watch.", "XABC": "XABC is not watched."} {
		if o, err := u.Drop(t.Context(), bases.Wish{Ident: ident}); err != nil || o.Done || o.Text != want {
			t.Errorf("drop %s: got %+v, %v", ident, o, err)
		}
	}
	if got := u.watch.idents(); got != "XKLD" {
		t.Errorf("watched: %s", got)
	}
}
