package bot_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// noon is when the tests' messages come.
var noon = time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)

// stations are invented. XKLD lies high and has every segment; XRUN is
// another; XSLT lies at 14 ft; XFRN takes its altimeter setting from below;
// XDUL has no restriction temperature; XGLN adds a thousand in its valley.
const stations = `
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, segments: [initial, intermediate, final, missed], mountainous: true}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380, restriction_c: -20, segments: [intermediate, final], mountainous: true}
  - {ident: XSLT, name: Selthaven, elevation_ft: 14, restriction_c: -12, segments: [final]}
  - {ident: XFRN, name: Fernfirth, elevation_ft: 820, restriction_c: -22, source_elevation_ft: 175, mountainous: true}
  - {ident: XDUL, name: Dullowmere, elevation_ft: 45}
  - {ident: XGLN, name: Glennorow, elevation_ft: 3340, restriction_c: -15, mountainous: true, request_extra_ft: 1000}
`

func newBot(t testing.TB) *bot.Bot {
	t.Helper()
	return botOf(t, stations)
}

func botOf(t interface {
	Helper()
	Fatal(...any)
}, yaml string) *bot.Bot {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("test.yaml", []byte(yaml), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, sets)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// say sends lines to one thread at noon and gives the last answer.
func say(t testing.TB, b *bot.Bot, lines ...string) reply.Reply {
	t.Helper()
	var r reply.Reply
	for _, line := range lines {
		r = sayAt(t, b, "thread", noon, line)
	}
	return r
}

func sayAt(t testing.TB, b *bot.Bot, thread string, at time.Time, line string) reply.Reply {
	t.Helper()
	r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Thread: thread, Text: line, At: at})
	if err != nil {
		t.Fatalf("%q: %v", line, err)
	}
	return r
}

// row finds the row of a published altitude.
func row(t testing.TB, r reply.Reply, published float64) reply.Row {
	t.Helper()
	for _, row := range r.Altitudes {
		if row.PublishedFt == published {
			return row
		}
	}
	t.Fatalf("no row for %v in %+v (problem %+v)", published, r.Altitudes, r.Problem)
	return reply.Row{}
}

func published(r reply.Reply) string {
	words := make([]string, len(r.Altitudes))
	for i, row := range r.Altitudes {
		words[i] = strings.TrimSpace(fmt.Sprintf("%s %.0f", row.Label, row.PublishedFt))
	}
	return strings.Join(words, ", ")
}

// state is the reply in short: what a thread holds after it.
func state(r reply.Reply) string {
	if r.Problem != nil {
		return "? " + r.Problem.Word
	}
	return fmt.Sprintf("%s %v: %s", r.Station.Ident, r.TemperatureC.Value, published(r))
}

