package ruleset

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// unitWinter is a whole document, as a unit might write it.
const unitWinter = `id: unit-winter
version: "1"
name: unit winter rule
sources: [unit order]
manner: faa
method: table
above_table: accurate
require:
  - when: {at_or_below_c: -10}
    altitudes: [final]
    why: cold
    source: unit order
reference: {initial: own, intermediate: own, final: own}
round:
  outside: {correction: nearest-100}
  final: {correction: up-10}
  unlabelled: {correction: up-10}
report: [initial]
requests:
  - when: on check-in
    altitude: initial
    say: "Request {altitude}, {amount} at {fixes}."
    source: unit order
`

func TestParse(t *testing.T) {
	s, err := Parse("unit.yaml", []byte(unitWinter))
	if err != nil {
		t.Fatal(err)
	}
	if s.ID != "unit-winter" || len(s.Document.Require) != 1 || s.Document.Require[0].Why != "cold" || len(s.Requests) != 1 {
		t.Errorf("got %+v, want the document as written", s.Document)
	}
}

func TestBadDocuments(t *testing.T) {
	swap := func(old, with string) string {
		t.Helper()
		if strings.Count(unitWinter, old) != 1 {
			t.Fatalf("%q is not once in the document", old)
		}
		return strings.Replace(unitWinter, old, with, 1)
	}
	for _, tt := range []struct{ name, doc, want string }{
		{"empty file", "", "unit.yaml: the rule set is empty"},
		{"comments only", "# nothing yet\n", "unit.yaml: the rule set is empty"},
		{"a list", "- a\n", "unit.yaml:1:1: sequence was used where mapping is expected"},
		{"no key", "{}\n", `unit.yaml:1: id "": lower-case letters, digits and hyphens, such as unit-winter`},
		{"not YAML", "id: [\n", "unit.yaml:1:5: sequence end token ']' not found"},
		{"two rule sets in one file", unitWinter + "---\n" + unitWinter, "unit.yaml: one file holds one rule set, and more follows it"},

		{"unknown key", swap("method: table", "metod: table"), `unit.yaml:6:1: unknown field "metod"`},
		{"unknown condition", swap("at_or_below_c", "below_c"), `unit.yaml:9:12: unknown field "below_c"`},
		{"unknown key of a request", swap("    say:", "    text:"), `unit.yaml:22:5: unknown field "text"`},
		{"a key twice", swap("method: table", "method: table\nmethod: table"), `unit.yaml:7:1: mapping key "method" already defined at [6:1]`},
		{"a word for a number", swap("c: -10", "c: cold"), `unit.yaml:9:27: "cold" was given where a number is expected`},
		{"a number for a list", swap("[final]", "5"), "unit.yaml:10:16: int was used where sequence is expected"},
		{"a word for a list", swap("[initial]", "initial"), "unit.yaml:18:9: string was used where sequence is expected"},
		{"a list for text", swap("method: table", "method: [table]"), "unit.yaml:6:9: a list was given where text is expected"},
		{"a mapping for text", swap("manner: faa", "manner: {a: b}"), "unit.yaml:5:9: a mapping was given where text is expected"},
		{"a word for true", swap("at_or_below_c: -10", "published: maybe"), `unit.yaml:9:23: "maybe" was given where true or false is expected`},
		{"a step for a rounding", swap("{correction: nearest-100}", "up-100"), "unit.yaml:15:12: string was used where mapping is expected"},

		{"id with capitals", swap("unit-winter", "Unit Winter"), `unit.yaml:1: id "Unit Winter": lower-case letters, digits and hyphens, such as unit-winter`},
		{"no version", swap("version: \"1\"\n", ""), "unit.yaml:1: unit-winter: version is missing"},
		{"no name", swap("name: unit winter rule\n", ""), "unit.yaml:1: unit-winter: name is missing"},
		{"no sources", swap("sources: [unit order]\n", ""), "unit.yaml:1: unit-winter: sources is missing: name the publication"},
		{"no require", swap(unitWinter[strings.Index(unitWinter, "require:"):strings.Index(unitWinter, "reference:")], ""), "unit.yaml:1: unit-winter: require is missing: say when a correction is asked for"},
		{"unknown manner", swap("manner: faa", "manner: navy"), `unit.yaml:1: unit-winter: manner "navy": faa or icao`},
		{"no manner", swap("manner: faa\n", ""), `unit.yaml:1: unit-winter: manner "": faa or icao`},
		{"four-percent", swap("method: table", "method: four-percent"), "unit.yaml:1: unit-winter: method four-percent is taught, never used as an answer"},
		{"unknown method", swap("method: table", "method: chart"), `unit.yaml:1: unit-winter: method "chart" is not known`},
		{"no method", swap("method: table\n", ""), `unit.yaml:1: unit-winter: method "" is not known`},
		{"unknown above_table", swap("above_table: accurate", "above_table: guess"), `unit.yaml:1: unit-winter: above_table "guess": last-column or accurate`},

		{"no temperature condition", swap("at_or_below_c: -10", "mountainous: true"), "unit.yaml:1: unit-winter: require 1: a temperature condition is missing (published, operator, at_or_below_c or colder_than_standard)"},
		{"a condition that is false", swap("at_or_below_c: -10", "published: false"), "unit.yaml:1: unit-winter: require 1: a temperature condition is missing (published, operator, at_or_below_c or colder_than_standard)"},
		{"no condition", swap("  - when: {at_or_below_c: -10}\n    altitudes", "  - altitudes"), "unit.yaml:1: unit-winter: require 1: a temperature condition is missing (published, operator, at_or_below_c or colder_than_standard)"},
		{"not a number", swap("c: -10", "c: .nan"), "unit.yaml:1: unit-winter: require 1: at_or_below_c NaN: -100 to 60"},
		{"no temperature of air", swap("c: -10", "c: -1000"), "unit.yaml:1: unit-winter: require 1: at_or_below_c -1000: -100 to 60"},
		{"height without over", swap("at_or_below_c: -10", "at_or_below_c: -10, higher_than_ft: 3000"), "unit.yaml:1: unit-winter: require 1: higher_than_ft and over go together"},
		{"over without height", swap("at_or_below_c: -10", "at_or_below_c: -10, over: [hold]"), "unit.yaml:1: unit-winter: require 1: higher_than_ft and over go together"},
		{"no height of an approach", swap("at_or_below_c: -10", "at_or_below_c: -10, over: [hold], higher_than_ft: .inf"), "unit.yaml:1: unit-winter: require 1: higher_than_ft +Inf: 0 to 60000"},
		{"no altitudes", swap("    altitudes: [final]\n", ""), "unit.yaml:1: unit-winter: require 1: altitudes is missing: say which are corrected"},
		{"unknown altitude", swap("[final]", "[final, finals]"), `unit.yaml:1: unit-winter: require 1: altitudes: "finals" is no segment, no role, and neither all, designated nor unlabelled`},
		{"unknown over", swap("at_or_below_c: -10", "at_or_below_c: -10, higher_than_ft: 3000, over: [turn]"), `unit.yaml:1: unit-winter: require 1: over: "turn" is no segment, no role, and neither all, designated nor unlabelled`},
		{"more conditions than bits", swap("reference:", strings.Repeat("  - when: {published: true}\n    altitudes: [all]\n", 64)+"reference:"), "unit.yaml:1: unit-winter: require has 65 entries, at most 64"},
		{"unknown reference", swap("final: own", "final: lowest"), `unit.yaml:1: unit-winter: reference final "lowest": own, final-fix, intermediate-fix or minimums`},
		{"no reference", swap("initial: own, ", ""), `unit.yaml:1: unit-winter: reference initial "": own, final-fix, intermediate-fix or minimums`},

		{"minimums to the nearest", swap("final: {correction: up-10}", "final: {correction: nearest-100}"), "unit.yaml:1: unit-winter: round: minimums are never rounded down"},
		{"no label, to the nearest", swap("unlabelled: {correction: up-10}", "unlabelled: {correction: nearest-100}"), "unit.yaml:1: unit-winter: round: minimums are never rounded down"},
		{"an altitude to the nearest", swap("{correction: nearest-100}", "{altitude: nearest-100}"), "unit.yaml:1: unit-winter: round outside: an altitude is rounded up, never to the nearest"},
		{"unknown step", swap("{correction: nearest-100}", "{correction: down-10}"), `unit.yaml:1: unit-winter: round outside: "down-10": up-10, up-100, nearest-100 or exact`},
		{"unknown report", swap("report: [initial]", "report: [tower]"), `unit.yaml:1: unit-winter: report: "tower" is no segment, no role, and neither all, designated nor unlabelled`},

		{"unknown placeholder", swap("{fixes}", "{fix}"), `unit.yaml:1: unit-winter: request 1: say: "{fix}" is not {altitude}, {amount}, {fixes}`},
		{"open placeholder", swap("{fixes}", "{fixes"), "unit.yaml:1: unit-winter: request 1: say: { without } after it"},
		{"brace without another", swap("{fixes}", "fixes}"), "unit.yaml:1: unit-winter: request 1: say: } without { before it"},
		{"nothing to say", swap("    say: \"Request {altitude}, {amount} at {fixes}.\"\n", ""), "unit.yaml:1: unit-winter: request 1: when and say are both needed"},
		{"unknown altitude of a request", swap("altitude: initial", "altitude: highest"), `unit.yaml:1: unit-winter: request 1: altitude "highest": one of initial, inside, final-fix, initial-fixes, told, missed, unlabelled`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s, err := Parse("unit.yaml", []byte(tt.doc))
			if s != nil || err == nil {
				t.Fatalf("got %v, %v, want an error alone", s, err)
			}
			if err.Error() != tt.want {
				t.Errorf("got %q, want %q", err, tt.want)
			}
		})
	}
}

