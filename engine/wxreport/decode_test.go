package wxreport

import (
	"encoding/json"
	"testing"
)

// TestDecode: the object of `firn decode`, one a line, as the contract has it.
func TestDecode(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, line, want string }{
		{"METAR", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13821422",
			`{"kind":"metar","ident":"XKLD","issued":"2026-01-25T11:53:00Z","temperature_c":-38.2,"dewpoint_c":-42.2,"body_c":-38,"tenths_c":-38.2,"altimeter_inhg":29.92,"corrected":false,"nil":false}`},
		{"METAR of zero", "METAR COR XKLD 251153Z M00/ Q1013",
			`{"kind":"metar","ident":"XKLD","issued":"2026-01-25T11:53:00Z","temperature_c":0,"body_c":0,"altimeter_hpa":1013,"corrected":true,"nil":false}`},
		{"METAR without a time or temperature", "XKLD 24012KT",
			`{"kind":"metar","ident":"XKLD","corrected":false,"nil":false}`},
		{"TAF", "TAF AMD XKLD 251100Z 2512/2624 24012KT TXM05/2518Z TNM15/2610Z",
			`{"kind":"taf","ident":"XKLD","issued":"2026-01-25T11:00:00Z","valid_from":"2026-01-25T12:00:00Z","valid_to":"2026-01-27T00:00:00Z","extremes":[{"type":"max","temp_c":-5,"at":"2026-01-25T18:00:00Z"},{"type":"min","temp_c":-15,"at":"2026-01-26T10:00:00Z"}],"amended":true,"corrected":false,"cancelled":false,"nil":false}`},
		{"TAF without its word", "xkld 251100z 2512/2612 24012kt",
			`{"kind":"taf","ident":"XKLD","issued":"2026-01-25T11:00:00Z","valid_from":"2026-01-25T12:00:00Z","valid_to":"2026-01-26T12:00:00Z","extremes":[],"amended":false,"corrected":false,"cancelled":false,"nil":false}`},
		{"TAF without its word, old validity", "XKLD 251100Z 251212 24012KT",
			`{"kind":"taf","ident":"XKLD","issued":"2026-01-25T11:00:00Z","valid_from":"2026-01-25T12:00:00Z","valid_to":"2026-01-26T12:00:00Z","extremes":[],"amended":false,"corrected":false,"cancelled":false,"nil":false}`},
		{"TAF, missing", "TAF XKLD 251100Z NIL",
			`{"kind":"taf","ident":"XKLD","issued":"2026-01-25T11:00:00Z","extremes":[],"amended":false,"corrected":false,"cancelled":false,"nil":true}`},
		{"an empty line", "",
			`{"kind":"error","problem":{"word":"","text":"this is no METAR: there is no station in it"}}`},
		{"neither", "hello there",
			`{"kind":"error","problem":{"word":"hello","text":"hello is no station: a METAR begins with a station of three or four letters, or its time"}}`},
		{"a broken TAF", "TAF XKLD 251100Z 2512/2612 TNM15/2625Z",
			`{"kind":"error","problem":{"word":"TNM15/2625Z","text":"TNM15/2625Z has no such day and hour: days go from 01 to 31, hours to 24"}}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := json.Marshal(Decode(c.line, at("2026-01-25T12:30:00Z")))
			if err != nil || string(got) != c.want {
				t.Errorf("%q:\ngot  %s, %v\nwant %s", c.line, got, err, c.want)
			}
		})
	}
	if got, err := json.Marshal([]Temp{none(), deg(-0.5)}); err != nil || string(got) != "[null,-0.5]" {
		t.Errorf("temperatures as JSON: got %s, %v", got, err)
	}
}

// TestDecodeKinds: every line of the corpora is taken for what it is, the
// forecasts also without the word TAF.
func TestDecodeKinds(t *testing.T) {
	t.Parallel()
	for _, r := range rows[metarRow](t, "metar.ref.jsonl") {
		if d := Decode(r.Raw, undated); d.Kind != "metar" {
			t.Errorf("%q: kind %s, %+v", r.Raw, d.Kind, d.Problem)
		}
		if !LooksLikeMetar(r.Raw) {
			t.Errorf("%q does not look like a METAR", r.Raw)
		}
	}
	for _, r := range rows[tafRow](t, "taf.ref.jsonl") {
		if d := Decode(r.Raw, undated); d.Kind != "taf" {
			t.Errorf("%q: kind %s, %+v", r.Raw, d.Kind, d.Problem)
		}
		if LooksLikeMetar(r.Raw) {
			t.Errorf("%q looks like a METAR", r.Raw)
		}
		if r.Text.Nil {
			continue // NIL alone says nothing of its kind
		}
		if d := Decode(r.Raw[len("TAF "):], undated); d.Kind != "taf" {
			t.Errorf("%q without TAF: kind %s, %+v", r.Raw, d.Kind, d.Problem)
		}
	}
}
