package postgres_test

import (
	"testing"

	"firn/adapters/testkit/pgtest"
	"firn/bot/storetest"
	"firn/bot/weather"
)

func TestPast(t *testing.T) {
	storetest.RunPast(t, func(t *testing.T) interface {
		weather.Archive
		weather.Past
	} {
		return mustOpen(t, pgtest.Shared(t).Database(t))
	})
}