func TestThreads(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		want  string
	}{
		{"temperature completes", []string{"XKLD 8200 7400", "-38"}, "XKLD -38: 8200, 7400"},
		{"station completes", []string{"-38 8200", "XKLD"}, "XKLD -38: 8200"},
		{"altitudes, then temperature, then station", []string{"8200", "-38", "XKLD"}, "XKLD -38: 8200"},
		{"a missing sign is typed", []string{"XKLD 38 8200", "-38"}, "XKLD -38: 8200"},
		{"one of two temperatures is chosen", []string{"XKLD -38 -40 -41 8200", "-40"}, "XKLD -40: 8200"},
		{"and is asked about until it is", []string{"XKLD -38 -40 8200", "7400"}, "? -40"},
		{"with what was typed in between", []string{"XKLD -38 -40 8200", "7400", "-40"}, "XKLD -40: 8200, 7400"},
		{"one of two stations is chosen, each with its temperature", []string{"XRUN -25 6400 and XKLD -38 8200", "xrun"}, "? -38"},
		{"and then the temperature", []string{"XRUN -25 6400 and XKLD -38 8200", "xrun", "-25"}, "XRUN -25: 6400, 8200"},
		{"a figure taken back in one breath is asked about", []string{"XRUN -25 FAF 6800? no 6400, MDA 4860"}, "? FAF"},
		{"in another language, too", []string{"XRUN -25 FAF 6800 nei, 6400"}, "? FAF"},
		{"and without a label", []string{"XKLD -38 8200 no 8300"}, "? 8300"},
		{"or with a slip", []string{"XKLD -38 FAF 7400 oops 7500"}, "? FAF"},
		{"and is answered", []string{"XRUN -25 FAF 6800? no 6400, MDA 4860", "6400"}, "XRUN -25: FAF 6400, MDA 4860"},
		{"a no to a thing between two takes back neither", []string{"XKLD -38 8200, no sbas, 7400"}, "XKLD -38: 8200, 7400"},
		{"a misspelt station is typed again", []string{"XKLE -38 8200", "XKLD"}, "XKLD -38: 8200"},
		{"a misspelt station behind an answer for another", []string{"XRUN -30 9000", "XKLE -38 8200", "XKLD"}, "XKLD -38: 8200"},
		{"colder", []string{"XKLD -38 8200", "-41"}, "XKLD -41: 8200"},
		{"colder, with the station", []string{"XKLD -38 8200", "XKLD -41"}, "XKLD -41: 8200"},
		{"add", []string{"XKLD -38 8200", "add DA 5340"}, "XKLD -38: 8200, DA 5340"},
		{"remove by figure", []string{"XKLD -38 8200 7400", "remove 7400"}, "XKLD -38: 8200"},
		{"remove by label", []string{"XKLD -38 FAF 8200 DA 5340", "remove DA"}, "XKLD -38: FAF 8200"},
		{"remove what is not there", []string{"XKLD -38 8200", "remove 500"}, "? 500"},
		{"and what was there stays", []string{"XKLD -38 8200", "remove 500", "-41"}, "XKLD -41: 8200"},
		{"add nothing", []string{"XKLD -38 8200", "add"}, "? add"},
		{"same at another station", []string{"XKLD -38 8200", "same at XRUN"}, "XRUN -38: 8200"},
		{"same, colder and elsewhere", []string{"XKLD -38 8200", "same at XRUN -30"}, "XRUN -30: 8200"},
		{"same with a report asks for the temperature", []string{"XKLD 151153Z 00000KT M38/M42 A2992; 8200", "same at XRUN"}, "? "},
		{"bare altitudes ask anew", []string{"XKLD -38 8200", "7400"}, "XKLD -38: 7400"},
		{"labels replace where the words say so", []string{"XKLD -38 FAF 8200 DA 5340", "DA should be 5400"}, "XKLD -38: FAF 8200, DA 5400"},
		{"and are asked about where they don't", []string{"XKLD -38 FAF 8200 DA 5340", "DA 5400"}, "? 5400"},
		{"a message of its own replaces", []string{"XKLD -38 FAF 8200", "XRUN -30 9000", "-31"}, "XRUN -31: 9000"},
		{"a slip loses nothing", []string{"XKLD -38 8200", "41", "-41"}, "XKLD -41: 8200"},
		{"nor do several", []string{"XKLD -38 8200", "-200", "garble", "FL150", "XKLD 41", "-41"}, "XKLD -41: 8200"},
		{"nor before the answer", []string{"XKLD 8200", "38", "garble", "-38"}, "XKLD -38: 8200"},
		{"a second problem is asked about, not dropped", []string{"XKLD 38 8200 FL150", "-38"}, "? FL150"},
		{"and settled by an altitude", []string{"XKLD 38 8200 FL150", "-38", "15000"}, "XKLD -38: 8200, 15000"},
		{"a label in doubt is asked about, not dropped", []string{"XKLD 38 8200 FAF 7400", "-38"}, "? FAF"},
		{"and settled", []string{"XKLD 38 8200 FAF 7400", "-38", "FAF 7400"}, "XKLD -38: 8200, FAF 7400"},
		{"an altitude with its label behind a missing sign", []string{"XSLT 12 FAF 1500 DA 95", "-12"}, "? 95"},
		{"and settled with its unit", []string{"XSLT 12 FAF 1500 DA 95", "-12", "DA 95 ft"}, "XSLT -12: FAF 1500, DA 95"},
		{"units that do not go together", []string{"XKLD -38 2500m", "add 7400"}, "? 7400"},
		{"and settled", []string{"XKLD -38 2500m", "add 7400", "add 7400 ft"}, "XKLD -38: 8202, 7400"},
		{"nothing to change", []string{"add DA 5340"}, "? add"},
		{"why without an answer", []string{"why"}, "? why"},
		{"help in between changes nothing", []string{"XKLD -38 8200", "help", "rules", "-41"}, "XKLD -41: 8200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := state(say(t, newBot(t), c.lines...)); got != c.want {
				t.Errorf("%q: %q, want %q", c.lines, got, c.want)
			}
		})
	}
}

