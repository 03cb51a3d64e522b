package correction

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"firn/engine"
	"firn/engine/atmosphere"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"
)

var (
	nan = math.NaN()
	inf = math.Inf(1)
)

func TestOutsideTheTable(t *testing.T) {
	for _, c := range []struct {
		name string
		h    engine.Height
		t    engine.Celsius
		want error
	}{
		{"exactly the last column", 5000, -20, nil},
		{"1524 m, the last column but for noise", 5000 + 1e-9, -20, nil},
		{"a foot above the last column", 5001, -20, ErrAboveTable},
		{"exactly the last row", 1000, -50, nil},
		{"a tenth colder than the last row", 1000, -50.1, ErrColderThanTable},
		{"exactly the first row", 1000, 10, nil},
		{"a tenth warmer than the first row", 1000, 10.1, ErrWarmerThanTable},
		{"colder and higher: the temperature first", 9000, -51, ErrColderThanTable},
		{"colder, at the source", 0, -51, ErrColderThanTable},
		{"height not a number", engine.Height(nan), -20, ErrAboveTable},
		{"temperature not a number", 1000, engine.Celsius(nan), ErrColderThanTable},
	} {
		_, table := Table(c.h, c.t)
		_, next := TableNext(c.h, c.t)
		_, read := Read(c.h, c.t)
		for _, err := range []error{table, next, read} {
			if err != c.want || err != nil && !errors.Is(err, engine.ErrOutsideTable) {
				t.Errorf("%s: got %v, want %v, wrapping ErrOutsideTable", c.name, err, c.want)
			}
		}
	}
}

func TestTableInterpolates(t *testing.T) {
	for _, c := range []struct {
		name        string
		h           engine.Height
		t           engine.Celsius
		table, next engine.Feet
	}{
		{"below the source", -300, -30, 0, 0},
		{"at the source", 0, -30, 0, 0},
		{"half of the first column", 100, -30, 20, 40},
		{"between columns, on a row", 1250, -30, 235, 280},
		{"between rows, on a column", 1000, -25, 165, 190},
		{"between both", 4500, -45, 1217.5, 1500},
		{"a degree into a row", 1000, -21, 145, 190},
		{"a foot above a column", 1001, -20, 140.14, 210},
		{"a row but for noise", 1000, -20 - 1e-9, 140, 140},
		{"a column but for noise", 1000 + 1e-9, -20, 140, 140},
	} {
		table, err := Table(c.h, c.t)
		next, nerr := TableNext(c.h, c.t)
		if err != nil || nerr != nil || math.Abs(float64(table-c.table)) > 1e-6 || next != c.next {
			t.Errorf("%s: got %v, %v and %v, %v, want %v and %v", c.name, table, err, next, nerr, c.table, c.next)
		}
	}
}

func TestReadShowsItsWorking(t *testing.T) {
	for _, c := range []struct {
		name string
		want Reading
	}{
		{"between both", Reading{
			2994, -12, 2000, 3000,
			Row{-10, 200, 290, 289.46}, Row{-20, 280, 420, 419.16}, 315.4,
		}},
		{"on a row and a column", Reading{3000, -20, 3000, 3000, Row{-20, 420, 420, 420}, Row{-20, 420, 420, 420}, 420}},
		{"below the first column", Reading{100, -30, 0, 200, Row{-30, 0, 40, 20}, Row{-30, 0, 40, 20}, 20}},
	} {
		got, err := Read(c.want.Height, c.want.Temperature)
		if err != nil || fmt.Sprintf("%.6f", got) != fmt.Sprintf("%.6f", c.want) {
			t.Errorf("%s:\ngot  %.6f, %v\nwant %.6f", c.name, got, err, c.want)
		}
	}
}

func TestReadIsTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, temp := drawTable(t)
		r, err := Read(h, temp)
		want, terr := Table(h, temp)
		if err != nil || terr != nil || r.Correction != want {
			t.Fatalf("got %v, %v, want %v, %v", r.Correction, err, want, terr)
		}
		if r.Lower > max(h, 0)+noise || r.Higher < h-noise || r.Warmer.Temperature < temp-1e-4 || r.Colder.Temperature > temp+1e-4 {
			t.Fatalf("%v, %v does not lie between the columns and rows of %v", h, temp, r)
		}
	})
}

func TestTableNextIsNeverLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, temp := drawTable(t)
		table, err := Table(h, temp)
		next, nerr := TableNext(h, temp)
		if err != nil || nerr != nil || next < table-1e-3 {
			t.Fatalf("got %v, %v, less than %v, %v", next, nerr, table, err)
		}
	})
}

func TestBy(t *testing.T) {
	const h = 3000
	air := Air{Temperature: -30, Source: 5000}
	table, _ := Table(h, -30)
	next, _ := TableNext(h, -30)
	want := map[Method]engine.Feet{
		"table": table, "table-next": next, "equation": Equation(h, air),
		"accurate": Accurate(h, air), "column": Column(h, air), "four-percent": FourPercent(h, air),
	}
	if len(Methods()) != len(want) {
		t.Errorf("got %d methods, want %d", len(Methods()), len(want))
	}
	for _, m := range Methods() {
		if got, err := By(m, h, air); err != nil || got != want[m] || got == 0 {
			t.Errorf("%s: got %v, %v, want %v", m, got, err, want[m])
		}
		if text, source := m.Describe(); text == "" || source == "" {
			t.Errorf("%s is not described: %q, %q", m, text, source)
		}
	}
	if text, source := Method("guess").Describe(); text != "" || source != "" {
		t.Errorf("no method is described: %q, %q", text, source)
	}
}

func TestByRefusesMistakes(t *testing.T) {
	for _, c := range []struct {
		name string
		m    Method
		h    engine.Height
		air  Air
		want error
		text string
	}{
		{"no method", "guess", 1000, reported(-20, 0), ErrNoMethod, `"guess"`},
		{"a digit too many", MethodEquation, 1000, reported(-383, 0), ErrNoSuchAir, "-383 °C"},
		{"Fahrenheit taken for Celsius", MethodTable, 1000, reported(95, 0), ErrNoSuchAir, "95 °C"},
		{"temperature not a number", MethodAccurate, 1000, reported(engine.Celsius(nan), 0), ErrNoSuchAir, "NaN"},
		{"a source that is no airport", MethodColumn, 1000, reported(-20, 48020), ErrNoSuchAir, "48020 ft"},
		{"an altitude that is none", MethodAccurate, 100000, reported(-20, 0), ErrTooHigh, "100000 ft"},
		{"height not a number", MethodFourPercent, engine.Height(nan), reported(-20, 0), ErrTooHigh, "NaN"},
		{"outside the table", MethodTable, 9000, reported(-20, 0), engine.ErrOutsideTable, "5000 ft"},
		{"outside the table", MethodTableNext, 900, reported(-60, 0), engine.ErrOutsideTable, "-50 °C"},
	} {
		got, err := By(c.m, c.h, c.air)
		if got != 0 || !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.text) {
			t.Errorf("%s: got %v, %v, want %v with %s", c.name, got, err, c.want, c.text)
		}
	}
}

// formulas are the methods without a table.
var formulas = []Method{MethodEquation, MethodAccurate, MethodColumn, MethodFourPercent}

func formula(m Method) func(engine.Height, Air) engine.Feet {
	switch m {
	case MethodEquation:
		return Equation
	case MethodAccurate:
		return Accurate
	case MethodColumn:
		return Column
	}
	return FourPercent
}

