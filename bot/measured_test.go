package bot_test

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/weather"
)

// slow is an observer that takes a while: what was observed does not grow older
// for it.
type slow struct{ at time.Time }

func (s slow) Observation(_ context.Context, ident string) (weather.Reading, error) {
	time.Sleep(300 * time.Millisecond)
	return weather.Reading{Observation: weather.Observation{Ident: ident, C: -38, At: s.at, Source: "METAR (folder)"}, Age: time.Since(s.at)}, nil
}

// The record and its export have the time of the observation itself.
func TestMeasuredIsTheObservation(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		at := time.Now().Add(-7 * time.Minute)
		r.bot.Use(bot.Ports{Book: r.book, Observer: slow{at}})
		got := r.state(r.name(r.says("anna", "t", "XKLD FAF 8200")), record.Unchecked)
		if !got.Measured.Equal(at) || !record.RowOf(got, time.Now()).Measured.Equal(at) {
			t.Errorf("measured %v, want %v", got.Measured, at)
		}
		if got.Newer(record.Weather{Since: at}) {
			t.Error("the observation that was taken is news to its own record")
		}
	})
}
