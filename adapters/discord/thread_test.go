package discord

import (
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/reply"
)

// A thread is named for what is in it, so that two of one base are not alike, and not
// for the temperature of its first card: the next may be of another.
func TestThreadName(t *testing.T) {
	at := time.Date(2026, 1, 15, 6, 4, 0, 0, time.UTC)
	field := reply.Station{Ident: "XKLD", ElevationFt: 4802, Known: true}
	record := &reply.RecordStatus{ID: "KALOMI-RUTA"}
	for _, c := range []struct {
		name string
		of   reply.Reply
		text string
		want string
	}{
		{"a procedure", reply.Reply{Station: field, Procedure: "rnav 31", TemperatureC: reply.Some(-38), Record: record}, "", "XKLD rnav 31 KALOMI-RUTA"},
		{"another line of one", reply.Reply{Station: field, Procedure: "ils 12", FlownAs: "loc 12", TemperatureC: reply.Some(-38), Record: record}, "", "XKLD loc 12 KALOMI-RUTA"},
		{"bare altitudes", reply.Reply{Station: field, TemperatureC: reply.Some(-38.5), Record: record}, "", "XKLD KALOMI-RUTA"},
		{"an elevation", reply.Reply{Station: reply.Station{ElevationFt: 4802, Known: true}, TemperatureC: reply.Some(-38), Record: record}, "", "Field 4802 ft KALOMI-RUTA"},
		{"a status", reply.Reply{Kind: reply.KindStatus, Station: field, TemperatureC: reply.Some(-29)}, "", "XKLD −29 °C 06:04Z"},
		{"a brief", reply.Reply{Arrivals: []reply.Arrival{{Station: field}, {Station: reply.Station{Ident: "XRUN"}}}, Record: record}, "", "brief XKLD, XRUN KALOMI-RUTA"},
		{"a long name", reply.Reply{Station: field, Procedure: strings.Repeat("rnav ", 40), Record: record}, "", "XKLD " + strings.Repeat("rnav ", 16) + "rn… KALOMI-RUTA"},
		{"no field", reply.Reply{Kind: reply.KindHelp}, "help @everyone", "help @everyone"},
		{"nothing", reply.Reply{}, "", "firn"},
	} {
		got := threadName([]reply.Reply{c.of}, c.text, at)
		if got != c.want || units(got) > mostThreadName {
			t.Errorf("%s: the thread is called %q, want %q", c.name, got, c.want)
		}
	}
}

// A question out of which its author takes the mention is one no more: what it says
// now is withheld, and is for nobody to guess. What else is edited is nobody's
// question.
func TestUnmentionedByEdit(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{}
	ready(t, d, newSurface(t, options(d)), k)
	wait(t, d, "the commands stand", func() bool { return d.Counts().Registers == 1 })
	at := d.Channels()[0]
	talk, err := d.Say(discorddouble.Say{Channel: at, By: d.People()[0].ID, Text: "lunch?"})
	if err != nil {
		t.Fatal(err)
	}
	question := say(t, d, "k1")
	awaitAnswer(t, d, "k1")
	for _, message := range []string{talk, question} {
		if _, err := d.Edit(at, message, "sorry, wrong channel"); err != nil {
			t.Fatal(err)
		}
	}
	wait(t, d, "the edit is taken", func() bool { return len(k.heard()) == 2 })
	e := k.heard()[1]
	if e.Kind != chat.Edited || !e.Unmentioned || e.Text != "" || e.Message != k.heard()[0].Message {
		t.Errorf("the edit came as %+v", e)
	}
}

// What only asks back is one call, in the channel; what
// completes it stands in the thread of the message that it is about.
func TestQuestionBeginsNoThread(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	k := &clerk{asks: "typo"}
	ready(t, d, newSurface(t, options(d)), k)
	wait(t, d, "the commands stand", func() bool { return d.Counts().Registers == 1 })
	at, before := d.Channels()[0], d.Counts().Calls
	question := say(t, d, "typo")
	awaitAnswer(t, d, "typo")
	asked := d.FromBot(at)
	if calls := d.Counts().Calls - before; calls != 1 || len(asked) != 1 || asked[0].Reply != question {
		t.Fatalf("%d calls, shown %+v", calls, asked)
	}
	if _, err := d.Say(discorddouble.Say{Channel: at, By: d.People()[0].ID, Text: "-38", Reply: asked[0].ID}); err != nil {
		t.Fatal(err)
	}
	awaitAnswer(t, d, "-38")
	if got := d.FromBot(question); len(got) != 1 || len(d.FromBot(at)) != 1 {
		t.Errorf("in the thread of the question stand %+v", got)
	}
	for i, e := range k.heard() {
		if got := e.Place.Thread + e.Place.Begins; got != question {
			t.Errorf("event %d is in the conversation %q, want %q", i, got, question)
		}
	}
}
