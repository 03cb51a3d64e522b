package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/adapters/console"
	"firn/bot/chat"
	"firn/bot/drawing"
	"firn/bot/present"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// sideBySide is a card on every surface, side by side, and the printed card where
// there is one.
func sideBySide(t *testing.T, c chat.Message) *txtar.Archive {
	t.Helper()
	var text bytes.Buffer
	if c.Note != "" {
		text.WriteString("(" + c.Note + ")\n")
	}
	if err := console.Render(&text, c.Reply, console.Style{}); err != nil {
		t.Fatal(err)
	}
	return &txtar.Archive{Files: []txtar.File{
		{Name: "console.txt", Data: text.Bytes()},
		{Name: "slack.txt", Data: onSlack(t, c)},
		{Name: "discord.txt", Data: onDiscord(t, c)},
		{Name: "page.txt", Data: onPage(t, c)},
	}}
}

// held compares with what testdata/shown has, or writes it.
func held(t *testing.T, name, about string, got *txtar.Archive) {
	t.Helper()
	got.Comment = []byte(about + "\n")
	file := filepath.Join("..", "..", "testdata", "shown", name+".txtar")
	if *update {
		if err := makeFile(file, txtar.Format(got)); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if is := txtar.Format(got); !bytes.Equal(is, want) {
		t.Errorf("%s differs; got\n%s\nwant\n%s", file, is, want)
	}
}

// made is a result of testdata/reply's procedure, as it is kept.
func made(t *testing.T) record.Record {
	t.Helper()
	a, err := txtar.ParseFile(filepath.Join("..", "..", "testdata", "reply", "procedure.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	r := record.Record{Result: record.Result{
		ID: "GOGA-RUTA", Version: 1, Surface: "slack", Channel: "slack:C1", Asked: record.Person{Address: "slack:U1", Name: "Anna"},
		Text: "XKLD rnav 31 -38", Line: "XKLD rnav 31 -38 faa-all-segments", At: goldenTime, Expires: goldenTime.Add(6 * time.Hour),
	}}
	for _, f := range a.Files {
		if f.Name == "reply.json" {
			if err := json.Unmarshal(f.Data, &r.Reply); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, row := range r.Reply.Altitudes {
		if row.State != reply.StateNotUsable {
			r.Numbers = append(r.Numbers, record.Number{Label: strings.TrimSpace(row.Label + " " + row.Fix), PublishedFt: row.PublishedFt, CorrectedFt: row.CorrectedFt, NeedFt: row.CorrectedFt - 5, StepFt: 100})
		}
	}
	r.Reply.Actions = append(r.Reply.Actions, reply.Action{ID: reply.ActionPost, Label: "Post to the team", Message: "post"})
	return r
}

// TestGoldenStates shows a result in each of its states, on every surface and
// printed. Who reads one aloud hears what holds and what to do next.
func TestGoldenStates(t *testing.T) {
	bo := record.Person{Address: "slack:U2", Name: "Bo"}
	known := func(string) (weather.Observation, bool) {
		return weather.Observation{C: -29, At: goldenTime.Add(-time.Minute), Received: goldenTime.Add(time.Minute)}, true
	}
	colder := record.Noticed{At: goldenTime, Rev: 1, C: -45, Source: "METAR", Observed: true, Text: "−38 °C was taken, and it is −45 °C (METAR, observed 13:20Z): FAF XIRTU 7400: 8000 becomes 8200."}
	forecast := colder
	forecast.Observed, forecast.Forecast, forecast.Text = false, true, "−38 °C was taken, and −45 °C is forecast for 15:00Z (TAF): FAF XIRTU 7400: 8000 becomes 8200."
	for _, c := range []struct {
		name, about string
		known       bool
		change      func(*record.Record)
	}{
		{"unchecked", "Nobody has checked it, and the latest temperature is known.", true, func(*record.Record) {}},
		{"unchecked_unknown", "Nobody has checked it, and no observation is at hand.", false, func(*record.Record) {}},
		{"checked", "A second person has checked it.", true, func(r *record.Record) {
			r.Checks = []record.Check{{By: bo, At: goldenTime.Add(5 * time.Minute), How: record.Confirmed}}
		}},
		{"disagreed", "A second person has worked out another altitude.", true, func(r *record.Record) {
			r.Checks = []record.Check{{By: bo, At: goldenTime.Add(5 * time.Minute), How: record.Blind, Compared: []record.Compared{record.Compare(r.Numbers[3], 8900)}}}
		}},
		{"out_of_date", "A newer observation changes a figure.", false, func(r *record.Record) { r.Noticed = []record.Noticed{colder} }},
		{"out_of_date_forecast", "A forecast for its time changes a figure.", false, func(r *record.Record) { r.Noticed = []record.Noticed{forecast} }},
		{"expired", "It holds no longer.", true, func(r *record.Record) { r.Expires = goldenTime }},
		{"replaced", "Another version has taken its place.", true, func(r *record.Record) { r.Replaced = &record.Replacement{By: "GOMU-RIPA", At: goldenTime} }},
		{"withdrawn_message", "Its message became another one.", true, func(r *record.Record) { r.Replaced = &record.Replacement{At: goldenTime} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := made(t)
			c.change(&r)
			set := record.Settings{}
			if c.known {
				set.Known = known
			}
			at := goldenTime.Add(time.Hour)
			got := sideBySide(t, chat.Message{Reply: record.Render(r, at, set), Note: record.Above(r, at, set)})
			card, ok := drawing.KneeboardOf(r.Reply, drawing.StandingOf(r, at, func(string) *time.Location { return time.UTC }))
			if !ok {
				t.Fatal("it cannot be printed")
			}
			got.Files = append(got.Files, txtar.File{Name: "print.txt", Data: []byte(strings.ReplaceAll(card.Alt(), ". ", ".\n") + "\n")})
			held(t, c.name, c.about, got)
		})
	}
	t.Run("not_kept", func(t *testing.T) {
		held(t, "not_kept", "The store did not take it.", sideBySide(t, chat.Message{Reply: record.Unkept(record.Render(made(t), goldenTime, record.Settings{}))}))
	})
}

// TestGoldenKinds shows the kinds of reply that no message of testdata/reply
// asks for: words of the watch, the log, what became of something, an error.
func TestGoldenKinds(t *testing.T) {
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	alert := func(kind string, state coldwatch.State) reply.Reply {
		sc := reply.AlertScene{
			Base: reply.Scene{Ident: "XKLD", Name: "Kaldmoor", Elevation: 4802, Source: 4802, Restriction: -25, Restricted: true, Set: sets[0]},
			Zone: time.FixedZone("", -7*3600), Segments: []procedure.Segment{procedure.Initial, procedure.Missed},
			Kind: kind, Day: "2026-01-25", Window: coldwatch.Window{From: goldenTime, To: goldenTime.Add(12 * time.Hour)},
			Judgement: coldwatch.Judgement{
				State: state, Restriction: -25, Low: -31, LowAt: goldenTime.Add(4 * time.Hour), HoursKnown: true,
				BelowFrom: goldenTime.Add(2 * time.Hour), BelowTo: goldenTime.Add(6 * time.Hour),
				CoveredFrom: goldenTime, CoveredTo: goldenTime.Add(12 * time.Hour), Source: "TAF", Issued: goldenTime.Add(-time.Hour),
			},
			Waiting: 30 * time.Minute, Due: goldenTime, Now: goldenTime,
		}
		if kind == "opened" {
			points := []procedure.Point{{Role: procedure.FinalFix, Fix: "XIRTU", Altitude: 7400}, {Role: procedure.DecisionAltitude, Altitude: 5340}}
			if err := procedure.AssignSegments(points); err != nil {
				t.Fatal(err)
			}
			sc.Usual = []reply.UsualProcedure{{Name: "RNAV (GPS) RWY 31", Points: points}}
		}
		if state == coldwatch.NoForecast {
			sc.Judgement = coldwatch.Judgement{State: state, Restriction: -25, Note: "no source has a forecast for XKLD"}
		}
		return reply.Alert(sc)
	}
	utc := func(string) *time.Location { return time.UTC }
	board := []reply.Cold{
		{Ident: "XRUN", State: "clear", LowC: reply.Some(-5), LowAt: goldenTime, RestrictionC: reply.Some(-20)},
		{Ident: "XKLD", State: "below", LowC: reply.Some(-31), LowAt: goldenTime, RestrictionC: reply.Some(-25), BelowFrom: goldenTime, BelowTo: goldenTime.Add(4 * time.Hour), SnoozedUntil: goldenTime.Add(2 * time.Hour)},
		{Ident: "XHGH", State: "no-forecast", RestrictionC: reply.Some(-18), Note: "no source has a forecast for XHGH"},
		{Ident: "XGLN", State: "near", LowC: reply.Some(-16), LowAt: goldenTime, RestrictionC: reply.Some(-18)},
	}
	log := reply.Reply{Kind: reply.KindLog, Facts: []string{"Not checked: 1."}, Sections: []reply.Section{{Title: "Results", Lines: []string{record.Line(made(t), goldenTime, record.Settings{})}}}}
	outdated := made(t)
	outdated.Noticed = []record.Noticed{{C: -45, Source: "METAR", Observed: true, Text: "It is colder."}}
	for _, c := range []struct {
		name, about string
		c           chat.Message
	}{
		{"alert_opened", "The morning's word on a base with a usual procedure.", chat.Message{Reply: alert("opened", coldwatch.Below)}},
		{"alert_snoozed", "The same after somebody has asked for quiet.", chat.Message{Reply: alert("opened", coldwatch.Below), Note: "No reminders until 07:30 local (14:30Z), by Ada."}},
		{"alert_escalated", "Nobody has acknowledged it; corrections by height.", chat.Message{Reply: alert("escalated", coldwatch.Below)}},
		{"alert_no_forecast", "It is not known how cold it gets.", chat.Message{Reply: alert("opened", coldwatch.NoForecast)}},
		{"alert_all_clear", "It is over.", chat.Message{Reply: alert("all-clear", coldwatch.Clear)}},
		{"watch", "Every base; one is snoozed.", chat.Message{Reply: reply.Board(board, utc)}},
		{"log", "What waits for a second person.", chat.Message{Reply: log}},
		{"notice", "What became of something.", chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"GOGA-RUTA (XKLD −38 °C) is checked by Bo at 13:35Z."}}}},
		{"notice_again", "Of one card that is out of date.", chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"XKLD −45 now: 1 card out of date: GOGA-RUTA (−38, Anna).", "It is colder."}, Actions: again(outdated)}}},
		{"error", "It cannot be read at all.", chat.Message{Reply: reply.Refuse(reply.Problem{Word: "ack", Text: "“ack” is for the duty officers that the configuration names.", Try: "watch"})}},
		{"note", "Nothing needs an answer.", chat.Message{Reply: reply.Reply{Kind: reply.KindNote, Facts: []string{"You’re welcome."}}}},
	} {
		t.Run(c.name, func(t *testing.T) { held(t, c.name, c.about, sideBySide(t, c.c)) })
	}
	// What is one tap away of an alert are figures, not words.
	r := alert("opened", coldwatch.Below)
	var tables []present.Table
	for _, b := range present.Of(r).Unfolded("expected") {
		if table, is := b.(present.Table); is {
			tables = append(tables, table)
		}
	}
	if len(tables) != 1 || len(tables[0].Rows) != 2 || engine.Altitude(r.Expected[0].Altitudes[0].PublishedFt) != 7400 {
		t.Errorf("the corrections to expect are %+v", tables)
	}
}

// again are the actions of a record that compute it anew.
func again(r record.Record) (out []reply.Action) {
	for _, a := range record.Render(r, goldenTime, record.Settings{}).Actions {
		if a.ID == record.ActionRecompute {
			out = append(out, a)
		}
	}
	return out
}
