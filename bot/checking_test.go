package bot_test

import (
	"context"
	"fmt"
	"log/slog"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/weather"
	"firn/engine"
)

// room is a bot with a record in memory.
type room struct {
	t     *testing.T
	bot   *bot.Bot
	book  *record.Book
	store *storetest.Memory
	c     engine.Celsius // observed now
	none  bool           // or nothing is
	n     int
}

func (r *room) Observation(_ context.Context, ident string) (weather.Reading, error) {
	if r.none {
		return weather.Reading{}, &weather.Missing{Ident: ident}
	}
	return weather.Reading{Observation: weather.Observation{Ident: ident, C: r.c, At: time.Now(), Source: "METAR (folder)"}}, nil
}

func newRoom(t *testing.T, set record.Settings) *room {
	r := &room{t: t, bot: newBot(t), store: storetest.NewMemory(time.Now), none: true}
	r.book = record.New(slog.New(slog.DiscardHandler), time.Now, r.store, record.Options{Settings: set, Observer: r, Computer: r.bot})
	t.Cleanup(r.book.Close)
	r.bot.Use(bot.Ports{Book: r.book, Observer: r})
	return r
}

// says lets somebody say something in a thread of a channel; "1" is who and
// where it is: the user U1.
func (r *room) says(who, thread, text string) reply.Reply {
	return r.saysOn(who, thread, text, "")
}

// saysOn is an edit of the message under a card.
func (r *room) saysOn(who, thread, text, card string) reply.Reply {
	r.t.Helper()
	r.n++
	time.Sleep(time.Second)
	m := bot.Message{
		Surface: "slack", Thread: thread, Channel: "slack:C1", User: who + " (slack:" + strings.ToUpper(who) + ")", Person: "slack:" + strings.ToUpper(who),
		ID: fmt.Sprint(r.n), Text: text, At: time.Now(), Card: card,
	}
	out, err := r.bot.Handle(r.t.Context(), m)
	if err != nil {
		r.t.Fatalf("%q: %v", text, err)
	}
	return out
}

// name is the name of a reply's record.
func (r *room) name(out reply.Reply) string {
	r.t.Helper()
	if out.Record == nil {
		r.t.Fatalf("no record: %+v", out)
	}
	return out.Record.ID
}

// want checks what somebody reads.
func (r *room) want(out reply.Reply, kind reply.Kind, texts ...string) {
	r.t.Helper()
	all := strings.Join(out.Facts, "\n")
	if out.Problem != nil {
		all += out.Problem.Text + "\ntype: " + out.Problem.Try
	}
	for _, s := range out.Sections {
		all += "\n" + s.Title + ":\n" + strings.Join(s.Lines, "\n")
	}
	if out.Kind != kind {
		r.t.Errorf("kind %q, want %q: %s", out.Kind, kind, all)
	}
	for _, w := range texts {
		if !strings.Contains(all, w) {
			r.t.Errorf("%q, want %q in it", all, w)
		}
	}
}

func (r *room) state(id string, want record.State) record.Record {
	r.t.Helper()
	got, found, err := r.book.Find(r.t.Context(), id)
	if err != nil || !found {
		r.t.Fatalf("%s: %v, %v", id, found, err)
	}
	if s := r.book.State(got); s != want {
		r.t.Errorf("%s is %s, want %s", id, s, want)
	}
	return got
}

