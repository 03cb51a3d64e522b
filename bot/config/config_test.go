package config

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/strictyaml"
	"firn/engine"
)

var update = flag.Bool("update", false, "rewrite the golden files")

var known = Known{Rules: []string{"faa-all-segments", "faa-individual-segments", "icao", "canada", "strict"}}

func mustParse(t testing.TB, data string) *Config {
	t.Helper()
	c, err := Parse("test.yaml", []byte(data), known)
	if err != nil {
		t.Fatalf("Parse:\n%v", err)
	}
	return c
}

// Each file in testdata/bad breaks one rule, in every way it can be broken;
// the text beside it is what a person reads.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.yaml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no bad files: %v", err)
	}
	oneLine := regexp.MustCompile(`^[a-z0-9_]+\.yaml:[1-9][0-9]*:[1-9][0-9]*: [^\t\r]+$`)
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			c, err := Parse(filepath.Base(file), data, known)
			if err == nil || c != nil {
				t.Fatalf("Parse gave %v, %v; want no config and an error", c, err)
			}
			got := err.Error() + "\n"
			for line := range strings.Lines(got) {
				if !oneLine.MatchString(strings.TrimSuffix(line, "\n")) {
					t.Errorf("not file:line:column and a sentence: %q", line)
				}
			}
			// No file holds a secret under another name than this.
			if strings.Contains(got, "hunter") {
				t.Errorf("a secret is repeated:\n%s", got)
			}
			golden := strings.TrimSuffix(file, ".yaml") + ".txt"
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got:\n%swant:\n%s", got, want)
			}
		})
	}
}

func TestTooBig(t *testing.T) {
	data := []byte("# " + strings.Repeat("x", form.Bytes))
	c, err := Parse("big.yaml", data, known)
	want := "big.yaml:1:1: the file has 4194306 bytes; at most 4194304 are read: is it the right file?"
	if c != nil || err == nil || err.Error() != want {
		t.Errorf("got %v, %v; want no config and %q", c, err, want)
	}
}

func TestProblemsAreShownToABound(t *testing.T) {
	_, err := Parse("many.yaml", []byte("stations:\n"+strings.Repeat("  - {ident: XKLD}\n", 300)), known)
	var ps strictyaml.Problems
	if !errors.As(err, &ps) {
		t.Fatalf("got %T; want Problems", err)
	}
	if len(ps) != 599 { // no elevation 300 times, the same ident 299 times
		t.Errorf("got %d problems; want 599", len(ps))
	}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != 51 || lines[50] != "many.yaml: and 549 more" {
		t.Errorf("got %d lines, the last %q", len(lines), lines[len(lines)-1])
	}
	var p *strictyaml.Problem
	if !errors.As(err, &p) || p.Line != 2 {
		t.Errorf("the first problem is %v; want that of line 2", p)
	}
}

// Deep or repeated structures end in an answer, not in a crash or a wait.
func TestHostileStructures(t *testing.T) {
	for _, piece := range []string{
		"[", "{", "- ", "? ", "a: ", "!a ", "&a ", "*a ", "a: [", "{a: ", "[{", "-\n", "a:\n", "a: b\n", "- a\n", "---\n",
		"'", "\"", "\\", "\"\\", "|\n", ">\n x\n", "#\n", " ", "\n", "\t", ":", ",", "é", "a\n", "'a' ", "[a,", "%a\n", "\r", "xox",
		"rule_sets: [{id: a}]\n", "[]", "a.", "- {id: a}\n",
		"- {a}\n", "- a:\n", "- a:\n  b:\n", "{a,", "[,", "- [{a: b}]\n",
	} {
		t.Run(fmt.Sprintf("%q", piece), func(t *testing.T) {
			const size = 1 << 16
			for _, before := range []string{"", "rule_sets:\n", "stations: ", "rules: \""} {
				data := before + strings.Repeat(piece, size/len(piece))
				if c, err := Parse("hostile.yaml", []byte(data), known); (c == nil) != (err != nil) {
					t.Errorf("after %q: config %v with error %v", before, c != nil, err)
				}
			}
		})
	}
}

