package storetest

import (
	"testing"

	"firn/bot/room"
)

func TestMemoryRoom(t *testing.T) {
	RunRoom(t, func(*testing.T) room.Store { return room.NewMemory() })
}
