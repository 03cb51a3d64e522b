package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// Fix is one published altitude of a reply, as pictures and cards show it.
type Fix struct {
	Number  int // 1 is the first
	Label   string
	Fix     string
	Segment string
	Meaning string

	Published, Corrected           engine.Altitude
	UpperPublished, UpperCorrected engine.Altitude // of an altitude between two; else zero
	PublishedM, CorrectedM         engine.Metres   // where it was typed in metres; else zero
	Height                         engine.Height
	Add                            engine.Feet
	// Real is where the aeroplane is when the altimeter shows Published, and
	// RealCorrected when it shows Corrected.
	Real, RealCorrected engine.Altitude

	NotUsable  bool   // a stop forbids the line
	NoAltitude bool   // none is published: there are no figures
	Mark       string // the word beside an exception

	Required bool // the rule asks for the correction
	Joined   bool // it is flown to from the one before
	Missed   bool
}

// Title is how people call it: FAF XIRTU; its number where it has no name.
func (f Fix) Title() string {
	switch {
	case f.Label == "" && f.Fix == "":
		return fmt.Sprintf("altitude %d", f.Number)
	case f.Fix == "":
		return f.Label
	case f.Label == "":
		return f.Fix
	}
	return f.Label + " " + f.Fix
}

// Amount is a figure as a picture shows it: the main one, and below it a
// smaller one or nothing.
type Amount struct{ Main, Sub string }

// PublishedText is the published altitude, in metres first where it was typed
// so.
func (f Fix) PublishedText() Amount {
	if f.NoAltitude {
		return Amount{Main: dash}
	}
	return f.amount(float64(f.Published), float64(f.UpperPublished), f.PublishedM, reply.WholeUp)
}

// dash stands for a figure that is not flown or not published.
const dash = "–"

// CorrectedText is the corrected altitude; of a line that may not be flown, and
// of a fix without an altitude, a dash.
func (f Fix) CorrectedText() Amount {
	switch {
	case f.NoAltitude:
		return Amount{Main: dash}
	case f.NotUsable:
		return Amount{Main: dash}
	}
	return f.amount(float64(f.Corrected), float64(f.UpperCorrected), f.CorrectedM, reply.WholeUp)
}

// RealText is where the aeroplane really is.
func (f Fix) RealText() Amount {
	return f.amount(float64(f.Real), 0, f.Real.Metres(), reply.WholeDown)
}

// RealCorrectedText is where it really is as corrected.
func (f Fix) RealCorrectedText() Amount {
	if f.NotUsable {
		return Amount{Main: dash}
	}
	return f.amount(float64(f.RealCorrected), 0, f.RealCorrected.Metres(), reply.WholeDown)
}

func (f Fix) amount(ft, upper float64, m engine.Metres, write func(float64) string) Amount {
	switch {
	case f.PublishedM != 0 && upper != 0:
		return Amount{write(float64(m)) + " m", write(ft) + "–" + write(upper) + " ft"}
	case f.PublishedM != 0:
		return Amount{write(float64(m)) + " m", write(ft) + " ft"}
	case upper != 0:
		return Amount{write(ft), "to " + write(upper)}
	}
	return Amount{Main: write(ft)}
}

// words is an amount in a sentence.
func (a Amount) words() string {
	if a.Sub == "" {
		return a.Main
	}
	return a.Main + " (" + a.Sub + ")"
}

// withAltitudes is a reply without the fixes that have none published.
func withAltitudes(r reply.Reply) reply.Reply {
	if slices.ContainsFunc(r.Altitudes, func(a reply.Row) bool { return a.NoAltitude }) {
		r.Altitudes = slices.DeleteFunc(slices.Clone(r.Altitudes), func(a reply.Row) bool { return a.NoAltitude })
	}
	return r
}

// fixesOf are the altitudes of a drawable reply in flying order.
func fixesOf(r reply.Reply) (out []Fix, known bool) {
	order, known := flown(r.Altitudes)
	for n, i := range order {
		row := &r.Altitudes[i]
		f := Fix{
			Number: n + 1, Label: clean(row.Label), Fix: clean(row.Fix), Segment: clean(row.Segment), Meaning: clean(row.Meaning),
			Published: engine.Altitude(row.PublishedFt), Corrected: engine.Altitude(row.CorrectedFt),
			UpperPublished: engine.Altitude(row.UpperPublishedFt), UpperCorrected: engine.Altitude(row.UpperCorrectedFt),
			PublishedM: engine.Metres(row.PublishedM), CorrectedM: engine.Metres(row.CorrectedM),
			Height: engine.Height(row.HeightFt), Add: engine.Feet(row.CorrectionFt),
			Required:  row.Required,
			Missed:    row.Segment == procedure.Missed.String(),
			NotUsable: row.State == reply.StateNotUsable, NoAltitude: row.NoAltitude, Mark: clean(row.Mark),
		}
		switch a := air(r, row); {
		case f.NoAltitude:
		case row.TrueUncorrectedFt != 0: // the reply's own, as its working says it
			f.Real, f.RealCorrected = engine.Altitude(row.TrueUncorrectedFt), engine.Altitude(row.TrueCorrectedFt)
		default:
			f.Real = f.Published.Add(-correction.Error(f.Height, a))
			f.RealCorrected = f.Corrected.Add(-correction.Error(f.Corrected.Above(a.Source), a))
		}
		f.Joined = n > 0 && joined(&r.Altitudes[order[n-1]], row, known)
		out = append(out, f)
	}
	return out, known
}

