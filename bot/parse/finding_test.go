package parse

import (
	"strings"
	"testing"

	"firn/bot/config"
)

// TestStations: what finds fields, and what only sounds like it.
func TestStations(t *testing.T) {
	t.Parallel()
	rd := demoReader()
	for _, c := range []struct {
		text string
		want Search
		at   float64 // 0: none
	}{
		{"stations cold -25 within 200 NM of XKLD", Search{Near: "XKLD", Within: 200, Cold: true}, -25},
		{"Which airports are restricted at m25 within 200nm of xkld?", Search{Near: "XKLD", Within: 200, Cold: true}, -25},
		{"stations restricted at minus 25 near XKLD", Search{Near: "XKLD", Cold: true}, -25},
		{"restricted at -13F near XKLD", Search{Near: "XKLD", Cold: true}, -25},
		{"stations cold -25", Search{Cold: true}, -25},
		{"stations near XKLD", Search{Near: "XKLD"}, 0},
		{"near xkld", Search{Near: "XKLD"}, 0},
		{"nearest to XKLD", Search{Near: "XKLD"}, 0},
		{"show me the airports around XKLD", Search{Near: "XKLD"}, 0},
		{"airports within 60 nautical miles of XKLD", Search{Near: "XKLD", Within: 60}, 0},
		{"stations kald", Search{Text: "kald"}, 0},
		{"airports Kaldmoor Regional", Search{Text: "Kaldmoor Regional"}, 0},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Verb != Stations || req.Search != c.want || float64(req.Temperature) != c.at || req.HasTemperature != (c.at != 0) {
			t.Errorf("%q: got %v %+v at %v, %v", c.text, req.Verb, req.Search, req.Temperature, p)
		}
	}
	for _, c := range []struct{ text, problem, try string }{
		{"stations cold 25 near XKLD", "Is it -25 or +25?", "stations cold -25 near XKLD"},
		{"stations cold near XKLD", "At which temperature?", ""},
		{"stations near XKLE", "I don't know the station XKLE; nearest: XKLD", "stations near XKLD"},
	} {
		req, p := rd.Parse(c.text)
		if p == nil || req.Verb != Stations || !strings.HasPrefix(p.Text, c.problem) || p.Try != c.try {
			t.Errorf("%q: got %v, %+v", c.text, req.Verb, p)
		}
	}
	for text, want := range map[string]Verb{
		"stations": Watch, "cold stations": Watch, "stations cold": Watch, "which bases are cold": Watch, "XKLD -38 8200": Correct,
		"grid mora 11600 near xkld -25": Route, "XKLD -38 8200 near the field": Correct, "near -38 XKLD 8200": Correct,
	} {
		if req, p := rd.Parse(text); req.Verb != want {
			t.Errorf("%q: got %v, %v", text, req.Verb, p)
		}
	}
}

func TestBase(t *testing.T) {
	t.Parallel()
	rd := demoReader()
	for _, c := range []struct {
		text string
		want Watched
	}{
		{"base add XKLD", Watched{}},
		{"add base xkld please", Watched{}},
		{"base add XKLD 06:00", Watched{At: "06:00"}},
		{"base add XKLD at 0530 local", Watched{At: "05:30"}},
		{"base add XKLD 6:15 window 24", Watched{At: "06:15", Hours: 24}},
		{"base add XKLD 0600 12h in slack:C0123ABCD", Watched{At: "06:00", Hours: 12, Channel: "slack:C0123ABCD"}},
		{"base add XKLD for 8 hours here", Watched{Hours: 8, Channel: "here"}},
		{"base add XKLD page", Watched{Channel: "page"}},
		{"base drop XKLD", Watched{Drop: true}},
		{"remove base XKLD", Watched{Drop: true}},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Verb != Base || req.Station != "XKLD" || req.Base != c.want {
			t.Errorf("%q: got %v %s %+v, %v", c.text, req.Verb, req.Station, req.Base, p)
		}
	}
	for _, address := range config.AddressForms {
		req, p := rd.Parse("base add XKLD in " + address)
		if p != nil || req.Base.Channel != address {
			t.Errorf("%s, a surface of the configuration, is told %+v, %v", address, req.Base, p)
		}
	}
	for _, c := range []struct{ text, problem, try string }{
		{"base add", "Which base?", ""},
		{"base add XKLE", "I don't know the station XKLE", "base add XKLD"},
		{"base add XKLD XRUN", "I see two stations, XKLD and XRUN", ""},
		{"base add XKLD tomorrow", "I don't know “tomorrow”", ""},
	} {
		req, p := rd.Parse(c.text)
		if p == nil || req.Verb != Base || !strings.HasPrefix(p.Text, c.problem) || p.Try != c.try {
			t.Errorf("%q: got %v, %+v", c.text, req.Verb, p)
		}
	}
	if !VerbOf("base add XABC").OnDuty() || VerbOf("stations near XKLD").OnDuty() {
		t.Error("a base is for duty officers, finding for everybody")
	}
}
