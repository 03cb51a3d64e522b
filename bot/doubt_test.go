package bot_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
)

// TestReportInDoubt has reports whose minus signs were lost.
func TestReportInDoubt(t *testing.T) {
	b := newBot(t)
	r := say(t, b, "XKLD 151153Z 00000KT 30/33 A2992; 8200 7400")
	if r.Problem == nil || !strings.Contains(r.Problem.Text, "The report is not used: its dew point, 33 °C, is above its temperature, 30 °C") {
		t.Fatalf("30/33 was answered: %q, %+v", r.Facts, r.Problem)
	}
	if again := say(t, newBot(t), r.Problem.Try); again.Problem != nil || again.TemperatureC.Value != -30 || len(again.Altitudes) != 2 {
		t.Errorf("%q is answered with %+v, %q", r.Problem.Try, again.Problem, again.Facts)
	}
	r = say(t, newBot(t), "XKLD 151153Z 00000KT M90/M92 A2992; 8200 7400")
	if r.Problem == nil || r.Problem.Text != "What is the temperature? The report is not used: no air is so cold as −90 °C." || r.Problem.Try != "" {
		t.Errorf("M90/M92 was answered: %q, %+v", r.Facts, r.Problem)
	}
	r = say(t, newBot(t), "XKLD 151153Z 00000KT M30/M20 A2992; 8200 7400")
	if r.Problem != nil || !slices.ContainsFunc(r.Cautions, func(c reply.Caution) bool { return c.Code == "dew-point" && !c.Standing }) {
		t.Errorf("M30/M20: %+v, cautions %+v", r.Problem, r.Cautions)
	}
}

// latest is an observer with one reading.
type latest struct{ r weather.Reading }

func (l latest) Observation(context.Context, string) (weather.Reading, error) {
	return l.r, nil
}

// TestNewerReportIsTold has an observation of which a newer one cannot be
// read, and one that is dated ahead of the clock.
func TestNewerReportIsTold(t *testing.T) {
	b := newBot(t)
	o := weather.Observation{Ident: "XKLD", C: -30, At: noon, Source: "METAR (folder)", Newer: "a newer METAR of 11:53Z 15 Jan cannot be read: it is torn"}
	b.Use(bot.Ports{Observer: latest{weather.Reading{Observation: o, Age: -20 * time.Minute}}})
	r := say(t, b, "XKLD 8200 7400")
	if !slices.ContainsFunc(r.Cautions, func(c reply.Caution) bool {
		return c.Text == "A newer METAR of 11:53Z 15 Jan cannot be read: it is torn."
	}) {
		t.Errorf("cautions %+v", r.Cautions)
	}
	if !strings.Contains(r.TemperatureSource, "dated 20 min ahead of the clock") {
		t.Errorf("source %q", r.TemperatureSource)
	}
}

// TestObservationTyped types observations at noon.
func TestObservationTyped(t *testing.T) {
	b := newBot(t)
	store := storetest.NewMemory(func() time.Time { return noon })
	b.Use(bot.Ports{Observations: store, Watcher: &watch.Watch{}})
	for _, tt := range []struct{ text, want string }{
		{"obs XKLD -31", "XKLD −31 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"obs XKLD -31 1130Z", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -31 1020Z", "XKLD −31 °C, observed Thu 15 Jan 10:20 local (15 10:20Z), is written down. It is 100 min old, and what is older than 75 min is not used for an answer."},
		{"obs XKLD -31 142330Z", "XKLD −31 °C, observed Wed 14 Jan 23:30 local (14 23:30Z), is written down. It is 12 h old, and what is older than 75 min is not used for an answer."},
		{"obs XKLD -31 1220Z", "1220Z is 20 min ahead of the clock, which shows 151200Z; for the day before write 141220Z"},
		{"obs XKLD -31 151500Z", "151500Z is 3 h ahead of the clock, which shows 151200Z"},
		{"obs XKLD -31 171200Z", "171200Z is 48 h ahead of the clock, which shows 151200Z"},
		{"obs XKLD -31 101200Z", "101200Z is not within the last three days"},
	} {
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Thread: tt.text, Text: tt.text, At: noon, Duty: true})
		if err != nil {
			t.Fatal(err)
		}
		got := strings.Join(r.Facts, " ")
		if r.Problem != nil {
			got = r.Problem.Text
		}
		if got != tt.want {
			t.Errorf("%s: %q, want %q", tt.text, got, tt.want)
		}
	}
}

// TestCommandCompleted types a command whose parts come one by one.
func TestCommandCompleted(t *testing.T) {
	b := newBot(t)
	store := storetest.NewMemory(func() time.Time { return noon })
	b.Use(bot.Ports{Observations: store, Watcher: &watch.Watch{}})
	for _, tt := range []struct{ thread, want string }{
		{"obs XKLD\n-31", "XKLD −31 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"obs\nxkld\nminus 33", "XKLD −33 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"obs xkld\nthx\n-34 1130z", "XKLD −34 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs xkld\n31", "Is it -31 or +31? Type: obs xkld -31"},
		{"obs xkld\n31\nminus", "XKLD −31 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"snooze\nxkld", "“snooze” takes a station and how long, such as 2h or 30m."},
		{"ack", "“ack” takes one station, or all. Type: ack all"},
		{"snooze 2h", "“snooze” takes a station and how long, such as 2h or 30m. Type: snooze all 2h"},
		{"snooze", "“snooze” takes a station and how long, such as 2h or 30m."},
		{"obs XKLD -31 11:30", "What time (UTC)? For example 1130Z. Type: obs XKLD -31 1130Z"},
		{"obs XKLD -31 11:30\n1130z", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -31 11:30\n1130", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -31 1130\nutc", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -31 11:30\nlocal", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -31 11:30\nobs XKLD -31 1130Z", "XKLD −31 °C, observed Thu 15 Jan 11:30 local (15 11:30Z), is written down."},
		{"obs XKLD -80", "Is it really -80? Nothing is written down yet; where it is so, write it as -80.0. Type: obs XKLD -80.0"},
		{"obs XKLD -80\nyes", "XKLD −80 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"obs XKLD -31 no", "Nothing is done yet: “obs” takes no “no”."},
		{"obs XKLD -31?\nyes", "XKLD −31 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down."},
		{"obs XKLD -31 qnh 1002", "XKLD −31 °C, observed Thu 15 Jan 12:00 local (15 12:00Z), is written down. Not used: qnh 1002."},
		{"ack NOPE", "Which base? “ack” takes one, or all, and “NOPE” is none."},
		{"ack XKLE", "I don't know the station XKLE; nearest: XKLD, XGLN, XSLT. Type: ack XKLD"},
		{"snooze XKLE 2h", "I don't know the station XKLE; nearest: XKLD, XGLN, XSLT. Type: snooze XKLD 2h"},
	} {
		var got string
		for _, text := range strings.Split(tt.thread, "\n") {
			r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Thread: tt.thread, Text: text, At: noon, Duty: true})
			if err != nil {
				t.Fatal(err)
			}
			if got = strings.Join(append(r.Facts, r.Notes...), " "); r.Problem != nil {
				got = r.Problem.Text
				if r.Problem.Try != "" {
					got += " Type: " + r.Problem.Try
				}
			}
		}
		if got != tt.want {
			t.Errorf("%q: %q, want %q", tt.thread, got, tt.want)
		}
	}
}