const whole = `
rules: ours
round: nearest-100
stations:
  - ident: xkld
    name: Kaldmoor Field
    elevation_ft: 4802.5
    restriction_c: -25.5
    segments: [missed, initial]
    mountainous: true
    time_zone: America/Edmonton
    source_elevation_ft: 4740
    request_extra_ft: 1000
    watch: {at: 06:30, days: [mon, sun], window_hours: 1.5, margin_c: 0, channels: [slack:C01, discord:77, page, console]}
  - {ident: 1E2, elevation_ft: -12, lat: 46.9163, lon: -113.9871}
  - ident: XRUN
    elevation_ft: 0
    restriction_c: 0
    time_zone: UTC
    watch: {at: "23:59"}
rule_sets:
  - id: ours
    name: Ours
weather:
  - {kind: folder, path: weather}
  - {kind: awc, url: http://127.0.0.1:6001/api}
  - kind: nws
  - kind: typed
slack: {channels: [C01, slack:C02]}
discord:
  guild: 100200300400500600
  channels: [100200300400500601, "100200300400500602", discord:3]
duty: [slack:U01, discord:42]
alerts: {recheck_minutes: 20, step_c: 2.5, repeat_minutes: 15, escalate_minutes: 45, daily_quiet: true, digest: false, disagree_c: 4, kept_hours: 9}
record:
  expire_hours: 4
  retain_days: 30
  step_c: 2.5
  checks: confirm
  blind_channels: [slack:C01, page]
  team_channels: [slack:C02]
  linked: [[slack:U01, discord:42], [slack:U02, page]]
page: {listen: 127.0.0.1:8080}
store: {path: firn.db}
`

func TestParseWhole(t *testing.T) {
	got := mustParse(t, whole)
	got.byIdent, got.byName, got.folded = nil, nil, nil
	mountain, err := time.LoadLocation("America/Edmonton")
	if err != nil {
		t.Fatal(err)
	}
	restriction, zero := engine.Celsius(-25.5), engine.Celsius(0)
	want := &Config{
		Stations: []Station{
			{
				Ident: "XKLD", Name: "Kaldmoor Field", Elevation: 4802.5, Restriction: &restriction,
				Segments: []Segment{Missed, Initial}, Mountainous: airports.Yes, Zone: mountain,
				SourceElevation: 4740, RequestExtra: 1000,
				Watch: &Watch{
					At: TimeOfDay{6, 30}, Days: 1<<time.Monday | 1<<time.Sunday, Window: 90 * time.Minute, Margin: 0,
					Channels: []Address{{OnSlack, "C01"}, {OnDiscord, "77"}, {OnPage, ""}, {OnConsole, ""}},
				},
			},
			{Ident: "1E2", Elevation: -12, SourceElevation: -12, Zone: time.UTC, Place: &Place{46.9163, -113.9871}},
			{
				Ident: "XRUN", Restriction: &zero, Zone: time.UTC,
				Watch: &Watch{At: TimeOfDay{23, 59}, Days: Daily, Window: DefaultWindow, Margin: DefaultMargin},
			},
		},
		Rules:    "ours",
		Round:    Nearest100,
		RuleSets: []RawRuleSet{{ID: "ours", Line: 22, YAML: []byte("    id: ours\n    name: Ours\n")}},
		Weather:  []Weather{{Kind: Folder, Path: "weather"}, {Kind: AWC, URL: "http://127.0.0.1:6001/api"}, {Kind: NWS}, {Kind: Typed}},
		Slack:    Slack{Channels: []string{"C01", "C02"}},
		Discord:  Discord{Guild: "100200300400500600", Channels: []string{"100200300400500601", "100200300400500602", "3"}},
		Duty:     []Address{{OnSlack, "U01"}, {OnDiscord, "42"}},
		Alerts:   Alerts{Recheck: 20 * time.Minute, Step: 2.5, Repeat: 15 * time.Minute, Escalate: 45 * time.Minute, DailyQuiet: true, Disagree: 4, Kept: 9 * time.Hour},
		Record: Record{
			Expire: 4 * time.Hour, Retain: 30 * 24 * time.Hour, Step: 2.5,
			BlindChannels: []Address{{OnSlack, "C01"}, {OnPage, ""}},
			Team:          []Address{{OnSlack, "C02"}},
			Linked:        [][]Address{{{OnSlack, "U01"}, {OnDiscord, "42"}}, {{OnSlack, "U02"}, {OnPage, ""}}},
		},
		Page:  Page{Listen: "127.0.0.1:8080"},
		Store: Store{Path: "firn.db"},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got\n%+v\nwant\n%+v", got, want)
	}
}

