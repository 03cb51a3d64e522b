package config

import (
	"fmt"
	"strings"
	"sync/atomic"
	"time"

	"firn/bot/airports"
	"firn/engine"
)

// Config is a file that passed every check.
type Config struct {
	Stations []Station
	Rules    string // the rule set's id; empty when the file does not say
	Round    Round  // outside the final segment; empty: as the rule set says
	RuleSets []RawRuleSet
	Weather  []Weather // in the order in which they are tried
	// Procedures is the folder of procedures typed from charts; empty: none.
	Procedures string
	// AirportList, airports: {path}, is the file of the fields that are known
	// without standing under stations; empty: none. Airports is what was read of
	// it; nil before Know.
	AirportList string
	Airports    *airports.Directory
	// Aircraft is what the unit's aircraft have; a message may say otherwise.
	Aircraft    Aircraft
	RuleOptions []RuleOption
	Slack       Slack
	Discord     Discord
	Duty        []Address // who is on duty, in the order of escalation
	Alerts      Alerts
	Record      Record
	Page        Page
	Store       Store

	byIdent map[string]int
	byName  map[string]int                    // folded single-word names; ambiguous ones are -1
	folded  []string                          // every station's name, folded
	also    atomic.Pointer[map[string]*Watch] // of stations that the file does not watch
}

// Aircraft is what a fleet has, with approval.
type Aircraft struct {
	SBAS        bool // vertical guidance from satellites, for LNAV/VNAV
	Compensated bool // the avionics correct the barometric path for temperature
}

// RuleOption is what a rule set leaves to the operator.
type RuleOption struct {
	Rules     string         // the rule set's id
	AtOrBelow engine.Celsius // at_or_below_c: corrections are required at or below it
	Line      int            // of the file
}

// Station is an airfield that crews ask about.
type Station struct {
	Ident     string // upper case
	Name      string // may be empty
	Elevation engine.Altitude

	// Restriction is the published restriction temperature; nil when the
	// station has none.
	Restriction *engine.Celsius

	// Segments are those the publication designates; nil when the file does
	// not say.
	Segments []Segment

	// Mountainous is whether it lies in designated mountainous terrain. Where a
	// rule asks and it is not known, the stricter reading is taken.
	Mountainous airports.Known

	// Zone is never nil: without time_zone it is UTC. A station that is
	// watched always has its own.
	Zone *time.Location

	// SourceElevation is that of the altimeter setting source; the airport's
	// own unless the file says otherwise.
	SourceElevation engine.Altitude

	// Remote says that the altimeter setting is another place's: barometric
	// vertical guidance is not used with it, unless by SBAS.
	Remote bool

	// NoRadar, radar: false, says that nobody gives vectors there.
	NoRadar bool

	// Transition, transition_altitude_ft, is the altitude from which on a figure
	// said to air traffic control is said to be an altitude; zero: 18 000 ft.
	Transition engine.Altitude

	// RequestExtra is a flat extra to request on vectors until established,
	// for an approach into a valley. Common practice, no source.
	RequestExtra engine.Feet

	// Place is where the station is, for forecasts made by place; nil when
	// the file does not say.
	Place *Place

	// Usual are the procedures that the base uses, as crews say them; alerts and
	// briefs show their corrections.
	Usual []string

	Watch *Watch // nil when the station is not watched

	// Listed is the field on the list of airports that this station was made of;
	// nil for one of the file's own.
	Listed *airports.Airport
}

// NoElevation says that the field is on a list that does not give its elevation.
func (s *Station) NoElevation() bool { return s.Listed != nil && !s.Listed.HasElevation }

// Mountains is the reading that rules take: what is not known counts as
// mountainous, which asks for more.
func (s *Station) Mountains() bool { return s.Mountainous != airports.No }

// HeightsFrom is what heights count from: the lower of the field and the
// altimeter setting source, so that a correction is never for less height than
// either gives.
func (s *Station) HeightsFrom() engine.Altitude { return min(s.Elevation, s.SourceElevation) }

// Place is a point on the earth, in degrees, north and east positive.
type Place struct{ Lat, Lon float64 }

// Watch says when a station is judged and whom it tells.
type Watch struct {
	At       TimeOfDay // local
	Days     Days
	Window   time.Duration       // from At, how far the forecast is read
	Margin   engine.CelsiusDelta // above the restriction temperature, still "near"
	Channels []Address           // empty: wherever the surfaces decide
}

