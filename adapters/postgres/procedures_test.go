package postgres_test

import (
	"testing"

	"firn/bot/approach"
	"firn/bot/testkit/storetest"
)

func TestProcedures(t *testing.T) {
	storetest.RunProcedures(t, func(t *testing.T) approach.Store { return mustOpen(t, prepared(t)) })
}