func TestWarmerThanStandardIsZeroAndNothingIsInfinite(t *testing.T) {
	temperatures := []engine.Celsius{engine.Celsius(-inf), -273.15, -273, -200, -100, -50, 0, 15, 15 + 1e-9, 40, 1000, engine.Celsius(inf), engine.Celsius(nan)}
	heights := []engine.Height{engine.Height(-inf), -1000, 0, 1e-9, 200, 5000, 36089, 60000, 200000, 1e300, engine.Height(inf), engine.Height(nan)}
	for _, m := range formulas {
		for _, temp := range temperatures {
			for _, h := range heights {
				for _, source := range []engine.Altitude{-2000, 0, 14000, 30000, engine.Altitude(inf), engine.Altitude(nan)} {
					air := reported(temp, source)
					c := float64(formula(m)(h, air))
					if !(c >= 0) || c > 1e6 || math.Signbit(c) {
						t.Errorf("%s, %v at %v: got %v, want a figure from zero up", m, air, h, c)
					}
					if temp >= 16 && source >= 0 && c != 0 || h <= 0 && c != 0 {
						t.Errorf("%s, %v at %v: got %v, want zero", m, air, h, c)
					}
				}
			}
		}
	}
	if got := Error(1000, reported(15, 0)); got != 0 || math.Signbit(float64(got)) {
		t.Errorf("Error in standard air: got %v, want 0", got)
	}
	if got := Error(1000, reported(35, 0)); got >= 0 {
		t.Errorf("Error in warm air: got %v, want less than zero", got)
	}
}

func drawTable(t *rapid.T) (engine.Height, engine.Celsius) {
	return engine.Height(rapid.Float64Range(-500, 5000).Draw(t, "height")), engine.Celsius(rapid.Float64Range(-50, 10).Draw(t, "temperature"))
}

func drawWide(t *rapid.T) (engine.Height, Air) {
	return engine.Height(rapid.Float64Range(-1000, 60000).Draw(t, "height")), Air{
		Temperature: engine.Celsius(rapid.Float64Range(-100, 60).Draw(t, "temperature")),
		Source:      engine.Altitude(rapid.Float64Range(-2000, 15000).Draw(t, "source")),
	}
}

// Colder never corrects less, higher never corrects less, nothing is negative.
func TestMonotone(t *testing.T) {
	for _, m := range Methods() {
		t.Run(string(m), func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				h, air := drawWide(t)
				top, bottom := MaxHeight, engine.Celsius(-100)
				if !slices.Contains(formulas, m) {
					h, air.Temperature = drawTable(t)
					top, bottom = HighestColumn, ColdestRow
				}
				c, err := By(m, h, air)
				if err != nil || c < 0 {
					t.Fatalf("got %v, %v", c, err)
				}
				up := rapid.Float64Range(0, 1).Draw(t, "higher by")
				higher, err := By(m, min(h+(top-h)*engine.Height(up), top), air)
				if err != nil || higher < c-1e-6 {
					t.Errorf("higher: got %v, %v, less than %v", higher, err, c)
				}
				down := rapid.Float64Range(0, 1).Draw(t, "colder by")
				air.Temperature = max(air.Temperature+(bottom-air.Temperature)*engine.Celsius(down), bottom)
				colder, err := By(m, h, air)
				if err != nil || colder < c-1e-6 {
					t.Errorf("colder: got %v, %v, less than %v", colder, err, c)
				}
			})
		})
	}
}

// ICAO Doc 8168, read in a quotation only: the equation is within 5 % of the
// accurate one for sources to 10 000 ft and heights to 5000 ft. Always short,
// but for 0.05 % at sea level and 0 °C. Near standard air the two part: the
// printed lapse makes the equation's deviation greater by 0.012 K at 10 000 ft,
// a quarter of a foot of correction, which is all where there is next to none.
func TestEquationWithinFivePercent(t *testing.T) {
	worst := 0.0
	check := func(t interface {
		Helper()
		Errorf(string, ...any)
	}, h engine.Height, air Air) {
		t.Helper()
		a := float64(Accurate(h, air))
		short := a - float64(Equation(h, air))
		if short > 0.05*a+1e-9 || short < -0.0005*a-0.25 {
			t.Errorf("%v at %v ft: %.3f ft short of %.3f", air, h, short, a)
		}
		if a > 1 {
			worst = max(worst, short/a)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		check(t, engine.Height(rapid.Float64Range(0, 5000).Draw(t, "height")), Air{
			Temperature: engine.Celsius(rapid.Float64Range(-50, 15).Draw(t, "temperature")),
			Source:      engine.Altitude(rapid.Float64Range(0, 10000).Draw(t, "source")),
		})
	})
	check(t, 5000, reported(-50, 10000))
	if math.Abs(worst-0.0473) > 0.00005 {
		t.Errorf("worst: got %.2f %%, want 4.73 %% at -50 °C, 10 000 ft and 5000 ft", 100*worst)
	}
}

