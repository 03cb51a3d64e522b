package person

import (
	"testing"

	"pgregory.net/rapid"
)

// TestOrdinary: what is a name at a glance is one by the tables too.
func TestOrdinary(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.StringMatching(`[A-Za-z]{0,3}[A-Za-z .\-'0-9é]{0,12}[a-z]{0,30}`).Draw(t, "name")
		if ordinary(name) && (odd(name) != "" || mixed(name) != "" || recordWord(name) != "" || len([]rune(name)) > Longest) {
			t.Errorf("%q is no name", name)
		}
	})
	if !ordinary("Anna-Maria Dahl") || ordinary("Anna checked") || ordinary(" ") || ordinary("J. Dahl") || ordinary("Аnnа") {
		t.Error("ordinary names are those of plain letters, and no word of the record")
	}
}
