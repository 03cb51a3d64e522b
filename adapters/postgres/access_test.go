package postgres_test

import (
	"testing"

	"firn/bot/access"
	"firn/bot/storetest"
)

func TestAccess(t *testing.T) {
	storetest.RunAccess(t, func(t *testing.T) access.Store { return mustOpen(t, prepared(t)) })
}