func TestAccepted(t *testing.T) {
	same := func(a, b string) func(*Config) (any, any) { return func(*Config) (any, any) { return a, b } }
	tests := []struct {
		name, data string
		got        func(*Config) (got, want any)
	}{
		{"byte order mark", "\ufeffrules: icao\n", func(c *Config) (any, any) { return c.Rules, "icao" }},
		{"carriage returns", "rules: icao\r\nround: exact\r\n", func(c *Config) (any, any) { return c.Round, Exact }},
		{"no line end at the end", "rules: icao", func(c *Config) (any, any) { return c.Rules, "icao" }},
		{"one document with its marks", "---\nrules: icao\n...\n", func(c *Config) (any, any) { return c.Rules, "icao" }},
		{"tab before a comment", "rules: icao\t# as published\n", func(c *Config) (any, any) { return c.Rules, "icao" }},
		{"JSON", `{"rules": "icao", "stations": [{"ident": "XKLD", "elevation_ft": 4802}]}`,
			func(c *Config) (any, any) { return c.Stations[0].Elevation, engine.Altitude(4802) }},
		{"no rules, no round", "stations: []\n", func(c *Config) (any, any) { return c.Rules + string(c.Round), "" }},
		{"rule set after the rules that name it", "rules: ours\nrule_sets: [{id: ours}]\n",
			func(c *Config) (any, any) { return c.Rules, "ours" }},
		{"name with an accent", "stations: [{ident: XKLD, elevation_ft: 1, name: Kaldmør}]\n",
			func(c *Config) (any, any) { return c.Stations[0].Name, "Kaldmør" }},
		{"ident all but digits", "stations: [{ident: 12x, elevation_ft: 1}]\n",
			func(c *Config) (any, any) { return c.Stations[0].Ident, "12X" }},
		{"exactly +10", "stations: [{ident: XKLD, elevation_ft: 1, restriction_c: 10}]\n",
			func(c *Config) (any, any) { return *c.Stations[0].Restriction, engine.Celsius(10) }},
		{"exactly -60", "stations: [{ident: XKLD, elevation_ft: 1, restriction_c: -60}]\n",
			func(c *Config) (any, any) { return *c.Stations[0].Restriction, engine.Celsius(-60) }},
		{"elevation at its limits", "stations: [{ident: XAAA, elevation_ft: -1500}, {ident: XAAB, elevation_ft: 15000}]\n",
			func(c *Config) (any, any) { return len(c.Stations), 2 }},
		{"source a little lower", "stations: [{ident: XAAA, elevation_ft: 820, source_elevation_ft: 175}]\n",
			func(c *Config) (any, any) { return c.Stations[0].SourceElevation, engine.Altitude(175) }},
		{"days as one word", "stations: [{ident: XAAA, elevation_ft: 1, time_zone: UTC, watch: {at: 06:00, days: daily}}]\n",
			func(c *Config) (any, any) { return c.Stations[0].Watch.Days, Daily }},
		{"listening everywhere", `page: {listen: ":8080"}`, func(c *Config) (any, any) { return c.Page.Listen, ":8080" }},
		{"a list of airports", `airports: {path: airports.csv}`, func(c *Config) (any, any) { return c.AirportList, "airports.csv" }},
		{"mountainous is known to be false", "stations: [{ident: XAAA, elevation_ft: 1, mountainous: false}]", func(c *Config) (any, any) { return c.Stations[0].Mountainous, airports.No }},
		{"and not known where it is not said", "stations: [{ident: XAAA, elevation_ft: 1}]", func(c *Config) (any, any) { return c.Stations[0].Mountainous, airports.NotKnown }},
		{"a page with a certificate", `page: {tls_cert: a.crt, tls_key: a.key, behind_proxy: true}`, func(c *Config) (any, any) { return c.Page, Page{TLSCert: "a.crt", TLSKey: "a.key", BehindProxy: true} }},
		{"an account of the page", `record: {linked: [[slack:U01, "page:anna"]]}`, func(c *Config) (any, any) { return c.Record.Linked[0][1], Address{OnPage, "anna"} }},
		{"as its link is written", `record: {linked: [[slack:U01, "page:Kari Dahl"], [slack:U02, "page:ANNA"]]}`, func(c *Config) (any, any) {
			return fmt.Sprint(c.Record.Linked[0][1], c.Record.Linked[1][1]), "page:karidahl page:anna"
		}},
		{"listening on version 6", `page: {listen: "[::1]:0"}`, func(c *Config) (any, any) { return c.Page.Listen, "[::1]:0" }},
		{"no alerts", "stations: []\n", func(c *Config) (any, any) { return c.Alerts, DefaultAlerts }},
		{"alerts in part", "alerts: {daily_quiet: true, escalate_minutes: 30}\n", func(c *Config) (any, any) {
			return c.Alerts, Alerts{Recheck: 30 * time.Minute, Step: 3, Repeat: 30 * time.Minute, Escalate: 30 * time.Minute, DailyQuiet: true, Disagree: 5, Kept: 12 * time.Hour, Digest: true}
		}},
		{"repeats longer than the usual escalation", "alerts: {repeat_minutes: 90}\n", func(c *Config) (any, any) { return c.Alerts.Escalate, 3 * time.Hour }},
		{"no record", "stations: []\n", func(c *Config) (any, any) { return fmt.Sprint(c.Record), fmt.Sprint(DefaultRecord) }},
		{"record in part", "record: {checks: blind}\n", func(c *Config) (any, any) {
			return fmt.Sprint(c.Record), fmt.Sprint(Record{Expire: 6 * time.Hour, Retain: 400 * 24 * time.Hour, Step: 1, Blind: true})
		}},
		{"three parts that are no token", "store: {path: firn.v1.db}\n", same("", "")},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got, want := tt.got(mustParse(t, tt.data)); got != want {
				t.Errorf("got %v; want %v", got, want)
			}
		})
	}
}

