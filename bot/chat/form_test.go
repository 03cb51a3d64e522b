package chat_test

import (
	"errors"
	"log/slog"
	"maps"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// fields of the stations, which are invented.
type fields struct{}

func (fields) Find(typed string, limit int) []bot.Offer {
	var out []bot.Offer
	for _, c := range []bot.Offer{{Value: "XKLD", Label: "XKLD Kaldmoor"}, {Value: "XRUN", Label: "XRUN Runmere"}} {
		if strings.HasPrefix(c.Value, strings.ToUpper(typed[:min(2, len(typed))])) && len(out) < limit {
			out = append(out, c)
		}
	}
	return out
}

// reader is a real bot that knows two stations.
func reader(t testing.TB) *bot.Bot {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("test.yaml", []byte(`
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, mountainous: true}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380}
`), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, sets)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// reading is the problem that a real bot has with a line.
func reading(t testing.TB) func(string) *reply.Problem {
	b := reader(t)
	return func(line string) *reply.Problem {
		r, err := b.Handle(t.Context(), bot.Message{Text: line})
		if err != nil {
			t.Fatal(err)
		}
		return r.Problem
	}
}

func TestCheck(t *testing.T) {
	const missing = "Give the altitudes as published, such as FAF 8200, DA 5340."
	for _, c := range []struct {
		name string
		form chat.Form
		want map[string]string
		only string // "bot": when the bot's own reading is there; "rough": when not
	}{
		{name: "good", form: chat.Form{Station: "XKLD", Temperature: "-38", Altitudes: "FAF 8200 DA 5340"}},
		{name: "lines", form: chat.Form{Station: "xkld", Temperature: " −38 ", Altitudes: "FAF 8200,\r\n\r\nstep 7400;\nDA 5340"}},
		{name: "Fahrenheit", form: chat.Form{Station: "XKLD", Temperature: "-36F", Altitudes: "8200"}},
		{name: "M for minus", form: chat.Form{Station: "XKLD", Temperature: "M38", Altitudes: "8200"}},
		{name: "nothing", want: map[string]string{
			"station": "Choose the station, or type its ident.", "temperature": "Give the temperature with its sign, such as -38.", "altitudes": missing,
		}},
		{name: "an unknown station", form: chat.Form{Station: "XKLE", Temperature: "-38", Altitudes: "8200"},
			want: map[string]string{"station": "XKLE is not a station firn knows; did you mean XKLD?"}},
		{name: "a station like none", form: chat.Form{Station: "QQQQ", Temperature: "-38", Altitudes: "8200"},
			want: map[string]string{"station": "QQQQ is not a station firn knows."}},
		{name: "an elevation for a station", form: chat.Form{Station: "elev 4802", Temperature: "-38", Altitudes: "8200"}, only: "bot"},
		{name: "a name for a station", form: chat.Form{Station: "Kaldmoor", Temperature: "-38", Altitudes: "8200"}, only: "bot"},
		{name: "no sign", form: chat.Form{Station: "XKLD", Temperature: "38", Altitudes: "8200"},
			want: map[string]string{"temperature": "Is it -38 or +38?"}},
		{name: "no temperature", form: chat.Form{Station: "XKLD", Temperature: "cold", Altitudes: "8200"},
			want: map[string]string{"temperature": "cold is no temperature; give it with its sign, such as -38."}},
		{name: "colder than anywhere", form: chat.Form{Station: "XKLD", Temperature: "-380", Altitudes: "8200"}, only: "bot",
			want: map[string]string{"temperature": "?"}},
		{name: "no altitude", form: chat.Form{Station: "XKLD", Temperature: "-38", Altitudes: "FAF"},
			want: map[string]string{"altitudes": "There is no altitude in it; give them as published, such as FAF 8200, DA 5340."}},
		{name: "an altitude below the field", form: chat.Form{Station: "XKLD", Temperature: "-38", Altitudes: "4000"}, only: "bot",
			want: map[string]string{"altitudes": "?"}},
		{name: "an altitude without its thousands", form: chat.Form{Station: "XKLD", Temperature: "-38", Altitudes: "8200 xyzzy 3"}, only: "bot",
			want: map[string]string{"altitudes": "?"}},
		{name: "two fields", form: chat.Form{Station: "XKLD", Temperature: "38"},
			want: map[string]string{"temperature": "Is it -38 or +38?", "altitudes": missing}},
		{name: "an unknown station and a bad altitude", form: chat.Form{Station: "XKLE", Temperature: "38", Altitudes: "8200"},
			want: map[string]string{"station": "XKLE is not a station firn knows; did you mean XKLD?", "temperature": "Is it -38 or +38?"}},
		{name: "long text is cut in the sentence", form: chat.Form{Station: strings.Repeat("Q", 500), Temperature: "-38", Altitudes: "8200"},
			want: map[string]string{"station": strings.Repeat("Q", 24) + "… is not a station firn knows."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			for mode, set := range map[string]chat.Settings{
				"bot":   {Stations: fields{}, Problem: reading(t)},
				"rough": {Stations: fields{}},
			} {
				if c.only != "" && c.only != mode {
					continue
				}
				got := newOffice(t, set).Check(c.form)
				for field, want := range c.want {
					if want == "?" && len(got[field]) > 20 { // the bot's own words
						got = maps.Clone(got)
						got[field] = "?"
					}
				}
				if !maps.Equal(got, c.want) {
					t.Errorf("%s: Check(%+v)\n\t%q\nwant\n\t%q", mode, c.form, got, c.want)
				}
				if c.want == nil && got != nil {
					t.Errorf("%s: an empty map, want nil", mode)
				}
			}
		})
	}
}

func TestForm(t *testing.T) {
	event := func(id string, kind chat.Kind, text string, f map[string]string) chat.Event {
		e := said(1, text)
		e.ID, e.Kind, e.Fields, e.Message = id, kind, f, ""
		return e
	}
	good := map[string]string{"station": "XKLD", "temperature": "-38", "altitudes": "FAF 8200,\n\nDA 5340\n"}
	bad := map[string]string{"station": "XKLD", "temperature": "38", "altitudes": ""}
	for _, c := range []struct {
		name  string
		fail  map[string]error
		event chat.Event
		want  []string
	}{
		{"wanted", nil, event("w", chat.FormRequested, "", nil), []string{"open // 0 problems"}},
		{"wanted with a station", nil, event("w", chat.FormRequested, "at xkld today", nil), []string{"open XKLD// 0 problems"}},
		{"wanted with a station's name", nil, event("w", chat.FormRequested, "for Kaldmoor please", nil), []string{"open XKLD// 0 problems"}},
		{"wanted with two stations", nil, event("w", chat.FormRequested, "xkld or xrun", nil), []string{"open // 0 problems"}},
		{"wanted with words like a station's", nil, event("w", chat.FormRequested, "xkl", nil), []string{"open // 0 problems"}},
		{"cannot be opened", map[string]error{"open": errors.New("trigger expired")}, event("w", chat.FormRequested, "", nil), []string{"open failed"}},
		{"sent", nil, event("s", chat.Submitted, "", good), []string{"answer <XKLD -38 FAF 8200, DA 5340>"}},
		{"sent with problems", nil, event("s", chat.Submitted, "", bad), []string{"open XKLD/38/ 2 problems"}},
		{"sent with problems where it cannot be sent back", map[string]error{"open": errors.New("no form for a form")}, event("s", chat.Submitted, "", bad),
			[]string{"open failed", "answer ! Is it -38 or +38? Give the altitudes as published, such as FAF 8200, DA 5340."}},
		{"sent without fields", nil, event("s", chat.Submitted, "", nil), []string{"open // 3 problems"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := newOffice(t, chat.Settings{Stations: fields{}, Named: reader(t).Named})
			o.slack.fail = c.fail
			o.take(t, c.event, c.event) // delivered twice
			o.want(t, c.want...)
		})
	}
}

func TestStations(t *testing.T) {
	o := newOffice(t, chat.Settings{Stations: fields{}})
	for _, c := range []struct {
		typed string
		limit int
		want  int
	}{{" xk ", 25, 1}, {"", 25, 2}, {"", 1, 1}, {"q", 25, 0}, {"", 0, 0}, {"", -1, 0}} {
		if got := o.Stations(c.typed, c.limit); len(got) != c.want {
			t.Errorf("Stations(%q, %d) = %v, want %d", c.typed, c.limit, got, c.want)
		}
	}
	if got := newOffice(t, chat.Settings{}).Stations("x", 5); got != nil {
		t.Errorf("without stations there are %v", got)
	}
}

// BenchmarkCheck: a surface asks before it acknowledges, and has 3 s for that.
func BenchmarkCheck(b *testing.B) {
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, nil, chat.Settings{Stations: fields{}, Problem: reading(b)})
	f := chat.Form{Station: "XKLD", Temperature: "-38", Altitudes: "FAF 8200, step 7400, DA 5340"}
	for b.Loop() {
		if p := desk.Check(f); p != nil {
			b.Fatal(p)
		}
	}
}
