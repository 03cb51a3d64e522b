package page

import (
	"errors"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
)

func TestFindOf(t *testing.T) {
	now := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	day := func(d time.Time) find { return find{from: d, to: d.AddDate(0, 0, 1)} }
	on := func(m time.Month, d int) find { return day(time.Date(2026, m, d, 0, 0, 0, 0, time.UTC)) }
	for typed, want := range map[string]find{
		"": {}, "today": on(1, 15), "Yesterday": on(1, 14), "2026-01-03": on(1, 3), "3 Jan": on(1, 3), "3.1.": on(1, 3), "03.01.2026": on(1, 3),
		"20 Dec": day(time.Date(2025, 12, 20, 0, 0, 0, 0, time.UTC)), // the last one, not the next
		"xkld":   {station: "XKLD"}, "XZZZ": {station: "XZZZ"}, "anna": {text: "anna"}, "Bo Ek": {text: "Bo Ek"}, "KALOMI": {text: "KALOMI"},
		"Disagreed": {state: record.Disagreed}, "not checked": {state: record.Unchecked}, "out of date": {state: record.Recompute}, "rnav 31": {text: "rnav 31"},
	} {
		if got := findOf(typed, now, func(ident string) bool { return ident == "XKLD" }); got != want {
			t.Errorf("%q is %+v, want %+v", typed, got, want)
		}
	}
}

// TestLogFinds: one field finds a record, a station, a person and a day.
func TestLogFinds(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	kept := recordOf(t, r.open(t, "Cy Dahl", ""), goodLine)
	other := recordOf(t, r.open(t, "Anna", ""), "XRUN -38 FAF 6200")
	r.enters(t, "Bo Ek", kept, "9000", "5470")
	b := r.open(t, "", "")
	differs := recordOf(t, r.open(t, "Dag", ""), "XKLD rnav 31 -38")
	r.enters(t, "Bo Ek", differs, slices.Repeat([]string{"9999"}, 4)...)
	for q, want := range map[string]string{"disagreed": differs, "RNAV 31": differs, "checked": kept, "not checked": other, "rnav 32": ""} {
		text := parse(t, b.get(t, "/log?q="+strings.ReplaceAll(q, " ", "+")).body).id("records").read()
		for _, id := range []string{kept, other, differs} {
			if strings.Contains(text, id) != strings.Contains(want, id) {
				t.Errorf("%q: %s is there: %v\n%s", q, id, strings.Contains(text, id), text)
			}
		}
	}
	for q, want := range map[string]string{
		"xkld": kept + differs, "cy dahl": kept, "bo ek": kept + differs, "XRUN": other, "Anna": other, "today": kept + other + differs, "2001-01-01": "", "nobody": "", strings.ToLower(kept[:5]): kept,
	} {
		text := parse(t, b.get(t, "/log?q="+strings.ReplaceAll(q, " ", "+")).body).id("records").read()
		for _, id := range []string{kept, other} {
			if strings.Contains(text, id) != strings.Contains(want, id) {
				t.Errorf("%q: %s is there: %v\n%s", q, id, strings.Contains(text, id), text)
			}
		}
	}
	for path, want := range map[string]string{"/log?q=%3Cnobody%3E": "No result is found for “<nobody>”.", "/base/XSLT": "There are none."} {
		page := parse(t, b.get(t, path).body)
		if text := strings.ReplaceAll(page.id("records").read(), "\n", ""); !strings.Contains(text, want) {
			t.Errorf("%s says %q, want %q", path, text, want)
		}
		if strings.Contains(page.read(), "All results") {
			t.Errorf("%s offers all of none", path)
		}
	}
	if !strings.Contains(b.get(t, "/base/XRUN").body, "All results for XRUN") {
		t.Error("a base with results does not offer them all")
	}
	if g := b.get(t, "/log?q="+kept); g.url.Path != "/record/"+kept || g.code != http.StatusOK {
		t.Errorf("a record's name leads to %s, %d", g.url, g.code)
	}
}

