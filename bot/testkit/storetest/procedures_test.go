package storetest

import (
	"testing"

	"firn/bot/approach"
)

func TestProceduresInMemory(t *testing.T) {
	RunProcedures(t, func(*testing.T) approach.Store { return &Procedures{} })
}