func TestChecking(t *testing.T) {
	for _, c := range []struct {
		name string
		set  record.Settings
		run  func(*room)
	}{
		{"a result is a record", record.Settings{}, func(r *room) {
			out := r.says("anna", "t", "XKLD -38 FAF 8200, DA 5340")
			id := r.name(out)
			if !regexp.MustCompile(`^[A-Z]{6}-[A-Z]{4}$`).MatchString(id) || out.Record.State != "unchecked" || out.Record.Version != 1 {
				r.t.Errorf("record %+v", out.Record)
			}
			if a := out.Actions[len(out.Actions)-2]; a.ID != "check" || a.Message != "check" || a.Asks() != "check "+id {
				r.t.Errorf("actions %+v", out.Actions)
			}
			got := r.state(id, record.Unchecked)
			if got.Asked != (record.Person{Address: "slack:ANNA", Name: "anna"}) || got.Channel != "slack:C1" || got.Engine != engine.Version || got.Text != "XKLD -38 FAF 8200, DA 5340" {
				r.t.Errorf("record %+v", got.Result)
			}
			if got.Line != "XKLD -38 faa-all-segments FAF 8200, DA 5340" {
				r.t.Errorf("line %q", got.Line)
			}
			// -38 and 538 ft: reference table, between 500 and 600 ft; the FAF's
			// correction is rounded up to 100, the DA's to 10.
			if len(got.Numbers) != 2 || got.Numbers[0].StepFt != 100 || got.Numbers[1].StepFt != 10 || got.Numbers[0].CorrectedFt != 9000 || got.Numbers[1].CorrectedFt < got.Numbers[1].NeedFt {
				r.t.Errorf("numbers %+v", got.Numbers)
			}
		}},
		{"check", record.Settings{}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 8200"))
			r.want(r.says("anna", "t", "check"), reply.KindNotice, "is your own")
			r.want(r.says("bo", "t", "check"), reply.KindNotice, id+" (XKLD −38 °C) is checked by bo at ")
			r.state(id, record.Checked)
			r.want(r.says("cy", "elsewhere", "check "+strings.ToLower(strings.Replace(id, "-", " ", 1))), reply.KindNotice, "already checked, by bo")
			r.want(r.says("bo", "t", "withdraw "+id), reply.KindNotice, "is withdrawn")
			r.state(id, record.Unchecked)
		}},
		{"check blind", record.Settings{}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 8200 7400 5340"))
			r.want(r.says("bo", "t", "check "+id+" 8990"), reply.KindQuestion, "3 altitudes, 8200, 7400, 5340")
			r.want(r.says("bo", "t", "check 8,990 / 7970"), reply.KindQuestion)
			out := r.says("bo", "t", "check 8,990 / 7990, 5500ft")
			r.want(out, reply.KindNotice, "bo disagrees", "Compared:", "5340: 5500 entered")
			if len(out.Actions) != 1 || out.Actions[0].ID != reply.ActionWhy { // looked at, not computed warmer
				r.t.Errorf("actions %+v", out.Actions)
			}
			r.state(id, record.Disagreed)
			var right []string
			for _, n := range r.state(id, record.Disagreed).Numbers {
				right = append(right, fmt.Sprint(n.CorrectedFt))
			}
			r.want(r.says("cy", "t", "check "+id+" "+strings.Join(right, " ")), reply.KindNotice, "The disagreement of bo is resolved", "8200: 8990 on both sides")
		}},
		{"in metres", record.Settings{}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 3048m"))
			n := r.state(id, record.Unchecked).Numbers[0]
			r.want(r.says("bo", "t", fmt.Sprintf("check %dm", int(n.CorrectedFt*0.3048)+1)), reply.KindNotice, "the figures agree")
		}},
		{"where it is blind", record.Settings{BlindChannels: []string{"slack:C1"}}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 8200"))
			r.want(r.says("bo", "t", "check "+id), reply.KindQuestion, "work out 1 altitude, 8200 from your own table")
			r.want(r.says("bo", "t", "check "+id+" 8990"), reply.KindNotice, "the figures agree")
		}},
		{"what is no name and no altitude", record.Settings{}, func(r *room) {
			r.want(r.says("bo", "t", "check"), reply.KindQuestion, "There is no result here yet")
			r.want(r.says("bo", "t", "check KALOMI-RUTA"), reply.KindQuestion, "No record is called KALOMI-RUTA. If it stands on a card, that answer was not kept and nobody can check it: ask again, and use the new one.")
			r.want(r.says("bo", "t", "check please"), reply.KindQuestion, "There is no result here yet")
			r.want(r.says("bo", "t", "check blah"), reply.KindQuestion, "blah is no name of a record")
			id := r.name(r.says("anna", "t", "XKLD -38 8200"))
			r.want(r.says("bo", "t", "check "+id+" -8990"), reply.KindQuestion, "-8990 has a sign")
			r.want(r.says("bo", "t", "check "+id+" 1e4"), reply.KindQuestion, "1e4 is no altitude")
			r.want(r.says("bo", "t", "check "+id+" NaN"), reply.KindQuestion, "NaN is no altitude")
			r.want(r.says("bo", "t", "check "+id+" 99999"), reply.KindQuestion, "99999 is too high")
			r.want(r.says("bo", "t", "withdraw "+id+" blah"), reply.KindQuestion)
			r.want(r.says("bo", "t", "withdraw "+id), reply.KindNotice, "no check of yours")
			r.state(id, record.Unchecked)
		}},
		{"a status is no record", record.Settings{}, func(r *room) {
			before := r.name(r.says("anna", "t", "XKLD -38 FAF 8200"))
			out := r.says("anna", "t", "XRUN -30")
			if out.Kind != reply.KindStatus || out.Record != nil {
				r.t.Errorf("a status is %+v, want one without a record", out)
			}
			if next := r.says("anna", "t", "FAF 9000"); next.Record == nil || next.Record.Version != 1 {
				r.t.Errorf("what follows a status is %+v, want the first version of a record", next.Record)
			}
			r.state(before, record.Unchecked)
			r.want(r.says("cy", "u", "log"), reply.KindLog, "The latest results: 2.")
		}},
		{"a status that an older version kept", record.Settings{}, func(r *room) {
			was := r.says("anna", "t", "XKLD -38")
			kept, err := r.book.Make(r.t.Context(), record.Result{Surface: "slack", Thread: "t", Message: "old", Asked: record.Person{Address: "slack:ANNA"}, Line: "XKLD -38", At: time.Now(), Reply: was}, nil)
			if err != nil {
				r.t.Fatal(err)
			}
			r.want(r.says("bo", "t", "check "+kept.ID), reply.KindNotice, "there is nothing to check")
			r.want(r.says("bo", "t", "log "+kept.ID), reply.KindLog, kept.ID+": kept")
		}},
		{"why makes no record of its own", record.Settings{}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 8200"))
			if out := r.says("bo", "t", "why"); out.Record != nil || len(out.Working) != 1 {
				r.t.Errorf("record %+v, %d workings", out.Record, len(out.Working))
			}
			if out := r.says("bo", "t", "why XKLD -38 8200"); out.Record != nil {
				r.t.Errorf("record %+v", out.Record)
			}
			if out := r.says("bo", "t2", "why XKLD -39 8200"); out.Record == nil {
				r.t.Error("a working with new figures is no record")
			}
			r.state(id, record.Unchecked)
		}},
		{"amended", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "t", "XKLD -38 FAF 8200 DA 5340"))
			r.says("bo", "t", "check "+first)
			out := r.says("anna", "t", "DA should be 5400")
			second := r.name(out)
			if out.Record.Version != 2 || out.Record.State != "unchecked" {
				r.t.Errorf("record %+v", out.Record)
			}
			old := r.state(first, record.Replaced)
			if old.Replaced.By != second || len(old.Checks) != 1 {
				r.t.Errorf("the old one: %+v", old.Status)
			}
			r.want(r.says("bo", "t", "log "+first), reply.KindLog, "DA 5340 to 5470", "Checked by bo", "Replaced by "+second)
			third := r.says("anna", "t", "-41")
			if third.Record.Version != 3 {
				r.t.Errorf("record %+v", third.Record)
			}
			r.want(r.says("bo", "t", "check "+second), reply.KindQuestion, "was replaced by "+third.Record.ID)
		}},
		{"asked beside it", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "t", "XKLD -38 8200"))
			for _, line := range []string{"7400", "same at XRUN", "XKLD -41 7400"} {
				if out := r.says("bo", "t", line); out.Record == nil || out.Record.Version != 1 {
					r.t.Errorf("%q: %+v", line, out)
				}
			}
			r.state(first, record.Unchecked)
		}},
		{"a message that was edited", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "t", "XKLD -38 8200"))
			if err := r.book.Shown(r.t.Context(), "slack", "card", first); err != nil {
				r.t.Fatal(err)
			}
			time.Sleep(time.Second)
			out := r.saysOn("anna", "t", "XRUN -38 8400", "card")
			if out.Record.Version != 2 {
				r.t.Errorf("record %+v", out.Record)
			}
			r.state(first, record.Replaced)
		}},
		{"recompute", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "t", "XKLD -38 FAF 8200 DA 5340 icao"))
			r.want(r.says("bo", "u", "recompute "+first), reply.KindQuestion, "What is the temperature?")
			r.want(r.says("bo", "u", "recompute "+first+" 41"), reply.KindQuestion, "recompute "+first+" -41")
			r.want(r.says("bo", "u", "recompute "+first+" XRUN -41"), reply.KindQuestion)
			r.none, r.c = false, -41
			out := r.says("anna", "u", "recompute "+first)
			if out.Record.Version != 2 || out.TemperatureC.Value != -41 || out.Rules != "icao" || len(out.Altitudes) != 2 {
				r.t.Errorf("reply %+v", out)
			}
			old := r.state(first, record.Replaced)
			if old.Replaced.By != out.Record.ID {
				r.t.Errorf("replaced by %s", old.Replaced.By)
			}
			r.want(r.says("cy", "v", "recompute "+first+" -42"), reply.KindQuestion, "was replaced by "+out.Record.ID, "recompute "+out.Record.ID)
			third := r.says("anna", "v", "recompute "+out.Record.ID+" -42")
			if third.Record.Version != 3 || third.TemperatureC.Value != -42 {
				r.t.Errorf("reply %+v", third)
			}
			if got := r.state(third.Record.ID, record.Unchecked); got.Asked.Name != "anna" {
				r.t.Errorf("asked by %v", got.Asked)
			}
		}},
		{"recompute another's, or warmer", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "t", "XKLD -38 8200"))
			time.Sleep(time.Minute)
			r.none, r.c = false, -41
			asked := r.says("bo", "t", "recompute "+first)
			r.want(asked, reply.KindQuestion, first+" is by anna.", "compute again at −41, 0 min old?", "type: recompute "+first+" latest")
			if len(asked.Actions) != 1 || asked.Actions[0].Label != "Again at −41, 0 min old" {
				r.t.Errorf("buttons %+v", asked.Actions)
			}
			beside := r.says("bo", "t", asked.Actions[0].Asks())
			if beside.Record.Version != 1 || beside.TemperatureC.Value != -41 {
				r.t.Errorf("reply %+v", beside)
			}
			r.state(first, record.Unchecked)
			r.c = -29
			asked = r.says("anna", "u", "recompute "+first)
			r.want(asked, reply.KindQuestion, "−29 °C is warmer than the −38 °C of "+first)
			if strings.Contains(asked.Problem.Text, "is by") {
				r.t.Errorf("her own is called another's: %s", asked.Problem.Text)
			}
			warmer := r.says("anna", "u", "yes")
			if warmer.Record == nil || warmer.Record.Version != 1 || warmer.TemperatureC.Value != -29 {
				r.t.Errorf("reply %+v", warmer)
			}
			r.state(first, record.Unchecked)
			time.Sleep(7 * time.Hour)
			if out := r.says("bo", "v", "recompute "+first); out.Record == nil || out.Record.Version != 2 {
				r.t.Errorf("what is over is asked about: %+v", out)
			}
		}},
		{"a full question voids no other", record.Settings{}, func(r *room) {
			first := r.name(r.says("anna", "dm", "XKLD -38 FAF 8200, DA 5340"))
			r.none, r.c = false, -41
			for _, line := range []string{"XKLD -38 FAF 8300, DA 5340", "XKLD -41 FAF 8200, DA 5340", "XKLD FAF 8200, DA 5340", "XKLD m38 FAF 8200", "XRUN -38 8200"} {
				out := r.says("anna", "dm", line)
				if out.Record == nil || out.Record.Version != 1 {
					r.t.Errorf("%q: %+v", line, out)
				}
			}
			r.state(first, record.Unchecked)
			if out := r.says("anna", "dm2", "XKLD -38 FAF 8200"); out.Record.Version != 1 {
				r.t.Errorf("%+v", out.Record)
			}
			if out := r.says("anna", "dm2", "-41"); out.Record == nil || out.Record.Version != 2 {
				r.t.Errorf("a scrap makes %+v", out)
			}
		}},
		{"it notices", record.Settings{}, func(r *room) {
			id := r.name(r.says("anna", "t", "XKLD -38 FAF 8200 DA 5340"))
			r.says("bo", "t", "check")
			time.Sleep(time.Hour)
			r.none, r.c = false, -38
			if l := r.book.Sweep(r.t.Context()); l.Noticed != 0 || l.Failed != 0 {
				r.t.Errorf("the same temperature: %+v", l)
			}
			r.c = -43
			if l := r.book.Sweep(r.t.Context()); l.Noticed != 1 || l.Failed != 0 {
				r.t.Errorf("five colder: %+v", l)
			}
			got := r.state(id, record.Recompute)
			if text := got.Noticed[0].Text; !strings.Contains(text, "−38 °C was taken, and it is −43 °C") || !strings.Contains(text, "FAF 8200: 9000 becomes 9100") {
				r.t.Errorf("noticed %q", text)
			}
		}},
		{"log", record.Settings{}, func(r *room) {
			r.want(r.says("cy", "t", "log"), reply.KindLog, "there are none")
			a := r.name(r.says("anna", "t", "XKLD -38 8200"))
			r.says("bo", "t", "check "+a)
			b := r.name(r.says("anna", "u", "XRUN -30 FAF 9000"))
			c := r.name(r.says("anna", "v", "XKLD -38 7400"))
			r.says("dana", "v", "check "+c)
			r.want(r.says("cy", "t", "log"), reply.KindLog, "The latest results: 3.", a, b, c, "Checked; computed by anna, checked by bo.")
			out := r.says("cy", "t", "log xkld today")
			r.want(out, reply.KindLog, "Today, XKLD: 2.", a, c)
			if strings.Contains(fmt.Sprint(out), b) {
				r.t.Error("another station's is in it")
			}
			out = r.says("cy", "t", "log unchecked")
			r.want(out, reply.KindLog, "Not checked: 1.", b)
			r.want(r.says("cy", "t", "log XRUN unchecked"), reply.KindLog, b)
			r.want(r.says("cy", "t", "log "+a), reply.KindLog, a+": checked:", "Computed by anna", "Checked by bo")
			r.want(r.says("cy", "t", "log tomorrow"), reply.KindQuestion, "and not tomorrow")
			r.want(r.says("cy", "t", "log KALOMI-RUTA"), reply.KindQuestion, "No record is called")
			time.Sleep(24 * time.Hour)
			r.want(r.says("cy", "t", "log today"), reply.KindLog, "Today, in UTC: there are none.")
			r.want(r.says("cy", "t", "log yesterday"), reply.KindLog, "Yesterday, in UTC: 3.", a, b, c)
			r.want(r.says("cy", "t", "log XKLD yesterday"), reply.KindLog, "Yesterday, XKLD: 2.", a, c)
			time.Sleep(24 * time.Hour)
			r.want(r.says("cy", "t", "log XKLD yesterday"), reply.KindLog, "Yesterday, XKLD: there are none.")
		}},
		{"help", record.Settings{}, func(r *room) {
			r.bot.Use(bot.Ports{Book: r.book, Observer: r, Pictures: true})
			r.want(r.says("cy", "t", "help"), reply.KindHelp, "Check together:", "log unchecked", "Look up:")
			for _, s := range r.says("cy", "t", "help").Sections {
				if s.Title == "Labels" {
					continue
				}
				for _, line := range s.Lines { // examples, and in parentheses what they are
					examples, _, _ := strings.Cut(line, " (")
					for i, text := range strings.Split(examples, " · ") {
						if strings.Contains(text, "  ") {
							r.t.Errorf("%s: %q looks like one message where spaces fall together", s.Title, text)
						}
						if s.Title == "Go on from an answer" {
							thread := line + fmt.Sprint(i)
							r.says("cy", thread, "XKLD -38 8200 7400 5900")
							r.want(r.says("cy", thread, text), reply.KindCorrection)
						} else if p := r.bot.Problem(r.t.Context(), text, noon); p != nil {
							r.t.Errorf("%s: %q is asked about: %s", s.Title, text, p.Text)
						}
					}
				}
			}
		}},
		{"a long log", record.Settings{}, func(r *room) {
			for i := range 35 {
				r.says("anna", fmt.Sprint("t", i), "XKLD -38 8200")
			}
			r.want(r.says("cy", "t", "log XKLD today"), reply.KindLog, "Today, XKLD: 35.", "And 5 more; firn export gives them all.")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				r := newRoom(t, c.set)
				c.run(r)
				time.Sleep(time.Second)
				rep, err := record.Verify(t.Context(), r.store)
				if err != nil || len(rep.Findings) > 0 {
					t.Errorf("the history: %+v, %v", rep.Findings, err)
				}
			})
		})
	}
}

