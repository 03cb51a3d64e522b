package cifp

import (
	"strings"

	"firn/bot/approach"
)

// titleOf reads an approach identifier (columns 14-19) beside the route type
// of its final route, 0 when the file has none:
//
//	letter, runway, [L R C or, before a variant, -], [variant]   R33-Y H05LZ I22L
//	letter, three figures: a helicopter approach on that course  R027
//	three letters, -, letter: circling                           VOR-A VDM-A
//
// The kind is the final route's, for VDM-A still carries D and VOR-A may carry
// S. An identifier of another form keeps its own name.
func titleOf(code string, finalRoute byte) title {
	t := title{code: code}
	t.Kind = approach.KindOf(finalRoute)
	switch {
	case len(code) == 5 && capital(code[0]) && capital(code[1]) && capital(code[2]) && code[3] == '-' && capital(code[4]):
		t.Letter = code[4:]
		if t.Kind == approach.NoKind {
			t.Kind = circlingKinds[code[:3]]
		}
	case straightIn(code, &t):
		if t.Kind == approach.NoKind {
			t.Kind = approach.KindOf(code[0])
		}
	default:
		t.name = strings.ToLower(code)
		return t
	}
	if t.name = t.Said(); t.Kind == approach.NoKind {
		t.name = strings.ToLower(code)
	}
	return t
}

// circlingKinds are for an identifier whose final route is not in the file.
var circlingKinds = map[string]approach.Kind{
	"VOR": approach.VOR, "VDM": approach.VORDME, "RNV": approach.RNAV, "GPS": approach.GPS,
	"NDB": approach.NDB, "NDM": approach.NDBDME, "LOC": approach.Localizer, "LBC": approach.BackCourse,
	"LDA": approach.LDA, "TAC": approach.TACAN, "SDF": approach.SDF,
}

func capital(c byte) bool { return c >= 'A' && c <= 'Z' }

func figure(c byte) bool { return c >= '0' && c <= '9' }

func straightIn(code string, t *title) bool {
	if len(code) < 3 || !capital(code[0]) || !figure(code[1]) || !figure(code[2]) {
		return false
	}
	number, rest := code[1:3], code[3:]
	if len(rest) == 1 && figure(rest[0]) {
		t.Course = code[1:4]
		return true
	}
	if number < "01" || number > "36" || len(rest) > 2 {
		return false
	}
	side, letter := "", ""
	for i := range len(rest) {
		switch c := rest[i]; {
		case i == 0 && (c == 'L' || c == 'R' || c == 'C'):
			side = rest[:1]
		case i == 0 && c == '-' && len(rest) == 2:
		case i == 1 && capital(c):
			letter = rest[1:]
		default:
			return false
		}
	}
	t.Runway, t.Letter = number+side, letter
	return true
}