// A rule set's text stays on its columns, so that another decoder's line and
// column plus Line-1 point into the file.
func TestRuleSetsAsTheyStand(t *testing.T) {
	tests := []struct {
		name, data string
		want       []RawRuleSet
	}{
		{"two, a comment between, a key after", "rules: a\nrule_sets:\n  - id: a\n    say: |\n      one\n\n      two\n  # the other\n  -\n    id: b\nround: exact\n", []RawRuleSet{
			{"a", 3, []byte("    id: a\n    say: |\n      one\n\n      two\n  # the other\n")},
			{"b", 10, []byte("    id: b\n")},
		}},
		{"not indented", "rule_sets:\n- id: a\n  x: 1\n- id: b", []RawRuleSet{
			{"a", 2, []byte("  id: a\n  x: 1\n")},
			{"b", 4, []byte("  id: b\n")},
		}},
		{"in braces on one line", "rule_sets: [{id: a, é: 1}, {id: b}] # both\n", []RawRuleSet{
			{"a", 1, []byte("            {id: a, é: 1}\n")},
			{"b", 1, []byte("                           {id: b}\n")},
		}},
		{"in braces on two lines", "rule_sets:\n  - {id: a,\n     x: 1}\n", []RawRuleSet{
			{"a", 2, []byte("    {id: a,\n     x: 1}\n")},
		}},
		{"keys before it", "rule_sets:\n  - id: a\n", []RawRuleSet{{"a", 2, []byte("    id: a\n")}}},
		{"carriage returns", "rule_sets:\r\n  - id: a\r\n    x: 1\r\n", []RawRuleSet{{"a", 2, []byte("    id: a\n    x: 1\n")}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := mustParse(t, tt.data).RuleSets
			if !reflect.DeepEqual(got, tt.want) {
				t.Errorf("got  %+q\nwant %+q", texts(got), texts(tt.want))
			}
		})
	}
}

