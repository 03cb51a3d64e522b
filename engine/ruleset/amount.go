package ruleset

import (
	"errors"
	"math"

	"firn/engine"
	"firn/engine/correction"
)

// amount is a correction before rounding, and what stood in for the table
// where it has no figure.
type amount struct {
	correction engine.Feet
	method     correction.Method
	note       Note
	shortOf    engine.Feet
}

func (s *Set) amount(h engine.Height, air correction.Air, required bool) (amount, error) {
	// Where a published temperature asks for the table, its figure is used
	// as published, also in air that is not cold for the elevation.
	if !required && !colderThanStandard(air) {
		_, err := correction.By(correction.MethodEquation, h, air) // air and height that can be
		return amount{0, s.method, WarmAir, 0}, err
	}
	c, err := correction.By(s.method, h, air)
	switch {
	case err == nil:
		a := amount{c, s.method, NoNote, 0}
		if h >= correction.HighestColumn-noise && isTable(s.method) {
			a.shortOf = shortOf(c, h, air)
		}
		return a, nil
	case errors.Is(err, correction.ErrColderThanTable):
		// The equation reduces the temperature to sea level and the table
		// does not: at an elevated field it would give less than the last
		// row, and colder air may never ask for less.
		row, err := correction.By(s.method, min(h, correction.HighestColumn), correction.Air{Temperature: correction.ColdestRow, Source: air.Source})
		if err != nil {
			return amount{}, err
		}
		c := max(correction.Equation(h, air), row)
		if h > correction.HighestColumn {
			c = max(c, correction.Accurate(h, air))
		}
		return amount{c, correction.MethodEquation, ColderTable, 0}, nil
	case errors.Is(err, correction.ErrWarmerThanTable):
		// Below sea level, and above a last column that stands for every
		// height, the equation would give more than the first row does, and
		// warmer air may never ask for more.
		first, err := s.amount(h, correction.Air{Temperature: correction.WarmestRow, Source: air.Source}, true)
		if err != nil {
			return amount{}, err
		}
		a := amount{min(correction.Equation(h, air), first.correction), correction.MethodEquation, WarmerTable, 0}
		if first.note == LastColumn {
			a.shortOf = shortOf(a.correction, h, air)
		}
		return a, nil
	case errors.Is(err, correction.ErrAboveTable):
		column, err := correction.By(s.method, correction.HighestColumn, air)
		if err != nil {
			return amount{}, err
		}
		if s.accurate {
			return amount{max(correction.Accurate(h, air), column), correction.MethodAccurate, AboveTable, 0}, nil
		}
		return amount{column, s.method, LastColumn, shortOf(column, h, air)}, nil
	}
	return amount{}, err
}

func isTable(m correction.Method) bool {
	return m == correction.MethodTable || m == correction.MethodTableNext
}

// shortOf is the accurate correction where c is less than it, else 0.
func shortOf(c engine.Feet, h engine.Height, air correction.Air) engine.Feet {
	if a := correction.Accurate(h, air); a > c {
		return a
	}
	return 0
}

func upTo(x, step float64) float64 { return math.Ceil(x/step-noise)*step + 0 } // nothing is "-0 ft"

// nearest takes the upper of two steps as near as each other.
func nearest(x, step float64) float64 { return math.Floor(x/step+0.5+noise) * step }
