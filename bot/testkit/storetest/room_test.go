package storetest

import (
	"testing"

	"firn/bot/pagestate"
)

func TestMemoryRoom(t *testing.T) {
	RunRoom(t, func(*testing.T) pagestate.Store { return pagestate.NewMemory() })
}
