package ruleset

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"io"
	"path"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/speech"
)

//go:embed builtin/*.yaml
var builtin embed.FS

// Document is a rule set as it is written down. Every key that is not known
// is an error.
type Document struct {
	ID         string       `yaml:"id"`
	Version    string       `yaml:"version"`
	Name       string       `yaml:"name"`
	Summary    string       `yaml:"summary"`
	Sources    []string     `yaml:"sources"`
	Unverified string       `yaml:"unverified"` // what was not read at its source; shown in every answer
	Manner     string       `yaml:"manner"`     // how numbers are spoken: faa, icao
	Method     string       `yaml:"method"`
	AboveTable string       `yaml:"above_table"` // last-column or accurate
	Require    []Require    `yaml:"require"`
	Reference  References   `yaml:"reference"`
	Round      Roundings    `yaml:"round"`
	Leaves     []string     `yaml:"leaves"`  // altitudes whose published figure is flown, whatever asks
	Advises    []string     `yaml:"advises"` // altitudes that nothing asks to correct, and that are better flown corrected
	Marks      []Mark       `yaml:"marks"`
	Report     []string     `yaml:"report"` // which altitudes air traffic control is told
	Calls      []CallDoc    `yaml:"calls"`
	Requests   []RequestDoc `yaml:"requests"`
	Cautions   []Caution    `yaml:"cautions"`
}

// Require asks for a correction on some altitudes when every condition that
// it states holds.
type Require struct {
	When      Condition `yaml:"when"`
	Altitudes []string  `yaml:"altitudes"`
	Why       string    `yaml:"why"`
	Source    string    `yaml:"source"`
}

// Condition is what must hold, all of it.
type Condition struct {
	Published   bool     `yaml:"published"`     // at or below the station's published restriction temperature
	Operator    bool     `yaml:"operator"`      // at or below the operator's own threshold, from its configuration
	AtOrBelowC  *float64 `yaml:"at_or_below_c"` // at or below this figure, degrees Celsius
	Colder      bool     `yaml:"colder_than_standard"`
	Mountainous bool     `yaml:"mountainous"`
	HigherFt    *float64 `yaml:"higher_than_ft"` // an altitude of Over is more than this above the source
	Over        []string `yaml:"over"`
}

// References names the altitude whose height sets the correction, by
// segment: own, final-fix, intermediate-fix or minimums.
type References struct {
	Initial      string `yaml:"initial"`
	Intermediate string `yaml:"intermediate"`
	Final        string `yaml:"final"`
}

// Roundings are the rules of rounding; an altitude without a label has no
// segment and uses Unlabelled.
type Roundings struct {
	Outside    Rounding `yaml:"outside"`
	Final      Rounding `yaml:"final"`
	Unlabelled Rounding `yaml:"unlabelled"`
}

// Mark is a word beside the figures of some altitudes.
type Mark struct {
	Altitudes []string `yaml:"altitudes"`
	Mark      string   `yaml:"mark"`
}

// RequestDoc is a sentence for air traffic control. In Say, {altitude} is the
// corrected altitude, {amount} what was added, {fixes} where.
type RequestDoc struct {
	When     string `yaml:"when"`
	Altitude string `yaml:"altitude"`
	Say      string `yaml:"say"`
	Source   string `yaml:"source"`
	Only     string `yaml:"only"` // required: not where the crew merely chooses to correct; advised: only there
}

// Caution is a caution of the rule set's own, shown in every answer.
type Caution struct {
	Code string `yaml:"code"`
	Text string `yaml:"text"`
}

// Builtin compiles the rule sets that come with the program, in the order in
// which people are shown them.
func Builtin() ([]*Set, error) {
	order := []string{"faa-all-segments", "faa-individual-segments", "faa-each-fix", "icao", "canada", "strict"}
	sets := make([]*Set, 0, len(order))
	for _, id := range order {
		name := path.Join("builtin", id+".yaml")
		data, err := builtin.ReadFile(name)
		if err != nil {
			return nil, fmt.Errorf("rule set %s: %w", id, err)
		}
		set, err := Parse(name, data)
		if err != nil {
			return nil, err
		}
		sets = append(sets, set)
	}
	return sets, nil
}

// Parse reads and compiles one document. name stands before each error.
func Parse(name string, data []byte) (*Set, error) { return ParseAt(name, 1, data) }

// ParseAt is Parse for a document that begins at a line of a larger file.
func ParseAt(name string, line int, data []byte) (*Set, error) {
	var d Document
	dec := yaml.NewDecoder(bytes.NewReader(data), yaml.Strict())
	if err := decode(dec, &d); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("%s: the rule set is empty", name)
		}
		var ye yaml.Error
		if errors.As(err, &ye) && ye.GetToken() != nil {
			at := ye.GetToken().Position
			return nil, fmt.Errorf("%s:%d:%d: %s", name, at.Line+line-1, at.Column, explain(ye))
		}
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if err := decode(dec, new(any)); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: one file holds one rule set, and more follows it", name)
	}
	set, err := Compile(d)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", name, line, err)
	}
	return set, nil
}

