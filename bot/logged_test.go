package bot_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
)

// The log of a station has the briefs that stop there, and no others.
func TestLogHasBriefs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		r.bot = botOf(t, zoned)
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Forecasts: steady(time.Now())})
		ahead := r.name(r.says("anna", "t", "brief XKLD 1930 local XEST tomorrow 2200 local"))
		time.Sleep(26 * time.Hour) // 19:00 of the next day at XKLD, 20:00 at XEST
		both := r.name(r.says("anna", "t", "brief XKLD 2100 local alternate XRUN 2145 local"))
		one := r.name(r.says("bo", "t", "XRUN -30 FAF 7400"))
		for _, tt := range []struct {
			text string
			want []string
		}{
			{"log XKLD today", []string{both}},
			{"log XRUN today", []string{one, both}},
			{"log XEST today", []string{ahead}}, // asked yesterday, and arriving today
			{"log XKLD", []string{both, ahead}},
			{"log XEST", []string{ahead}},
		} {
			out := r.says("anna", "t", tt.text)
			r.want(out, reply.KindLog)
			var got []string
			for _, s := range out.Sections {
				for _, l := range s.Lines {
					name, _, _ := strings.Cut(l, " ")
					got = append(got, name)
				}
			}
			if strings.Join(got, " ") != strings.Join(tt.want, " ") {
				t.Errorf("%s: got %q, want %q", tt.text, got, tt.want)
			}
		}
	})
}
