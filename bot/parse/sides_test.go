package parse

import (
	"testing"

	"firn/engine/procedure"
)

// An altitude that lies on one side of a fix is not the one at the fix.
func TestSidesOfAFix(t *testing.T) {
	rd := demoReader()
	roles := map[string]procedure.Role{"XOLMI": procedure.IntermediateFix, "XIRTU": procedure.FinalFix, "XUPEN": procedure.StepDown}
	rd.Fixes(func(_, word string) bool { return roles[word] != procedure.NoRole })
	rd.Roles(func(_, fix string) (procedure.Role, bool, bool) {
		return roles[fix], false, roles[fix] != procedure.NoRole
	})
	for _, c := range []struct{ text, want string }{
		{"XKLD -38 8200 outside XIRTU, MDA 5460", "ask “outside XIRTU” is no label of 8200. Is it IAF, IF or step?"},
		{"XKLD -38 past XIRTU 6100, DA 5340", "ask “past XIRTU” is no label of 6100. Is it DA, MDA, missed or step?"},
		{"XKLD -38 after XIRTU 5340", "ask “after XIRTU” is no label of 5340. Is it DA, MDA, missed or step?"},
		{"XKLD -38 after passing XIRTU 6100", "ask “after passing XIRTU” is no label of 6100. Is it DA, MDA, missed or step?"},
		{"XKLD -38 8200 before XIRTU 7400 after", "ask “before XIRTU” is no label of 8200. Is it IAF, IF or step?"},
		{"XKLD -38 leaving XOLMI 7400", "ask “leaving XOLMI” is no label of 7400. Is it FAF, DA, MDA, missed or step?"},
		{"XKLD -38 6100 past XUPEN", "ask “past XUPEN” is no label of 6100. Is it FAF, DA, MDA, missed or step?"},
		{"XKLD -38 IF 8200 before XIRTU 7400", "XKLD -38 IF 8200, FAF XIRTU 7400"},
		{"XKLD -38 step 6100 after XIRTU, MDA 5460", "XKLD -38 step 6100, MDA 5460"},
		{"XKLD -38 7400 til XIRTU then 5340", "XKLD -38 FAF XIRTU 7400, 5340"},
		{"XKLD -38 8200 until XOLMI, then 7400 until XIRTU, then MDA 5460", "XKLD -38 IF XOLMI 8200, FAF XIRTU 7400, MDA 5460"},
		{"XKLD -38 8200 till XIRTU", "XKLD -38 FAF XIRTU 8200"},
		{"XKLD -38 cross XIRTU at 7400, MDA 5460", "XKLD -38 FAF XIRTU 7400, MDA 5460"},
		{"XKLD -38 XIRTU 7400 XUPEN 6100", "XKLD -38 FAF XIRTU 7400, step XUPEN 6100"},
	} {
		req, p := rd.Parse(c.text)
		got := req.Line()
		if p != nil {
			if got = "ask " + p.Text; p.Try != "" {
				t.Errorf("%q offers %q", c.text, p.Try)
			}
		}
		if got != c.want {
			t.Errorf("%q: got %q, want %q", c.text, got, c.want)
		}
	}
}
