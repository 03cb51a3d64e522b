package correction

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"firn/engine"
	"firn/engine/atmosphere"
)

// published reads a file of testdata/published; its README names the sources.
func published(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func reported(t engine.Celsius, source engine.Altitude) Air {
	return Air{Temperature: t, Source: source}
}

// cell is one figure of a published table, in the units of the table.
type cell struct{ temperature, height, amount float64 }

func publishedTable(t *testing.T, name string, want int) []cell {
	t.Helper()
	rows := published(t, name)
	var all []cell
	for _, row := range rows[1:] {
		for i := 1; i < len(row); i++ {
			all = append(all, cell{number(t, row[0]), number(t, rows[0][i]), number(t, row[i])})
		}
	}
	if len(all) != want {
		t.Fatalf("%s: got %d cells, want %d", name, len(all), want)
	}
	return all
}

func near(t interface {
	Helper()
	Errorf(string, ...any)
}, what string, got engine.Feet, want, within float64) {
	t.Helper()
	if !(math.Abs(float64(got)-want) <= within) {
		t.Errorf("%s: got %.4f ft, want %.4f within %g", what, float64(got), want, within)
	}
}

func upTo(x, step float64) float64 { return math.Ceil(x/step-1e-9) * step }

// pansOps is the equation again, at sea level, with the two constants and the
// unit of height open: the published ones, and those that a reader might take.
func pansOps(c cell, zero, lapse float64) float64 {
	return c.height * (15 - c.temperature) / (zero + c.temperature - 0.5*lapse*c.height)
}

func TestEveryCellOfAIMTable7_3_1(t *testing.T) {
	for _, c := range publishedTable(t, "cold_temperature_ft.csv", 98) {
		h, temp := engine.Height(c.height), engine.Celsius(c.temperature)
		for name, table := range map[string]func(engine.Height, engine.Celsius) (engine.Feet, error){"Table": Table, "TableNext": TableNext} {
			if got, err := table(h, temp); err != nil || float64(got) != c.amount {
				t.Errorf("%s(%v, %v): got %v, %v, want %v", name, h, temp, got, err, c.amount)
			}
		}
		if got := upTo(float64(Equation(h, Air{Temperature: temp})), 10); got != c.amount {
			t.Errorf("Equation(%v, %v) rounded up to 10 ft: got %v, want %v", h, temp, got, c.amount)
		}
	}
}

// The table of ICAO Doc 8168 in metres, from memory: the equation with 0.0065
// °C a metre, rounded up to 5 m.
func TestEveryCellOfTheMetricTableFromMemory(t *testing.T) {
	for _, c := range publishedTable(t, "cold_temperature_m.csv", 84) {
		if got := upTo(pansOps(c, 273, 0.0065), 5); got != c.amount {
			t.Errorf("%v m, %v °C: got %v m, want %v", c.height, c.temperature, got, c.amount)
		}
		// firn's own equation, in feet and with 0.00198 °C a foot, is the
		// same but for the lapse printed for feet: 0.06 % of half the height.
		h := engine.Metres(c.height).Feet()
		got := Equation(engine.Height(h), Air{Temperature: engine.Celsius(c.temperature)}).Metres()
		if want := pansOps(c, 273, 0.0065); math.Abs(float64(got)-want) > 0.01 {
			t.Errorf("%v m, %v °C: got %v m, want %v", c.height, c.temperature, got, want)
		}
	}
}

// The table cannot be had by rounding to the nearest, nor with 273.15: counts
// of the cells that change, and which (our own check of the table, see
// testdata/published/README.md).
func TestRoundingTraps(t *testing.T) {
	nearest := 0
	warmer := map[string]float64{}
	for _, c := range publishedTable(t, "cold_temperature_ft.csv", 98) {
		if math.RoundToEven(pansOps(c, 273, 0.00198)/10)*10 != c.amount {
			nearest++
		}
		if got := upTo(pansOps(c, 273.15, 0.00198), 10); got != c.amount {
			warmer[fmt.Sprintf("%.0f at %.0f", c.temperature, c.height)] = got
		}
		if got := upTo(pansOps(c, 273, 0.0019812), 10); got != c.amount {
			t.Errorf("lapse 0.0019812, %v: got %v", c, got)
		}
	}
	if nearest != 39 {
		t.Errorf("cells that differ when rounded to the nearest: got %d, want 39", nearest)
	}
	want := map[string]float64{"-30 at 700": 130, "-40 at 4000": 960, "-50 at 1500": 440, "-50 at 5000": 1490}
	if fmt.Sprint(warmer) != fmt.Sprint(want) {
		t.Errorf("cells that differ with 273.15: got %v, want %v", warmer, want)
	}
}

// Four cells are short of the accurate equation at sea level, none by more
// than 3 ft.
func TestTableAgainstAccurateAtSeaLevel(t *testing.T) {
	short := map[string]string{}
	for _, c := range publishedTable(t, "cold_temperature_ft.csv", 98) {
		a := float64(Accurate(engine.Height(c.height), Air{Temperature: engine.Celsius(c.temperature)}))
		if a > c.amount+1e-9 {
			short[fmt.Sprintf("%.0f at %.0f", c.temperature, c.height)] = fmt.Sprintf("%.2f", a-c.amount)
		}
		if a-c.amount > 3 {
			t.Errorf("%v: short by %.2f ft", c, a-c.amount)
		}
	}
	want := map[string]string{"-20 at 3000": "0.42", "-40 at 5000": "1.71", "-50 at 4000": "2.80", "-50 at 5000": "0.03"}
	if fmt.Sprint(short) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", short, want)
	}
}

