package postgres_test

import (
	"testing"

	"firn/adapters/testkit/pgtest"
	"firn/bot/approach"
	"firn/bot/storetest"
)

func TestProcedures(t *testing.T) {
	storetest.RunProcedures(t, func(t *testing.T) approach.Store { return mustOpen(t, pgtest.Shared(t).Database(t)) })
}