// On the console nobody has an account.
func TestCheckingWithoutAccounts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		r.n++
		ask := func(text string) reply.Reply {
			out, err := r.bot.Handle(t.Context(), bot.Message{Surface: "console", Thread: "chat", Text: text, At: time.Now()})
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
		id := r.name(ask("XKLD -38 8200"))
		r.want(ask("check"), reply.KindNotice, "the console does not know who types")
		r.want(r.says("bo", "t", "check "+id), reply.KindNotice, "is checked by bo")
		time.Sleep(time.Second)
	})
}

// corrected are the figures that people fly.
func corrected(all []record.Number) string {
	var out []string
	for _, n := range all {
		out = append(out, fmt.Sprintf("%s %v %v", n.Label, n.CorrectedFt, n.Required))
	}
	return strings.Join(out, "; ")
}

// Whatever was asked can be computed again from its line, to the same figures.
func TestRecomputeIsTheSame(t *testing.T) {
	for _, text := range []string{
		"XKLD -38 8200 7400 5340",
		"XKLD -38.5 IAF 10200, FAF WENDL 8200, step 7400, LNAV MDA 5340, missed 10200",
		"XKLD -36F 2500m, 560 ft agl",
		"elev 4802 -38 8200",
		"XFRN -30 canada FAF 4000 DA 1200",
		"XKLD 151153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13781422; FAF 8200",
		"XKLD -55 8200", "XKLD +20 8200", "XKLD -38 exactly 8200",
	} {
		synctest.Test(t, func(t *testing.T) {
			r := newRoom(t, record.Settings{})
			out := r.says("anna", "t", text)
			if out.Record == nil {
				return // a question
			}
			got := r.state(out.Record.ID, record.Unchecked)
			again, err := r.bot.Recompute(t.Context(), got.Line, engine.Celsius(got.Temperature()))
			if err != nil || again.Required != (out.Required == reply.Yes) || corrected(again.Numbers) != corrected(got.Numbers) {
				t.Errorf("%q, as %q:\n got %v, %v\nwant %v", text, got.Line, again, err, got.Numbers)
			}
		})
	}
	b := newBot(t)
	for _, line := range []string{"", "XNOT -38 8200", "FL150"} {
		if _, err := b.Recompute(t.Context(), line, -38); err == nil {
			t.Errorf("%q is computed again", line)
		}
	}
}

