package wxreport

import (
	"errors"
	"time"
)

// Decoded is one line of `firn decode`: what was read from a METAR or a TAF.
// A field that does not apply, or that the report does not give, is absent
// from the JSON. Times are in UTC.
type Decoded struct {
	Kind   string    `json:"kind"` // "metar", "taf" or "error"
	Ident  string    `json:"ident,omitempty"`
	Issued time.Time `json:"issued,omitzero"`

	// Temperature is the colder of the body group and the T group; Dewpoint
	// is the T group's where it has one, else the body's. Degrees Celsius.
	Temperature Temp `json:"temperature_c,omitzero"`
	Dewpoint    Temp `json:"dewpoint_c,omitzero"`
	Body        Temp `json:"body_c,omitzero"`
	Tenths      Temp `json:"tenths_c,omitzero"`

	// Doubt is why the temperature may not be what was measured.
	Doubt string `json:"doubt,omitempty"`

	AltimeterInHg float64 `json:"altimeter_inhg,omitzero"`
	AltimeterHPa  float64 `json:"altimeter_hpa,omitzero"`

	ValidFrom time.Time `json:"valid_from,omitzero"`
	ValidTo   time.Time `json:"valid_to,omitzero"`
	// Extremes of a TAF: empty, not absent, when it forecasts none.
	Extremes []DecodedExtreme `json:"extremes,omitzero"`

	// Amended and Cancelled apply to a TAF, the other two to both kinds.
	Amended   *bool `json:"amended,omitempty"`
	Corrected *bool `json:"corrected,omitempty"`
	Cancelled *bool `json:"cancelled,omitempty"`
	Nil       *bool `json:"nil,omitempty"`

	Problem *Problem `json:"problem,omitempty"` // kind "error" only
}

// DecodedExtreme is one TX or TN group.
type DecodedExtreme struct {
	Type string    `json:"type"` // "max" or "min"
	C    float64   `json:"temp_c"`
	At   time.Time `json:"at"`
}

// Problem is the word that could not be read and one sentence about it.
type Problem struct {
	Word string `json:"word"`
	Text string `json:"text"`
}

// Decode reads one line as a TAF or a METAR, whichever its content says: a
// TAF has the word TAF or a validity period behind its station and time. Any
// line gives exactly one Decoded; one that is neither gives the kind "error".
// at is the instant the line is read as of, which gives the month.
func Decode(line string, at time.Time) Decoded {
	if isTaf(upper(line)) {
		t, err := ParseTaf(line, at)
		if err != nil {
			return undecoded(err)
		}
		return ofTaf(t)
	}
	m, _, err := ParseMetar(line)
	if err != nil {
		return undecoded(err)
	}
	return Decoded{
		Kind:          "metar",
		Ident:         m.Ident,
		Issued:        m.Issued(at),
		Temperature:   m.Temperature(),
		Dewpoint:      finer(m.TenthsDewpoint, m.Dewpoint),
		Body:          m.Body,
		Tenths:        m.Tenths,
		Doubt:         m.Doubt(),
		AltimeterInHg: float64(m.AltimeterInHg),
		AltimeterHPa:  float64(m.AltimeterHPa),
		Corrected:     new(m.Corrected),
		Nil:           new(m.Nil),
	}
}

func finer(tenths, body Temp) Temp {
	if tenths.OK {
		return tenths
	}
	return body
}

func ofTaf(t Taf) Decoded {
	d := Decoded{
		Kind:      "taf",
		Ident:     t.Ident,
		Issued:    t.Issued,
		ValidFrom: t.ValidFrom,
		ValidTo:   t.ValidTo,
		Doubt:     t.Doubt(),
		Extremes:  make([]DecodedExtreme, len(t.Extremes)),
		Amended:   new(t.Amended),
		Corrected: new(t.Corrected),
		Cancelled: new(t.Cancelled),
		Nil:       new(t.Nil),
	}
	for i, e := range t.Extremes {
		d.Extremes[i] = DecodedExtreme{"min", float64(e.C), e.At}
		if e.Max {
			d.Extremes[i].Type = "max"
		}
	}
	return d
}

func undecoded(err error) Decoded {
	p := &Problem{Text: err.Error()}
	if e, ok := errors.AsType[*Error](err); ok {
		p.Word = e.Word
	}
	return Decoded{Kind: "error", Problem: p}
}
