package engine

import (
	"errors"
	"fmt"
	"math"
)

// ErrOutsideTable is wrapped by every error that says a published table has
// no figure for what was asked. What holds there instead is for the rule set
// to say, never for the caller to guess.
var ErrOutsideTable = errors.New("outside the published table")

// Feet is a length or a difference in feet, such as a correction. Stored as
// given, never rounded.
type Feet float64

// Metres is a length in metres.
type Metres float64

// Altitude is a vertical position in feet above mean sea level.
type Altitude float64

// Height is a vertical distance in feet above the altimeter setting source,
// normally the airport.
type Height float64

// MetresPerFoot is the international foot: exactly 0.3048 m (1959 yard and
// pound agreement; ICAO Annex 5, Table 3-4).
const MetresPerFoot = 0.3048

// Feet converts exactly.
func (m Metres) Feet() Feet { return Feet(m / MetresPerFoot) }

// Metres converts exactly.
func (f Feet) Metres() Metres { return Metres(f * MetresPerFoot) }

// Add moves an altitude by a difference.
func (a Altitude) Add(d Feet) Altitude { return a + Altitude(d) }

// Above is the height of an altitude over the elevation of its source.
func (a Altitude) Above(elevation Altitude) Height { return Height(a - elevation) }

// Over is the altitude a height has over an elevation.
func (h Height) Over(elevation Altitude) Altitude { return elevation + Altitude(h) }

// Add makes a height greater by a difference.
func (h Height) Add(d Feet) Height { return h + Height(d) }

// Metres converts exactly.
func (h Height) Metres() Metres { return Metres(h * MetresPerFoot) }

// Metres converts exactly.
func (a Altitude) Metres() Metres { return Metres(a * MetresPerFoot) }

// Celsius is a temperature. A difference of two is a CelsiusDelta: the two
// do not mix.
type Celsius float64

// CelsiusDelta is a temperature difference in kelvins.
type CelsiusDelta float64

// Kelvin is an absolute temperature.
type Kelvin float64

// Fahrenheit is a temperature as crews sometimes type it; only the edge of
// the program knows it.
type Fahrenheit float64

// ZeroCelsius is 0 degrees Celsius in kelvins, by definition (ICAO Annex 5,
// Table 3-1).
const ZeroCelsius Kelvin = 273.15

// Celsius converts exactly: (F - 32) * 5 / 9.
func (f Fahrenheit) Celsius() Celsius { return Celsius((f - 32) * 5 / 9) }

// Fahrenheit converts exactly.
func (c Celsius) Fahrenheit() Fahrenheit { return Fahrenheit(c*9/5 + 32) }

// Kelvin converts exactly.
func (c Celsius) Kelvin() Kelvin { return Kelvin(c) + ZeroCelsius }

// Celsius converts exactly.
func (k Kelvin) Celsius() Celsius { return Celsius(k - ZeroCelsius) }

// Sub is the deviation of a temperature from another, such as the standard
// one; negative when c is colder.
func (c Celsius) Sub(std Celsius) CelsiusDelta { return CelsiusDelta(c - std) }

// Add shifts a temperature by a difference.
func (c Celsius) Add(d CelsiusDelta) Celsius { return c + Celsius(d) }

// ColderTenth is the temperature in tenths of a degree for people to read,
// moved to the colder side where it has more digits. A value that is a tenth
// but for the noise of binary fractions stays that tenth.
func (c Celsius) ColderTenth() Celsius {
	return Celsius(math.Floor(float64(c)*10+1e-6) / 10)
}

// Hectopascals is a pressure.
type Hectopascals float64

// InchesOfMercury is a pressure as American altimeter settings give it.
type InchesOfMercury float64

// HectopascalsPerInch is one inch of mercury; 33.8639 is from memory
// (not read in a standard), the altimeter scale check in
// atmosphere confirms it to the foot.
const HectopascalsPerInch = 33.8639

// Hectopascals converts.
func (in InchesOfMercury) Hectopascals() Hectopascals {
	return Hectopascals(in * HectopascalsPerInch)
}

// InchesOfMercury converts.
func (p Hectopascals) InchesOfMercury() InchesOfMercury {
	return InchesOfMercury(p / HectopascalsPerInch)
}

// Degrees is an angle, such as that of a descent path.
type Degrees float64

// Radians converts for the trigonometry of package math.
func (d Degrees) Radians() float64 { return float64(d) * math.Pi / 180 }

// DegreesOf makes an angle from radians.
func DegreesOf(radians float64) Degrees { return Degrees(radians * 180 / math.Pi) }

// String gives whole feet, rounded up: an altitude shown to a crew is never
// below the one computed.
func (a Altitude) String() string { return fmt.Sprintf("%.0f ft", UpToFoot(float64(a))) }

// UpToFoot rounds up to the next whole foot. A value within a millionth of a
// foot of a whole one is that whole foot (3050 m typed and converted must not
// gain a foot from binary fractions).
func UpToFoot(ft float64) float64 {
	return math.Ceil(ft-1e-6) + 0 // nothing is "-0 ft"
}
