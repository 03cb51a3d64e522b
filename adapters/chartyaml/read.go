package chartyaml

import (
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

// Fields are the elevations of the stations that procedures may be for.
type Fields map[string]engine.Altitude

// The keys.
var (
	topKeys = []string{"station", "procedure", "effective", "end", "cycle", "source", "fixes", "final_fix", "minimums",
		"vertical_angle_deg", "baro_low_c", "baro_high_c", "missed_fix", "missed_ft", "msa_ft", "remote", "remote_additive_ft"}
	fixKeys     = []string{"fix", "role", "from", "at", "above", "below", "between"}
	minimumKeys = []string{"name", "da", "mda", "baro"}
)

// Read reads a file. name stands before each error, which is of type Problems;
// with an error there is no approach.
func Read(name string, data []byte, fields Fields) ([]approach.Approach, error) {
	all, _, err := read(name, data, fields, false)
	return all, err
}

// read is Read that may leave out what is for other stations than those of
// fields, and names these.
func read(name string, data []byte, fields Fields, leave bool) (all []approach.Approach, others []string, err error) {
	r := &reader{file: name}
	lines := map[string]int{}
	for _, d := range r.documents(data) {
		c := &chart{reader: r, fields: fields}
		before := len(r.problems)
		c.read(d)
		if leave && c.elsewhere {
			r.problems = r.problems[:before]
			others = append(others, c.a.Ident)
			continue
		}
		key := c.a.Ident + " " + c.a.Name
		line := start(d).Position.Line
		if first := lines[key]; first > 0 && c.a.Name != "" {
			r.add(d, "%s is given twice, first on line %d; remove one of them", key, first)
		}
		lines[key] = line
		all = append(all, c.a)
	}
	if len(r.problems) > 0 {
		return nil, others, r.problems.sorted()
	}
	return all, others, nil
}

// chart is one procedure that is being read.
type chart struct {
	*reader
	fields Fields
	a      approach.Approach

	elevation    engine.Altitude
	hasElevation bool
	elsewhere    bool                // its station is not among the fields
	at           map[string]ast.Node // each key's value
	fixes        []fix
	minimums     []ast.Node // beside a.Minimums
}

// fix is one line of the list, with where it stands.
type fix struct {
	approach.Leg
	node     ast.Node
	fromNode ast.Node // of the branch that it stands on; nil: on every one
}

// name is how problems call it.
func (f *fix) name() string {
	if f.Fix != "" {
		return f.Fix
	}
	return "this fix"
}

func (c *chart) read(d *ast.MappingNode) {
	c.at = map[string]ast.Node{}
	a := &c.a
	before := len(c.problems)
	c.mapping(d, "a procedure", topKeys, func(key string, n ast.Node) {
		c.at[key] = n
		switch key {
		case "station":
			c.station(n)
		case "procedure":
			c.title(n)
		case "effective":
			a.Effective = c.date(n, key)
		case "end":
			a.End = c.date(n, key)
		case "cycle":
			c.cycle(n)
		case "source":
			a.Source, _ = c.words(n, key, "what the altitudes were read from")
		case "fixes":
			for _, e := range c.list(n, key, `each fix as "- {fix: TINKA, role: FAF, above: 7400}"`) {
				c.fix(e)
			}
		case "final_fix":
			if s, _ := literal(n); s != "none" {
				c.add(n, `"final_fix" is only ever none, where the chart has no final approach fix; give the fix under "fixes" with "role: FAF"`)
			}
			a.NoFinalFix = true
		case "minimums":
			for _, e := range c.list(n, key, `each line as "- {name: LNAV, mda: 5460}"`) {
				c.minimum(e)
			}
		case "vertical_angle_deg":
			f, ok := c.number(n, key, "degrees", 2, 7)
			a.VerticalAngle, a.HasAngle = engine.Degrees(f), ok
		case "baro_low_c":
			f, ok := c.number(n, key, "degrees Celsius", -70, 20)
			a.Baro.Low, a.Baro.HasLow = engine.Celsius(f), ok
		case "baro_high_c":
			f, ok := c.number(n, key, "degrees Celsius", 10, 70)
			a.Baro.High, a.Baro.HasHigh = engine.Celsius(f), ok
		case "missed_fix":
			a.MissedFix = c.fixName(n, key)
		case "missed_ft":
			a.MissedAltitude, a.HasMissed = c.altitude(n, key)
		case "msa_ft":
			a.SectorAltitude, a.HasSector = c.altitude(n, key)
		case "remote":
			a.Remote = c.truth(n, key)
		case "remote_additive_ft":
			f, _ := c.number(n, key, "feet", 10, 2000)
			a.RemoteAdditive = engine.Feet(f)
		}
	})
	for _, need := range []struct{ key, example string }{
		{"station", "station: XKLD"}, {"procedure", "procedure: RNAV (GPS) RWY 31"}, {"effective", "effective: 2026-09-03"},
		{"end", "end: 2026-10-01"}, {"source", "source: chart of 3 SEP 2026"}, {"fixes", "fixes:"}, {"minimums", "minimums:"},
		{"missed_ft", "missed_ft: 10200"},
	} {
		if c.at[need.key] == nil && !c.given(d, need.key) {
			c.add(d, "%q is missing; add %q", need.key, need.example)
		}
	}
	if len(c.problems) > before {
		return // the rules below would only say it again
	}
	c.rules()
	c.legs()
}

// given says whether a key stands in the document, if only without a value.
func (c *chart) given(d *ast.MappingNode, key string) bool {
	return slices.ContainsFunc(d.Values, func(v *ast.MappingValueNode) bool { return v.Key.GetToken().Value == key })
}

var identForm = regexp.MustCompile(`^[A-Z0-9]{3,4}$`)

func (c *chart) station(n ast.Node) {
	s, ok := c.words(n, "station", "its code, such as XKLD")
	if !ok {
		return
	}
	ident := strings.ToUpper(s)
	if !identForm.MatchString(ident) {
		c.add(n, "station %s must be 3 or 4 letters or figures, such as XKLD", quote(s))
		return
	}
	c.a.Ident = ident
	if c.fields == nil {
		return
	}
	if c.elevation, c.hasElevation = c.fields[ident]; c.hasElevation {
		return
	}
	c.elsewhere = true
	known := make([]string, 0, len(c.fields))
	for k := range c.fields {
		known = append(known, k)
	}
	slices.Sort(known)
	if best, ok := suggest(ident, known); ok {
		c.add(n, "station %s is not in the configuration; did you mean %s?", ident, best)
		return
	}
	c.add(n, "station %s is not in the configuration; add it there with its elevation", ident)
}

func (c *chart) title(n ast.Node) {
	s, ok := c.words(n, "procedure", "the chart's title")
	if !ok {
		return
	}
	t, err := approach.ParseTitle(s)
	if err != nil {
		c.add(n, "procedure: %s; write the chart's title, such as RNAV (GPS) Y RWY 31, ILS or LOC RWY 12 or VOR-A", err)
		return
	}
	c.a.Title, c.a.Name, c.a.Code = t, t.Said(), t.Code()
	c.a.PlainRNP = t.Kind == approach.RNP && !strings.Contains(strings.ToUpper(s), "RNAV")
}

var cycleForm = regexp.MustCompile(`^[0-9]{2}(0[1-9]|1[0-4])$`)

func (c *chart) cycle(n ast.Node) {
	s, _ := literal(n)
	if !cycleForm.MatchString(s) {
		c.add(n, "%q must be four figures, year and number, such as 2609, not %s", "cycle", describe(n))
		return
	}
	c.a.Cycle = s
}

// pointed is a figure with a point for the thousands.
var pointed = regexp.MustCompile(`^[1-9][0-9]?\.[0-9]{3}$`)

// Altitudes that a chart can have: a few fields lie below the sea, and no
// approach begins above this.
const lowest, highest = -1500, 30000

func (c *chart) altitude(n ast.Node, key string) (engine.Altitude, bool) {
	if s, _ := literal(n); pointed.MatchString(s) {
		c.add(n, "%s has a point between its figures; write %s without it", s, strings.Replace(s, ".", "", 1))
		return 0, false
	}
	f, ok := c.number(n, key, "feet", lowest, highest)
	return engine.Altitude(f), ok
}

var fixForm = regexp.MustCompile(`^[A-Z0-9]{2,6}$`)

func (c *chart) fixName(n ast.Node, key string) string {
	s, ok := c.words(n, key, "the fix's name, such as TINKA")
	if !ok {
		return ""
	}
	if up := strings.ToUpper(s); fixForm.MatchString(up) {
		return up
	}
	c.add(n, "%s %s must be 2 to 6 letters or figures, such as TINKA", key, quote(s))
	return ""
}

// roleWords are the roles as a chart and a crew write them.
var roleWords = map[string]approach.Role{
	"iaf": approach.InitialFix, "if": approach.IntermediateFix, "faf": approach.FinalFix,
	"step": approach.StepDown, "step-down": approach.StepDown,
	"pt": approach.ProcedureTurn, "procedure turn": approach.ProcedureTurn,
	"hold": approach.Hold, "hold in lieu": approach.Hold, "arc": approach.Arc, "dme arc": approach.Arc,
}

var roleExamples = []string{"IAF", "IF", "FAF", "step", "procedure turn", "hold", "arc", "IAF hold", "IAF procedure turn", "IAF arc"}

func (c *chart) role(n ast.Node, l *approach.Leg) {
	s, ok := c.words(n, "role", oneOf(roleExamples))
	if !ok {
		return
	}
	words := strings.ToLower(strings.Join(strings.Fields(strings.NewReplacer("/", " ", ",", " ").Replace(s)), " "))
	role, known := roleWords[words]
	if rest, initial := strings.CutPrefix(words, "iaf "); initial && !known {
		role, known = roleWords[rest]
		known = known && (role == approach.Hold || role == approach.ProcedureTurn || role == approach.Arc)
		l.Initial = known
	}
	if !known {
		if best, ok := suggest(s, roleExamples); ok {
			c.add(n, "unknown role %s; did you mean %q?", quote(s), best)
		} else {
			c.add(n, "unknown role %s; write %s", quote(s), oneOf(roleExamples))
		}
		return
	}
	l.Role = role
	l.Initial = l.Initial || role == approach.InitialFix
}

func (c *chart) fix(n ast.Node) {
	f := fix{node: n}
	found := 0
	var role ast.Node
	ok := c.mapping(n, "a fix", fixKeys, func(key string, v ast.Node) {
		switch key {
		case "fix":
			f.Fix = c.fixName(v, key)
			return
		case "role":
			role = v
			c.role(v, &f.Leg)
			return
		case "from":
			f.From, f.fromNode = c.fixName(v, key), v
			return
		case "between":
			c.between(v, &f.Leg)
		default:
			f.Limit = map[string]approach.Limit{"at": approach.At, "above": approach.AtOrAbove, "below": approach.AtOrBelow}[key]
			f.Altitude, _ = c.altitude(v, key)
		}
		if found++; found > 1 {
			c.add(v, "%s has two altitudes; a fix has one of at, above, below and between", f.name())
		}
	})
	if !ok {
		return
	}
	if role == nil {
		c.add(n, "%s has no role; write %s", f.name(), oneOf(roleExamples))
	}
	if !c.has(n, "fix") {
		c.add(n, `a fix has no name; add it, such as "fix: TINKA"`)
	}
	if found == 0 && !c.hasAny(n, "at", "above", "below", "between") && f.Role != approach.InitialFix {
		c.add(n, `%s has no altitude; add it, such as "above: 7400"; only an initial approach fix may have none`, f.name())
	}
	c.fixes = append(c.fixes, f)
}

func (c *chart) has(n ast.Node, key string) bool {
	m, ok := n.(*ast.MappingNode)
	return ok && c.given(m, key)
}

func (c *chart) hasAny(n ast.Node, keys ...string) bool {
	return slices.ContainsFunc(keys, func(k string) bool { return c.has(n, k) })
}

func (c *chart) between(n ast.Node, l *approach.Leg) {
	values := c.list(n, "between", "between: [9000, 11000]")
	if len(values) != 2 {
		if slices.ContainsFunc(values, func(v ast.Node) bool { s, _ := literal(v); return behind.MatchString(s) }) {
			c.add(n, `"between" has an altitude with a comma, which parts the entries here; write the figures without it, as between: [9000, 11000]`)
		} else if values != nil {
			c.add(n, `"between" has two altitudes, the lower first, as between: [9000, 11000]`)
		}
		return
	}
	low, ok := c.altitude(values[0], "between")
	high, ok2 := c.altitude(values[1], "between")
	if !ok || !ok2 {
		return
	}
	if low >= high {
		c.add(n, "between %s and %s: the lower altitude comes first", plain(float64(low)), plain(float64(high)))
		return
	}
	l.Limit, l.Altitude, l.Second, l.Altitude2 = approach.Between, high, approach.Lower, low
}

func (c *chart) minimum(n ast.Node) {
	var m approach.Minimum
	found := 0
	baroGiven := false
	ok := c.mapping(n, "a line of minimums", minimumKeys, func(key string, v ast.Node) {
		switch key {
		case "name":
			m.Name, _ = c.words(v, key, "the line's name on the chart, such as LNAV/VNAV")
		case "da", "mda":
			m.Role = map[string]procedure.Role{"da": procedure.DecisionAltitude, "mda": procedure.MinimumDescent}[key]
			m.Altitude, _ = c.altitude(v, key)
			if found++; found > 1 {
				c.add(v, "%s has two altitudes; a line has a da or an mda", m.Name)
			}
		case "baro":
			m.Barometric, baroGiven = c.truth(v, key), true
		}
	})
	if !ok {
		return
	}
	if !c.has(n, "name") {
		c.add(n, `a line of minimums has no name; add it, such as "name: LNAV"`)
	}
	if found == 0 && !c.hasAny(n, "da", "mda") {
		c.add(n, `%s has no altitude; add it, such as "mda: 5460"`, lineName(m.Name))
	}
	upper := strings.ToUpper(m.Name)
	if strings.HasPrefix(upper, "CIRCLING") {
		if m.Role == procedure.DecisionAltitude {
			c.add(n, "circling has a minimum descent altitude; write mda")
		}
		m.Role = procedure.Circling
	}
	if !baroGiven {
		m.Barometric = m.Role == procedure.DecisionAltitude && (strings.HasPrefix(upper, "LNAV/VNAV") || strings.HasPrefix(upper, "RNP"))
	}
	if m.Barometric && found > 0 && m.Role != procedure.DecisionAltitude {
		c.add(n, "%s is barometric and has no decision altitude; write da, or leave baro out", lineName(m.Name))
	}
	c.a.Minimums = append(c.a.Minimums, m)
	c.minimums = append(c.minimums, n)
}

// truth reads true or false.
func (c *chart) truth(n ast.Node, key string) bool {
	s, _ := literal(n)
	if s != "true" && s != "false" {
		c.add(n, "%q must be true or false, not %s", key, describe(n))
	}
	return s == "true"
}

func lineName(name string) string {
	if name == "" {
		return "this line"
	}
	return name
}

// legs makes the approach's legs: what leads to the intermediate fix, or where
// there is none to the final approach fix, are transitions named after the fix
// they begin at.
func (c *chart) legs() {
	route, transition, sequence := approach.Transition, "", 0
	initialOnly := !slices.ContainsFunc(c.fixes, func(f fix) bool { return opensFinal(f.Role) })
	for i := range c.fixes {
		l := c.fixes[i].Leg
		switch {
		case opensFinal(l.Role), initialOnly && l.Role == approach.StepDown:
			if route != approach.FinalRoute {
				route, transition, sequence = approach.FinalRoute, "", 0
			}
		case route == approach.Transition && (begins(l.Role) || transition == ""):
			transition, sequence = l.Fix, 0
		}
		sequence += 10
		l.Route, l.Transition, l.Sequence = route, transition, sequence
		c.a.Legs = append(c.a.Legs, l)
	}
	if c.a.HasMissed {
		c.a.Legs = append(c.a.Legs, approach.Leg{Route: approach.MissedRoute, Sequence: 10, Fix: c.a.MissedFix, Role: approach.MissedHold,
			Limit: approach.AtOrAbove, Altitude: c.a.MissedAltitude})
	}
	c.a.Settle()
}

// opensFinal says whether the final route begins at such a fix.
func opensFinal(r approach.Role) bool { return r == approach.IntermediateFix || r == approach.FinalFix }

// begins says whether another way in begins at such a fix.
func begins(r approach.Role) bool { return r == approach.InitialFix || r == approach.Hold }
