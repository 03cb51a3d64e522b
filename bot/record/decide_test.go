package record_test

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/bot/record"
	"firn/bot/reply"
)

var noon = time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)

var (
	anna  = record.Person{Address: "slack:U1", Name: "Anna"}
	annaD = record.Person{Address: "discord:11", Name: "annika"} // the same person
	bo    = record.Person{Address: "slack:U2", Name: "Bo"}
	boD   = record.Person{Address: "discord:12", Name: "bo_b"}
	cy    = record.Person{Address: "slack:U3", Name: "Cy"}
	board = record.Person{Address: "console"}
)

// set links the accounts of Anna and of Bo, and has one channel check blind.
var set = record.Settings{
	Linked:        [][]string{{"slack:U1", "discord:11"}, {"discord:12", "slack:U2"}},
	BlindChannels: []string{"slack:CBLIND"},
}

// result is one that Anna asked for at noon. Its figures are invented, of the
// size that XKLD has at -38 °C: nothing here computes any.
func result() record.Record {
	return record.Record{Result: record.Result{
		ID: "KALOMI-RUTA", Version: 1, Surface: "slack", Channel: "slack:C1", Thread: "C1/1", Message: "m1",
		Asked: anna, Text: "XKLD -38 FAF 8200 DA 5340", Line: "XKLD -38 faa-all-segments FAF 8200 DA 5340",
		At: noon, Expires: noon.Add(6 * time.Hour), Restriction: reply.Some(-25),
		Numbers: []record.Number{
			{Label: "FAF", PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.4, StepFt: 100, Required: true},
			{Label: "DA", PublishedFt: 5340, CorrectedFt: 5480, NeedFt: 5471.2, StepFt: 10, Required: true},
		},
		Reply: reply.Reply{
			Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", ElevationFt: 4802, Known: true},
			TemperatureC: reply.Some(-38), Required: reply.Yes,
			Actions: []reply.Action{{ID: "why", Label: "Show the working", Message: "why"}, {ID: "latest", Label: "Latest", Message: "XKLD FAF 8200"}},
		},
	}}
}

// A step of a table: who does what; min is the minute after noon.
type step struct {
	kind    record.Kind
	by      record.Person
	min     int
	entered []float64
	done    bool
	says    string // a part of what the person reads
}

func confirm(by record.Person, done bool, says string) step {
	return step{kind: record.KindChecked, by: by, done: done, says: says}
}

func blind(by record.Person, done bool, says string, entered ...float64) step {
	return step{kind: record.KindChecked, by: by, entered: entered, done: done, says: says}
}

func withdraw(by record.Person, done bool, says string) step {
	return step{kind: record.KindWithdrawn, by: by, done: done, says: says}
}