// comparison_grid.csv: 336 rows by every method, computed independently.
func TestComparisonGrid(t *testing.T) {
	rows := published(t, "comparison_grid.csv")
	if len(rows) != 337 {
		t.Fatalf("got %d rows, want a header and 336", len(rows))
	}
	for _, row := range rows[1:] {
		h := engine.Height(number(t, row[2]))
		air := Air{Temperature: engine.Celsius(number(t, row[0])), Source: engine.Altitude(number(t, row[1]))}
		at := fmt.Sprintf("%v °C, elevation %v, height %v: ", air.Temperature, air.Source, h)
		table, err := Table(h, air.Temperature)
		if err != nil {
			t.Error(at, err)
		}
		iso := atmosphere.Column{Air: air}.IndicatedHeight(h) - h
		// The grid has one decimal: half of it, and the step of its own
		// integration. It goes below zero in air warmer than standard.
		const half = 0.0501
		near(t, at+"table", table, number(t, row[3]), 1e-9)
		near(t, at+"equation", Equation(h, air), max(0, number(t, row[4])), half)
		near(t, at+"accurate", Accurate(h, air), max(0, number(t, row[5])), half)
		near(t, at+"column", Column(h, air), max(0, number(t, row[6])), half)
		near(t, at+"isothermal", engine.Feet(iso), number(t, row[7]), half)
		near(t, at+"error", Error(h, air), number(t, row[8]), half)
		near(t, at+"four per cent", FourPercent(h, air), max(0, number(t, row[9])), half)
	}
}

// FAA AIM 7-3-6 (Missoula, -12 °C) and Transport Canada AIM RAC 9.17.1
// (-50 °C, from memory): the table interpolated at the heights the examples
// use; 5000 ft stands for the missed approach's 8794.
func TestWorkedExamples(t *testing.T) {
	rows := published(t, "worked_examples.csv")
	for _, row := range rows[1:] {
		temp, elevation := engine.Celsius(number(t, row[3])), engine.Altitude(number(t, row[4]))
		altitude, h := engine.Altitude(number(t, row[5])), engine.Height(number(t, row[6]))
		at := row[0] + " " + row[1]
		if got := altitude.Above(elevation); got != h {
			t.Errorf("%s: height: got %v, want %v", at, got, h)
		}
		got, err := Table(engine.Height(number(t, row[7])), temp)
		if err != nil {
			t.Errorf("%s: %v", at, err)
		}
		near(t, at, got, number(t, row[10]), 0.05)
	}
}

