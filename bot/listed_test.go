package bot

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// listing is a bot with one station of its own, beside a list of fields.
func listing(t *testing.T) *Bot {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("x.yaml", []byte("stations: [{ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, mountainous: true, lat: 46.9, lon: -114}]"), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	day := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	by := airports.Edition{Source: "cold.csv", Date: day(2026, 1, 22), Until: day(2027, 1, 21)}
	from := airports.Edition{Source: "CIFP 2612", Date: day(2026, 11, 26)}
	d, err := airports.NewDirectory([]airports.Airport{
		{Ident: "XABC", Name: "Abbeyfell", Elevation: 900, HasElevation: true, Lat: 47, Lon: -113, HasPlace: true, From: from, Restriction: -19, Restricted: true, RestrictedBy: by},
		{Ident: "XOPN", Name: "Openfell", Elevation: 1200, HasElevation: true, Lat: 48, Lon: -113, HasPlace: true, From: from, Mountainous: airports.No},
		{Ident: "2X3", Restriction: -30, Restricted: true, RestrictedBy: by},
		{Ident: "SAME", Name: "Samefell", Elevation: 2000, HasElevation: true, From: from},
		{Ident: "XOFF", Name: "Offmoor", Elevation: 2000, HasElevation: true, From: from},
	})
	if err != nil {
		t.Fatal(err)
	}
	cfg.Know(d)
	b, err := New(slog.New(slog.DiscardHandler), cfg, sets)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func said(t *testing.T, b *Bot, at time.Time, text string) reply.Reply {
	t.Helper()
	r, err := b.Handle(t.Context(), Message{Surface: "console", Text: text, At: at})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

var beforeEnd, afterEnd = time.Date(2026, 12, 1, 12, 0, 0, 0, time.UTC), time.Date(2027, 2, 1, 12, 0, 0, 0, time.UTC)

// TestFieldOfAList: a field that nobody configured answers as one that
// somebody did, and says what nobody knows of it.
func TestFieldOfAList(t *testing.T) {
	t.Parallel()
	b := listing(t)
	for _, c := range []struct {
		name, text string
		at         time.Time
		required   reply.OptBool
		ident      string
		notes      string
	}{
		{"restricted", "XABC -25 3000", beforeEnd, reply.Yes, "XABC", ""},
		{"restricted, and not as cold", "xabc -18 3000", beforeEnd, reply.No, "XABC", ""},
		{"its list has ended", "XABC -25 3000", afterEnd, reply.Yes, "XABC", "The list that the restriction of XABC came from, cold.csv of 22 Jan 2026, ended on 20 Jan 2027"},
		{"on no list of restricted ones", "XOPN -38 3000", beforeEnd, reply.NotApplicable, "XOPN", "No restriction temperature is known for XOPN"},
		{"nor when it is warm", "XOPN +20", beforeEnd, reply.NotApplicable, "XOPN", "No restriction temperature is known for XOPN"},
		{"its elevation is typed", "2X3 -31 3000, elev 1400", beforeEnd, reply.Yes, "2X3", ""},
		{"mountains are not known", "XABC -5 3000 strict", beforeEnd, reply.Yes, "XABC", "Whether XABC lies in designated mountainous terrain is not known: the rule is taken as if it did."},
		{"mountains are known not to be", "XOPN FAF 3000 -5 strict", beforeEnd, reply.NotApplicable, "XOPN", "No restriction temperature is known for XOPN"},
		{"nor are they without a station", "elev 900 -5 FAF 3000 strict", beforeEnd, reply.Yes, "", "Whether the field lies in designated mountainous terrain is not known"},
		{"where no rule asks nothing is said", "XKLD -38 8200", beforeEnd, reply.Yes, "XKLD", ""},
		{"a word of the trade stays one", "same", beforeEnd, reply.NotApplicable, "", ""},
		{"a word beside a station stays one", "xoff please XKLD -38 8200", beforeEnd, reply.Yes, "XKLD", "Not used: xoff."},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r := said(t, b, c.at, c.text)
			notes := strings.Join(r.Notes, " ")
			if r.Required != c.required || r.Station.Ident != c.ident || !strings.Contains(notes, c.notes) || (notes == "") != (c.notes == "") {
				t.Errorf("got required %v, %q, notes %q; %+v", r.Required, r.Station.Ident, notes, r.Problem)
			}
			if c.required == reply.NotApplicable && strings.Contains(strings.ToLower(r.Headline+strings.Join(r.Facts, " ")), "no correction") {
				t.Errorf("nobody knows that, and it says %q, %q", r.Headline, r.Facts)
			}
		})
	}
	r := said(t, b, beforeEnd, "2X3 -31 3000")
	if r.Problem == nil || !strings.Contains(r.Problem.Text, "The field elevation of 2X3 is on no list") {
		t.Errorf("got %+v", r.Problem)
	}
	if r = said(t, b, beforeEnd, "XABD -31 3000"); r.Problem == nil || !strings.Contains(r.Problem.Text, "XABC") {
		t.Errorf("got %+v", r.Problem)
	}
	if r = said(t, b, beforeEnd, "abeyfell -31 3000"); r.Problem == nil || !strings.Contains(r.Problem.Text, "XABC") {
		t.Errorf("got %+v", r.Problem)
	}
	r = said(t, b, beforeEnd, "XABC -25 3000")
	if !strings.Contains(strings.Join(r.Facts, " "), "XABC is not configured: elevation by CIFP 2612 of 26 Nov 2026.") {
		t.Errorf("got %q", r.Facts)
	}
	r = said(t, b, beforeEnd, "route min 9000 XABC -25")
	if facts := strings.Join(r.Facts, " "); !strings.Contains(facts, "Whether it is over mountains is not known") || !r.Route.Strict {
		t.Errorf("got %q", facts)
	}
}

// TestFinding: by distance, by what is restricted, by name, over the
// configuration and its list.
func TestFinding(t *testing.T) {
	t.Parallel()
	b := listing(t)
	idents := func(r reply.Reply) string {
		var all []string
		for _, f := range r.Stations {
			all = append(all, f.Ident)
		}
		return strings.Join(all, " ")
	}
	for _, c := range []struct {
		text   string
		at     time.Time
		idents string
		says   string
	}{
		{"stations cold -25 within 200 NM of XKLD", beforeEnd, "XKLD XABC", "2 stations restricted at −25 °C within 200 NM of XKLD."},
		{"stations cold -20 within 200 NM of XKLD", beforeEnd, "XABC", "1 station restricted"},
		{"stations cold -25 within 30 NM of XKLD", beforeEnd, "XKLD", "1 station restricted"},
		{"stations cold -18 near XKLD", beforeEnd, "", "No station restricted at −18 °C within 200 NM of XKLD is known."},
		{"stations cold -25 near XKLD", afterEnd, "XKLD XABC", "The list of restricted airports cold.csv of 22 Jan 2026 has ended"},
		{"stations cold -30", beforeEnd, "XKLD 2X3 XABC", "3 stations restricted at −30 °C."},
		{"near XKLD", beforeEnd, "XABC XOPN", "2 stations near XKLD."},
		{"stations within 50 NM of XKLD", beforeEnd, "XABC", "1 station within 50 NM of XKLD."},
		{"stations openf", beforeEnd, "XOPN", "1 station like “openf”."},
		{"stations openfel", beforeEnd, "XOPN", "1 station"},
	} {
		r := said(t, b, c.at, c.text)
		if facts := strings.Join(r.Facts, " "); r.Kind != reply.KindStations || idents(r) != c.idents || !strings.Contains(facts, c.says) {
			t.Errorf("%q: got %q, %q; %+v", c.text, idents(r), facts, r.Problem)
		}
	}
	r := said(t, b, beforeEnd, "near XKLD")
	if f := r.Stations[0]; f.DistanceNM.Value != 41 || f.RestrictionC.Value != -19 || !f.Listed || r.Sections[0].Lines[1] != "XOPN Openfell, 77 NM, 1200 ft, no restriction temperature known" {
		t.Errorf("got %+v, %q", f, r.Sections[0].Lines)
	}
	if r = said(t, b, beforeEnd, "near SAME"); r.Problem == nil {
		t.Errorf("got %q", r.Facts)
	}
}

// coded has two approaches of each station.
type coded struct{}

func (coded) Procedures(_ context.Context, ident string) ([]approach.Approach, error) {
	return []approach.Approach{{Ident: ident, Name: "ils 31"}, {Ident: ident, Name: "rnav y 31"}, {Ident: ident, Name: "rnav z 31"}, {Ident: ident, Name: "vor a"}}, nil
}

// Procedures are offered of configured stations and of those that a list alone
// knows, and of nothing else.
func TestOfferProcedures(t *testing.T) {
	t.Parallel()
	b := listing(t)
	for _, c := range []struct {
		station, typed string
		n              int
		want           string
	}{
		{"XKLD", "", 25, "[ils 31 rnav y 31 rnav z 31 vor a]"},
		{"kaldmoor", "RNAV", 25, "[rnav y 31 rnav z 31]"},
		{"XABC", "31 z", 25, "[rnav z 31]"},
		{" xabc ", "na", 25, "[rnav y 31 rnav z 31]"},
		{"XABC", "", 2, "[ils 31 rnav y 31]"},
		{"XABC", "ndb", 25, "[]"},
		{"XZZZ", "", 25, "[]"},
		{"", "", 25, "[]"},
	} {
		b.Use(Ports{Procedures: coded{}})
		var got []string
		all, err := b.OfferProcedures(t.Context(), c.station, c.typed, c.n)
		for _, o := range all {
			got = append(got, o.Value)
		}
		if fmt.Sprint(got) != c.want || err != nil {
			t.Errorf("of %q, typed %q: %v, %v, want %s", c.station, c.typed, got, err, c.want)
		}
	}
	b.Use(Ports{})
	if all, err := b.OfferProcedures(t.Context(), "XKLD", "", 25); all != nil || err != nil {
		t.Errorf("without procedures: %v, %v", all, err)
	}
}