func TestDecide(t *testing.T) {
	agreed := []float64{9000, 5480}
	for _, c := range []struct {
		name   string
		change func(*record.Record)
		steps  []step
		want   record.State
	}{
		{"nothing", nil, nil, record.Unchecked},
		{"confirmed", nil, []step{confirm(bo, true, "KALOMI-RUTA (XKLD −38 °C) is checked by Bo at 12:01Z")}, record.Checked},
		{"by its author", nil, []step{confirm(anna, false, "is your own: somebody else must check it")}, record.Unchecked},
		{"by its author through another surface", nil, []step{confirm(annaD, false, "is your own")}, record.Unchecked},
		{"blind by its author", nil, []step{blind(annaD, false, "is your own", agreed...)}, record.Unchecked},
		{"by nobody known, asked by nobody known", func(r *record.Record) { r.Asked = board },
			[]step{confirm(board, false, "the console does not know who types")}, record.Unchecked},
		{"asked by nobody known", func(r *record.Record) { r.Asked = board }, []step{confirm(bo, true, "checked by Bo")}, record.Checked},
		{"confirmed by a second", nil, []step{confirm(bo, true, ""), confirm(cy, false, "is already checked, by Bo at 12:01Z")}, record.Checked},
		{"the same press twice", nil, []step{confirm(bo, true, ""), confirm(bo, false, "You have already checked")}, record.Checked},
		{"the same person through another surface", nil, []step{confirm(bo, true, ""), confirm(boD, false, "You have already checked")}, record.Checked},
		{"blind, the same figures", nil, []step{blind(bo, true, "the figures agree", agreed...)}, record.Checked},
		{"blind, within the rounding", nil, []step{blind(bo, true, "the figures agree", 8990, 5475)}, record.Checked},
		{"blind, one altitude too low", nil, []step{blind(bo, true, "Bo disagrees", 8980, 5480)}, record.Disagreed},
		{"blind, a step too high", nil, []step{blind(bo, true, "Bo disagrees", 9000, 5490)}, record.Disagreed},
		{"blind, too few", nil, []step{blind(bo, false, "has 2 altitudes, FAF 8200, DA 5340; enter as many", 9000)}, record.Unchecked},
		{"blind, too many", nil, []step{blind(bo, false, "enter as many", 1, 2, 3)}, record.Unchecked},
		{"a confirmation where it is blind", func(r *record.Record) { r.Channel = "slack:CBLIND" },
			[]step{confirm(bo, false, "is checked blind: work out 2 altitudes, FAF 8200, DA 5340 from your own table")}, record.Unchecked},
		{"figures where it is blind", func(r *record.Record) { r.Channel = "slack:CBLIND" }, []step{blind(bo, true, "", agreed...)}, record.Checked},
		{"a third person agrees too", nil, []step{confirm(bo, true, ""), blind(cy, true, "the figures agree", agreed...)}, record.Checked},
		{"a third person disagrees with a check", nil, []step{confirm(bo, true, ""), blind(cy, true, "Cy disagrees", 9100, 5480)}, record.Disagreed},

		{"withdrawn", nil, []step{confirm(bo, true, ""), withdraw(bo, true, "by Bo is withdrawn")}, record.Unchecked},
		{"withdrawn through another surface", nil, []step{confirm(bo, true, ""), withdraw(boD, true, "withdrawn")}, record.Unchecked},
		{"withdrawn by another", nil, []step{confirm(bo, true, ""), withdraw(cy, false, "no check of yours"), withdraw(anna, false, "no check of yours")}, record.Checked},
		{"withdrawn twice", nil, []step{confirm(bo, true, ""), withdraw(bo, true, ""), withdraw(bo, false, "no check of yours")}, record.Unchecked},
		{"withdrawn and checked again", nil, []step{confirm(bo, true, ""), withdraw(bo, true, ""), confirm(bo, true, "")}, record.Checked},
		{"withdrawn by one of two", nil, []step{confirm(bo, true, ""), blind(cy, true, "", agreed...), withdraw(bo, true, "")}, record.Checked},

		{"a disagreement is not withdrawn", nil, []step{blind(bo, true, "", 8900, 5480), withdraw(bo, false, "A disagreement stays")}, record.Disagreed},
		{"nor mended by who disagreed", nil, []step{blind(bo, true, "", 8900, 5480), blind(boD, false, "You disagreed", agreed...)}, record.Disagreed},
		{"nor confirmed by the author", nil, []step{blind(bo, true, "", 8900, 5480), confirm(anna, false, "your own")}, record.Disagreed},
		{"a third person resolves it", nil, []step{blind(bo, true, "", 8900, 5480), confirm(cy, true, "The disagreement of Bo is resolved")}, record.Checked},
		{"a third person disagrees as well", nil, []step{blind(bo, true, "", 8900, 5480), blind(cy, true, "Cy disagrees", 9100, 5480)}, record.Disagreed},
		{"a third person who takes it back", nil, []step{blind(bo, true, "", 8900, 5480), confirm(cy, true, ""), withdraw(cy, true, "")}, record.Disagreed},
		{"one who had checked is no third person", nil, []step{confirm(bo, true, ""), blind(cy, true, "", 1, 2), confirm(bo, false, "You have already checked")}, record.Disagreed},

		{"the last minute", nil, []step{{kind: record.KindChecked, by: bo, min: 359, done: true}}, record.Checked},
		{"expired", nil, []step{{kind: record.KindChecked, by: bo, min: 360, says: "expired at 18:00Z; compute it again"}}, record.Expired},
		{"expiry is said once", nil, []step{{kind: record.KindExpired, min: 359}, {kind: record.KindExpired, min: 360, done: true}, {kind: record.KindExpired, min: 361}}, record.Expired},
		{"no longer true", nil, []step{{kind: record.KindRecompute, done: true}, confirm(bo, false, "does not hold any more")}, record.Recompute},
		{"no longer true after a check", nil, []step{confirm(bo, true, ""), {kind: record.KindRecompute, done: true}}, record.Recompute},
		{"noticed after it expired", nil, []step{{kind: record.KindRecompute, min: 400}}, record.Expired},
		{"replaced", nil, []step{{kind: record.KindReplaced, by: anna, done: true}, confirm(bo, false, "was replaced by KALOMI-RUTO at 12:01Z; check that one"),
			{kind: record.KindReplaced, by: cy}, {kind: record.KindRecompute}}, record.Replaced},
		{"replaced after a check", nil, []step{confirm(bo, true, ""), {kind: record.KindReplaced, by: anna, done: true}, withdraw(bo, false, "was replaced")}, record.Replaced},
		{"replaced after it expired", nil, []step{{kind: record.KindExpired, min: 360, done: true}, {kind: record.KindReplaced, min: 361, done: true}}, record.Replaced},
		{"no altitudes", func(r *record.Record) { r.Numbers = nil }, []step{confirm(bo, false, "there is nothing to check")}, record.Noted},
		{"no altitudes, no longer true", func(r *record.Record) { r.Numbers = nil }, []step{{kind: record.KindRecompute, done: true}}, record.Recompute},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := result()
			if c.change != nil {
				c.change(&r)
			}
			now := noon
			for i, s := range c.steps {
				now = noon.Add(time.Duration(max(s.min, i+1)) * time.Minute)
				d := record.Action{Kind: s.kind, By: s.by, At: now, Entered: s.entered, Next: "KALOMI-RUTO", Noticed: record.Noticed{C: -41, Source: "METAR", Text: "It is colder."}}
				change, o := record.Decide(r, d, set)
				if o.Done != s.done || !strings.Contains(o.Text, s.says) {
					t.Errorf("step %d: done %v, %q; want %v, %q", i+1, o.Done, o.Text, s.done, s.says)
				}
				if !o.Done && o.Text == "" && d.By.Address != "" && (s.kind == record.KindChecked || s.kind == record.KindWithdrawn) {
					t.Errorf("step %d: nobody is told anything", i+1)
				}
				if o.Done {
					r.Status = r.With(change)
				}
			}
			if got := r.State(now); got != c.want {
				t.Errorf("state %q, want %q", got, c.want)
			}
		})
	}
}