// FAA AIM 7-3-6: the same figures as they stand in the text, and what the
// other methods make of the example.
func TestMissoula(t *testing.T) {
	air := Air{Temperature: -12, Source: 3206}
	for _, r := range []struct {
		name                              string
		altitude                          engine.Altitude
		table, equation, accurate, fourPc float64
	}{
		{"FAF 6200", 6200, 315.4, 236.7, 239.7, 247.3},
		{"MDA 4520", 4520, 141.9, 103.2, 104.5, 108.5},
		{"BEGPE 4840 from its own height", 4840, 176.5, 128.5, 130.1, 135.0},
		{"CALIP 7000 from its own height", 7000, 403.3, 300.9, 304.7, 313.4},
		{"IAF 9400 from its own height", 9400, 534.0, 495.7, 502.6, 511.7},
		{"missed approach hold 12000", 12000, 534.0, 710.9, 721.7, 726.5},
	} {
		h := r.altitude.Above(air.Source)
		table, err := By(MethodTable, h, air)
		if errors.Is(err, ErrAboveTable) {
			table, err = Table(HighestColumn, air.Temperature)
		}
		if err != nil {
			t.Errorf("%s: %v", r.name, err)
		}
		near(t, r.name+" table", table, r.table, 0.051)
		near(t, r.name+" equation", Equation(h, air), r.equation, 0.051)
		near(t, r.name+" accurate", Accurate(h, air), r.accurate, 0.051)
		near(t, r.name+" four per cent", FourPercent(h, air), r.fourPc, 0.051)
	}
}

// An Indian safety note that quotes PANS-OPS takes the table's 480 ft at
// -40 °C and 2000 ft for the error; the error is 384, the correction 477.
func TestErrorIsNotTheCorrection(t *testing.T) {
	air := Air{Temperature: -40}
	table, err := Table(2000, -40)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "error at indicated 2000 ft", Error(2000, air), 384, 0.5)
	near(t, "correction for true 2000 ft", Accurate(2000, air), 477, 0.5)
	near(t, "table", table, 480, 0)
	cold := Air{Temperature: -50}
	if less := 1 - Error(5000, cold)/Accurate(5000, cold); math.Abs(float64(less)-0.235) > 0.0005 {
		t.Errorf("-50 °C, sea level, 5000 ft: the error is %.1f %% less, want 23.5 %%", 100*float64(less))
	}
}

// FAA AIM, edition of 3 April 2014, page 7-2-4: -10 °C and 1000 ft above the
// airport, "as much as 100 feet".
func TestAIMTableExample(t *testing.T) {
	if got, err := Table(1000, -10); err != nil || got != 100 {
		t.Errorf("got %v, %v, want 100 ft", got, err)
	}
}

// European ATPL question (ECQB 2020): 4 % a 10 °C of 2000 ft at 8 °C below
// standard is 64 ft.
func TestFourPercentATPLExample(t *testing.T) {
	air := Air{Temperature: atmosphere.StandardTemperature(600) - 8, Source: 600}
	near(t, "2000 ft", FourPercent(2000, air), 64, 0.01)
}

// Above its last column the table's figure is less than the need near sea
// level and more at first over a high field (computed).
func TestBeyondTheLastColumn(t *testing.T) {
	for _, r := range []struct {
		source      engine.Altitude
		temperature engine.Celsius
		column      float64
		accurate    [3]float64 // at 6000, 8000 and 10 000 ft
	}{
		{0, -20, 710, [3]float64{853, 1148, 1448}},
		{0, -40, 1210, [3]float64{1462, 1972, 2493}},
		{5000, -20, 710, [3]float64{611, 822, 1037}},
		{5000, -40, 1210, [3]float64{1197, 1614, 2040}},
	} {
		got, err := Table(HighestColumn, r.temperature)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "last column", got, r.column, 0)
		for i, h := range []engine.Height{6000, 8000, 10000} {
			near(t, fmt.Sprint(r.source, r.temperature, h), Accurate(h, reported(r.temperature, r.source)), r.accurate[i], 0.5)
		}
	}
}