// The bounds of a duty window; ours.
const (
	ShortestWindow = time.Hour
	LongestWindow  = 36 * time.Hour
)

// What a watch holds when its key is absent. Both figures are ours.
const (
	DefaultWindow                     = 12 * time.Hour
	DefaultMargin engine.CelsiusDelta = 3
)

// Alerts says how the watch follows up what it has said. A key that is absent
// has its default.
type Alerts struct {
	// Recheck, recheck_minutes, is how often a newer forecast is looked for
	// through the duty window: 5 to 720, normally 30.
	Recheck time.Duration
	// Step, step_c: a low that moves by more is told again: 0.5 to 20,
	// normally 3. What crosses the line is told however little it moves.
	Step engine.CelsiusDelta
	// Repeat, repeat_minutes, is how long an alert waits to be acknowledged
	// until it is repeated: 5 to 720, normally 30.
	Repeat time.Duration
	// Escalate, escalate_minutes, is how long it waits until it goes to the
	// first one on duty, and then to each next one: 5 to 720 and not less than
	// Repeat, normally 60.
	Escalate time.Duration
	// DailyQuiet, daily_quiet, also says each morning that nothing is below
	// the line, so that silence is never ambiguous; normally false.
	DailyQuiet bool
	// Disagree, disagree_c: two sources whose lows are farther apart disagree:
	// the colder is used and it is told: 0.5 to 30, normally 5.
	Disagree engine.CelsiusDelta
	// Kept, kept_hours, is how old a forecast may be that takes the place of
	// what a failing source does not answer, and until when the one that people
	// were told stands: 1 to 72, normally 12. After that there is no forecast.
	Kept time.Duration
	// Digest, digest, makes a morning one post a channel, with all its bases;
	// else each base has its own. Normally true.
	Digest bool
}

// DefaultAlerts hold where the file does not say. All figures are ours.
var DefaultAlerts = Alerts{
	Recheck:  30 * time.Minute,
	Step:     3,
	Repeat:   30 * time.Minute,
	Escalate: time.Hour,
	Disagree: 5,
	Kept:     12 * time.Hour,
	Digest:   true,
}

// Record says how results are checked and kept. A key that is absent has its
// default.
type Record struct {
	// Expire, expire_hours, is how long a result holds: 1 to 48, normally 6.
	Expire time.Duration
	// Retain, retain_days, is how long a result is kept: 7 to 3650, normally
	// 400: a winter, and the one before it.
	Retain time.Duration
	// Step, step_c: beyond a row of the table or the restriction temperature by
	// more than this is told though no figure changes: 0.5 to 10, normally 1.
	Step engine.CelsiusDelta
	// Blind, checks: blind, has the second person enter the altitudes in every
	// channel; BlindChannels, blind_channels, in these alone.
	Blind         bool
	BlindChannels []Address
	// Team, team_channels, are where "post" shows a result; none: where the
	// station's alerts go.
	Team []Address
	// Linked are the accounts of one person each: who asked through one does
	// not check through another.
	Linked [][]Address
}

// DefaultRecord holds where the file does not say. The six hours are the
// product's, the other figures ours.
var DefaultRecord = Record{Expire: 6 * time.Hour, Retain: 400 * 24 * time.Hour, Step: 1}

// Segment is a part of an approach.
type Segment string

// The segments, outermost first.
const (
	Initial      Segment = "initial"
	Intermediate Segment = "intermediate"
	Final        Segment = "final"
	Missed       Segment = "missed"
)

// Round says how corrections outside the final segment are rounded.
type Round string

// The roundings.
const (
	Up100      Round = "up-100"
	Nearest100 Round = "nearest-100"
	Exact      Round = "exact"
)

// RawRuleSet is an operator's own rule set as it stands in the file. The
// package that owns rule sets decodes it.
type RawRuleSet struct {
	ID string

	// Line is the line of the file on which YAML begins. Columns need no
	// shift: the indentation is kept, and what stood before the document on
	// its first line is spaces.
	Line int
	YAML []byte
}

// WeatherKind names an adapter.
type WeatherKind string

// The kinds of weather source.
const (
	Folder WeatherKind = "folder" // files dropped into Path
	AWC    WeatherKind = "awc"    // the government aviation weather data API
	NWS    WeatherKind = "nws"    // the National Weather Service's hourly forecast
	Typed  WeatherKind = "typed"  // a line typed by the duty officer
)

