package chartyaml

import (
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/airports"
	"firn/bot/approach"
	"firn/bot/strictyaml"
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

// read reads a file. name stands before each error, which is of type Problems; with an
// error there is no approach. With leave, what is for other stations than those of
// fields is left out, and others names these.
func read(name string, data []byte, fields Fields, leave bool) (all []approach.Approach, others []string, err error) {
	r := &reader{strictyaml.New(name, form)}
	lines := map[string]int{}
	for _, d := range r.Documents(data) {
		c := &chart{reader: r, fields: fields}
		before := len(r.Problems)
		c.read(d)
		if leave && c.elsewhere {
			r.Problems = r.Problems[:before]
			others = append(others, c.a.Ident)
			continue
		}
		key := c.a.Ident + " " + c.a.Name
		line := strictyaml.Start(d).Position.Line
		if first := lines[key]; first > 0 && c.a.Name != "" {
			r.Add(d, "%s is given twice, first on line %d; remove one of them", key, first)
		}
		lines[key] = line
		all = append(all, c.a)
	}
	if len(r.Problems) > 0 {
		return nil, others, r.Problems.Sorted()
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
	before := len(c.Problems)
	c.Mapping(d, "a procedure", topKeys, func(key string, n ast.Node) {
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
			c.List(n, key, `each fix as "- {fix: XIRTU, role: FAF, above: 7400}"`, c.fix)
		case "final_fix":
			if s, _ := strictyaml.Literal(n); s != "none" {
				c.Add(n, `"final_fix" is only ever none, where the chart has no final approach fix; give the fix under "fixes" with "role: FAF"`)
			}
			a.NoFinalFix = true
		case "minimums":
			c.List(n, key, `each line as "- {name: LNAV, mda: 5460}"`, c.minimum)
		case "vertical_angle_deg":
			f, ok := c.Between(n, key, strictyaml.InKelvins, 2, 7)
			a.VerticalAngle, a.HasAngle = engine.Degrees(f), ok
		case "baro_low_c":
			f, ok := c.Between(n, key, strictyaml.InCelsius, -70, 20)
			a.Baro.Low, a.Baro.HasLow = engine.Celsius(f), ok
		case "baro_high_c":
			f, ok := c.Between(n, key, strictyaml.InCelsius, 10, 70)
			a.Baro.High, a.Baro.HasHigh = engine.Celsius(f), ok
		case "missed_fix":
			a.MissedFix = c.fixName(n, key)
		case "missed_ft":
			a.MissedAltitude, a.HasMissed = c.altitude(n, key)
		case "msa_ft":
			a.SectorAltitude, a.HasSector = c.altitude(n, key)
		case "remote":
			a.Remote = c.Boolean(n, key)
		case "remote_additive_ft":
			f, _ := c.Between(n, key, strictyaml.InFeet, 10, 2000)
			a.RemoteAdditive = engine.Feet(f)
		}
	})
	for _, need := range []struct{ key, example string }{
		{"station", "station: XKLD"}, {"procedure", "procedure: RNAV (GPS) RWY 31"}, {"effective", "effective: 2026-09-03"},
		{"end", "end: 2026-10-01"}, {"source", "source: chart of 3 SEP 2026"}, {"fixes", "fixes:"}, {"minimums", "minimums:"},
		{"missed_ft", "missed_ft: 10200"},
	} {
		if c.at[need.key] == nil && !c.given(d, need.key) {
			c.Add(d, "%q is missing; add %q", need.key, need.example)
		}
	}
	if len(c.Problems) > before {
		return // the rules below would only say it again
	}
	c.rules()
	c.legs()
}

// given says whether a key stands in the document, if only without a value.
func (c *chart) given(d *ast.MappingNode, key string) bool {
	return slices.ContainsFunc(d.Values, func(v *ast.MappingValueNode) bool { return v.Key.GetToken().Value == key })
}

func (c *chart) station(n ast.Node) {
	s, ok := c.words(n, "station", "its code, such as XKLD")
	if !ok {
		return
	}
	ident := strings.ToUpper(s)
	if !airports.IsIdent(ident) {
		c.Add(n, "station %s must be 3 or 4 letters or figures with a letter among them, such as XKLD", strictyaml.Quote(s))
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
	if best, ok := strictyaml.Suggest(ident, known); ok {
		c.Add(n, "station %s is not in the configuration; did you mean %s?", ident, best)
		return
	}
	c.Add(n, "station %s is not in the configuration; add it there with its elevation", ident)
}

func (c *chart) title(n ast.Node) {
	s, ok := c.words(n, "procedure", "the chart's title")
	if !ok {
		return
	}
	t, err := approach.ParseTitle(s)
	if err != nil {
		c.Add(n, "procedure: %s; write the chart's title, such as RNAV (GPS) Y RWY 31, ILS or LOC RWY 12 or VOR-A", err)
		return
	}
	c.a.Title, c.a.Name, c.a.Code = t, t.Said(), t.Code()
	c.a.PlainRNP = t.Kind == approach.RNP && !strings.Contains(strings.ToUpper(s), "RNAV")
}

var cycleForm = regexp.MustCompile(`^[0-9]{2}(0[1-9]|1[0-4])$`)

func (c *chart) cycle(n ast.Node) {
	s, _ := strictyaml.Literal(n)
	if !cycleForm.MatchString(s) {
		c.Add(n, "%q must be four figures, year and number, such as 2609, not %s", "cycle", strictyaml.Describe(n))
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
	if s, _ := strictyaml.Literal(n); pointed.MatchString(s) {
		c.Add(n, "%s has a point between its figures; write %s without it", s, strings.Replace(s, ".", "", 1))
		return 0, false
	}
	f, ok := c.Between(n, key, strictyaml.InFeet, lowest, highest)
	return engine.Altitude(f), ok
}

// thousand is what stands behind the comma of a figure that was parted by it.
var thousand = regexp.MustCompile(`^[0-9]{3}$`)

var fixForm = regexp.MustCompile(`^[A-Z0-9]{2,6}$`)

func (c *chart) fixName(n ast.Node, key string) string {
	s, ok := c.words(n, key, "the fix's name, such as XIRTU")
	if !ok {
		return ""
	}
	if up := strings.ToUpper(s); fixForm.MatchString(up) {
		return up
	}
	c.Add(n, "%s %s must be 2 to 6 letters or figures, such as XIRTU", key, strictyaml.Quote(s))
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
	s, ok := c.words(n, "role", strictyaml.OneOf(roleExamples))
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
		if best, ok := strictyaml.Suggest(s, roleExamples); ok {
			c.Add(n, "unknown role %s; did you mean %q?", strictyaml.Quote(s), best)
		} else {
			c.Add(n, "unknown role %s; write %s", strictyaml.Quote(s), strictyaml.OneOf(roleExamples))
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
	ok := c.Mapping(n, "a fix", fixKeys, func(key string, v ast.Node) {
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
			c.Add(v, "%s has two altitudes; a fix has one of at, above, below and between", f.name())
		}
	})
	if !ok {
		return
	}
	if role == nil {
		c.Add(n, "%s has no role; write %s", f.name(), strictyaml.OneOf(roleExamples))
	}
	if !c.has(n, "fix") {
		c.Add(n, `a fix has no name; add it, such as "fix: XIRTU"`)
	}
	if found == 0 && !c.hasAny(n, "at", "above", "below", "between") && f.Role != approach.InitialFix {
		c.Add(n, `%s has no altitude; add it, such as "above: 7400"; only an initial approach fix may have none`, f.name())
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
	var values []ast.Node
	c.List(n, "between", "between: [9000, 11000]", func(e ast.Node) { values = append(values, e) })
	if len(values) != 2 {
		if slices.ContainsFunc(values, func(v ast.Node) bool { s, _ := strictyaml.Literal(v); return thousand.MatchString(s) }) {
			c.Add(n, `"between" has an altitude with a comma, which parts the entries here; write the figures without it, as between: [9000, 11000]`)
		} else if values != nil {
			c.Add(n, `"between" has two altitudes, the lower first, as between: [9000, 11000]`)
		}
		return
	}
	low, ok := c.altitude(values[0], "between")
	high, ok2 := c.altitude(values[1], "between")
	if !ok || !ok2 {
		return
	}
	if low >= high {
		c.Add(n, "between %s and %s: the lower altitude comes first", strictyaml.Plain(float64(low)), strictyaml.Plain(float64(high)))
		return
	}
	l.Limit, l.Altitude, l.Second, l.Altitude2 = approach.Between, high, approach.Lower, low
}

func (c *chart) minimum(n ast.Node) {
	var m approach.Minimum
	found := 0
	baroGiven := false
	ok := c.Mapping(n, "a line of minimums", minimumKeys, func(key string, v ast.Node) {
		switch key {
		case "name":
			m.Name, _ = c.words(v, key, "the line's name on the chart, such as LNAV/VNAV")
		case "da", "mda":
			m.Role = map[string]procedure.Role{"da": procedure.DecisionAltitude, "mda": procedure.MinimumDescent}[key]
			m.Altitude, _ = c.altitude(v, key)
			if found++; found > 1 {
				c.Add(v, "%s has two altitudes; a line has a da or an mda", m.Name)
			}
		case "baro":
			m.Barometric, baroGiven = c.Boolean(v, key), true
		}
	})
	if !ok {
		return
	}
	if !c.has(n, "name") {
		c.Add(n, `a line of minimums has no name; add it, such as "name: LNAV"`)
	}
	if found == 0 && !c.hasAny(n, "da", "mda") {
		c.Add(n, `%s has no altitude; add it, such as "mda: 5460"`, lineName(m.Name))
	}
	upper := strings.ToUpper(m.Name)
	if strings.HasPrefix(upper, "CIRCLING") {
		if m.Role == procedure.DecisionAltitude {
			c.Add(n, "circling has a minimum descent altitude; write mda")
		}
		m.Role = procedure.Circling
	}
	if !baroGiven {
		m.Barometric = m.Role == procedure.DecisionAltitude && (strings.HasPrefix(upper, "LNAV/VNAV") || strings.HasPrefix(upper, "RNP"))
	}
	if m.Barometric && found > 0 && m.Role != procedure.DecisionAltitude {
		c.Add(n, "%s is barometric and has no decision altitude; write da, or leave baro out", lineName(m.Name))
	}
	c.a.Minimums = append(c.a.Minimums, m)
	c.minimums = append(c.minimums, n)
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
