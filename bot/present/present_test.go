package present_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"firn/bot/present"
	"firn/bot/reply"

	"github.com/rogpeppe/go-internal/txtar"
)

// lines draws blocks as a screen of a width does, as far as this package
// decides it: a table by its own lines, all else wrapped.
func lines(t *testing.T, blocks []present.Block, width int) []string {
	t.Helper()
	var out []string
	wrap := func(text string) {
		line := ""
		for _, w := range strings.Fields(text) {
			switch {
			case line == "":
				line = w
			case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > width:
				out, line = append(out, line), w
			default:
				line += " " + w
			}
		}
		out = append(out, line)
	}
	for _, b := range blocks {
		switch b := b.(type) {
		case present.Headline:
			wrap(b.Text)
		case present.Stop:
			wrap(b.Text)
		case present.Table:
			out = append(out, b.Lines(present.RowMost)...)
		case present.Call:
			wrap(b.Title + ":")
			wrap("“" + b.Text + "”")
		case present.Line:
			wrap(b.Text)
		case present.Small:
			wrap(b.Text)
		case present.State:
			wrap(b.Text())
		case present.Question:
			wrap(b.Text)
			wrap("Type: " + b.Try)
		case present.List:
			for _, l := range b.Lines {
				wrap(l)
			}
		default:
			t.Fatalf("%T stands on the screen", b)
		}
	}
	return out
}

func stored(t *testing.T, name string) reply.Reply {
	t.Helper()
	a, err := txtar.ParseFile("../../testdata/reply/" + name + ".txtar")
	if err != nil {
		t.Fatal(err)
	}
	var last reply.Reply
	for _, f := range a.Files {
		if f.Name == "reply.json" {
			if err := json.Unmarshal(f.Data, &last); err != nil {
				t.Fatal(err)
			}
		}
	}
	return last
}

// The budgets of an answer: three altitudes without labels 14 lines, a stored
// procedure of nine lines 24, at 42 characters.
func TestOneScreen(t *testing.T) {
	for name, most := range map[string]int{"all_segments": 20, "unlabelled": 14, "procedure": 24} {
		r := stored(t, name)
		r.Record = &reply.RecordStatus{ID: "GOGA-RUTA", State: "unchecked"}
		got := lines(t, present.Of(r).Short, 42)
		t.Logf("%s: %d lines\n%s", name, len(got), strings.Join(got, "\n"))
		if len(got) > most {
			t.Errorf("%s has %d lines, wanted at most %d", name, len(got), most)
		}
	}
}

// A table keeps within its width, with every figure whole, whatever names and
// marks there are.
func TestTableWidth(t *testing.T) {
	table := present.Table{Fly: "fly", Rows: []present.Row{
		{Name: "IAF XADLO", Fly: "11500", Chart: "10900"},
		{Name: "procedure turn outbound XEMBA", Fly: "11100–12000", Chart: "10500–11400", Mark: "at most"},
		{Name: "missed", Fly: "11400", Chart: "10200", Mark: "as published, hold XORLI at the beacon"},
	}}
	got := table.Lines(present.RowMost)
	all := strings.Join(got, "\n")
	for _, l := range got {
		if n := utf8.RuneCountInString(l); n > present.RowMost {
			t.Errorf("%q has %d characters", l, n)
		}
	}
	for _, figure := range []string{"11500", "10900", "11100–12000", "10500–11400", "11400", "10200", "hold XORLI"} {
		if !strings.Contains(all, figure) {
			t.Errorf("%s is not in\n%s", figure, all)
		}
	}
}

// Figures are to fly where something is required, and advice where nothing is known
// to be.
func TestTableHead(t *testing.T) {
	for name, want := range map[string]string{"all_segments": "fly", "individual_segments": "fly", "advisory": "advice", "canada": "advice", "warm": "fly"} {
		for _, b := range present.Of(stored(t, name)).Short {
			if table, ok := b.(present.Table); ok && table.Fly != want {
				t.Errorf("%s: %q over the figures, want %q", name, table.Fly, want)
			}
		}
	}
}

