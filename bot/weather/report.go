package weather

import (
	"fmt"
	"time"

	"firn/engine/coldwatch"
	"firn/engine/wxreport"
)

// OfMetar is the observation that a METAR reports. source is for people, at
// the instant the text is read as of, which gives the month; the temperature
// is the colder of the body group and the T group (wxreport.Metar).
//
// The error wraps ErrNone where the report is NIL or has no temperature. One
// without a station or a time is an error too: its age could not be told; so is
// one whose temperature cannot be read, and one above zero that its dew point
// speaks against.
func OfMetar(m wxreport.Metar, source string, at, received time.Time) (Observation, error) {
	switch t := m.Temperature(); {
	case m.Ident == "":
		return Observation{}, fmt.Errorf("METAR %q has no station", clip(m.Raw))
	case !m.Nil && !t.OK && m.Unread != "":
		return Observation{}, fmt.Errorf("METAR of %s gives its temperature as %s", m.Ident, m.Unread)
	case m.Nil || !t.OK:
		return Observation{}, fmt.Errorf("METAR of %s has no temperature: %w", m.Ident, ErrNone)
	case !m.HasTime:
		return Observation{}, fmt.Errorf("METAR of %s has no time", m.Ident)
	case !m.Believed():
		return Observation{}, fmt.Errorf("METAR of %s is not believed: %s", m.Ident, m.Doubt())
	default:
		return Observation{Ident: m.Ident, C: t.C, At: m.Issued(at), Source: source, Raw: m.Raw, Received: received.UTC()}, nil
	}
}

// OfTaf is the forecast that a TAF makes: its TX and TN groups as Maximums and
// Minimums, never a curve. A TAF without them (US civil TAFs have none, from
// memory) is a forecast without temperatures. One without an issue time counts
// as issued when it begins.
//
// The error wraps ErrNone where the TAF is NIL or cancelled. One with a temperature
// that no air has is an error too.
func OfTaf(t wxreport.Taf, source string, received time.Time) (Forecast, error) {
	switch {
	case t.Nil:
		return Forecast{}, fmt.Errorf("TAF of %s is missing (NIL): %w", t.Ident, ErrNone)
	case t.Cancelled:
		return Forecast{}, fmt.Errorf("TAF of %s is cancelled: %w", t.Ident, ErrNone)
	case t.Doubt() != "":
		return Forecast{}, fmt.Errorf("TAF of %s is not believed: %s", t.Ident, t.Doubt())
	}
	f := Forecast{
		Forecast: coldwatch.Forecast{Source: source, Issued: issued(t), ValidFrom: t.ValidFrom, ValidTo: t.ValidTo},
		Ident:    t.Ident,
		Raw:      t.Raw,
		Received: received.UTC(),
	}
	for _, e := range t.Extremes {
		s := coldwatch.Sample{At: e.At, C: e.C}
		if e.Max {
			f.Maximums = append(f.Maximums, s)
		} else {
			f.Minimums = append(f.Minimums, s)
		}
	}
	return f, nil
}

func issued(t wxreport.Taf) time.Time {
	if t.HasIssue {
		return t.Issued
	}
	return t.ValidFrom
}

// clip keeps a text short enough for an error.
func clip(s string) string {
	const longest = 60
	if len(s) > longest {
		return s[:longest] + "..."
	}
	return s
}