// TestLetGo: a figure of a message that was asked about is not lost in silence where
// the next message leaves it open.
func TestLetGo(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		want  []string
	}{
		{"a temperature", []string{"XKLD -38 8200", "gnarble its -41 now", "add DA 5340"}, []string{"Not used: -41."}},
		{"altitudes", []string{"XKLD -38", "IAF 10900 FAF 7400 MDA 1400", "FAF 7500"}, []string{"Not used: IAF 10900, MDA 1400."}},
		{"two temperatures", []string{"XKLD -38 8200", "-40 -41", "add 7400"}, []string{"Not used: -40, -41."}},
		{"one of them", []string{"XKLD -38 8200", "-40 -41", "-41"}, nil},
		{"said again", []string{"XKLD -38 8200", "gnarble its -41 now", "-41"}, nil},
		{"another", []string{"XKLD -38 8200", "gnarble its -41 now", "-43"}, nil},
		{"the same as before", []string{"XKLD -38 8200", "gnarble its -38 now", "add DA 5340"}, nil},
		{"righted", []string{"XKLD -38 8200", "add DA 534", "5340"}, nil},
		{"one of two", []string{"XKLD -38 FAF 7400 DA 5340", "DA 5400", "DA 5400"}, nil},
		{"once", []string{"XKLD -38 8200", "gnarble its -41 now", "add DA 5340", "add 7400"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := say(t, newBot(t), c.lines...)
			if r.Problem != nil || !slices.Equal(r.Notes, c.want) {
				t.Errorf("%q: %s, notes %q, want %q", c.lines, state(r), r.Notes, c.want)
			}
		})
	}
}

// TestCarried: a reply says what it took from the message before it.
func TestCarried(t *testing.T) {
	for _, c := range []struct {
		lines []string
		want  string
	}{
		{[]string{"XKLD 8200", "-38"}, "From your message before: station XKLD, the altitudes."},
		{[]string{"-38 8200", "XKLD"}, "From your message before: temperature -38, the altitudes."},
		{[]string{"XKLD -38 8200", "same at XRUN"}, "From your message before: temperature -38 (typed for XKLD), the altitudes."},
	} {
		r := say(t, newBot(t), c.lines...)
		if !slices.Contains(r.Facts, c.want) {
			t.Errorf("%q: facts %q, want %q", c.lines, r.Facts, c.want)
		}
	}
}

func TestRuleSetFollows(t *testing.T) {
	b := newBot(t)
	if r := say(t, b, "XKLD -38 8200", "icao"); r.Rules != "icao" || published(r) != "8200" {
		t.Errorf("icao behind an answer: rules %q, altitudes %q", r.Rules, published(r))
	}
	if r := say(t, b, "rules canada XKLD -38 8200"); r.Kind != reply.KindCorrection || r.Rules != "canada" {
		t.Errorf("rules canada with a message: kind %q, rules %q", r.Kind, r.Rules)
	}
	if r := say(t, b, "rules canada"); r.Kind != reply.KindRules || r.Rules != "canada" || len(r.Sections) == 0 {
		t.Errorf("rules canada: kind %q, rules %q, %d sections", r.Kind, r.Rules, len(r.Sections))
	}
}

func TestWhyFollows(t *testing.T) {
	b := newBot(t)
	r := say(t, b, "XKLD -38 FAF 8200 DA 5340", "why")
	if len(r.Working) != 2 || len(r.Working[0].Methods) < 5 || len(r.Working[0].Steps) == 0 {
		t.Errorf("why: working %+v, want one an altitude, every method and its steps", r.Working)
	}
	if r := say(t, b, "-41"); r.Working != nil {
		t.Errorf("the follow-up of why shows the working again: %+v", r.Working)
	}
}

func TestThreadExpires(t *testing.T) {
	b := newBot(t)
	sayAt(t, b, "a", noon, "XKLD -38 8200")
	if got, want := state(sayAt(t, b, "a", noon.Add(time.Hour), "-41")), "XKLD -41: 8200"; got != want {
		t.Errorf("an hour later: %q, want %q", got, want)
	}
	if got, want := state(sayAt(t, b, "a", noon.Add(2*time.Hour+time.Second), "-42")), "? "; got != want {
		t.Errorf("more than an hour after the last: %q, want %q", got, want)
	}
}