func TestCompare(t *testing.T) {
	for _, c := range []struct {
		name    string
		n       record.Number
		entered float64
		agrees  bool
		says    string
	}{
		{"the same", record.Number{PublishedFt: 8200, CorrectedFt: 8990, NeedFt: 8983.4, StepFt: 10}, 8990, true, "8200: 8990 on both sides"},
		{"below, and enough before rounding", record.Number{Label: "FAF", PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.4, StepFt: 100}, 8984, true, "FAF 8200: 8984 entered, 9000 on the card; within the rounding"},
		{"below what is needed", record.Number{PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.4, StepFt: 100}, 8983, false, "8200: 8983 entered, 17 ft below the card's 9000"},
		{"above, less than a step", record.Number{PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.4, StepFt: 100}, 9099, true, "within the rounding"},
		{"above by a step", record.Number{PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.4, StepFt: 100}, 9100, false, "100 ft above the card's 9000"},
		{"the card is rounded to the nearest, below the need", record.Number{PublishedFt: 8200, CorrectedFt: 8900, NeedFt: 8940, StepFt: 100}, 8900, true, "on both sides"},
		{"beside it, and not enough", record.Number{PublishedFt: 8200, CorrectedFt: 8900, NeedFt: 8940, StepFt: 100}, 8910, false, "below the 8940 that is needed"},
		{"enough, where the card is below the need", record.Number{PublishedFt: 8200, CorrectedFt: 8900, NeedFt: 8940, StepFt: 100}, 8950, true, ""},
		{"exact, the whole foot above", record.Number{PublishedFt: 8200, CorrectedFt: 8983.4, NeedFt: 8983.4}, 8984, true, "8984 on both sides"},
		{"exact, the whole foot below", record.Number{PublishedFt: 8200, CorrectedFt: 8983.4, NeedFt: 8983.4}, 8983, false, "1 ft below"},
		{"exact, a foot more", record.Number{PublishedFt: 8200, CorrectedFt: 8983.4, NeedFt: 8983.4}, 8985, false, "1 ft above"},
		{"the published", record.Number{PublishedFt: 8200, CorrectedFt: 8990, NeedFt: 8983.4, StepFt: 10}, 8200, false, "790 ft below"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := record.Compare(c.n, c.entered)
			if got.Agrees != c.agrees || !strings.Contains(got.String(), c.says) {
				t.Errorf("%v, %q; want %v, %q", got.Agrees, got, c.agrees, c.says)
			}
		})
	}
}

