package sqlite_test

import (
	"testing"

	"firn/bot/pagestate"
	"firn/bot/testkit/storetest"
)

func TestRoom(t *testing.T) {
	storetest.RunRoom(t, func(t *testing.T) pagestate.Store { return mustOpen(t, temp(t)) })
}

func TestFeed(t *testing.T) {
	storetest.RunFeed(t, func(t *testing.T) (here, there storetest.Told) {
		where := temp(t)
		return mustOpen(t, where), mustOpen(t, where)
	})
}
