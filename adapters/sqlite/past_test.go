package sqlite_test

import (
	"testing"

	"firn/bot/testkit/storetest"
	"firn/bot/weather"
)

func TestPast(t *testing.T) {
	storetest.RunPast(t, func(t *testing.T) interface {
		weather.Archive
		weather.Past
	} {
		return mustOpen(t, temp(t))
	})
}