func TestThreadsApart(t *testing.T) {
	b := newBot(t)
	ask := func(surface, thread, text string) reply.Reply {
		r, err := b.Handle(t.Context(), bot.Message{Surface: surface, Thread: thread, Text: text, At: noon})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	ask("slack", "1", "XKLD -38 8200")
	ask("slack", "2", "XRUN -30 9000")
	ask("discord", "1", "XSLT -15 1500")
	for _, c := range []struct{ surface, thread, want string }{
		{"slack", "1", "XKLD -40: 8200"}, {"slack", "2", "XRUN -40: 9000"}, {"discord", "1", "XSLT -40: 1500"},
		{"discord", "2", "? "}, {"slack", "", "? "},
	} {
		if got := state(ask(c.surface, c.thread, "-40")); got != c.want {
			t.Errorf("%s thread %q: %q, want %q", c.surface, c.thread, got, c.want)
		}
	}
	ask("slack", "", "XKLD -38 8200")
	if got := state(ask("slack", "", "-41")); got != "? " {
		t.Errorf("without a thread a message is remembered: %q", got)
	}
}

func TestConcurrentUse(t *testing.T) {
	b := newBot(t)
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			for n := range 50 {
				thread := fmt.Sprint(i, n%3)
				if _, err := b.Handle(context.Background(), bot.Message{Surface: "x", Thread: thread, Text: "XKLD 8200 7400", At: noon}); err != nil {
					t.Error(err)
					return
				}
				r, err := b.Handle(context.Background(), bot.Message{Surface: "x", Thread: thread, Text: "-38", At: noon})
				if err != nil || state(r) != "XKLD -38: 8200, 7400" {
					t.Errorf("thread %s: %q, %v", thread, state(r), err)
					return
				}
				if r, err = b.Handle(context.Background(), bot.Message{Surface: "x", Thread: "shared", Text: "XKLD -38 8200 why", At: noon}); err != nil || r.Problem != nil {
					t.Errorf("shared thread: %+v, %v", r.Problem, err)
					return
				}
			}
		})
	}
	wg.Wait()
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := newBot(t).Handle(ctx, bot.Message{Text: "XKLD -38 8200"}); !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled message gives %v", err)
	}
}

func TestVerbs(t *testing.T) {
	b := newBot(t)
	for _, c := range []struct {
		text string
		kind reply.Kind
	}{
		{"help", reply.KindHelp}, {"rules", reply.KindRules}, {"rules strict", reply.KindRules},
		{"check", reply.KindQuestion}, {"watch", reply.KindQuestion}, {"obs XKLD -38", reply.KindQuestion},
		{"log", reply.KindQuestion}, {"brief XKLD 1430 XRUN 1515", reply.KindQuestion}, {"route 8200", reply.KindQuestion},
		{"why XKLD -38 8200", reply.KindCorrection}, {"XKLD -38", reply.KindStatus}, {"XKLD", reply.KindQuestion},
	} {
		r := sayAt(t, b, c.text, noon, c.text) // a thread each
		if r.Kind != c.kind {
			t.Errorf("%q: kind %q, want %q", c.text, r.Kind, c.kind)
		}
		if r.Problem != nil && r.Problem.Text == "" {
			t.Errorf("%q: problem %+v lacks a text", c.text, *r.Problem)
		}
	}
}

