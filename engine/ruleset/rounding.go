package ruleset

import (
	"errors"
	"fmt"
	"slices"

	"firn/engine"
)

// Step names how a figure is rounded.
type Step string

// The steps. The zero value keeps the figure as it is.
const (
	Exact          Step = "exact"
	UpTen          Step = "up-10"
	UpHundred      Step = "up-100"
	NearestHundred Step = "nearest-100"
)

// Rounding is a rule of rounding: the correction first, then the altitude
// that comes of it.
type Rounding struct {
	Correction Step `yaml:"correction"`
	Altitude   Step `yaml:"altitude"`
}

func (r Rounding) check() error {
	for _, s := range []Step{r.Correction, r.Altitude} {
		if !slices.Contains([]Step{"", Exact, UpTen, UpHundred, NearestHundred}, s) {
			return fmt.Errorf("%q: up-10, up-100, nearest-100 or exact", s)
		}
	}
	if r.Altitude == NearestHundred {
		return errors.New("an altitude is rounded up, never to the nearest")
	}
	return nil
}

func (s Step) round(ft float64) float64 {
	switch s {
	case UpTen:
		return upTo(ft, 10)
	case UpHundred:
		return upTo(ft, 100)
	case NearestHundred:
		return nearest(ft, 100)
	}
	return ft
}

// apply gives the corrected altitude.
func (r Rounding) apply(published engine.Altitude, c engine.Feet) engine.Altitude {
	corrected := published.Add(engine.Feet(r.Correction.round(float64(c))))
	if c > 0 {
		corrected = engine.Altitude(r.Altitude.round(float64(corrected)))
	}
	return corrected
}

// Describe says the rule in words.
func (r Rounding) Describe() string {
	c, a := r.Correction, r.Altitude
	switch {
	case a == "" || a == Exact:
		return c.Describe()
	case c == "" || c == Exact:
		return "altitudes " + a.Describe()
	}
	return c.Describe() + ", then altitudes " + a.Describe()
}

// Describe says the step in words.
func (s Step) Describe() string {
	switch s {
	case UpTen:
		return "up to the next 10 ft"
	case UpHundred:
		return "up to the next 100 ft"
	case NearestHundred:
		return "to the nearest 100 ft"
	}
	return "exact"
}
