package config

import (
	"bytes"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"firn/engine"
)

// Known is what the file may refer to and this package does not own.
type Known struct {
	Rules []string // ids of the built-in rule sets; the file's own are added
}

// The keys, as the contract has them.
var (
	topKeys     = []string{"stations", "rules", "round", "rule_sets", "weather", "procedures", "compensated", "aircraft", "rule_options", "slack", "discord", "duty", "alerts", "record", "page", "store"}
	stationKeys = []string{"ident", "name", "elevation_ft", "restriction_c", "segments", "mountainous", "time_zone", "source_elevation_ft", "remote", "radar", "transition_altitude_ft", "request_extra_ft", "lat", "lon", "usual", "watch"}
	watchKeys   = []string{"at", "days", "window_hours", "margin_c", "channels"}
	weatherKeys = []string{"kind", "path", "url", "private"}
	slackKeys   = []string{"channels"}
	discordKeys = []string{"guild", "channels", "read_all"}
	alertKeys   = []string{"recheck_minutes", "step_c", "repeat_minutes", "escalate_minutes", "daily_quiet", "disagree_c", "kept_hours"}
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

// Parse reads a whole file. name stands before each error, which is of type
// Problems; with an error there is no Config.
func Parse(name string, data []byte, known Known) (*Config, error) {
	r := &reader{file: name, zones: map[string]zone{}}
	root := r.tree(data)
	var c *Config
	if root != nil {
		c = r.config(root, known)
	}
	if len(r.problems) > 0 {
		return nil, r.problems.sorted()
	}
	c.index()
	return c, nil
}

func (r *reader) config(root *ast.MappingNode, known Known) *Config {
	c := &Config{Alerts: DefaultAlerts, Record: DefaultRecord}
	var rules, options, before ast.Node // checked last: the file's own rule sets count
	r.mapping(root, "the file", topKeys, func(key string, n ast.Node) {
		switch key {
		case "stations":
			c.Stations = r.stations(n)
		case "rules":
			rules = n
		case "round":
			s, _ := r.choice(n, key, rounds)
			c.Round = Round(s)
		case "rule_sets":
			c.RuleSets = r.ruleSets(root, n, known)
		case "weather":
			r.list(n, key, `"- kind: awc"`, func(e ast.Node) { c.Weather = append(c.Weather, r.weather(e)) })
		case "slack":
			r.mapping(n, key, slackKeys, func(k string, v ast.Node) {
				c.Slack.Channels = r.ids(v, OnSlack)
			})
		case "discord":
			r.mapping(n, key, discordKeys, func(k string, v ast.Node) {
				switch k {
				case "guild":
					c.Discord.Guild = r.id(v, k, OnDiscord)
					return
				case "read_all":
					c.Discord.ReadAll = r.boolean(v, k)
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
			r.mapping(n, key, storeKeys, func(k string, v ast.Node) { c.Procedures = r.path(v, k) })
		case "compensated":
			if before != nil {
				r.add(n, `"compensated" stands under "aircraft" already; remove this line`)
			}
			before = n
			c.Aircraft.Compensated = r.boolean(n, key)
		case "aircraft":
			if before != nil {
				r.add(before, `"compensated" stands under "aircraft" now; remove this line`)
			}
			before = n
			r.mapping(n, key, craftKeys, func(k string, v ast.Node) {
				switch k {
				case "sbas":
					c.Aircraft.SBAS = r.boolean(v, k)
				case "compensated":
					c.Aircraft.Compensated = r.boolean(v, k)
				}
			})
		case "rule_options":
			options = n
		case "page":
			c.Page = r.page(n)
		case "store":
			r.mapping(n, key, storeKeys, func(k string, v ast.Node) { c.Store.Path = r.path(v, k) })
		}
	})
	ids := slices.Clone(known.Rules)
	for _, s := range c.RuleSets {
		ids = append(ids, s.ID)
	}
	if rules != nil {
		c.Rules, _ = r.choice(rules, "rule set", ids)
	}
	if options != nil {
		c.RuleOptions = r.ruleOptions(options, ids)
	}
	return c
}

// ruleOptions are what rule sets leave to the operator, by their ids.
func (r *reader) ruleOptions(n ast.Node, ids []string) []RuleOption {
	var all []RuleOption
	r.mapping(n, "rule_options", ids, func(id string, v ast.Node) {
		r.mapping(v, id, optionKeys, func(k string, v ast.Node) {
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
	f, ok := r.between(n, key, inCelsius, float64(coldest), float64(warmest))
	if !ok {
		return nil
	}
	c := engine.Celsius(f)
	return &c
}

func (r *reader) stations(n ast.Node) []Station {
	var all []Station
	if s, ok := n.(*ast.SequenceNode); ok {
		all = make([]Station, 0, len(s.Values))
	}
	lines := map[string]int{}
	r.list(n, "stations", `each station as "- ident: XKLD" with its other keys below`, func(e ast.Node) {
		s, ident := r.station(e)
		if ident != nil {
			t := ident.GetToken()
			if first, twice := lines[s.Ident]; twice {
				r.addToken(t, "station %s is given twice, first on line %d; remove one of them", s.Ident, first)
			} else {
				lines[s.Ident] = t.Position.Line
			}
		}
		all = append(all, s)
	})
	return all
}

// station gives the node of its ident too, nil when there is no usable one.
func (r *reader) station(n ast.Node) (Station, ast.Node) {
	s := Station{Zone: time.UTC}
	var ident, elevation, source, zoneNode, watch, lat, lon ast.Node
	var place Place
	named := "this station"
	ok := r.mapping(n, "a station", stationKeys, func(key string, v ast.Node) {
		switch key {
		case "ident":
			ident = v
			if s.Ident = r.ident(v); s.Ident != "" {
				named = "station " + s.Ident
			}
		case "name":
			s.Name = r.text(v, key)
		case "elevation_ft":
			elevation = v
			s.Elevation = r.elevation(v, key)
		case "restriction_c":
			s.Restriction = r.restriction(v, key)
		case "segments":
			s.Segments = r.segments(v, key)
		case "mountainous":
			s.Mountainous = r.boolean(v, key)
		case "time_zone":
			zoneNode = v
			s.Zone = r.zone(v, key)
		case "source_elevation_ft":
			source = v
			s.SourceElevation = r.elevation(v, key)
		case "remote":
			s.Remote = r.boolean(v, key)
		case "radar":
			s.NoRadar = !r.boolean(v, key)
		case "transition_altitude_ft":
			f, _ := r.between(v, key, inFeet, 1000, 30000)
			s.Transition = engine.Altitude(f)
		case "request_extra_ft":
			f, _ := r.between(v, key, inFeet, 0, 3000)
			s.RequestExtra = engine.Feet(f)
		case "lat":
			lat = v
			place.Lat, _ = r.between(v, key, inDegreesNorth, -90, 90)
		case "lon":
			lon = v
			place.Lon, _ = r.between(v, key, inDegreesEast, -180, 180)
		case "usual":
			r.list(v, key, "[rnav 31]", func(e ast.Node) {
				if name := r.text(e, key); name != "" {
					s.Usual = append(s.Usual, name)
				}
			})
		case "watch":
			watch = v
			s.Watch = r.watch(v)
		}
	})
	if !ok {
		return s, nil
	}
	if ident == nil {
		r.add(n, `%s has no ident; add its code, such as "ident: XKLD"`, named)
	}
	if elevation == nil {
		r.add(n, `%s has no elevation; add it in feet, such as "elevation_ft: 4802"`, named)
	}
	if source == nil {
		s.SourceElevation = s.Elevation
	} else if elevation != nil {
		r.metresTyped(source, s)
	}
	switch {
	case lat != nil && lon != nil:
		s.Place = &place
	case lat != nil:
		r.add(lat, `%s has a lat and no lon; add it in degrees, west negative, such as "lon: -113.9871"`, named)
	case lon != nil:
		r.add(lon, `%s has a lon and no lat; add it in degrees, south negative, such as "lat: 46.9163"`, named)
	}
	if watch != nil && zoneNode == nil {
		r.add(watch, `%s is watched at a local time but has no time zone; add one, such as "time_zone: America/Edmonton"`, named)
	}
	if s.Ident == "" {
		return s, nil
	}
	return s, ident
}

var identForm = regexp.MustCompile(`^[A-Z0-9]{3,4}$`)

func (r *reader) ident(n ast.Node) string {
	s, ok := r.word(n, "ident", "3 or 4 letters or digits, such as XKLD")
	if !ok {
		return ""
	}
	up := strings.ToUpper(strings.TrimSpace(s))
	if !identForm.MatchString(up) || strings.Trim(up, "0123456789") == "" {
		r.add(n, "ident %s must be 3 or 4 letters or digits with at least one letter, such as XKLD", quote(s))
		return ""
	}
	return up
}

// The elevations that an airfield can have, with a margin: the lowest and the
// highest in use lie near -1 240 and 14 500 ft (from memory).
const lowestField, highestField engine.Altitude = -1500, 15000

func (r *reader) elevation(n ast.Node, key string) engine.Altitude {
	f, ok := r.number(n, key, inFeet)
	if !ok {
		return 0
	}
	a := engine.Altitude(f)
	switch tenth := plain(f / 10); {
	case a > highestField && a/10 <= highestField && !strings.Contains(tenth, "."):
		r.add(n, "%s %s is higher than any airfield (%s ft); is it one digit too many, %s? write whole feet", key, plain(f), plain(float64(highestField)), tenth)
	case a > highestField:
		r.add(n, "%s %s is higher than any airfield (%s ft); was it typed in another unit or without its decimal point? write feet", key, plain(f), plain(float64(highestField)))
	case a < lowestField && -a <= highestField:
		r.add(n, "%s %s is lower than any airfield (%s ft); is the minus a slip? write %s", key, plain(f), plain(float64(lowestField)), plain(-f))
	case a < lowestField:
		r.add(n, "%s %s is lower than any airfield (%s ft); write feet above mean sea level", key, plain(f), plain(float64(lowestField)))
	default:
		return a
	}
	return 0
}

// metresTyped compares two elevations of one place: when one is the other
// times the feet in a metre, one of them was typed in metres.
func (r *reader) metresTyped(source ast.Node, s Station) {
	low, high := s.Elevation, s.SourceElevation
	lowKey := "elevation_ft"
	if low > high {
		low, high = high, low
		lowKey = "source_elevation_ft"
	}
	const smallest = 100 // below it the two may well differ by chance
	ratio := float64(high/low) * engine.MetresPerFoot
	if low < smallest || ratio < 0.98 || ratio > 1.02 {
		return
	}
	r.add(source, "%s %s and the other elevation, %s, differ by the feet in a metre: was %s typed in metres? write both in feet",
		lowKey, plain(float64(low)), plain(float64(high)), plain(float64(low)))
}

// Restriction temperatures that can be meant. Published ones run from about
// -45 to 0 (reference: the FAA's list, from memory).
const coldest, warmest engine.Celsius = -60, 10

func (r *reader) restriction(n ast.Node, key string) *engine.Celsius {
	f, ok := r.number(n, key, inCelsius)
	if !ok {
		return nil
	}
	c := engine.Celsius(f)
	asF := fromFahrenheit(f)
	switch {
	case c > warmest && -c >= coldest && asF <= warmest:
		r.add(n, "restriction_c %s is warmer than any restriction temperature; if the minus was forgotten write %s, if it is in Fahrenheit write %s", plain(f), plain(-f), plain(float64(asF)))
	case c > warmest:
		r.add(n, "restriction_c %s is warmer than any restriction temperature (%s); write degrees Celsius with a sign, such as -25", plain(f), plain(float64(warmest)))
	case c < coldest && asF >= coldest:
		r.add(n, "restriction_c %s is colder than any restriction temperature; if it is in Fahrenheit write %s", plain(f), plain(float64(asF)))
	case c < coldest:
		r.add(n, "restriction_c %s is colder than any restriction temperature (%s); write degrees Celsius with a sign, such as -25", plain(f), plain(float64(coldest)))
	default:
		return &c
	}
	return nil
}

func (r *reader) segments(n ast.Node, key string) []Segment {
	var found []Segment
	r.list(n, key, "[initial, intermediate]", func(e ast.Node) {
		s, ok := r.choice(e, "segment", segments)
		switch {
		case !ok:
		case slices.Contains(found, Segment(s)):
			r.add(e, "segment %q is given twice; remove one of them", s)
		default:
			found = append(found, Segment(s))
		}
	})
	if s, ok := n.(*ast.SequenceNode); ok && len(s.Values) == 0 {
		r.add(n, "%q is empty; name the designated segments (%s) or remove the line", key, oneOf(segments))
	}
	return found
}

// zone is a time zone looked up once; nil when there is none of the name.
type zone struct{ location *time.Location }

// exampleZones are suggestions for a misspelt one. The whole list cannot be
// had without opening files.
var exampleZones = []string{
	"UTC", "America/Adak", "America/Anchorage", "America/Argentina/Ushuaia", "America/Boise", "America/Chicago",
	"America/Edmonton", "America/Edmonton", "America/Fairbanks", "America/Halifax", "America/Iqaluit", "America/Juneau",
	"America/La_Paz", "America/Lima", "America/Los_Angeles", "America/New_York", "America/Nome", "America/Nuuk",
	"America/Phoenix", "America/Punta_Arenas", "America/Regina", "America/Santiago", "America/St_Johns",
	"America/Toronto", "America/Vancouver", "America/Whitehorse", "America/Winnipeg", "America/Yellowknife",
	"Antarctica/McMurdo", "Arctic/Longyearbyen", "Asia/Almaty", "Asia/Kathmandu", "Asia/Novosibirsk", "Asia/Sapporo",
	"Asia/Seoul", "Asia/Tbilisi", "Asia/Tokyo", "Asia/Ulaanbaatar", "Asia/Yakutsk", "Atlantic/Reykjavik",
	"Australia/Hobart", "Australia/Sydney", "Europe/Berlin", "Europe/Helsinki", "Europe/Innsbruck", "Europe/London",
	"Europe/Oslo", "Europe/Paris", "Europe/Rome", "Europe/Stockholm", "Europe/Vienna", "Europe/Zurich",
	"Pacific/Auckland",
}

func (r *reader) zone(n ast.Node, key string) *time.Location {
	s, ok := r.word(n, key, "a zone such as America/Edmonton")
	if !ok {
		return time.UTC
	}
	z, met := r.zones[s]
	if !met {
		// Abbreviations are refused although some are zones: MST is an hour
		// off all summer where clocks change. "Local" depends on the machine.
		if s == "UTC" || strings.Contains(s, "/") {
			if l, err := time.LoadLocation(s); err == nil {
				z.location = l
			}
		}
		r.zones[s] = z
	}
	if z.location != nil {
		return z.location
	}
	if best, ok := suggest(s, exampleZones); ok {
		r.add(n, "unknown time zone %s; did you mean %q?", quote(s), best)
	} else {
		r.add(n, "unknown time zone %s; write region and city, such as America/Edmonton or Europe/Oslo", quote(s))
	}
	return time.UTC
}

func (r *reader) watch(n ast.Node) *Watch {
	w := &Watch{Days: Daily, Window: DefaultWindow, Margin: DefaultMargin}
	var at ast.Node
	ok := r.mapping(n, "watch", watchKeys, func(key string, v ast.Node) {
		switch key {
		case "at":
			at = v
			w.At = r.timeOfDay(v, key)
		case "days":
			w.Days = r.days(v, key)
		case "window_hours":
			h, _ := r.between(v, key, inHours, 1, 36)
			w.Window = time.Duration(h * float64(time.Hour))
		case "margin_c":
			m, _ := r.between(v, key, inKelvins, 0, 20)
			w.Margin = engine.CelsiusDelta(m)
		case "channels":
			w.Channels = r.addresses(v, key)
		}
	})
	if ok && at == nil {
		r.add(n, `the watch has no time; add the local one, such as "at: \"06:00\""`)
	}
	return w
}

func (r *reader) alerts(n ast.Node) Alerts {
	a := DefaultAlerts
	var escalate ast.Node
	minutes := func(v ast.Node, key string, low, high float64) time.Duration {
		m, _ := r.between(v, key, inMinutes, low, high)
		return time.Duration(m * float64(time.Minute))
	}
	r.mapping(n, "alerts", alertKeys, func(key string, v ast.Node) {
		switch key {
		case "recheck_minutes":
			a.Recheck = minutes(v, key, 5, 720)
		case "step_c":
			s, _ := r.between(v, key, inKelvins, 0.5, 20)
			a.Step = engine.CelsiusDelta(s)
		case "repeat_minutes":
			a.Repeat = minutes(v, key, 5, 720)
		case "escalate_minutes":
			escalate = v
			a.Escalate = minutes(v, key, 5, 720)
		case "daily_quiet":
			a.DailyQuiet = r.boolean(v, key)
		case "disagree_c":
			d, _ := r.between(v, key, inKelvins, 0.5, 30)
			a.Disagree = engine.CelsiusDelta(d)
		case "kept_hours":
			h, _ := r.between(v, key, inHours, 1, 72)
			a.Kept = time.Duration(h * float64(time.Hour))
		}
	})
	if escalate != nil && a.Escalate > 0 && a.Repeat > a.Escalate {
		r.add(escalate, "\"escalate_minutes\" must not be less than the %s minutes of repeat_minutes: an alert is repeated before it is escalated", plain(a.Repeat.Minutes()))
	} else if escalate == nil && a.Repeat > a.Escalate {
		a.Escalate = 2 * a.Repeat
	}
	return a
}

// How a second person checks a result.
const (
	checkConfirm = "confirm"
	checkBlind   = "blind"
)

func (r *reader) record(n ast.Node) Record {
	c := DefaultRecord
	var channels ast.Node
	r.mapping(n, "record", recordKeys, func(key string, v ast.Node) {
		switch key {
		case "expire_hours":
			h, _ := r.between(v, key, inHours, 1, 48)
			c.Expire = time.Duration(h * float64(time.Hour))
		case "retain_days":
			d, _ := r.between(v, key, inDays, 7, 3650)
			c.Retain = time.Duration(d * 24 * float64(time.Hour))
		case "step_c":
			s, _ := r.between(v, key, inKelvins, 0.5, 10)
			c.Step = engine.CelsiusDelta(s)
		case "checks":
			how, _ := r.choice(v, key, checks)
			c.Blind = how == checkBlind
		case "blind_channels":
			channels = v
			c.BlindChannels = r.channels(v, key)
		case "team_channels":
			c.Team = r.channels(v, key)
		case "linked":
			c.Linked = r.linked(v, key)
		}
	})
	if channels != nil && c.Blind {
		r.add(channels, "every channel checks blind with \"checks: blind\"; remove \"blind_channels\", or write \"checks: confirm\"")
	}
	return c
}

// page reads how the crew-room page is served.
func (r *reader) page(n ast.Node) (p Page) {
	var cert, private ast.Node
	r.mapping(n, "page", pageKeys, func(k string, v ast.Node) {
		switch k {
		case "listen":
			p.Listen = r.hostPort(v, k)
		case "tls_cert":
			cert = v
			p.TLSCert = r.path(v, k)
		case "tls_key":
			private = v
			p.TLSKey = r.path(v, k)
		case "behind_proxy":
			p.BehindProxy = r.boolean(v, k)
		}
	})
	switch {
	case cert != nil && private == nil:
		r.add(cert, "\"tls_cert\" needs its key beside it: add \"tls_key\", or remove the line")
	case private != nil && cert == nil:
		r.add(private, "\"tls_key\" needs its certificate beside it: add \"tls_cert\", or remove the line")
	}
	return p
}

// channels are places where people talk: no group, and no file.
func (r *reader) channels(n ast.Node, key string) []Address {
	all := r.addresses(n, key)
	return slices.DeleteFunc(all, func(a Address) bool {
		bad := a.Group() || a.Surface == OnFile
		if bad {
			r.add(n, "%q: nobody asks in %s; name channels, such as slack:C0123ABCD or page", key, quote(a.String()))
		}
		return bad
	})
}

// linked are lists of accounts, each in one of them.
func (r *reader) linked(n ast.Node, key string) [][]Address {
	if r.tooMany(n, key) {
		return nil
	}
	var all [][]Address
	seen := map[Address]bool{}
	r.list(n, key, "[[slack:U0123ABCD, discord:100200300400500600]]", func(e ast.Node) {
		if _, ok := e.(*ast.SequenceNode); !ok {
			r.add(e, "%q must be a list of lists, one a person, not %s; write [[slack:U0123ABCD, discord:100200300400500600]]", key, describe(e))
			return
		}
		one := r.addresses(e, key)
		for _, a := range one {
			switch {
			case a.Group() || a.Surface == OnFile:
				r.add(e, "%q: %s is no person's account; name slack:U0123ABCD or discord:ID", key, quote(a.String()))
			case seen[a]:
				r.add(e, "%q: %s is linked twice; put all accounts of a person into one list", key, quote(a.String()))
			}
			seen[a] = true
		}
		if len(one) < 2 {
			r.add(e, "%q: a person with one account needs no link; add the other account or remove the list", key)
			return
		}
		all = append(all, one)
	})
	return all
}

var clock = regexp.MustCompile(`^([01][0-9]|2[0-3]):([0-5][0-9])$`)

// looseClock is a time that was meant.
var looseClock = regexp.MustCompile(`^([01]?[0-9]|2[0-3])[:.h]?([0-5][0-9])$`)

func (r *reader) timeOfDay(n ast.Node, key string) TimeOfDay {
	s, ok := r.word(n, key, `a local time, such as "06:00"`)
	if !ok {
		return TimeOfDay{}
	}
	m := clock.FindStringSubmatch(s)
	if m == nil {
		try := `a time such as "06:00"`
		if l := looseClock.FindStringSubmatch(s); l != nil {
			try = `"` + strings.Repeat("0", 2-len(l[1])) + l[1] + ":" + l[2] + `"`
		}
		r.add(n, "%q must be a local time HH:MM from 00:00 to 23:59, not %s; write %s", key, quote(s), try)
		return TimeOfDay{}
	}
	hour, _ := strconv.Atoi(m[1])
	minute, _ := strconv.Atoi(m[2])
	return TimeOfDay{hour, minute}
}

func (r *reader) days(n ast.Node, key string) Days {
	names := make([]string, 0, len(dayNames)+1)
	for _, d := range dayNames {
		names = append(names, d.name)
	}
	names = append(names, daily)
	var days Days
	one := func(e ast.Node) {
		s, ok := r.choice(e, "day", names)
		if !ok {
			return
		}
		add := Daily
		if i := slices.Index(names, s); i < len(dayNames) {
			add = 1 << dayNames[i].day
		}
		if days&add != 0 {
			r.add(e, "day %q is given twice; remove one of them", s)
		}
		days |= add
	}
	if s, ok := literal(n); ok && s == daily {
		return Daily
	}
	r.list(n, key, "[mon, tue, wed, thu, fri] or daily", one)
	if s, ok := n.(*ast.SequenceNode); ok && len(s.Values) == 0 {
		r.add(n, "%q is empty; write [mon, tue, wed, thu, fri] or daily, or remove the line", key)
	}
	return days
}

func (r *reader) addresses(n ast.Node, key string) []Address {
	var found []Address
	if r.tooMany(n, key) {
		return nil
	}
	r.list(n, key, "[slack:C0123ABCD, page]", func(e ast.Node) {
		a, ok := r.address(e, key)
		switch {
		case !ok:
		case slices.Contains(found, a):
			r.add(e, "%s is given twice in %q; remove one of them", quote(a.String()), key)
		default:
			found = append(found, a)
		}
	})
	return found
}

// mostAddresses bounds the search for doubles.
const mostAddresses = 200

func (r *reader) tooMany(n ast.Node, key string) bool {
	s, ok := n.(*ast.SequenceNode)
	if !ok || len(s.Values) <= mostAddresses {
		return false
	}
	r.add(n, "%q has %d entries; at most %d are read", key, len(s.Values), mostAddresses)
	return true
}

const addressForms = "slack:ID, discord:ID, file:NAME, page or console"

func (r *reader) address(n ast.Node, key string) (Address, bool) {
	if m, ok := n.(*ast.MappingNode); ok && len(m.Values) == 1 {
		if surface := m.Values[0].Key.GetToken().Value; surface == string(OnSlack) || surface == string(OnDiscord) || surface == string(OnFile) {
			r.add(n, "%q takes one word: write %s:ID without a space after the colon", key, surface)
			return Address{}, false
		}
	}
	s, ok := r.word(n, key, addressForms)
	if !ok {
		return Address{}, false
	}
	name, id, _ := strings.Cut(s, ":")
	switch surface := Surface(name); surface {
	case OnSlack, OnDiscord:
		plain := id
		if surface == OnDiscord {
			plain = strings.TrimPrefix(id, rolePrefix)
		}
		if !validID(surface, plain) {
			r.badID(n, key, surface, s)
			return Address{}, false
		}
		a := Address{surface, id}
		if key == "channels" && a.Group() {
			r.add(n, "%q: %s is a group of people, and nothing can be posted to one; name a channel or a person", key, quote(s))
			return Address{}, false
		}
		return a, true
	case OnFile:
		if !fileName.MatchString(id) {
			r.add(n, "%q: %s has no file name; a name is up to 64 letters, digits, - and _, such as file:alerts", key, quote(s))
			return Address{}, false
		}
		return Address{surface, id}, true
	case OnPage, OnConsole:
		if s == name {
			return Address{Surface: surface}, true
		}
		if surface == OnPage && key == "linked" && linkName.MatchString(id) {
			return Address{surface, id}, true // who came in by a link of that name
		}
	}
	try := "write " + addressForms
	if best, ok := suggest(name, []string{string(OnSlack), string(OnDiscord), string(OnFile), string(OnPage), string(OnConsole)}); ok {
		switch best {
		case string(OnSlack), string(OnDiscord):
			best += ":ID"
		case string(OnFile):
			best += ":NAME"
		}
		try = "did you mean " + best + "?"
	}
	r.add(n, "%q: %s is no channel or person; %s", key, quote(s), try)
	return Address{}, false
}

// linkName is how a link to the page is called.
var linkName = regexp.MustCompile(`^[\pL\pN][\pL\pN._-]{0,39}$`)

// fileName is what a file that is posted to may be called: nothing that a
// file system could read in another way.
var fileName = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

var slackID, discordID = regexp.MustCompile(`^[A-Z0-9]{2,20}$`), regexp.MustCompile(`^[0-9]{1,20}$`)

func validID(on Surface, id string) bool {
	if on == OnSlack {
		return slackID.MatchString(id)
	}
	return discordID.MatchString(id)
}

func (r *reader) badID(n ast.Node, key string, on Surface, word string) {
	if on == OnSlack {
		r.add(n, "%q: %s has no Slack id; an id is capital letters and digits, such as C0123ABCD: copy it from the channel's or the person's details, a name will not do", key, quote(word))
		return
	}
	r.add(n, "%q: %s has no Discord id; an id is digits only: copy it with the developer mode on, a name will not do", key, quote(word))
}

// ids reads the channels of one surface. The surface may be said again before
// an id, as it is elsewhere in the file.
func (r *reader) ids(n ast.Node, on Surface) []string {
	var found []string
	if r.tooMany(n, "channels") {
		return nil
	}
	r.list(n, "channels", map[Surface]string{OnSlack: "[C0123ABCD]", OnDiscord: `["100200300400500600"]`}[on], func(e ast.Node) {
		id := r.id(e, "channels", on)
		switch {
		case id == "":
		case slices.Contains(found, id):
			r.add(e, "%s is given twice in %q; remove one of them", quote(id), "channels")
		default:
			found = append(found, id)
		}
	})
	return found
}

func (r *reader) id(n ast.Node, key string, on Surface) string {
	s, ok := r.word(n, key, "its id")
	if !ok {
		return ""
	}
	id := strings.TrimPrefix(s, string(on)+":")
	if !validID(on, id) {
		r.badID(n, key, on, s)
		return ""
	}
	return id
}

func (r *reader) weather(n ast.Node) Weather {
	var w Weather
	var kind, path, link, private ast.Node
	known := false
	ok := r.mapping(n, "a weather source", weatherKeys, func(key string, v ast.Node) {
		switch key {
		case "kind":
			kind = v
			var s string
			s, known = r.choice(v, key, kinds)
			w.Kind = WeatherKind(s)
		case "path":
			path = v
			w.Path = r.path(v, key)
		case "url":
			link = v
			w.URL = r.url(v, key)
		case "private":
			private = v
			w.Private = r.boolean(v, key)
		}
	})
	if ok && kind == nil {
		r.add(n, `this weather source has no kind; add one, such as "kind: awc"`)
	}
	if !known {
		return w
	}
	if w.Kind == Folder && path == nil {
		r.add(kind, `a weather source of kind folder needs a path; add one, such as "path: weather"`)
	}
	if w.Kind != Folder && path != nil {
		r.add(path, "a weather source of kind %s has no path; remove it or write \"kind: folder\"", w.Kind)
	}
	if (w.Kind == Folder || w.Kind == Typed) && link != nil {
		r.add(link, "a weather source of kind %s has no url; remove it or write \"kind: awc\" or \"kind: nws\"", w.Kind)
	}
	if private != nil && link == nil {
		r.add(private, "private says where the name in a url may lead, and there is no url; remove it")
	}
	return w
}

func (r *reader) url(n ast.Node, key string) string {
	s, ok := r.word(n, key, "an address that begins with https://")
	if !ok {
		return ""
	}
	u, err := url.Parse(s)
	switch {
	case err == nil && u.User != nil, err != nil && secretIn(s):
		r.add(n, "%s", secretText(quote(key)+" holds a user or a password", ""))
	case err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Hostname() == "":
		r.add(n, "%q must begin with http:// or https:// and name a server, not %s", key, quote(s))
	default:
		return s
	}
	return ""
}

func (r *reader) path(n ast.Node, key string) string {
	s, ok := r.word(n, key, `a file or folder, such as "firn.db"`)
	if !ok {
		return ""
	}
	switch {
	case strings.Contains(s, "://"):
		r.add(n, "%q must be a file or folder, not an address; a database server's address comes from the environment: set %s and remove the line", key, databaseURL)
	case strings.ContainsFunc(s, func(c rune) bool { return c < ' ' }):
		r.add(n, "%q must be one line, not %s", key, quote(s))
	default:
		return s
	}
	return ""
}

func (r *reader) hostPort(n ast.Node, key string) string {
	s, ok := r.word(n, key, `"127.0.0.1:8080"`)
	if !ok {
		return ""
	}
	if !validHostPort(s) {
		r.add(n, `%q must be host:port, not %s; write "127.0.0.1:8080" for this machine only, or ":8080" for every network`, key, quote(s))
		return ""
	}
	return s
}

var hostForm = regexp.MustCompile(`^[A-Za-z0-9]?[A-Za-z0-9.-]*$`)

func validHostPort(s string) bool {
	i := strings.LastIndexByte(s, ':')
	if i < 0 {
		return false
	}
	host, port := s[:i], s[i+1:]
	if p, err := strconv.ParseUint(port, 10, 16); err != nil || strconv.FormatUint(p, 10) != port {
		return false
	}
	if strings.HasPrefix(host, "[") {
		a, err := netip.ParseAddrPort(s)
		return err == nil && a.Addr().Is6()
	}
	return hostForm.MatchString(host)
}

// ruleSets keeps each document as it stands and reads its id only.
func (r *reader) ruleSets(root *ast.MappingNode, n ast.Node, known Known) []RawRuleSet {
	var sets []RawRuleSet
	list, ok := n.(*ast.SequenceNode)
	if !ok {
		r.list(n, "rule_sets", `each rule set as "- id: ours" with its other keys below`, func(ast.Node) {})
		return nil
	}
	lines := map[string]int{}
	for i, e := range list.Values {
		m, ok := e.(*ast.MappingNode)
		if !ok {
			r.add(e, `a rule set must be a group of keys, not %s; begin with "- id: ours"`, describe(e))
			continue
		}
		id, ok := r.ruleSetID(m, known, lines)
		if !ok {
			continue
		}
		first := start(m).Position
		set := RawRuleSet{ID: id, Line: first.Line}
		if m.IsFlowStyle {
			set.YAML = r.cut(first, m.End.Position)
		} else {
			set.YAML = r.cut(first, &token.Position{Line: r.lastLine(root, list, i)})
		}
		sets = append(sets, set)
	}
	return sets
}

func (r *reader) ruleSetID(m *ast.MappingNode, known Known, lines map[string]int) (string, bool) {
	for _, v := range m.Values {
		if v.Key.GetToken().Value != "id" {
			continue
		}
		id, ok := r.word(v.Value, "id", `a name for the rule set, such as "ours"`)
		if !ok {
			return "", false
		}
		if slices.Contains(known.Rules, id) {
			r.add(v.Value, "rule set %s is built in and cannot be replaced; give yours another id", quote(id))
			return "", false
		}
		if first, twice := lines[id]; twice {
			r.add(v.Value, "rule set %s is given twice, first on line %d; give one of them another id", quote(id), first)
			return "", false
		}
		lines[id] = start(v.Value).Position.Line
		return id, true
	}
	r.add(m, `this rule set has no id; add one, such as "id: ours"`)
	return "", false
}

// lastLine is the line before the next entry, the next key of the file or the
// end of the document, whichever comes first.
func (r *reader) lastLine(root *ast.MappingNode, list *ast.SequenceNode, i int) int {
	if i+1 < len(list.Entries) {
		return list.Entries[i+1].Start.Position.Line - 1
	}
	begin := start(list.Values[i]).Position.Line
	last := len(r.starts) - 1
	for _, v := range root.Values {
		if l := v.Key.GetToken().Position.Line; l > begin && l <= last {
			last = l - 1
		}
	}
	return last
}

// cut gives the text from one place to another, the last column included (to
// the end of the line when it is 0). What stands before it on its first line
// becomes spaces.
func (r *reader) cut(from, to *token.Position) []byte {
	last := max(from.Line, to.Line)
	text := r.lines(from.Line, last)
	if to.Column > 0 {
		// Cut the end first: it may be on the first line.
		begin := len(text) - len(r.lines(last, last))
		text = text[:begin+prefix(text[begin:], to.Column)]
	}
	skip := prefix(text, from.Column-1)
	out := append(bytes.Repeat([]byte(" "), from.Column-1), text[skip:]...)
	if !bytes.HasSuffix(out, []byte("\n")) {
		out = append(out, '\n')
	}
	return out
}

// prefix is the length in bytes of the first runes of a text.
func prefix(text []byte, runes int) int {
	n := 0
	for ; runes > 0 && n < len(text); runes-- {
		_, size := utf8.DecodeRune(text[n:])
		n += size
	}
	return n
}