func TestQuestions(t *testing.T) {
	for _, c := range []struct{ name, text, word, says, try string }{
		{"unknown station", "XKLE -38 8200", "XKLE", "XKLD", "XKLD -38 8200"},
		{"no station", "-38 8200", "", "station", ""},
		{"no station, why", "why -38 8200", "", "station", ""},
		{"no temperature", "XKLD FAF 8200", "", "temperature", ""},
		{"elevation conflicts", "XKLD elev 4800 -38 8200", "elev", "4802 ft, not at 4800 ft", ""},
		{"no airfield that high", "-38 elev 20000 30000", "elev", "no airfield", ""},
		{"no airfield that low", "-38 elev -1600 30000", "elev", "no airfield", ""},
		{"below the field", "XKLD -38 8200 4800", "4800", "4802 ft", ""},
		{"at the field", "XKLD -38 4802", "4802", "4802 ft", "XKLD -38 4802 agl"},
		{"a labelled one is no height", "XKLD -38 DA 4800", "4800", "4802 ft", ""},
		{"metres taken for feet", "XKLD -38 2500", "2500", "m behind metres", "XKLD -38 2500 agl"},
		{"below the altimeter setting source", "XFRN -30 600", "600", "820 ft", "XFRN -30 600 agl"},
		{"a minimum above the final approach fix", "XKLD -38 FAF 7200 DA 7400", "DA", "fits no segment", ""},
		{"two final approach fixes", "XKLD -38 FAF 8200 FAF 7400", "FAF", "Is the FAF 8200 or 7400", ""},
		{"an initial fix below the final one", "XKLD -38 IAF 7200 FAF 8200", "IAF", "below the final approach fix", ""},
		{"a flight level by its figure", "XKLD -38 FAF 18500", "18500", "flight levels begin", ""},
		{"a hold that could be either", "XKLD -38 FAF 7400, hold 8200", "hold", "in lieu of a procedure turn, or that of the missed approach", ""},
		{"a hold among altitudes in reverse", "XKLD -38 DA 5340, FAF 7400, hold 8200, IAF 9000", "hold", "missed hold", ""},
		{"a higher one behind the missed approach", "XKLD -38 DA 5340, missed 7000, 10200", "10200", "Is 10200 the hold of the missed approach?", "XKLD -38 DA 5340, missed 7000, missed hold 10200"},
		{"the highest of several behind it", "XKLD -38 DA 5340 missed 7000 then 9000 and 10200", "10200", "Is 10200 the hold", "XKLD -38 DA 5340, missed 7000, missed 9000, missed hold 10200"},
		{"no stored procedure", "XKLD rnav 31 -38", "rnav 31", "No procedure", ""},
		{"a report without a temperature", "XKLD 151153Z 00000KT 10SM A2992; 8200", "", "no temperature", ""},
		{"nothing asked", "why", "why", "there is none here", "why XKLD -38 8200 7400 5340"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBot(t)
			r := say(t, b, c.text)
			if r.Problem == nil {
				t.Fatalf("%q: no problem: %s", c.text, state(r))
			}
			if p := r.Problem; p.Word != c.word || !strings.Contains(p.Text, c.says) || p.Try != c.try {
				t.Errorf("%q: problem %+v, want word %q, …%s…, try %q", c.text, *p, c.word, c.says, c.try)
			}
			if c.try == "" { // no line keeps every figure and its meaning
				return
			}
			if again := sayAt(t, b, "other", noon, r.Problem.Try); again.Problem != nil {
				t.Errorf("%q: the line to type, %q, has a problem: %+v", c.text, r.Problem.Try, *again.Problem)
			}
		})
	}
}

// TestExampleIsAnswered: where the demo's stations are not known, the example
// names one that is.
func TestExampleIsAnswered(t *testing.T) {
	b := botOf(t, "stations:\n  - {ident: XBRE, elevation_ft: 5120}\n")
	p := say(t, b, "").Problem
	if p == nil || !strings.HasPrefix(p.Try, "XBRE ") {
		t.Fatalf("nothing: problem %+v, want a line for XBRE", p)
	}
	if r := say(t, b, p.Try); r.Kind != reply.KindCorrection || len(r.Altitudes) != 3 {
		t.Errorf("%q: %s", p.Try, state(r))
	}
}

// TestUnitsAreExact: metres and heights are converted exactly, and an
// altitude in metres is the same request as its feet.
func TestUnitsAreExact(t *testing.T) {
	b := newBot(t)
	if got, want := row(t, say(t, b, "XKLD -38 3048m"), 10000).PublishedM, 3048.0; got != want {
		t.Errorf("3048m: published %v m, want %v", got, want)
	}
	if got, want := row(t, say(t, b, "XKLD -38 2500m"), 8202.1).HeightFt, 3400.1; got != want {
		t.Errorf("2500m: height %v ft, want %v", got, want) // 2500 / 0.3048 - 4802
	}
	if got, want := row(t, say(t, b, "XKLD -38 3398 agl"), 8200).CorrectedFt, row(t, say(t, b, "XKLD -38 8200"), 8200).CorrectedFt; got != want {
		t.Errorf("3398 agl: corrected %v, want as 8200: %v", got, want)
	}
	if got, want := row(t, say(t, b, "XFRN -30 1000 agl"), 1820).HeightFt, 1645.0; got != want {
		t.Errorf("1000 agl over a source 645 ft lower: height %v, want %v", got, want)
	}
	if got := say(t, b, "-15 elev 0 950").Station; got.ElevationFt != 0 || got.IsZero() {
		t.Errorf("elev 0: station %+v, want one at 0 ft", got)
	}
	if got := say(t, b, "XKLD -36F 8200").TemperatureC.Value; got != -37.78 {
		t.Errorf("-36F: %v, want -37.78, the colder hundredth", got)
	}
}

