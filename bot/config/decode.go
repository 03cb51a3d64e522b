package config

import (
	"slices"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/airports"
	"firn/bot/strictyaml"
	"firn/engine"
)

// Known is what the file may refer to and this package does not own.
type Known struct {
	Rules []string // ids of the built-in rule sets; the file's own are added
}

// The keys, as the contract has them.
var (
	topKeys     = []string{"stations", "rules", "round", "rule_sets", "weather", "procedures", "airports", "compensated", "aircraft", "rule_options", "slack", "discord", "duty", "alerts", "record", "page", "store"}
	stationKeys = []string{"ident", "name", "elevation_ft", "restriction_c", "segments", "mountainous", "time_zone", "source_elevation_ft", "remote", "radar", "transition_altitude_ft", "request_extra_ft", "lat", "lon", "usual", "watch"}
	watchKeys   = []string{"at", "days", "window_hours", "margin_c", "channels"}
	weatherKeys = []string{"kind", "path", "url", "private"}
	slackKeys   = []string{"channels"}
	discordKeys = []string{"guild", "channels", "read_all"}
	alertKeys   = []string{"recheck_minutes", "step_c", "repeat_minutes", "escalate_minutes", "daily_quiet", "digest", "disagree_c", "kept_hours"}
	recordKeys  = []string{"expire_hours", "retain_days", "step_c", "checks", "blind_channels", "team_channels", "linked"}
	pageKeys    = []string{"listen", "tls_cert", "tls_key", "behind_proxy"}
	storeKeys   = []string{"path"}
	craftKeys   = []string{"sbas", "compensated"}
	optionKeys  = []string{"at_or_below_c"}

	segments = []string{string(Initial), string(Intermediate), string(Final), string(Missed)}
	rounds   = []string{string(Up100), string(Nearest100), string(Exact)}
	checks   = []string{checkConfirm, checkBlind}
	kinds    = []string{string(Folder), string(AWC), string(NWS), string(Typed)}
)

// form is what a configuration may be: 10 000 stations with everything said
// are about two million bytes; the deepest key of a rule set is at about eight.
var form = strictyaml.Form{
	Name: "a configuration", Example: "config.example.yaml", Whole: "rules: faa-all-segments",
	Empty: `the file is empty; write at least "stations:" and "rules:", as config.example.yaml does`,
	Bytes: 4 << 20, Depth: 32,
}

// reader reads one file.
type reader struct {
	*strictyaml.Reader
	zones map[string]zone // time zones met so far
}

// Parse reads a whole file. name stands before each error, which is of type
// strictyaml.Problems; with an error there is no Config.
func Parse(name string, data []byte, known Known) (*Config, error) {
	r := &reader{Reader: strictyaml.New(name, form), zones: map[string]zone{}}
	var c *Config
	if roots := r.Documents(data); len(roots) > 0 {
		c = r.config(roots[0], known)
	}
	if len(r.Problems) > 0 {
		return nil, r.Problems.Sorted()
	}
	c.index()
	return c, nil
}

func (r *reader) config(root *ast.MappingNode, known Known) *Config {
	c := &Config{Alerts: DefaultAlerts, Record: DefaultRecord}
	var rules, options, before ast.Node // checked last: the file's own rule sets count
	r.Mapping(root, "the file", topKeys, func(key string, n ast.Node) {
		switch key {
		case "stations":
			c.Stations = r.stations(n)
		case "rules":
			rules = n
		case "round":
			s, _ := r.Choice(n, key, rounds)
			c.Round = Round(s)
		case "rule_sets":
			c.RuleSets = r.ruleSets(root, n, known)
		case "weather":
			r.List(n, key, `"- kind: awc"`, func(e ast.Node) { c.Weather = append(c.Weather, r.weather(e)) })
		case "slack":
			r.Mapping(n, key, slackKeys, func(k string, v ast.Node) {
				c.Slack.Channels = r.ids(v, OnSlack)
			})
		case "discord":
			r.Mapping(n, key, discordKeys, func(k string, v ast.Node) {
				switch k {
				case "guild":
					c.Discord.Guild = r.id(v, k, OnDiscord)
					return
				case "read_all":
					c.Discord.ReadAll = r.Boolean(v, k)
					return
				}
				c.Discord.Channels = r.ids(v, OnDiscord)
			})
		case "duty":
			c.Duty = r.addresses(n, key)
		case "alerts":
			c.Alerts = r.alerts(n)
		case "record":
			c.Record = r.record(n)
		case "procedures":
			c.Procedures = r.pathIn(n, key)
		case "airports":
			c.AirportList = r.pathIn(n, key)
		case "compensated":
			if before != nil {
				r.Add(n, `"compensated" stands under "aircraft" already; remove this line`)
			}
			before = n
			c.Aircraft.Compensated = r.Boolean(n, key)
		case "aircraft":
			if before != nil {
				r.Add(before, `"compensated" stands under "aircraft" now; remove this line`)
			}
			before = n
			r.aircraft(n, key, &c.Aircraft)
		case "rule_options":
			options = n
		case "page":
			c.Page = r.page(n)
		case "store":
			c.Store.Path = r.pathIn(n, key)
		}
	})
	ids := slices.Clone(known.Rules)
	for _, s := range c.RuleSets {
		ids = append(ids, s.ID)
	}
	if rules != nil {
		c.Rules, _ = r.Choice(rules, "rule set", ids)
	}
	if options != nil {
		c.RuleOptions = r.ruleOptions(options, ids)
	}
	return c
}

// aircraft is what a fleet has.
func (r *reader) aircraft(n ast.Node, key string, a *Aircraft) {
	r.Mapping(n, key, craftKeys, func(k string, v ast.Node) {
		switch k {
		case "sbas":
			a.SBAS = r.Boolean(v, k)
		case "compensated":
			a.Compensated = r.Boolean(v, k)
		}
	})
}

// pathIn is the path of a group that has nothing else.
func (r *reader) pathIn(n ast.Node, key string) (path string) {
	r.Mapping(n, key, storeKeys, func(k string, v ast.Node) { path = r.path(v, k) })
	return path
}

// ruleOptions are what rule sets leave to the operator, by their ids.
func (r *reader) ruleOptions(n ast.Node, ids []string) []RuleOption {
	var all []RuleOption
	r.Mapping(n, "rule_options", ids, func(id string, v ast.Node) {
		r.Mapping(v, id, optionKeys, func(k string, v ast.Node) {
			if c := r.threshold(v, k); c != nil {
				all = append(all, RuleOption{Rules: id, AtOrBelow: *c, Line: v.GetToken().Position.Line})
			}
		})
	})
	return all
}

// threshold is a temperature that an operator corrects at or below, as a
// restriction temperature is.
func (r *reader) threshold(n ast.Node, key string) *engine.Celsius {
	f, ok := r.Between(n, key, strictyaml.InCelsius, float64(airports.Coldest), float64(airports.Warmest))
	if !ok {
		return nil
	}
	c := engine.Celsius(f)
	return &c
}