// TestAside: what is shown to one person, of what stands there, makes no
// record, and is not what a follow-up is read with.
func TestAside(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		id := r.name(r.says("anna", "1", "XKLD -38 8200"))
		out, err := r.bot.Handle(t.Context(), bot.Message{
			Surface: "slack", Thread: "1", Channel: "slack:C1", User: "bo (slack:BO)", Person: "slack:BO", ID: "aside", Text: "why XKLD -20 7400", At: time.Now(), Aside: true,
		})
		if err != nil || len(out.Working) != 1 || out.Record != nil {
			t.Fatalf("the working is %+v, %v; want it without a record", out, err)
		}
		all, err := r.book.List(t.Context(), record.Query{})
		if err != nil || len(all) != 1 || all[0].ID != id {
			t.Errorf("the record has %+v, %v; want %s alone", all, err, id)
		}
		if next := r.says("anna", "1", "-41"); len(next.Altitudes) != 1 || next.Altitudes[0].PublishedFt != 8200 || next.TemperatureC.Value != -41 {
			t.Errorf("the follow-up is of %+v, want 8200 at −41", next.Altitudes)
		}
	})
}

// TestLongLine: a record's line is longer than the message that it came of, and
// is computed again however long it is.
func TestLongLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		text := "XKLD -38"
		for len(text) < parse.MaxBytes-5 {
			text += " 8200"
		}
		first := r.says("u1", "t1", text)
		id := r.name(first)
		got, found, err := r.book.Find(t.Context(), id)
		if err != nil || !found || len(got.Line) <= parse.MaxBytes {
			t.Fatalf("%v, %v; the line has %d bytes, want more than a message may", found, err, len(got.Line))
		}
		then, err := r.bot.Recompute(t.Context(), got.Line, -45)
		if err != nil || len(then.Numbers) != len(got.Numbers) || then.Numbers[0].CorrectedFt <= got.Numbers[0].CorrectedFt {
			t.Errorf("%d numbers at −45, %v; want %d, each higher", len(then.Numbers), err, len(got.Numbers))
		}
		if out := r.says("u1", "t1", "recompute "+id+" -45"); out.Kind != reply.KindCorrection || out.TemperatureC.Value != -45 {
			t.Errorf("recomputed: %s, %+v", out.Kind, out.Problem)
		}
	})
}
