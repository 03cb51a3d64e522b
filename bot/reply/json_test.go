package reply_test

import (
	"encoding/json"
	"maps"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firn/bot/reply"
)

// full is a reply with everything that other programs rely on.
func full() reply.Reply {
	return reply.Reply{
		Kind:              reply.KindCorrection,
		Station:           reply.Station{Ident: "XKLD", Name: "Kaldmoor", ElevationFt: 4802, Known: true},
		TemperatureC:      reply.Some(-38.3),
		TemperatureSource: "as typed",
		Rules:             "faa-all-segments",
		Method:            "table",
		Required:          reply.Yes,
		Altitudes: []reply.Row{{
			Label: "FAF", Fix: "WENDL", Segment: "intermediate", PublishedFt: 8200, HeightFt: 3398,
			CorrectionFt: 800, CorrectedFt: 9000, Required: true, Report: true, Why: "its own height",
		}},
		Requests: []reply.Request{{When: "on check-in", Text: "Request 9000 ft.", Spoken: "request niner thousand feet"}},
		Cautions: []reply.Caution{{Code: "visibility", Text: "Minimums rise; visibility minimums do not change."}},
		Working: []reply.Working{{
			PublishedFt: 8200, Methods: []reply.MethodFigure{{Method: "table", CorrectionFt: 789.5}}, ErrorFt: 504.25,
			Steps: []reply.Step{{Text: "8200 − 4802 = 3398", Source: "height"}},
		}},
		Problem: &reply.Problem{Word: "38", Text: "38 has no sign.", Try: "XKLD -38"},
	}
}

// shape gives a JSON value's keys with their types, nested ones with dots.
func shape(prefix string, v any, into map[string]string) {
	switch v := v.(type) {
	case map[string]any:
		for k, sub := range v {
			shape(strings.TrimPrefix(prefix+"."+k, "."), sub, into)
		}
	case []any:
		for _, sub := range v {
			shape(prefix+"[]", sub, into)
		}
	case string:
		into[prefix] = "string"
	case float64:
		into[prefix] = "number"
	case bool:
		into[prefix] = "bool"
	default:
		into[prefix] = "?"
	}
}

func shapeOf(t testing.TB, r reply.Reply) map[string]string {
	t.Helper()
	data, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(data, &v); err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	shape("", v, got)
	return got
}

// TestContract holds keys and types to what other programs rely on.
func TestContract(t *testing.T) {
	want := map[string]string{
		"kind":          "string",
		"station.ident": "string", "station.elevation_ft": "number",
		"temperature_c": "number", "temperature_source": "string",
		"rules": "string", "method": "string", "required": "bool",
		"altitudes[].label": "string", "altitudes[].fix": "string", "altitudes[].segment": "string",
		"altitudes[].published_ft": "number", "altitudes[].height_ft": "number",
		"altitudes[].correction_ft": "number", "altitudes[].corrected_ft": "number",
		"altitudes[].required": "bool", "altitudes[].report": "bool", "altitudes[].why": "string",
		"requests[].when": "string", "requests[].text": "string", "requests[].spoken": "string",
		"cautions[].code": "string", "cautions[].text": "string",
		"problem.word": "string", "problem.text": "string", "problem.try": "string",
		"working[].published_ft": "number", "working[].methods[].method": "string",
		"working[].methods[].correction_ft": "number", "working[].error_ft": "number",
	}
	got := shapeOf(t, full())
	for k, kind := range want {
		if got[k] != kind {
			t.Errorf("%s is %q, want %q", k, got[k], kind)
		}
	}
	// Beside the contract, and free to grow.
	for _, k := range []string{"station.name", "working[].steps[].text", "working[].steps[].source"} {
		if got[k] != "string" {
			t.Errorf("%s is %q, want a string", k, got[k])
		}
		delete(got, k)
	}
	for k := range got {
		if want[k] == "" {
			t.Errorf("%s is not in the contract", k)
		}
	}
}

