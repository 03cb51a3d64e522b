package drawing

import (
	"math"
	"strings"
	"time"
	"unicode"

	"firn/bot/reply"
)

// Drawing is what one picture shows.
type Drawing interface {
	// Name is the file's, without its ending: profile, curve, day, season, card.
	Name() string
	// Alt is the picture in words, complete: every altitude that it shows.
	Alt() string
	// Top is what stands above the picture.
	Top() Heading
	// Foot are the lines below it: units, what the picture leaves out, the
	// source of the figures, what they are worth.
	Foot() []string
}

// Heading is what stands above a picture.
type Heading struct {
	Kind  string // what the picture is
	Title string // the station, and the temperature or the day
	Sub   string // where the temperature is from, and what holds
}

// mostRows is how many altitudes a picture takes. The figure is ours: three
// times a long procedure; what is more is no approach.
const mostRows = 40

// Base is a station whose weather is drawn.
type Base struct {
	Ident, Name string
	Zone        *time.Location // nil: UTC
}

func (b Base) title() string { return clean(strings.TrimSpace(b.Ident + " " + b.Name)) }

func (b Base) zone() *time.Location {
	if b.Zone == nil {
		return time.UTC
	}
	return b.Zone
}

// Both is an instant in the base's time and in UTC.
func (b Base) Both(t time.Time) string {
	return t.In(b.zone()).Format("Mon 15:04") + " local (" + t.UTC().Format("15:04Z") + ")"
}

// Span is a stretch of time in both.
func (b Base) Span(from, to time.Time) string {
	f, t := from.In(b.zone()), to.In(b.zone())
	form := "15:04"
	if f.YearDay() != t.YearDay() {
		form = "Mon 15:04"
	}
	return f.Format("Mon 15:04") + " to " + t.Format(form) + " local (" + from.UTC().Format("15:04Z") + " to " + to.UTC().Format("15:04Z") + ")"
}

// longest is how many characters of a typed text are kept; a name is shorter.
const longest = 400

// clean makes typed text fit for a picture: one line, nothing that turns the
// direction of writing or cannot be written at all.
func clean(s string) string {
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), r >= 0xfffe && r&0xffff >= 0xfffe:
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
	s = strings.Join(strings.Fields(s), " ")
	if n := 0; len(s) > longest {
		for i := range s {
			if n++; n > longest {
				return s[:i] + "…"
			}
		}
	}
	return s
}

// title is the station of a reply and its temperature.
func title(r reply.Reply) string {
	return clean(strings.TrimSpace(r.Station.Place()+" "+r.Station.Name)) + ", " + degrees(r)
}

func degrees(r reply.Reply) string { return reply.Celsius(r.TemperatureC.Value) }

// under is where the temperature is from, and whether the rule asks.
func under(r reply.Reply) string {
	var parts []string
	if s := clean(r.TemperatureSource); s != "" {
		parts = append(parts, s)
	}
	switch r.Required {
	case reply.Yes:
		parts = append(parts, "correction required")
	case reply.No:
		parts = append(parts, "no correction required: the figures are advice")
	}
	return strings.Join(parts, "; ")
}

// stopLines are what an answer forbids.
func stopLines(r reply.Reply) (lines []string) {
	for _, s := range r.Stops {
		lines = append(lines, "STOP: "+clean(s.Text))
	}
	return lines
}

// sourceLines are the reply's source line, its planning-aid sentence apart.
func sourceLines(r reply.Reply) []string {
	var out []string
	source, _, _ := strings.Cut(clean(r.Source), " A planning aid:")
	if source != "" {
		out = append(out, "Source: "+source)
	}
	if r.Unverified != "" {
		out = append(out, "Unverified rule set: "+clean(r.Unverified))
	}
	return append(out, reply.Aid)
}

// drawable says whether a reply has figures that a picture can show: a
// temperature and altitudes, each a number that an altimeter can show.
func drawable(r reply.Reply) bool {
	if r.Kind != reply.KindCorrection || !r.TemperatureC.OK || len(r.Altitudes) == 0 || len(r.Altitudes) > mostRows {
		return false
	}
	if !sane(r.Station.ElevationFt) || !sane(r.TemperatureC.Value) {
		return false
	}
	for i := range r.Altitudes {
		a := &r.Altitudes[i]
		for _, v := range []float64{
			a.PublishedFt, a.HeightFt, a.CorrectionFt, a.CorrectedFt, a.UpperPublishedFt, a.UpperCorrectedFt, a.PublishedM, a.CorrectedM,
		} {
			if !sane(v) {
				return false
			}
		}
	}
	return true
}

// sane is what can stand on a picture.
func sane(v float64) bool { return math.Abs(v) <= 100000 } // not a number is not