// decode is Decode with an error where the decoder itself panics: goccy/go-yaml
// 1.19.2 does on a tag where a list belongs (testdata/fuzz).
func decode(dec *yaml.Decoder, into any) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("not a document that can be read, often for a tag (!) in it: %v", p)
		}
	}()
	return dec.Decode(into)
}

// explain says what is wrong in the words of the document, not in those of
// the program.
func explain(ye yaml.Error) string {
	var te *yaml.TypeError
	message := strings.Join(strings.Fields(ye.GetMessage()), " ") // a key may hold a line break
	if !errors.As(ye, &te) {
		return message
	}
	kinds := map[reflect.Kind]string{
		reflect.Bool: "true or false", reflect.Float64: "a number", reflect.String: "text",
		reflect.Slice: "a list", reflect.Map: "a mapping", reflect.Struct: "a mapping",
	}
	got := kinds[te.SrcType.Kind()]
	if k := te.SrcType.Kind(); k != reflect.Slice && k != reflect.Map {
		got = strconv.Quote(te.Token.Value)
	}
	want, known := kinds[te.DstType.Kind()]
	if !known || got == "" {
		return message
	}
	return fmt.Sprintf("%s was given where %s is expected", got, want)
}

// Set is a compiled rule set.
type Set struct {
	Document
	manner   speech.Manner
	method   correction.Method
	accurate bool // above the table's last column
	require  []require
	refs     [segmentCount]refKind
	report   selector
	leaves   selector
	advises  selector
	marks    []selector // beside Document.Marks
	calls    []call
	requests []request

	threshold    engine.Celsius // the operator's
	hasThreshold bool
}

// WithThreshold is the rule set with the operator's own threshold: corrections
// are asked for at or below it. Where a rule waits for one and none is given,
// it is not known whether a correction is required. It is an error where no
// rule does.
func (s *Set) WithThreshold(c engine.Celsius) (*Set, error) {
	if !slices.ContainsFunc(s.Require, func(r Require) bool { return r.When.Operator }) {
		return nil, fmt.Errorf("%s: no rule of it has a threshold of the operator's", s.ID)
	}
	out := *s
	out.threshold, out.hasThreshold = c, true
	return &out, nil
}

// Waits says that a rule waits for the operator's threshold, and none is given.
func (s *Set) Waits() bool {
	return !s.hasThreshold && slices.ContainsFunc(s.Require, func(r Require) bool { return r.When.Operator })
}

// MarkOf is the word beside an altitude's figures, empty for none.
func (s *Set) MarkOf(p *procedure.Point) string {
	for i := range s.marks {
		if s.marks[i].has(p, 0) {
			return s.Marks[i].Mark
		}
	}
	return ""
}

// AsksByRestriction says that a station's published restriction temperature
// can ask for a correction, under a condition of its own.
func (s *Set) AsksByRestriction() bool {
	for i := range s.Require {
		if s.Require[i].When.Published {
			return true
		}
	}
	return false
}

// maxRequire is how many conditions fit the bits that say which hold.
const maxRequire = 64

type require struct {
	Condition
	over selector
	who  selector
	rule int // index into Document.Require
}

type refKind uint8

const (
	refOwn refKind = iota
	refFinalFix
	refIntermediateFix
	refMinimums
)

const segmentCount = int(procedure.Sector) + 1

// selector is a set of segments and roles.
type selector struct {
	segments   uint16
	roles      uint32
	designated bool
	all        bool
}

func (s selector) has(p *procedure.Point, designated uint16) bool {
	switch {
	case s.all:
		return true
	case s.roles&(1<<p.Role) != 0:
		return true
	case s.segments&(1<<p.Segment) != 0:
		return true
	case s.designated:
		// An altitude without a segment may lie in a designated one.
		return p.Segment == procedure.NoSegment || designated&(1<<p.Segment) != 0
	}
	return false
}

// everySegment are those of an approach.
const everySegment uint16 = 1<<procedure.Initial | 1<<procedure.Intermediate | 1<<procedure.Final | 1<<procedure.Missed

// may says that has is true of a point only as far as is known: its segment is
// not known, and some are not designated.
func (s selector) may(p *procedure.Point, designated uint16) bool {
	some := designated != 0 && designated&everySegment != everySegment
	return s.designated && !s.all && p.Segment == procedure.NoSegment && some &&
		s.roles&(1<<p.Role) == 0 && s.segments&(1<<p.Segment) == 0
}