// air is the reported temperature over the altimeter setting source that a
// row's height counts from.
func air(r reply.Reply, row *reply.Row) correction.Air {
	return correction.Air{
		Temperature: engine.Celsius(r.TemperatureC.Value),
		Source:      engine.Altitude(row.PublishedFt).Add(-engine.Feet(row.HeightFt)),
	}
}

// metric says that every altitude was typed in metres.
func metric(fixes []Fix) bool {
	for i := range fixes {
		if fixes[i].PublishedM == 0 {
			return false
		}
	}
	return true
}

// Profile is an approach from the side. Along the way it has no scale, and it
// knows no terrain.
type Profile struct {
	Heading
	Fixes  []Fix
	Field  engine.Altitude
	Known  bool // Fixes are in flying order, not merely as they were given
	Metric bool // the scale is in metres
	Lower  bool // nothing corrected, the aeroplane is lower than it shows somewhere
	Beside bool // it stands beside its answer, which has heading, stops and table already
	Stops  []string
	Notes  []string // what must be read beside the figures
	foot   []string
}

// ProfileOf draws the approach of a reply. Procedure is its name as crews say
// it; empty when the altitudes were typed.
func ProfileOf(r reply.Reply, procedure string) (Profile, bool) {
	if !drawable(r) {
		return Profile{}, false
	}
	p := Profile{
		Heading: Heading{Kind: "Approach in profile", Title: title(r), Sub: under(r)},
		Field:   engine.Altitude(r.Station.ElevationFt),
		Stops:   stopLines(r),
	}
	for _, n := range r.Notes {
		p.Notes = append(p.Notes, clean(n))
	}
	if name := clean(procedure); name != "" {
		p.Kind = name + " in profile"
	}
	p.Fixes, p.Known = fixesOf(withAltitudes(r))
	if len(p.Fixes) == 0 {
		return Profile{}, false
	}
	p.Metric = metric(p.Fixes)
	for i := range p.Fixes {
		p.Lower = p.Lower || p.Fixes[i].Real < p.Fixes[i].Published-1e-6
	}
	unit, order := "feet", "in flying order"
	if p.Metric {
		unit = "metres"
	}
	if !p.Known {
		order = "in the order given"
	}
	p.foot = append([]string{
		fmt.Sprintf("Altitudes in %s above sea level, %s. No terrain is drawn; no scale along the way.", unit, order),
	}, sourceLines(r)...)
	return p, true
}

// Name is the file's name.
func (Profile) Name() string { return "profile" }

// Top is the heading.
func (p Profile) Top() Heading { return p.Heading }

// Foot are the lines below.
func (p Profile) Foot() []string { return p.foot }

// RealPhrase is what the third line is called.
func (p Profile) RealPhrase() string {
	if p.Lower {
		return "true altitude if nothing is corrected"
	}
	return "true altitude, uncorrected: not lower"
}

// Alt is the picture in words.
func (p Profile) Alt() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s. %s. ", p.Kind, p.Title)
	for _, line := range slices.Concat(p.Stops, p.Notes) {
		fmt.Fprintf(&b, "%s ", line)
	}
	b.WriteString("No terrain. Published, corrected, and true if nothing is corrected then as corrected. ")
	for i, f := range p.Fixes {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "%s: %s, corrected %s, true %s then %s", f.Title(), f.PublishedText().words(), f.CorrectedText().words(), f.RealText().words(), f.RealCorrectedText().words())
	}
	b.WriteString(". A planning aid.")
	return b.String()
}

// Low is how far below what it shows the aeroplane is; negative when it is
// above.
func (f Fix) Low() engine.Feet { return engine.Feet(f.Published - f.Real) }

// LowText is Low with its direction, in the unit of the picture; empty when
// it is nothing.
func (f Fix) LowText(metric bool) string {
	low := float64(f.Low())
	if metric {
		low = float64(engine.Feet(low).Metres())
	}
	switch whole := math.Ceil(math.Abs(low) - 1e-6); {
	case whole == 0:
		return ""
	case low > 0:
		return fmt.Sprintf("−%.0f", whole)
	default:
		return fmt.Sprintf("+%.0f", math.Floor(-low+1e-6))
	}
}
