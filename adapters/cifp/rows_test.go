package cifp

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

// TestRowsByHand holds the rows, their order, roles and branches, to those that
// testdata/cifp/rows.txt has read from the records.
func TestRowsByHand(t *testing.T) {
	text, err := os.ReadFile("../../testdata/cifp/rows.txt")
	if err != nil {
		t.Fatal(err)
	}
	all, _ := readAll(t, excerpt(t))
	checked := 0
	for block := range strings.SplitSeq(strings.TrimSpace(string(text)), "\n\n") {
		if strings.HasPrefix(block, "#") {
			continue
		}
		name, want, _ := strings.Cut(block, "\n")
		i := slices.IndexFunc(all, func(a approach.Approach) bool { return a.Ident+" "+a.Code == name })
		if i < 0 {
			t.Errorf("%s is not in the file", name)
			continue
		}
		if got := rowsOf(&all[i]); got != want {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
		}
		checked++
	}
	if checked < 50 {
		t.Errorf("got %d approaches, want at least fifty", checked)
	}
}

// rowsOf puts an approach's rows into the words of the file.
func rowsOf(a *approach.Approach) string {
	lines := []string{strings.TrimSpace("ways " + strings.Join(a.Ways(), " "))}
	for _, p := range a.Points() {
		words := []string{p.Role.Label()}
		if p.Fix != "" {
			words = append(words, p.Fix)
		}
		figure := fmt.Sprintf("%.0f", float64(p.Altitude))
		if p.NoAltitude {
			figure = "–"
		}
		switch p.Meaning {
		case procedure.AtOrAbove:
			figure += "+"
		case procedure.AtOrBelow:
			figure += "-"
		case procedure.Between:
			figure = fmt.Sprintf("%.0f-%s", float64(p.Upper), figure)
		}
		words = append(words, figure)
		if p.From != "" {
			words = append(append(words, "via"), p.Ways()...)
		}
		lines = append(lines, strings.Join(words, " "))
	}
	return strings.Join(lines, "\n")
}

// The way that is chosen leaves its own rows, of a fix that several lead over
// the figure of that way.
func TestViaChoosesCodedRows(t *testing.T) {
	all, _ := readAll(t, excerpt(t))
	for _, tt := range []struct {
		name, via string
		want      string
	}{
		{"KJFK I13L", "KMCHI", "BUZON 2900, TELEX 2100, CAXUN 1500, DPK 4000"},
		{"KJFK I13L", "covir", "COVIR –, KMCHI 2900, BUZON 2900, TELEX 2100, CAXUN 1500, DPK 4000"},
		{"KBUR I08-Z", "SMO", "SILEX 4400, SILEX 4000, SILEX 3700, BUDDE 3000, VTU 4600"},
		{"KBUR I08-Z", "SILEX", "SILEX 4000, SILEX 3700, BUDDE 3000, VTU 4600"},
		{"KBUR I08-Z", "VTU", "VTU –, TOAKS 4600, SILEX 3700, BUDDE 3000, VTU 4600"},
		{"KCHS R21-Y", "CANID", "ALGOE 3000, AKETE 1700, HERTZ 3000"},
	} {
		i := slices.IndexFunc(all, func(a approach.Approach) bool { return a.Ident+" "+a.Code == tt.name })
		var got []string
		for _, p := range procedure.Along(all[i].Points(), tt.via) {
			figure := fmt.Sprintf("%.0f", float64(p.Altitude))
			if p.NoAltitude {
				figure = "–"
			}
			got = append(got, p.Fix+" "+figure)
		}
		if text := strings.Join(got, ", "); text != tt.want {
			t.Errorf("%s via %s: got %s, want %s", tt.name, tt.via, text, tt.want)
		}
	}
}

// Of every approach: each altitude on a way in has a row on that way, in the
// order in which its legs are flown, and no row is without a leg.
func TestRowsHoldEveryLeg(t *testing.T) {
	all, _ := readAll(t, excerpt(t))
	legs := 0
	for i := range all {
		a := &all[i]
		points := a.Points()
		said := make([]bool, len(points))
		for _, way := range append(a.Ways(), "") { // the final route at last
			last := -1
			for j := range a.Legs {
				l := &a.Legs[j]
				if l.Transition != way || l.Route == approach.MissedRoute || l.Role == approach.MissedPoint || l.Limit == approach.NoAltitude {
					continue
				}
				legs++
				at := -1
				for k, p := range points {
					low, high := l.Altitude, engine.Altitude(0)
					if l.Limit == approach.Between {
						low, high = l.Altitude2, l.Altitude
					}
					if p.Fix == l.Fix && p.Altitude == low && p.Upper == high && p.Segment != procedure.Missed && (p.On(way) || way == "") {
						said[k] = true
						if at < 0 || k == last { // a fix that is flown to and then held at
							at = k
						}
					}
				}
				switch {
				case at < 0:
					t.Errorf("%s %s: no row for %s %d %s", a.Ident, a.Code, way, l.Sequence, l.Fix)
				case at < last && points[at].From != "" && points[last].From != "":
					t.Errorf("%s %s via %s: %s stands before what is flown before it", a.Ident, a.Code, way, l.Fix)
				}
				last = at
			}
		}
		for k, p := range points {
			if !said[k] && !p.NoAltitude && p.Segment != procedure.Missed {
				t.Errorf("%s %s: the row %s %s %v is of no leg", a.Ident, a.Code, p.Name(), p.Fix, p.Altitude)
			}
		}
	}
	if len(all) != 184 || legs < 700 {
		t.Errorf("got %d approaches and %d legs", len(all), legs)
	}
}
