package correction

import (
	"fmt"

	"firn/engine"
)

// The bounds of the published table.
const (
	WarmestRow    engine.Celsius = 10
	ColdestRow    engine.Celsius = -50
	LowestColumn  engine.Height  = 200
	HighestColumn engine.Height  = 5000
)

// rowStep is the distance of the rows.
const rowStep = 10

// noise is how far beyond a row or column (as a part of a row, in feet) a
// value still counts as on it: 1524 m converted is 5000 ft, not above it.
const noise = 1e-6

// Why the table has no figure; each wraps engine.ErrOutsideTable. What holds
// there instead is for the rule set to say.
var (
	ErrAboveTable      = fmt.Errorf("higher than the last column, %.0f ft: %w", float64(HighestColumn), engine.ErrOutsideTable)
	ErrColderThanTable = fmt.Errorf("colder than the last row, %.0f °C: %w", float64(ColdestRow), engine.ErrOutsideTable)
	ErrWarmerThanTable = fmt.Errorf("warmer than the first row, +%.0f °C: %w", float64(WarmestRow), engine.ErrOutsideTable)
)

// columns are the heights above the altimeter setting source, in feet. The
// first is not published: zero at zero feet, below the 200 ft column, is
// firn's own choice.
var columns = [...]engine.Height{0, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1500, 2000, 3000, 4000, 5000}

// cells is the cold temperature table, in feet to add, a row for each ten
// degrees from +10 to -50. Source: FAA AIM TBL 7-3-1 (read as TBL 7-2-3 in the
// edition of 3 April 2014); the same in SAE AS6296 4.1.3.7 Table 3 and, without
// the first row, in EASA GM8 CAT.OP.MPA.110 Table 20. Every cell equals
// Equation at sea level, rounded up to ten feet.
var cells = [...][len(columns)]engine.Feet{
	{0, 10, 10, 10, 10, 20, 20, 20, 20, 20, 30, 40, 60, 80, 90},
	{0, 20, 20, 30, 30, 40, 40, 50, 50, 60, 90, 120, 170, 230, 280},
	{0, 20, 30, 40, 50, 60, 70, 80, 90, 100, 150, 200, 290, 390, 490},
	{0, 30, 50, 60, 70, 90, 100, 120, 130, 140, 210, 280, 420, 570, 710},
	{0, 40, 60, 80, 100, 120, 140, 150, 170, 190, 280, 380, 570, 760, 950},
	{0, 50, 80, 100, 120, 150, 170, 190, 220, 240, 360, 480, 720, 970, 1210},
	{0, 60, 90, 120, 150, 180, 210, 240, 270, 300, 450, 590, 890, 1190, 1500},
}

// rows are the rows on either side of a temperature, the same where it is on
// one, and how far down it lies from the warm to the cold one, 0 to 1.
func rows(t engine.Celsius) (warm, cold int, down engine.Feet, err error) {
	x := float64(WarmestRow-t) / rowStep
	switch {
	case x < -noise:
		return 0, 0, 0, ErrWarmerThanTable
	case !(x <= float64(len(cells)-1)+noise): // not a number is outside too
		return 0, 0, 0, ErrColderThanTable
	}
	if warm, cold = int(x+noise), int(x+1-noise); warm != cold {
		down = engine.Feet(x - float64(warm))
	}
	return warm, cold, down, nil
}

// sides are the columns on either side of a height, the same where it is on
// one, and how far across it lies from the low to the high one, 0 to 1.
func sides(h engine.Height) (low, high int, across engine.Feet, err error) {
	if !(h <= HighestColumn+noise) { // not a number is outside too
		return 0, 0, 0, ErrAboveTable
	}
	if h > columns[halfway] {
		high = halfway
	}
	for columns[high] < h-noise {
		high++
	}
	low = high
	if columns[high] > h+noise && high > 0 {
		low--
		across = engine.Feet((h - columns[low]) / (columns[high] - columns[low]))
	}
	return low, high, across, nil
}

// halfway is the column of 1000 ft, from which the search for a greater
// height starts.
const halfway = 9

func between(a, b, part engine.Feet) engine.Feet { return a + (b-a)*part }

// Table is the published table interpolated in both directions, in feet to
// add. It is entered with the height above the altimeter setting source and
// the temperature as reported: not a deviation, not reduced to sea level.
//
// Range: up to 5000 ft and from +10 to -50 °C; outside it returns
// ErrWarmerThanTable, ErrColderThanTable or ErrAboveTable, the temperature
// first. Below the 200 ft column it runs straight to zero at zero feet, firn's
// own choice; at and below the source it is zero. Source: FAA AIM 7-3-5, TBL
// 7-3-1, "interpolation"; see ExampleTable for the AIM's example.
func Table(h engine.Height, t engine.Celsius) (engine.Feet, error) {
	warm, cold, down, err := rows(t)
	if err != nil {
		return 0, err
	}
	low, high, across, err := sides(h)
	if err != nil {
		return 0, err
	}
	w, c := &cells[warm], &cells[cold]
	return between(between(w[low], w[high], across), between(c[low], c[high], across), down), nil
}

// TableNext is the published table without interpolation: the cell of the
// next colder row and the next higher column. Range and errors as Table; at
// and below the source it is zero.
func TableNext(h engine.Height, t engine.Celsius) (engine.Feet, error) {
	_, cold, _, err := rows(t)
	if err != nil {
		return 0, err
	}
	_, high, _, err := sides(h)
	if err != nil {
		return 0, err
	}
	return cells[cold][high], nil
}

// Reading is a look-up in the table with its working, for people to follow.
type Reading struct {
	Height      engine.Height
	Temperature engine.Celsius
	// Lower and Higher are the columns on either side of the height; the
	// same where it is a column. Lower is 0, which is no published column,
	// for a height under 200 ft.
	Lower, Higher engine.Height
	// Warmer and Colder are the rows on either side of the temperature; the
	// same where it is a row.
	Warmer, Colder Row
	Correction     engine.Feet // Table's answer
}

// Row is a row of the table as a Reading uses it.
type Row struct {
	Temperature   engine.Celsius
	Lower, Higher engine.Feet // its cells in the two columns
	Value         engine.Feet // between them, at the height
}

// Read is Table with its working; range and errors are Table's.
func Read(h engine.Height, t engine.Celsius) (Reading, error) {
	warm, cold, down, err := rows(t)
	if err != nil {
		return Reading{}, err
	}
	low, high, across, err := sides(h)
	if err != nil {
		return Reading{}, err
	}
	row := func(i int) Row {
		lower, higher := cells[i][low], cells[i][high]
		return Row{
			Temperature: WarmestRow - engine.Celsius(i*rowStep),
			Lower:       lower,
			Higher:      higher,
			Value:       between(lower, higher, across),
		}
	}
	r := Reading{
		Height: h, Temperature: t,
		Lower: columns[low], Higher: columns[high],
		Warmer: row(warm), Colder: row(cold),
	}
	r.Correction = between(r.Warmer.Value, r.Colder.Value, down)
	return r, nil
}
