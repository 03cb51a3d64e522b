package main

import (
	"slices"
	"strings"
	"testing"
)

// TestShows: every message is answered on every surface, and an answer is one
// screen of a phone.
func TestShows(t *testing.T) {
	asShipped(t)
	var out strings.Builder
	if err := shows(t.Context(), nil, &out); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	rows := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(rows) != len(showings)+2 {
		t.Fatalf("%d rows:\n%s", len(rows), out.String())
	}
	for _, row := range rows[2:] {
		cells := strings.Split(strings.Trim(row, "| "), " | ")
		if len(cells) != 5 || strings.Contains(row, " 0,") || strings.Count(row, "–") > 1 {
			t.Errorf("the row %q", row)
		}
	}
}

func TestWrapped(t *testing.T) {
	for text, want := range map[string][]string{
		"IAF XADLO  11500  10900  ": {"IAF XADLO  11500  10900"},
		"For −38 °C only. Fly assigned altitudes as assigned, altimeter as set": {
			"For −38 °C only. Fly assigned altitudes as", "assigned, altimeter as set"},
	} {
		if got := wrapped(text); !slices.Equal(got, want) {
			t.Errorf("%q is %q, want %q", text, got, want)
		}
	}
}
