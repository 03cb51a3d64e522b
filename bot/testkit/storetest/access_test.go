package storetest

import (
	"testing"

	"firn/bot/access"
)

func TestMemoryAccess(t *testing.T) {
	RunAccess(t, func(*testing.T) access.Store { return NewAccess() })
}