// What agrees is the card's, or safe: never below the altitude before rounding.
func TestCompareIsSafe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		need := rapid.Float64Range(100, 20000).Draw(t, "need")
		step := rapid.SampledFrom([]float64{0, 10, 100}).Draw(t, "step")
		n := record.Number{PublishedFt: 100, NeedFt: need, CorrectedFt: need + rapid.Float64Range(-50, 100).Draw(t, "rounding"), StepFt: step}
		e := rapid.Float64Range(0, 21000).Draw(t, "entered")
		c := record.Compare(n, e)
		same := e <= n.CorrectedFt+1 && e >= n.CorrectedFt-1e-5
		if c.Agrees && !same && (e < need-1e-5 || e >= n.CorrectedFt+max(step, 1)) {
			t.Errorf("%+v agrees", c)
		}
	})
}

// Whatever people do, the author is never among those who checked, nobody
// checks twice, and nothing but a third person or an end resolves a
// disagreement.
func TestDecideProperties(t *testing.T) {
	people := []record.Person{anna, annaD, bo, boD, cy, {Address: "slack:U4"}}
	who := map[string]string{"slack:U1": "a", "discord:11": "a", "slack:U2": "b", "discord:12": "b", "slack:U3": "c", "slack:U4": "d"}
	rapid.Check(t, func(t *rapid.T) {
		r := result()
		now := noon
		for range rapid.IntRange(1, 12).Draw(t, "steps") {
			now = now.Add(time.Minute)
			d := record.Action{At: now, By: rapid.SampledFrom(people).Draw(t, "by")}
			d.Kind = rapid.SampledFrom([]record.Kind{record.KindChecked, record.KindChecked, record.KindWithdrawn, record.KindRecompute}).Draw(t, "kind")
			d.Entered = rapid.SampledFrom([][]float64{nil, {9000, 5480}, {8900, 5480}}).Draw(t, "entered")
			before := r.State(now)
			change, o := record.Decide(r, d, set)
			if !o.Done {
				continue
			}
			r.Status = r.With(change)
			after := r.State(now)
			if before == record.Disagreed && after == record.Checked {
				for _, k := range r.Checks[:len(r.Checks)-1] {
					if k.Withdrawn.IsZero() && who[k.By.Address] == who[d.By.Address] {
						t.Errorf("%v resolves after a check of the same person: %+v", d.By, r.Checks)
					}
				}
			}
			if before == record.Disagreed && after == record.Unchecked || before == record.Recompute && after != before {
				t.Errorf("%q became %q", before, after)
			}
		}
		standing := map[string]int{}
		for _, k := range r.Checks {
			if who[k.By.Address] == "a" {
				t.Errorf("the author checked: %+v", k)
			}
			if k.Withdrawn.IsZero() {
				standing[who[k.By.Address]]++
			}
		}
		for p, n := range standing {
			if n > 1 {
				t.Errorf("%s has %d checks that stand", p, n)
			}
		}
	})
}

// TestNamesakes: an account that calls itself as another one's label does is told
// from it wherever both stand.
func TestNamesakes(t *testing.T) {
	r := result()
	other := record.Person{Address: "page:anna", Name: "anna"}
	at := noon.Add(time.Minute)
	_, o := record.Decide(r, record.Action{Kind: record.KindChecked, By: other, At: at}, set)
	if want := "KALOMI-RUTA (XKLD −38 °C) is checked by anna (page:anna) at 12:01Z."; o.Text != want {
		t.Errorf("the check says %q, want %q", o.Text, want)
	}
	if got := r.Named(r.Asked); got != "Anna" {
		t.Errorf("before it: %q", got)
	}
	r.Status = r.Status.With(record.Change{Kind: record.KindChecked, By: other, At: at, Check: &record.Check{By: other, At: at, How: record.Confirmed}})
	if line := record.Line(r, at, set); !strings.Contains(line, "computed by Anna (slack:U1), checked by anna (page:anna).") {
		t.Errorf("the line of a list: %q", line)
	}
	r.Checks[0].By = bo
	if line := record.Line(r, at, set); !strings.Contains(line, "computed by Anna, checked by Bo.") {
		t.Errorf("with another name: %q", line)
	}
}