func parseSelector(words []string) (selector, error) {
	var s selector
	for _, w := range words {
		switch w {
		case "all":
			s.all = true
			continue
		case "designated":
			s.designated = true
			continue
		case "unlabelled":
			s.segments |= 1 << procedure.NoSegment
			continue
		}
		if seg, ok := procedure.ParseSegment(w); ok {
			s.segments |= 1 << seg
			continue
		}
		if role, ok := procedure.ParseRole(w); ok {
			s.roles |= 1 << role
			continue
		}
		return s, fmt.Errorf("%q is no segment, no role, and neither all, designated nor unlabelled", w)
	}
	return s, nil
}

// Compile checks a document and makes it ready for Evaluate.
func Compile(d Document) (*Set, error) {
	s := &Set{Document: d}
	var err error
	switch {
	case d.ID == "" || strings.ContainsFunc(d.ID, func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' }):
		return nil, fmt.Errorf("id %q: lower-case letters, digits and hyphens, such as unit-winter", d.ID)
	case d.Version == "":
		return nil, fmt.Errorf("%s: version is missing", d.ID)
	case d.Name == "":
		return nil, fmt.Errorf("%s: name is missing", d.ID)
	case len(d.Sources) == 0:
		return nil, fmt.Errorf("%s: sources is missing: name the publication", d.ID)
	case len(d.Require) == 0:
		return nil, fmt.Errorf("%s: require is missing: say when a correction is asked for", d.ID)
	case len(d.Require) > maxRequire:
		return nil, fmt.Errorf("%s: require has %d entries, at most %d", d.ID, len(d.Require), maxRequire)
	}
	if s.manner, err = speech.ParseManner(d.Manner); err != nil {
		return nil, fmt.Errorf("%s: %w", d.ID, err)
	}
	s.method = correction.Method(d.Method)
	if s.method == correction.MethodFourPercent {
		return nil, fmt.Errorf("%s: method four-percent is taught, never used as an answer", d.ID)
	}
	if !slices.Contains(correction.Methods(), s.method) {
		return nil, fmt.Errorf("%s: method %q is not known", d.ID, d.Method)
	}
	switch d.AboveTable {
	case "last-column":
	case "accurate":
		s.accurate = true
	default:
		return nil, fmt.Errorf("%s: above_table %q: last-column or accurate", d.ID, d.AboveTable)
	}
	for i, r := range d.Require {
		c, err := compileRequire(r, i)
		if err != nil {
			return nil, fmt.Errorf("%s: require %d: %w", d.ID, i+1, err)
		}
		s.require = append(s.require, c)
	}
	for _, ref := range []struct {
		seg  procedure.Segment
		word string
	}{{procedure.Initial, d.Reference.Initial}, {procedure.Intermediate, d.Reference.Intermediate}, {procedure.Final, d.Reference.Final}} {
		kind, ok := map[string]refKind{"own": refOwn, "final-fix": refFinalFix, "intermediate-fix": refIntermediateFix, "minimums": refMinimums}[ref.word]
		if !ok {
			return nil, fmt.Errorf("%s: reference %s %q: own, final-fix, intermediate-fix or minimums", d.ID, ref.seg, ref.word)
		}
		s.refs[ref.seg] = kind
	}
	for _, r := range []struct {
		name string
		r    Rounding
	}{{"outside", d.Round.Outside}, {"final", d.Round.Final}, {"unlabelled", d.Round.Unlabelled}} {
		if err := r.r.check(); err != nil {
			return nil, fmt.Errorf("%s: round %s: %w", d.ID, r.name, err)
		}
	}
	if d.Round.Final.Correction == NearestHundred || d.Round.Unlabelled.Correction == NearestHundred {
		return nil, fmt.Errorf("%s: round: minimums are never rounded down", d.ID)
	}
	if err = s.words(d); err != nil {
		return nil, fmt.Errorf("%s: %w", d.ID, err)
	}
	return s, nil
}

// words compiles what is shown and said.
func (s *Set) words(d Document) (err error) {
	if s.report, err = parseSelector(d.Report); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	if s.leaves, err = parseSelector(d.Leaves); err != nil {
		return fmt.Errorf("leaves: %w", err)
	}
	if s.advises, err = parseSelector(d.Advises); err != nil {
		return fmt.Errorf("advises: %w", err)
	}
	for i, m := range d.Marks {
		which, err := parseSelector(m.Altitudes)
		switch {
		case err != nil:
			return fmt.Errorf("mark %d: %w", i+1, err)
		case m.Mark == "" || len(m.Altitudes) == 0:
			return fmt.Errorf("mark %d: altitudes and mark are both needed", i+1)
		}
		s.marks = append(s.marks, which)
	}
	for i, r := range d.Calls {
		c, err := compileCall(r)
		if err != nil {
			return fmt.Errorf("call %d: %w", i+1, err)
		}
		s.calls = append(s.calls, c)
	}
	for i, r := range d.Requests {
		c, err := compileRequest(r)
		if err != nil {
			return fmt.Errorf("request %d: %w", i+1, err)
		}
		s.requests = append(s.requests, c)
	}
	return nil
}
