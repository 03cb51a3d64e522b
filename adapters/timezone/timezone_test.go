package timezone

import "testing"

// TestAt: places whose zone every atlas has.
func TestAt(t *testing.T) {
	f, err := New()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name     string
		lat, lon float64
		want     string
	}{
		{"the capital of Norway", 59.91, 10.75, "Europe/Oslo"},
		{"the capital of Colorado", 39.74, -104.99, "America/Denver"},
		{"the same again", 39.74, -104.99, "America/Denver"},
		{"Arizona keeps standard time", 33.45, -112.07, "America/Phoenix"},
		{"the other side of the world", -45.03, 168.66, "Pacific/Auckland"},
		{"the open sea", 0, -30, "Etc/GMT+2"},
		{"no place", 400, 400, ""},
	} {
		if got := f.At(c.lat, c.lon); got != c.want {
			t.Errorf("%s: got %q, want %q", c.name, got, c.want)
		}
	}
}