// Weather is one source of observations and forecasts.
type Weather struct {
	Kind WeatherKind
	Path string // of a Folder; as written, relative to wherever the caller decides
	URL  string // of AWC or NWS; empty: the service's own
	// Private says that the url's name may lead to an address inside the
	// operator's own network.
	Private bool
}

// Slack says where the program answers there; direct messages always.
type Slack struct {
	Channels []string // ids
}

// Discord says where the program answers there; direct messages always.
type Discord struct {
	Guild    string   // id
	Channels []string // ids
	// ReadAll, read_all, asks for the privileged right to read every message, so
	// that follow-ups in the bot's threads need no mention.
	ReadAll bool
}

// Page is the crew-room page.
type Page struct {
	Listen string // host:port; empty when the file does not say
	// TLSCert and TLSKey, tls_cert and tls_key, are files; both or neither. As
	// written, relative to wherever the caller decides.
	TLSCert, TLSKey string
	// BehindProxy, behind_proxy, believes the headers of a proxy; people then
	// sign in even where the listener is on loopback.
	BehindProxy bool
}

// Store is where records are kept.
type Store struct {
	Path string // of the SQLite file; empty when the file does not say
}

// Surface names where an Address lives.
type Surface string

// The surfaces; a new one stands in AddressForms too.
const (
	OnSlack   Surface = "slack"
	OnDiscord Surface = "discord"
	OnFile    Surface = "file"
	OnPage    Surface = "page"
	OnConsole Surface = "console"
)

// AddressForms are how an address of each surface is written: with an id, with the
// name of a file, or alone.
var AddressForms = [...]string{string(OnSlack) + ":ID", string(OnDiscord) + ":ID", string(OnFile) + ":NAME", string(OnPage), string(OnConsole)}

// Address is a channel, a person or a group of people: slack:ID, discord:ID,
// discord:role:ID, file:NAME, page or console.
type Address struct {
	Surface Surface
	ID      string // empty for page and console; "role:1234" for a Discord role
}

// String is the address as the file has it.
func (a Address) String() string {
	if a.ID == "" {
		return string(a.Surface)
	}
	return string(a.Surface) + ":" + a.ID
}

// Group says that the address is a group of people, to whom nothing can be
// posted: a Slack user group or a Discord role.
func (a Address) Group() bool {
	return a.Surface == OnSlack && strings.HasPrefix(a.ID, "S") ||
		a.Surface == OnDiscord && strings.HasPrefix(a.ID, rolePrefix)
}

const rolePrefix = "role:"

// ChatChannels are the channels that the program answers in, by their service.
func (c *Config) ChatChannels() map[Surface][]string {
	return map[Surface][]string{OnSlack: c.Slack.Channels, OnDiscord: c.Discord.Channels}
}

// Everywhere is where a base that names no channels of its own is told: the
// chat channels that the program answers in, else the console.
func (c *Config) Everywhere() []Address {
	var all []Address
	for _, id := range c.Slack.Channels {
		all = append(all, Address{OnSlack, id})
	}
	for _, id := range c.Discord.Channels {
		all = append(all, Address{OnDiscord, id})
	}
	if len(all) == 0 {
		all = append(all, Address{Surface: OnConsole})
	}
	return all
}

// TimeOfDay is a local time on the clock; which instant it is depends on the
// zone and the day.
type TimeOfDay struct {
	Hour, Minute int
}

// String gives HH:MM.
func (t TimeOfDay) String() string { return fmt.Sprintf("%02d:%02d", t.Hour, t.Minute) }

// Days is a set of days of the week.
type Days uint8

// Daily is every day.
const Daily Days = 1<<7 - 1

// Has says whether a day is in the set.
func (d Days) Has(day time.Weekday) bool { return d&(1<<day) != 0 }

// String lists the days from Monday, or says daily.
func (d Days) String() string {
	if d == Daily {
		return daily
	}
	var names []string
	for _, n := range dayNames {
		if d.Has(n.day) {
			names = append(names, n.name)
		}
	}
	return strings.Join(names, ",")
}

const daily = "daily"

var dayNames = [...]struct {
	name string
	day  time.Weekday
}{
	{"mon", time.Monday}, {"tue", time.Tuesday}, {"wed", time.Wednesday}, {"thu", time.Thursday},
	{"fri", time.Friday}, {"sat", time.Saturday}, {"sun", time.Sunday},
}