// TestAbsent: absent means not applicable; false and zero are said.
func TestAbsent(t *testing.T) {
	for _, c := range []struct {
		name string
		r    reply.Reply
		want []string
	}{
		{"a question", reply.Ask(reply.Problem{Text: "What?", Try: "this"}), []string{"kind", "problem.text", "problem.try"}},
		{"an error", reply.Refuse(reply.Problem{Word: "x", Text: "No.", Try: "this"}), []string{"kind", "problem.text", "problem.try", "problem.word"}},
		{"zero degrees, not required", reply.Reply{Kind: reply.KindStatus, TemperatureC: reply.Some(0), Required: reply.No}, []string{"kind", "required", "temperature_c"}},
		{"a field at sea level without an ident", reply.Reply{Kind: reply.KindStatus, Station: reply.Station{Known: true}}, []string{"kind", "station.elevation_ft"}},
		{"an altitude without a label or correction", reply.Reply{Kind: reply.KindCorrection, Altitudes: []reply.Row{{PublishedFt: 900}}},
			[]string{"altitudes[].corrected_ft", "altitudes[].correction_ft", "altitudes[].height_ft", "altitudes[].published_ft", "altitudes[].report", "altitudes[].required", "altitudes[].why", "kind"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := slices.Sorted(maps.Keys(shapeOf(t, c.r))); !slices.Equal(got, c.want) {
				t.Errorf("keys %q, want %q", got, c.want)
			}
		})
	}
}

func TestRoundTrip(t *testing.T) {
	replies := map[string]reply.Reply{
		"everything": full(),
		"question":   reply.Ask(reply.Problem{Text: "What?", Try: "this"}),
		"sea level":  {Kind: reply.KindStatus, Station: reply.Station{Known: true}, Required: reply.No, TemperatureC: reply.Some(0)},
		"nothing":    {},
	}
	for name, want := range replies {
		data, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		var got reply.Reply
		if err := json.Unmarshal(data, &got); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %s reads as %+v, %v; want %+v", name, data, got, err, want)
		}
	}
}

func TestFigureRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := reply.Some(rapid.Float64Range(-1e6, 1e6).Draw(t, "value"))
		data, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		var got reply.OptFloat
		if err := json.Unmarshal(data, &got); err != nil || got.OK != want.OK || math.Float64bits(got.Value+0) != math.Float64bits(want.Value+0) {
			t.Fatalf("%s reads as %+v, %v; want %+v", data, got, err, want)
		}
	})
}

// An altitude between two has both bounds; replies that were stored with their
// older names read as well. A fix without an altitude has no figures.
func TestBounds(t *testing.T) {
	want := reply.Row{Label: "IAF", Meaning: "between", PublishedFt: 8900, CorrectedFt: 9600, UpperPublishedFt: 9800, UpperCorrectedFt: 10500, Why: "own"}
	data, err := json.Marshal(want)
	if err != nil || !strings.Contains(string(data), `"published2_ft":9800,"corrected2_ft":10500`) {
		t.Errorf("got %s, %v", data, err)
	}
	older := strings.NewReplacer("published2_ft", "upper_published_ft", "corrected2_ft", "upper_corrected_ft").Replace(string(data))
	for _, text := range []string{string(data), older} {
		var got reply.Row
		if err := json.Unmarshal([]byte(text), &got); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s reads as %+v, %v", text, got, err)
		}
	}
	none := reply.Row{Label: "IAF", Fix: "XORDU", Segment: "initial", NoAltitude: true, Why: "none is published"}
	data, err = json.Marshal(none)
	if err != nil || strings.Contains(string(data), "_ft") {
		t.Errorf("got %s, %v, want no figure", data, err)
	}
	var got reply.Row
	if err := json.Unmarshal(data, &got); err != nil || !reflect.DeepEqual(got, none) {
		t.Errorf("%s reads as %+v, %v", data, got, err)
	}
}
