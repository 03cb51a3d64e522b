package spelling_test

import (
	"testing"

	"firn/bot/spelling"
)

func TestDistance(t *testing.T) {
	tests := []struct {
		name, a, b  string
		limit, want int
	}{
		{"same", "XKLD", "XKLD", 3, 0},
		{"one wrong", "XKLD", "XKLT", 3, 1},
		{"one missing", "XKL", "XKLD", 3, 1},
		{"one too many", "XXKLD", "XKLD", 3, 1},
		{"neighbours swapped", "XLKD", "XKLD", 3, 1},
		{"swapped at the end", "XKDL", "XKLD", 3, 1},
		{"two swaps", "KXDL", "XKLD", 3, 2},
		{"a swap is not edited again", "CA", "ABC", 3, 3}, // optimal string alignment: 3, not 2
		{"farther than asked", "XKLD", "ABCE", 2, 3},
		{"lengths too far apart", "X", "XKLDD", 2, 3},
		{"letters beyond ASCII", "Kaldmør", "Kaldmor", 3, 1},
		{"empty", "", "AB", 3, 2},
		{"too long", string(make([]byte, 65)), "AB", 3, 4},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := spelling.Distance(tt.a, tt.b, tt.limit); got != tt.want {
				t.Errorf("spelling.Distance(%q, %q, %d) = %d; want %d", tt.a, tt.b, tt.limit, got, tt.want)
			}
			if got := spelling.Distance(tt.b, tt.a, tt.limit); got != tt.want {
				t.Errorf("spelling.Distance(%q, %q, %d) = %d; want %d", tt.b, tt.a, tt.limit, got, tt.want)
			}
		})
	}
}