// What a locked screen shows has headline, stop and whole figures.
func TestNotice(t *testing.T) {
	r := stored(t, "unlabelled")
	r.Record = &reply.RecordStatus{ID: "GOGA-RUTA", State: "unchecked"}
	if got, want := present.Of(r).Notice, "XKLD −38: 8200→8990, 7400→8000, 5340→5470. Not checked."; got != want {
		t.Errorf("got %q, wanted %q", got, want)
	}
	// Nobody takes figures that are not asked for, or may not be, for altitudes to fly.
	for _, c := range []struct {
		required       reply.OptBool
		headline, want string
	}{
		{reply.No, "XKLD, −20 °C: no correction required", "XKLD −38: no correction required; 8200→8990, 7400→8000, 5340→5470. Not checked."},
		{reply.No, "", "XKLD −38: no correction required; 8200→8990, 7400→8000, 5340→5470. Not checked."},
		{reply.No, "XKLD, −20 °C: none of these; correct final", "XKLD −38: none of these; correct final; 8200→8990, 7400→8000, 5340→5470. Not checked."},
		{reply.NotApplicable, "XKLD, −20 °C: required or not: not known", "XKLD −38: required or not: not known; 8200→8990, 7400→8000, 5340→5470. Not checked."},
	} {
		r.Required, r.Headline = c.required, c.headline
		if got := present.Of(r).Notice; got != c.want {
			t.Errorf("got %q, wanted %q", got, c.want)
		}
	}
	stop := present.Of(stored(t, "procedure")).Notice
	if utf8.RuneCountInString(stop) > present.NoticeMost || !strings.Contains(stop, "NA below −28") || !strings.Contains(stop, "10900→11500") {
		t.Errorf("the notice of a stop is %q", stop)
	}
	if strings.Contains(stop, "5340→") {
		t.Errorf("a line that is not usable is offered: %q", stop)
	}
	// Nobody takes four figures of eight for all of them.
	if strings.Count(stop, "→") != 4 || !strings.Contains(stop, ", and 4 more.") {
		t.Errorf("the notice does not say that there are more: %q", stop)
	}
	long := stored(t, "procedure")
	long.Procedure = strings.Repeat("rnav ", 30)
	if got := present.Of(long).Notice; strings.Contains(got, "→") || strings.Contains(got, "more") || utf8.RuneCountInString(got) > present.NoticeMost {
		t.Errorf("the notice without room is %q", got)
	}
}

// Nothing of a reply is lost: what is not on the screen is folded.
func TestNothingIsLost(t *testing.T) {
	for _, name := range []string{"all_segments", "procedure", "canada", "icao", "brief", "help", "rules", "status", "why", "route"} {
		r := stored(t, name)
		full, err := json.Marshal(present.Of(r).Full())
		if err != nil {
			t.Fatal(err)
		}
		text := string(full)
		has := func(what string) {
			quoted, _ := json.Marshal(what)
			if what != "" && !strings.Contains(text, strings.Trim(string(quoted), `"`)) {
				t.Errorf("%s: %q is nowhere", name, what)
			}
		}
		for _, f := range r.Facts {
			has(f)
		}
		for _, c := range r.Cautions {
			has(c.Text)
		}
		for _, q := range r.Requests {
			has(q.Text)
			has(q.Spoken)
		}
		for _, s := range r.Sections {
			for _, l := range s.Lines {
				has(l)
			}
		}
		for _, s := range r.Stops {
			has(s.Text)
		}
		has(r.Source)
	}
}

// An alert begins with its headline, on the screen and on a locked one; the
// sentence behind it is folded, but where it says what is not known. What is
// over is calm.
func TestAlert(t *testing.T) {
	for _, tt := range []struct {
		state, kind string
		tone        present.Tone
		folded      bool
	}{
		{"below", "opened", present.Act, true},
		{"below", "escalated", present.Act, true},
		{"near", "amended", present.Act, true},
		{"part-forecast", "opened", present.Act, false},
		{"no-forecast", "repeated", present.Act, false},
		{"clear", "all-clear", present.Calm, true},
		{"below", "ended", present.Calm, false},
	} {
		r := reply.Reply{
			Kind: reply.KindAlert, Headline: "XKLD −31 tonight (line −25)",
			Facts: []string{"Cold alert: XKLD. How it is.", "Lowest −31 °C."},
			Alert: &reply.Cold{Ident: "XKLD", State: tt.state, Kind: tt.kind},
		}
		d := present.Of(r)
		short := strings.Join(lines(t, d.Short, 200), "\n")
		if got := d.Short[0]; got != (present.Headline{Text: r.Headline, Tone: tt.tone}) {
			t.Errorf("%s, %s begins with %+v", tt.state, tt.kind, got)
		}
		if !strings.HasPrefix(d.Notice, r.Headline) {
			t.Errorf("%s, %s: the notice is %q", tt.state, tt.kind, d.Notice)
		}
		if got := !strings.Contains(short, "How it is."); got != tt.folded {
			t.Errorf("%s, %s on the screen:\n%s", tt.state, tt.kind, short)
		}
		if full := strings.Join(lines(t, d.Full(), 200), "\n"); strings.Count(full, "How it is.") != 1 || strings.Count(full, "Lowest −31 °C.") != 1 {
			t.Errorf("%s, %s in full:\n%s", tt.state, tt.kind, full)
		}
	}
}