// TestRequired: the published restriction temperature binds at or below it
// (AIM 7-3-5 b).
func TestRequired(t *testing.T) {
	b := newBot(t)
	for _, c := range []struct {
		text string
		want reply.OptBool
	}{
		{"XKLD -25 8200", reply.Yes}, {"XKLD -24.9 8200", reply.No}, {"XKLD -24 8200", reply.No}, {"XKLD -25.1 8200", reply.Yes},
		{"XKLD -13F 8200", reply.Yes}, {"XKLD -12.9F 8200", reply.No}, // -13 F is -25 C
		{"XKLD -25", reply.Yes}, {"XKLD -24", reply.No},
		{"XDUL -40 2000", reply.NotApplicable}, {"-40 elev 45 2000", reply.NotApplicable},
		{"XRUN -20 FAF 8000", reply.Yes}, {"XRUN -20 IAF 9000 FAF 8000", reply.Yes}, {"XRUN -20 FAF 8000 faa-individual-segments", reply.Yes},
		{"XDUL -40 2000 icao", reply.NotApplicable}, {"XDUL -31 2000 strict", reply.Yes},
	} {
		r := say(t, b, c.text)
		if r.Required != c.want {
			t.Errorf("%q: required %v, want %v (%s)", c.text, r.Required, c.want, state(r))
		}
		if len(r.Altitudes) > 0 && r.Altitudes[0].CorrectionFt <= 0 {
			t.Errorf("%q: no figures, required or not: %+v", c.text, r.Altitudes)
		}
	}
}

// A segment that is not designated is flown as published.
func TestNotDesignated(t *testing.T) {
	r := say(t, newBot(t), "XRUN -20 missed 9000 faa-individual-segments")
	if a := r.Altitudes[0]; r.Required != reply.No || a.State != reply.StateUnchanged || a.CorrectedFt != 9000 || a.Mark != "as published" {
		t.Errorf("required %v, row %+v", r.Required, a)
	}
}

func TestReportCautions(t *testing.T) {
	const tail = "; 8200"
	for _, c := range []struct {
		name, report string
		codes        []string // of those that a report can bring
	}{
		{"fresh", "XKLD 151153Z 00000KT M38/M42 A2992", nil},
		{"75 minutes old", "XKLD 151045Z 00000KT M38/M42 A2992", nil},
		{"76 minutes old", "XKLD 151044Z 00000KT M38/M42 A2992", []string{"old-report"}},
		{"of yesterday: the stop tells it", "XKLD 141153Z 00000KT M38/M42 A2992", nil},
		{"an hour ahead of the clock", "XKLD 151300Z 00000KT M38/M42 A2992", nil},
		{"later than an hour ahead: last month's", "XKLD 151301Z 00000KT M38/M42 A2992", nil},
		{"31.00 inches", "XKLD 151153Z 00000KT M38/M42 A3100", nil},
		{"above 31.00 inches", "XKLD 151153Z 00000KT M38/M42 A3101", []string{"altimeter-high"}},
		{"1049 hPa", "XKLD 151153Z 00000KT M38/M42 Q1049", nil},
		{"1050 hPa", "XKLD 151153Z 00000KT M38/M42 Q1050", []string{"altimeter-high"}}, // 31.01 inches
		{"above 1050 hPa", "XKLD 151153Z 00000KT M38/M42 Q1051", []string{"altimeter-high"}},
		{"28.00 inches", "XKLD 151153Z 00000KT M38/M42 A2800", nil},
		{"below 28.00 inches", "XKLD 151153Z 00000KT M38/M42 A2799", []string{"altimeter-low"}},
		{"below 948 hPa", "XKLD 151153Z 00000KT M38/M42 Q0947", []string{"altimeter-low"}},
		{"tenths colder than the body", "XKLD 151153Z 00000KT M38/M42 A2992 RMK AO2 T13841422", []string{"colder-tenths"}},
		{"tenths warmer than the body", "XKLD 151153Z 00000KT M38/M42 A2992 RMK AO2 T13751422", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := say(t, newBot(t), c.report+tail)
			var got []string
			for _, q := range r.Cautions {
				if slices.Contains([]string{"old-report", "altimeter-high", "altimeter-low", "colder-tenths"}, string(q.Code)) {
					got = append(got, string(q.Code))
				}
			}
			if !slices.Equal(got, c.codes) {
				t.Errorf("%q: cautions %q, want %q (problem %+v)", c.report, got, c.codes, r.Problem)
			}
		})
	}
	b := newBot(t)
	if r := say(t, b, "XKLD 151153Z 00000KT M38/M42 A2992 RMK AO2 T13841422; 8200"); r.TemperatureC.Value != -38.4 || r.TemperatureSource != "METAR XKLD 151153Z, 7 min old" {
		t.Errorf("temperature %v, %q", r.TemperatureC.Value, r.TemperatureSource)
	}
	if r := sayAt(t, b, "another", noon, "XKLD 151153Z 00000KT M38/M42 A2992 RMK AO2 10000"); r.Kind != reply.KindStatus || !strings.Contains(strings.Join(r.Facts, " "), "Behind RMK") {
		t.Errorf("an altitude behind RMK: %s, facts %q", r.Kind, r.Facts)
	}
}