// TestRecordByState: one main act, by the state; what differs stands first.
func TestRecordByState(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	line := "XKLD -38 IAF 10200, IF 8900, FAF 8200, DA 5340"
	open, checked, disagreed := recordOf(t, r.open(t, "Cy", ""), line), recordOf(t, r.open(t, "Cy", ""), line), recordOf(t, r.open(t, "Cy", ""), line)
	r.enters(t, "Bo Ek", checked, "11000", "9700", "9000", "5470")
	r.enters(t, "Bo Ek", disagreed, "11000", "9700", "9100", "5470")
	b := r.open(t, "", "")
	// What somebody disagrees with is looked at: a warmer figure is not the way out.
	for id, want := range map[string]string{open: "check", checked: "card", disagreed: "check"} {
		page := parse(t, b.get(t, "/record/"+id).body).id("record")
		first := page.all(func(n *node) bool { return strings.Contains(n.attrs["class"], "strong") })
		if len(first) != 1 || first[0].attrs["data-action"] != want {
			t.Errorf("%s has %d main acts, want %s", id, len(first), want)
		}
	}
	// What was replaced leads to what came in its place, and says it once.
	k, _, err := r.book.Find(t.Context(), open)
	if err != nil {
		t.Fatal(err)
	}
	c, _ := record.Decide(k, record.Action{Kind: record.KindReplaced, Next: checked}, record.Settings{})
	if held, err := r.store.Apply(t.Context(), k, c); !held || err != nil {
		t.Fatalf("it is not replaced: %v", err)
	}
	if act := parse(t, b.get(t, "/record/"+open).body).id("record").named("a")[0]; act.attrs["href"] != "/record/"+checked || act.attrs["class"] != "button strong" {
		t.Errorf("a replaced record's first act leads to %s", act.attrs["href"])
	}
	figs := parse(t, b.get(t, "/record/"+disagreed).body).id("record").all(func(n *node) bool { return n.attrs["class"] == "figs" })
	if len(figs) != 1 {
		t.Fatalf("%d tables of figures", len(figs))
	}
	if text := strings.Join(strings.Fields(parse(t, b.get(t, "/record/"+disagreed).body).id("record").read()), " "); strings.Count(text, "9100 entered, 100 ft above the card's 9000") != 1 || !strings.Contains(text, "Disagreed: what differs stands first.") {
		t.Errorf("what differs is told in words other than once: %s", text)
	}
	text := strings.Join(strings.Fields(figs[0].read()), " ")
	if !strings.Contains(text, "Bo Ek FAF 9000 8200 9100 +100 3 agree") || !strings.Contains(text, "DA 5470 5340 5470") {
		t.Errorf("the figures read %s", text)
	}
	// A line that a stop forbids is nobody's to work out, and keeps its place.
	stopped, err := r.book.Make(t.Context(), record.Result{
		Surface: Surface, Message: "1", Channel: Surface, Asked: record.Person{Address: "page:cy", Name: "Cy"}, At: time.Now(), Text: "XKLD rnav 31 -38",
		Numbers: []record.Number{{Label: "FAF", PublishedFt: 7400, CorrectedFt: 8000, NeedFt: 7970, StepFt: 100}, {Label: "LNAV", PublishedFt: 5460, CorrectedFt: 5620, NeedFt: 5612, StepFt: 10}},
		Reply: reply.Reply{Kind: reply.KindCorrection, Headline: "XKLD rnav 31, −38 °C", Altitudes: []reply.Row{
			{Label: "FAF", PublishedFt: 7400, CorrectedFt: 8000}, {Label: "LNAV/VNAV", PublishedFt: 5340, CorrectedFt: 5470, State: reply.StateNotUsable, Mark: "not usable"}, {Label: "LNAV", PublishedFt: 5460, CorrectedFt: 5620},
		}},
	}, nil)
	if err := errors.Join(err, r.book.Written(t.Context())); err != nil {
		t.Fatal(err)
	}
	r.enters(t, "Bo Ek", stopped.ID, "8000", "5720")
	text = strings.Join(strings.Fields(parse(t, b.get(t, "/record/"+stopped.ID).body).id("record").read()), " ")
	if !strings.Contains(text, "Bo Ek LNAV 5620 5460 5720 +100 1 agree") || !strings.Contains(text, "FAF 8000 7400 8000 LNAV/VNAV not usable – 5340 –") {
		t.Errorf("with a stop the figures read %s", text)
	}
}

// TestLineToChange: what stands in the line after an answer is a line: what was
// typed, or of an answer to a button what asks the same, not the button's words.
func TestLineToChange(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	id := recordOf(t, b, goodLine)
	line := func(page string) string { return parse(t, page).id("text").attrs["value"] }
	if got := line(b.get(t, "/").body); got != goodLine {
		t.Errorf("after an answer the line is %q", got)
	}
	// What is done with it leaves the line, and what may be changed.
	if g := parse(t, b.send(t, "/", "/press", map[string]string{"text": "post " + id, "back": "/"}).body); len(g.id("talk").named("article")) != 2 || g.id("text").attrs["value"] != goodLine || len(g.all(func(n *node) bool { return n.attrs["class"] == "chips" })) != 1 {
		t.Errorf("after it was posted the page reads:\n%s", g.read())
	}
	ref := r.room.find(t, r.page, func(k *entry) bool { return k.Reply.Record != nil && k.Reply.Record.ID == id })
	place, card, _ := whereIs(ref)
	k, err := r.page.card(t.Context(), place, card)
	if err != nil {
		t.Fatal(err)
	}
	k.Message, k.Asked = "", "recompute "+id
	if got := k.line(); !strings.HasPrefix(got, "XKLD ") || !strings.Contains(got, "8200") {
		t.Errorf("after a button the line is %q", got)
	}
}