// ESDU 77022 turned round: the correction is the error at the height flown.
func TestAccurateInvertsError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, air := drawWide(t)
		if h < 0 || air.Deviation() > 0 {
			return
		}
		c := Accurate(h, air)
		if e := Error(h.Add(c), air); math.Abs(float64(e-c)) > 1e-6 {
			t.Fatalf("Accurate is %v and the error at that height %v", c, e)
		}
		if e := Error(h, air); e > c+1e-9 {
			t.Fatalf("the error %v is more than the correction %v", e, c)
		}
	})
}

// The column is the hydrostatic equation integrated up from the reported
// temperature, to a tenth of a foot.
func TestColumnIsTheIntegratedColumn(t *testing.T) {
	const gravity, gas, lapse = 9.80665, 287.05287, 0.0065 // ICAO Doc 7488
	rapid.Check(t, func(t *rapid.T) {
		h := engine.Height(rapid.Float64Range(0, 10000).Draw(t, "height"))
		_, air := drawWide(t)
		surface := float64(air.Temperature.Kelvin())
		logRatio := quad.Fixed(func(z float64) float64 { return -gravity / (gas * (surface - lapse*z)) }, 0, float64(h.Metres()), 30, nil, 0)
		p := atmosphere.StandardPressure(air.Source) * engine.Hectopascals(math.Exp(logRatio))
		want := max(0, float64(atmosphere.PressureAltitude(p).Above(air.Source)-h))
		near(t, "column", Column(h, air), want, 0.1)
		exact := atmosphere.Column{Air: air, Lapse: atmosphere.StandardLapse}.IndicatedHeight(h) - h
		near(t, "exact column", engine.Feet(max(exact, 0)), want, 0.001)
	})
}

// The accurate correction is never less than the exact column's: its lapse,
// a foot of pressure altitude, is the steeper one in cold air.
func TestAccurateCoversColumn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := engine.Height(rapid.Float64Range(0, 10000).Draw(t, "height"))
		_, air := drawWide(t)
		if a, c := Accurate(h, air), Column(h, air); a < c-1e-6 {
			t.Fatalf("accurate %v, column %v", a, c)
		}
	})
}

func TestEnRoute(t *testing.T) {
	for _, c := range []struct {
		name      string
		minimum   engine.Altitude
		air       Air
		corrected float64
		warranted bool
	}{
		{"-20 °C, 8000 ft above a sea level source: 1148 ft", 8000, reported(-20, 0), 9148, true},
		{"-20 °C, 10 000 ft above a 5000 ft source: 1037 ft", 15000, reported(-20, 5000), 16037, true},
		{"warmer than standard", 15000, reported(10, 5000), 15000, false},
		{"at the source", 5000, reported(-20, 5000), 5000, false},
	} {
		need := EnRoute(c.minimum, c.air)
		if got := c.minimum.Add(need); math.Abs(float64(got)-c.corrected) > 0.5 || (need > 0) != c.warranted {
			t.Errorf("%s: got %.1f, %v, want %v, %v", c.name, float64(got), need > 0, c.corrected, c.warranted)
		}
	}
}

// By hand from kelvins: (height)(standard / measured) - height, the standard one 288.15
// less 6.5 a kilometre of the minimum.
func TestEnRouteByOutside(t *testing.T) {
	for _, c := range []struct {
		name            string
		minimum, source engine.Altitude
		outside         engine.Celsius
		want            float64
	}{
		{"-30 °C at 12 000 ft, 7000 ft above the source", 12000, 5000, -30, 611.1},
		{"-45 °C at 13 400 ft, 8598 ft above the source", 13400, 4802, -45, 1260.7},
		{"warmer than standard at the level", 8000, 0, 10, 0},
	} {
		if got := EnRouteByOutside(c.minimum, c.source, c.outside); math.Abs(float64(got)-c.want) > 0.05 {
			t.Errorf("%s: got %.2f, want %.1f", c.name, float64(got), c.want)
		}
	}
}