// What the unknown lapse is worth at -30 °C at sea level, in whole feet
// (computed): inversion of 5 K/km, isothermal, standard, dry adiabat.
func TestLapseSensitivity(t *testing.T) {
	air := Air{Temperature: -30}
	for _, r := range []struct {
		h               engine.Height
		lapses          [4]float64
		accurate, table float64
	}{
		{500, [4]float64{90, 91, 93, 93}, 93, 100},
		{1000, [4]float64{177, 180, 185, 188}, 186, 190},
		{3000, [4]float64{480, 512, 555, 578}, 563, 570},
		{5000, [4]float64{719, 806, 925, 988}, 949, 950},
	} {
		for i, lapse := range []atmosphere.Lapse{-5, 0, 6.5, 9.8} {
			c := atmosphere.Column{Air: air, Lapse: lapse}.IndicatedHeight(r.h) - r.h
			near(t, fmt.Sprintf("%v ft, %v K/km", r.h, lapse), engine.Feet(c), r.lapses[i], 0.5)
		}
		near(t, "column", Column(r.h, air), r.lapses[2], 0.5)
		near(t, "accurate", Accurate(r.h, air), r.accurate, 0.5)
		table, err := Table(r.h, air.Temperature)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "table", table, r.table, 0)
	}
}

// Who is conservative against whom: per cent of Accurate over the grid's
// heights and temperatures, at the four elevations (computed independently;
// at 8000 ft 0 °C is warmer than standard). The table's shortfall is
// TestTableAgainstAccurateAtSeaLevel.
func TestWhoIsConservative(t *testing.T) {
	heights := columns[1:]
	for _, r := range []struct {
		source             engine.Altitude
		equation, column   [2]float64
		fourPercent, error [2]float64
		warmest            engine.Celsius
	}{
		{0, [2]float64{-0.64, 0.05}, [2]float64{-2.91, -0.08}, [2]float64{-13.34, 9.18}, [2]float64{-23.49, -5.21}, 0},
		{2000, [2]float64{-1.49, -0.65}, [2]float64{-2.87, -0.08}, [2]float64{-13.30, 9.20}, [2]float64{-22.37, -3.89}, 0},
		{5000, [2]float64{-2.73, -1.61}, [2]float64{-2.80, -0.07}, [2]float64{-13.23, 9.31}, [2]float64{-20.63, -1.83}, 0},
		{8000, [2]float64{-3.94, -2.77}, [2]float64{-2.74, -0.08}, [2]float64{-13.17, 5.29}, [2]float64{-18.81, -3.37}, -10},
	} {
		for temp := r.warmest; temp >= -50; temp -= 10 {
			for _, h := range heights {
				air := reported(temp, r.source)
				a := Accurate(h, air)
				for _, m := range []struct {
					name string
					got  engine.Feet
					want [2]float64
				}{
					{"equation", Equation(h, air), r.equation},
					{"column", Column(h, air), r.column},
					{"four-percent", FourPercent(h, air), r.fourPercent},
					{"error", Error(h, air), r.error},
				} {
					if pc := float64(100 * (m.got - a) / a); pc < m.want[0]-0.005 || pc > m.want[1]+0.005 {
						t.Errorf("%s, %v at %v ft: %+.2f %% of the accurate, want %v", m.name, air, h, pc, m.want)
					}
				}
			}
		}
	}
}

// The four per cent rule is safe down to these temperatures (computed;
// published as -15 °C for every source elevation, read in a quotation only).
func TestFourPercentCrossesOver(t *testing.T) {
	for _, r := range []struct {
		source engine.Altitude
		h      engine.Height
		t      engine.Celsius
	}{
		{0, 1000, -22.1}, {0, 5000, -17.6}, {0, 10000, -12.1},
		{5000, 1000, -22.2}, {5000, 5000, -17.8}, {5000, 10000, -12.5},
		{10000, 1000, -22.3}, {10000, 5000, -18.2}, {10000, 10000, -13.2},
	} {
		// Each is the first temperature short, in steps of a tenth.
		cold, warm := reported(r.t-0.1, r.source), reported(r.t+0.2, r.source)
		if FourPercent(r.h, cold) >= Accurate(r.h, cold) || FourPercent(r.h, warm) < Accurate(r.h, warm) {
			t.Errorf("%v ft above %v ft: want the crossing at %v °C", r.h, r.source, r.t)
		}
	}
}
