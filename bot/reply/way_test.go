package reply

import (
	"slices"
	"testing"

	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// Where there are several ways in, every row that not all lead over names its own.
func TestRowsTellTheirWays(t *testing.T) {
	line := func(fix string, role procedure.Role, from ...string) ruleset.Line {
		return ruleset.Line{Raised: -1, State: ruleset.Advised, Point: procedure.Point{Fix: fix, Role: role, From: procedure.JoinWays(from...)}}
	}
	res := ruleset.Result{Lines: []ruleset.Line{
		line("XADLO", procedure.InitialFix, "XADLO"),
		line("XEMBA", procedure.InitialFix, "XADLO", "XEMBA", "XAMRO"),
		line("XUBRI", procedure.StepDown, "XADLO", "XEMBA", "XAMRO", "XIMLO"),
		line("XOLMI", procedure.Hold, "XIMLO", "XOLMI"),
		line("XIRTU", procedure.FinalFix),
		line("XORRA", procedure.InitialFix, "XADLO", "XEMBA", "XAMRO", "XIMLO", "XOLMI"),
		line("XAVEN", procedure.StepDown, "XADLO", "XEMBA", "XIMLO"),
	}}
	rows := make([]Row, len(res.Lines))
	var got []string
	for i := range rows {
		rows[i] = row(&Scene{}, res, &res.Lines[i], false)
	}
	tellWays(rows, res)
	for i := range rows {
		got = append(got, rows[i].Name())
	}
	want := []string{"IAF XADLO", "IAF XEMBA via XADLO, XAMRO", "step XUBRI via XADLO +3", "hold XOLMI via XIMLO", "FAF XIRTU", "IAF XORRA", "step XAVEN via XADLO +2"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if via := rows[5].Via; via != nil {
		t.Errorf("a row that every way leads over tells %q", via)
	}
}
