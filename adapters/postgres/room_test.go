package postgres_test

import (
	"testing"

	"firn/adapters/testkit/pgtest"
	"firn/bot/room"
	"firn/bot/storetest"
)

func TestRoom(t *testing.T) {
	storetest.RunRoom(t, func(t *testing.T) room.Store { return mustOpen(t, pgtest.Shared(t).Database(t)) })
}

func TestFeed(t *testing.T) {
	storetest.RunFeed(t, func(t *testing.T) (here, there storetest.Told) {
		where := pgtest.Shared(t).Database(t)
		return mustOpen(t, where), mustOpen(t, where)
	})
}
