package reply

import (
	"strings"
	"testing"
	"time"
)

// That an edition has ended, or is not in force yet, stands beside its name,
// above the figures.
func TestStandingIsSaidFirst(t *testing.T) {
	ends := time.Date(2024, 3, 21, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name     string
		standing Standing
		want     string
	}{
		{"current", ProcedureCurrent, "until 21 Mar 2024."},
		{"ended", ProcedureEnded, "ENDED on 21 Mar 2024, do not fly it."},
		{"not yet", ProcedureNotYet, "NOT YET in force, from 21 Mar 2024."},
	} {
		t.Run(c.name, func(t *testing.T) {
			sc := Scene{Procedure: Procedure{Name: "loc 21", Begins: ends, Ends: ends, Standing: c.standing}}
			if got := sc.procedureFacts(nil); len(got) != 1 || !strings.HasSuffix(got[0], c.want) {
				t.Errorf("got %q, want the end %q", got, c.want)
			}
		})
	}
}
