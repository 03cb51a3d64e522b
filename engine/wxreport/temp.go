package wxreport

import (
	"strconv"

	"firn/engine"
)

// Temp is a temperature, or none: OK is false where the report gives none.
// A value and not a pointer, so that reading a report allocates nothing.
type Temp struct {
	C  engine.Celsius
	OK bool
}

func whole(c int) Temp    { return Temp{engine.Celsius(c), true} }
func inTenths(n int) Temp { return Temp{engine.Celsius(float64(n) / 10), true} }

// IsZero says that nothing was reported; encoding/json leaves such a field
// out where it is marked omitzero.
func (t Temp) IsZero() bool { return !t.OK }

// MarshalJSON gives the number in degrees Celsius, or null.
func (t Temp) MarshalJSON() ([]byte, error) {
	if !t.OK {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(t.C), 'f', -1, 64), nil
}

// UnmarshalJSON reads what MarshalJSON gives.
func (t *Temp) UnmarshalJSON(data []byte) error {
	*t = Temp{}
	if string(data) == "null" {
		return nil
	}
	c, err := strconv.ParseFloat(string(data), 64)
	*t = Temp{engine.Celsius(c), err == nil}
	return err
}

func colder(a, b Temp) Temp {
	if !a.OK || b.OK && b.C < a.C {
		return b
	}
	return a
}