func TestNothingAllocates(t *testing.T) {
	air := reported(-38, 4802)
	if n := testing.AllocsPerRun(100, func() {
		for _, m := range [...]Method{MethodTable, MethodTableNext, MethodEquation, MethodAccurate, MethodColumn, MethodFourPercent} {
			if _, err := By(m, 3398, air); err != nil {
				t.Error(err)
			}
		}
		_, _ = Read(3398, -38)
		_, _ = Table(9000, -38)
	}); n != 0 {
		t.Errorf("got %v allocations, want none", n)
	}
}

func ExampleTable() {
	// FAA AIM 7-3-6: Missoula at -12 °C. The AIM has "approximately 300" and
	// 150 ft, rounded.
	faf, _ := Table(engine.Altitude(6200).Above(3206), -12)
	mda, _ := Table(engine.Altitude(4520).Above(3206), -12)
	_, err := Table(engine.Altitude(12000).Above(3206), -12)
	fmt.Printf("%.1f %.1f\n%v\n", float64(faf), float64(mda), err)
	// Output:
	// 315.4 141.9
	// higher than the last column, 5000 ft: outside the published table
}

func ExampleRead() {
	r, _ := Read(1314, -12)
	for _, row := range []Row{r.Warmer, r.Colder} {
		fmt.Printf("%.0f °C: %.0f at %.0f ft, %.0f at %.0f ft, %.2f at %.0f ft\n", float64(row.Temperature),
			float64(row.Lower), float64(r.Lower), float64(row.Higher), float64(r.Higher), float64(row.Value), float64(r.Height))
	}
	fmt.Printf("%.0f °C: %.1f\n", float64(r.Temperature), float64(r.Correction))
	// Output:
	// -10 °C: 100 at 1000 ft, 150 at 1500 ft, 131.40 at 1314 ft
	// -20 °C: 140 at 1000 ft, 210 at 1500 ft, 183.96 at 1314 ft
	// -12 °C: 141.9
}

func ExampleError() {
	// -40 °C at sea level: how low at 2000 ft indicated, and what to add to be
	// at 2000 ft.
	air := Air{Temperature: -40, Source: 0}
	fmt.Printf("%.0f %.0f\n", float64(Error(2000, air)), float64(Accurate(2000, air)))
	// Output: 384 477
}

func ExampleBy() {
	for _, m := range Methods() {
		c, err := By(m, 3000, Air{Temperature: -40, Source: 2000})
		fmt.Printf("%s %.0f %v\n", m, float64(c), err)
	}
	// Output:
	// table 720 <nil>
	// table-next 720 <nil>
	// equation 660 <nil>
	// accurate 667 <nil>
	// column 657 <nil>
	// four-percent 612 <nil>
}

// The figures to reach: table 20 ns, equation and column 5 ns, accurate 150
// ns, no allocation. Heights and temperatures change at every turn, so that no
// branch is learned by heart.
func Benchmark(b *testing.B) {
	const n = 1024
	var heights [n]engine.Height
	var airs [n]Air
	for i := range n {
		heights[i] = engine.Height(i * 7919 % 5000)
		airs[i] = Air{Temperature: 10 - engine.Celsius(i*6151%600)/10, Source: engine.Altitude(i * 4099 % 9000)}
	}
	run := func(name string, f func(engine.Height, Air) engine.Feet) {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				f(heights[i&(n-1)], airs[i&(n-1)])
			}
		})
	}
	run("table", func(h engine.Height, air Air) engine.Feet {
		c, _ := Table(h, air.Temperature)
		return c
	})
	run("table-next", func(h engine.Height, air Air) engine.Feet {
		c, _ := TableNext(h, air.Temperature)
		return c
	})
	for _, m := range formulas {
		run(string(m), formula(m))
	}
	run("error", Error)
	run("read", func(h engine.Height, air Air) engine.Feet {
		r, _ := Read(h, air.Temperature)
		return r.Correction
	})
}