func TestExample(t *testing.T) {
	data, err := os.ReadFile("../../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c := mustParse(t, string(data))
	if c.Rules != "faa-all-segments" || c.Round != Up100 {
		t.Errorf("rules %q, round %q; want faa-all-segments, up-100", c.Rules, c.Round)
	}
	s, ok := c.Station("xkld")
	if !ok || s.Elevation != 4802 || s.Restriction == nil || *s.Restriction != -25 || s.Mountainous != airports.Yes || len(s.Segments) != 4 {
		t.Errorf("XKLD is %+v", s)
	}
	without := 0
	for _, s := range c.Stations {
		if s.Restriction == nil {
			without++
		}
		if watched := s.Restriction != nil; s.Ident[0] != 'X' || s.Name == "" || (s.Watch != nil) != watched {
			t.Errorf("%+v: want an ident with X, a name, a watch where there is a restriction temperature", s)
		}
	}
	if len(c.Stations) < 9 || without != 2 {
		t.Errorf("%d stations, %d without a restriction temperature; want at least 9 and 2", len(c.Stations), without)
	}
}

func TestExampleWatch(t *testing.T) {
	data, err := os.ReadFile("../../config.example.yaml")
	if err != nil {
		t.Fatal(err)
	}
	c := mustParse(t, string(data))
	s, _ := c.Station("XKLD")
	got := fmt.Sprint(s.Watch.At, s.Watch.Days, s.Watch.Window, s.Watch.Margin, s.Watch.Channels, c.Alerts, c.Duty, c.Page, c.Store)
	if want := "06:00 daily 24h0m0s 3 [console page file:alerts] {30m0s 3 30m0s 1h0m0s true 5 12h0m0s true} [file:duty] {127.0.0.1:7470   false} {}"; got != want {
		t.Errorf("got %s; want %s", got, want)
	}
}

func TestProcedureKeys(t *testing.T) {
	c := mustParse(t, `compensated: true
procedures: {path: charts}
stations: [{ident: XKLD, elevation_ft: 4802, usual: [rnav 31, "vor a"]}]
`)
	if got, want := fmt.Sprint(c.Procedures, " ", c.Aircraft.Compensated, c.Stations[0].Usual, len(c.Stations[0].Usual)), "charts true [rnav 31 vor a] 2"; got != want {
		t.Errorf("got %s; want %s", got, want)
	}
}

func TestAnswerKeys(t *testing.T) {
	c := mustParse(t, `aircraft: {sbas: true, compensated: false}
rule_options: {icao: {at_or_below_c: 0}, canada: {at_or_below_c: -10}}
stations: [{ident: XKLD, elevation_ft: 4802, radar: false, remote: true, transition_altitude_ft: 10000}, {ident: XRUN, elevation_ft: 4380, radar: true}]
`)
	a, b := c.Stations[0], c.Stations[1]
	got := fmt.Sprint(c.Aircraft, c.RuleOptions, a.NoRadar, a.Remote, a.Transition, b.NoRadar, b.Remote)
	if want := "{true false} [{icao 0 2} {canada -10 2}] true true 10000 ft false false"; got != want {
		t.Errorf("got %s; want %s", got, want)
	}
}

func TestAddresses(t *testing.T) {
	c := mustParse(t, `duty: ["slack:U01", "slack:S01", "discord:role:77", "discord:42", "file:duty-1"]`)
	var groups []string
	for _, a := range c.Duty {
		if a.Group() {
			groups = append(groups, a.String())
		}
	}
	if got, want := fmt.Sprint(c.Duty, groups), "[slack:U01 slack:S01 discord:role:77 discord:42 file:duty-1] [slack:S01 discord:role:77]"; got != want {
		t.Errorf("got %s; want %s", got, want)
	}
	for _, x := range []struct{ name, yaml, want string }{
		{"nowhere named", "rules: icao", "[console]"},
		{"chat channels", `{slack: {channels: [C01]}, discord: {guild: "7", channels: ["8"]}}`, "[slack:C01 discord:8]"},
	} {
		t.Run(x.name, func(t *testing.T) {
			if got := fmt.Sprint(mustParse(t, x.yaml).Everywhere()); got != x.want {
				t.Errorf("got %s; want %s", got, x.want)
			}
		})
	}
}

func TestDaysHas(t *testing.T) {
	weekend := Days(1<<time.Saturday | 1<<time.Sunday)
	for day := time.Sunday; day <= time.Saturday; day++ {
		if got, want := weekend.Has(day), day == time.Saturday || day == time.Sunday; got != want {
			t.Errorf("weekend has %v: got %v; want %v", day, got, want)
		}
	}
	if got := fmt.Sprint(weekend, Daily); got != "sat,sun daily" {
		t.Errorf("got %q; want %q", got, "sat,sun daily")
	}
}

// manyStations is a file of n stations with everything said.
func manyStations(n int) []byte {
	var b strings.Builder
	b.WriteString("rules: faa-all-segments\nstations:\n")
	zones := []string{"America/Edmonton", "Europe/Oslo", "America/Punta_Arenas", "Pacific/Auckland"}
	const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	for i := range n {
		fmt.Fprintf(&b, "  - ident: X%c%c%c\n    name: Field%d\n    elevation_ft: %d\n    restriction_c: %d\n    segments: [intermediate, final]\n    mountainous: true\n    time_zone: %s\n",
			letters[i/676%26], letters[i/26%26], letters[i%26], i, i%9000, -10-i%30, zones[i%len(zones)])
	}
	return []byte(b.String())
}

func BenchmarkParse10000Stations(b *testing.B) {
	data := manyStations(10_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Parse("many.yaml", data, known); err != nil {
			b.Fatal(err)
		}
	}
}

// FuzzParse: no panic, and no config exactly when there is an error, whose
// every line has its place.
func FuzzParse(f *testing.F) {
	files, err := filepath.Glob("testdata/bad/*.yaml")
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range append(files, "../../config.example.yaml") {
		data, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(whole))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Parse("fuzz.yaml", data, known)
		if (c == nil) != (err != nil) {
			t.Fatalf("config %v with error %v", c != nil, err)
		}
		if err == nil {
			for _, s := range c.Stations {
				if s.Zone == nil || s.Ident == "" {
					t.Fatalf("half-loaded station %+v", s)
				}
			}
			return
		}
		for line := range strings.Lines(err.Error()) {
			if !strings.HasPrefix(line, "fuzz.yaml:") {
				t.Fatalf("a line without its place: %q", line)
			}
		}
		var ps strictyaml.Problems
		if !errors.As(err, &ps) || len(ps) == 0 {
			t.Fatalf("not Problems: %T", err)
		}
		for _, p := range ps {
			if p.Line < 1 || p.Column < 1 {
				t.Fatalf("no place: %v", p)
			}
		}
	})
}

// texts shows rule sets as text, not as bytes.
func texts(sets []RawRuleSet) []string {
	var out []string
	for _, s := range sets {
		out = append(out, fmt.Sprintf("%s at line %d:\n%s", s.ID, s.Line, s.YAML))
	}
	return out
}