// A document inside a larger file: its errors are given where they are there.
func TestParseAt(t *testing.T) {
	for _, tt := range []struct{ doc, want string }{
		{strings.Replace(unitWinter, "method:", "metod:", 1), `config.yaml:45:1: unknown field "metod"`},
		{strings.Replace(unitWinter, "method: table", "method: chart", 1), `config.yaml:40: unit-winter: method "chart" is not known`},
	} {
		if _, err := ParseAt("config.yaml", 40, []byte(tt.doc)); err == nil || err.Error() != tt.want {
			t.Errorf("got %v, want %s", err, tt.want)
		}
	}
}

// The rule sets that come with the program say where each of their rules and
// sentences is from, and which of them were not read at their source.
func TestBuiltinDocuments(t *testing.T) {
	sets, err := Builtin()
	if err != nil {
		t.Fatal(err)
	}
	unverified := map[string]bool{"faa-all-segments": false, "faa-individual-segments": false, "faa-each-fix": false, "icao": true, "canada": true, "strict": true}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
		if want, known := unverified[s.ID]; !known || (s.Unverified != "") != want {
			t.Errorf("%s: got unverified %q, want one: %v", s.ID, s.Unverified, want)
		}
		if s.Unverified != "" && !strings.Contains(s.Unverified, "heck the current") && !strings.Contains(s.Unverified, "check the current") {
			t.Errorf("%s: got unverified %q, want the advice to check the current publication", s.ID, s.Unverified)
		}
		if s.Summary == "" {
			t.Errorf("%s: got no summary, want one", s.ID)
		}
		for i, r := range s.Require {
			if r.Source == "" || r.Why == "" {
				t.Errorf("%s: require %d: got why %q, source %q, want both", s.ID, i+1, r.Why, r.Source)
			}
		}
		for i, r := range s.Requests {
			if r.Source == "" {
				t.Errorf("%s: request %d: got no source, want one", s.ID, i+1)
			}
		}
		var codes []string
		for _, c := range s.Cautions {
			codes = append(codes, c.Code)
			if c.Text == "" {
				t.Errorf("%s: caution %s: got no text, want one", s.ID, c.Code)
			}
		}
		slices.Sort(codes)
		if want := []string{"compensating-equipment", "departures-arrivals", "vectors"}; !slices.Equal(codes, want) {
			t.Errorf("%s: got cautions %v, want %v", s.ID, codes, want)
		}
	}
	if want := []string{"faa-all-segments", "faa-individual-segments", "faa-each-fix", "icao", "canada", "strict"}; !slices.Equal(ids, want) {
		t.Errorf("got %v, want %v", ids, want)
	}
	if files, err := builtin.ReadDir("builtin"); err != nil || len(files) != len(sets) {
		t.Errorf("%d documents, %v, of which Builtin reads %d: name each in its order", len(files), err, len(sets))
	}
	files, err := builtin.ReadDir("builtin")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if id := strings.TrimSuffix(f.Name(), ".yaml"); !slices.Contains(ids, id) {
			t.Errorf("builtin/%s comes with the program, and Builtin leaves it out: give %s its place there", f.Name(), id)
		}
	}
}

// Whatever the bytes, Parse answers: a rule set or one error, of one line.
func FuzzParse(f *testing.F) {
	files, err := filepath.Glob("builtin/*.yaml")
	if err != nil || len(files) == 0 {
		f.Fatalf("got %v, %v, want the built-in documents", files, err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	for _, doc := range []string{unitWinter, "", "{}", "id: [", "- a", "a: &x {b: *x}", "? [a]: b", "id: !!binary x", "require: [{when: {at_or_below_c: 1e999}}]", "id: |\n x", unitWinter + "---\n"} {
		f.Add([]byte(doc))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse("fuzz.yaml", data)
		if (s == nil) == (err == nil) {
			t.Fatalf("%q: got %v, %v, want a rule set or an error", data, s, err)
		}
		if err != nil && (!strings.HasPrefix(err.Error(), "fuzz.yaml:") || strings.Contains(err.Error(), "\n")) {
			t.Errorf("%q: got %q, want one line that begins with the file's name", data, err)
		}
	})
}