// TestCautionsOnce: no caution comes twice, and each is short.
func TestCautionsOnce(t *testing.T) {
	r := say(t, newBot(t), "XKLD -55 IAF 11200, FAF 10700, DA 5340, missed 12200")
	seen := map[string]bool{}
	for _, c := range r.Cautions {
		if seen[c.Text] {
			t.Errorf("caution %q comes twice", c.Text)
		}
		seen[c.Text] = true
	}
}

// What stays far below its published altitude all the same is on the screen, whichever
// rule leaves it there; and that no floor is asked for.
func TestStillBelow(t *testing.T) {
	for _, tt := range []struct{ text, code, want string }{
		// 14 800 on the altimeter, 9998 ft over the field, 43.49 K colder than standard:
		// 43.49 / 0.0019812 * -ln(1 - 0.0019812 * 9998 / 278.64) = 1618.7 ft lower (the
		// accurate equation, by hand), 13 181.
		{"XKLD -38 IAF 14000, FAF 8200, DA 5340", "still-below", "Corrected, IAF is still 818 ft low."},
		{"XKLD -38 IAF 10500, FAF 8200, DA 5340", "still-below", ""},
		{"XKLD -38 IAF 14000, FAF 8200, DA 5340, missed 17000", "still-below", "Corrected, missed is still 997 ft low."}, // 18 200: 2197.6 ft lower, by hand
		{"XKLD -38 IAF 9000, FAF 8200, DA 5340", "still-below", ""},
		{"XKLD -38 FAF 8200, DA 5340, missed 16000", "still-below", "Corrected, missed is still 825 ft low."}, // 17 200: 2025.7 ft
		{"XKLD -38 FAF 8200, DA 5340, missed 11000", "still-below", ""},
		{"XKLD -38 FAF below 8200, DA 5340", "ceiling", "No floor to ask for: FAF is at most 9000."},
		{"XKLD -38 FAF 8200, DA 5340", "ceiling", ""},
	} {
		r, got := say(t, newBot(t), tt.text), ""
		for _, c := range r.Cautions {
			if string(c.Code) == tt.code {
				got = c.Text
			}
		}
		if got != tt.want {
			t.Errorf("%s: %q, want %q", tt.text, got, tt.want)
		}
	}
}

// A valley's extra is in the amount alone.
func TestValleyExtra(t *testing.T) {
	valley, flat := say(t, newBot(t), "XGLN -20 IAF 9000 FAF 7000").Call, say(t, newBot(t), "XKLD -38 IAF 10200 FAF 8200").Call
	// 3660 ft up at -20 °C: 520 ft (AIM TBL 7-3-1: 420 at 3000, 570 at 4000).
	if want := "For cold temperature request 1600 ft added to vectored altitudes, unable below 9600 until established."; valley == nil || valley.Text != want {
		t.Errorf("in a valley: %+v, want %s", valley, want)
	}
	if want := "For cold temperature request 800 ft added to vectored altitudes, unable below 11000 until established."; flat == nil || flat.Text != want {
		t.Errorf("without an extra: %+v, want %s", flat, want)
	}
}
