package reply

import "testing"

func TestTopic(t *testing.T) {
	kld := Station{Ident: "XKLD", ElevationFt: 4802, Known: true}
	for _, c := range []struct {
		what, want string
		r          Reply
	}{
		{"altitudes alone", "XKLD −38 °C", Reply{Station: kld, TemperatureC: Some(-38)}},
		{"an approach", "XKLD RNP 31 −38 °C", Reply{Station: kld, Procedure: "RNP 31", TemperatureC: Some(-38)}},
		{"flown as another", "XKLD LOC 31 −38 °C", Reply{Station: kld, Procedure: "ILS 31", FlownAs: "LOC 31", TemperatureC: Some(-38)}},
		{"hundredths, to the colder tenth", "XKLD −37.3 °C", Reply{Station: kld, TemperatureC: Some(-37.23)}},
		{"an elevation alone", "Field 4802 ft −38 °C", Reply{Station: Station{ElevationFt: 4802, Known: true}, TemperatureC: Some(-38)}},
		{"a brief", "brief XKLD, XRUN", Reply{Arrivals: []Arrival{{Station: kld}, {Station: Station{Ident: "XRUN"}}}, TemperatureC: Some(-38)}},
		{"no temperature", "XKLD", Reply{Station: kld}},
		{"no field", "", Reply{TemperatureC: Some(-38)}},
	} {
		if got := c.r.Topic(); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}