// An alert that was stored without a headline and its kind still reads.
func TestAlertStoredBefore(t *testing.T) {
	d := present.Of(reply.Reply{
		Kind: reply.KindAlert, Facts: []string{"Cold alert: XKLD.", "Lowest −31 °C."},
		Alert: &reply.Cold{Ident: "XKLD", State: "below", LowC: reply.Some(-31), RestrictionC: reply.Some(-25)},
	})
	if got := strings.Join(lines(t, d.Short, 80), "\n"); got != "Cold alert: XKLD.\nLowest −31 °C." || !strings.HasPrefix(d.Notice, "XKLD −31 (line −25): BELOW. Cold alert: XKLD.") {
		t.Errorf("on the screen %q, notice %q", got, d.Notice)
	}
}

// Where nobody controls, a call is said to traffic, also one that depends on
// something.
func TestCallTitle(t *testing.T) {
	for want, call := range map[string]reply.Call{
		"Say on check-in":               {Way: "vectors"},
		"Say to traffic":                {Way: "traffic"},
		"Say if 8200 is far":            {Way: "vectors", When: "if 8200 is far"},
		"Say to traffic if 8200 is far": {Way: "traffic", When: "if 8200 is far"},
	} {
		r := reply.Reply{Kind: reply.KindCorrection, Headline: "XKLD", Altitudes: []reply.Row{{PublishedFt: 8200, CorrectedFt: 9000}}, Call: &call}
		found := false
		for _, b := range present.Of(r).Short {
			if c, ok := b.(present.Call); ok {
				found = c.Title == want
			}
		}
		if !found {
			t.Errorf("%+v: want it headed %q", call, want)
		}
	}
}

// TestWatchHoursOfAnotherDay: hours in UTC of another day than that on which the
// duty window begins say which.
func TestWatchHoursOfAnotherDay(t *testing.T) {
	began := time.Date(2026, time.January, 15, 13, 0, 0, 0, time.UTC)
	for want, c := range map[string]reply.Cold{
		"XKLD: BELOW, 13:00Z–Fri 13:00Z":     {State: "below", Began: began, BelowFrom: began, BelowTo: began.Add(24 * time.Hour)},
		"XKLD: BELOW, Fri 08:00Z–Fri 13:00Z": {State: "below", Began: began, BelowFrom: began.Add(19 * time.Hour), BelowTo: began.Add(24 * time.Hour)},
		// The forecast, or the window, ends in the cold.
		"XKLD: BELOW, 14:00Z–15:00Z, or longer": {State: "below", BelowFrom: began.Add(time.Hour), BelowTo: began.Add(2 * time.Hour), CoveredTo: began.Add(2 * time.Hour)},
		"XKLD: BELOW, 14:00Z–15:00Z":            {State: "below", BelowFrom: began.Add(time.Hour), BelowTo: began.Add(2 * time.Hour)},
		"XKLD: PART FORECAST, to Fri 01:00Z":    {State: "part-forecast", Began: began, CoveredTo: began.Add(12 * time.Hour)},
	} {
		c.Ident = "XKLD"
		text := ""
		for _, b := range present.Of(reply.Reply{Kind: reply.KindWatch, Bases: []reply.Cold{c}}).Short {
			text += fmt.Sprint(b)
		}
		if !strings.Contains(text, want) {
			t.Errorf("got %q, want %q", text, want)
		}
	}
}
