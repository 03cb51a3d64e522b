package config

import (
	"strings"
	"testing"
)

// What only spells alike is nobody's line to type.
func TestSlip(t *testing.T) {
	cfg, err := Parse("test.yaml", []byte(`
stations:
  - {ident: XKLD, name: Kaldmor, elevation_ft: 4802}
  - {ident: XSLT, name: Saltvik, elevation_ft: 210}
  - {ident: XSLV, name: Solvang, elevation_ft: 310}
`), Known{})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ word, want string }{
		{"XKDL", "XKLD"},    // swapped
		{"xkle", "XKLD"},    // one wrong
		{"XKL", "XKLD"},     // one missing
		{"XXKLD", "XKLD"},   // one too many
		{"kaldmør", "XKLD"}, // a name
		{"KKLD", ""},        // another field's, which ends alike
		{"XKAD", "XKLD"},
		{"XMBL", ""}, // two letters wrong
		{"XSLD", ""}, // two stations, or three, are as near
		{"XSL", ""},
		{"KSLC", ""},
		{"ab", ""},
	} {
		if got, _ := cfg.Slip(tt.word); got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.word, got, tt.want)
		}
	}
}

// TestAddressForms: every form that is offered can be read.
func TestAddressForms(t *testing.T) {
	for _, form := range AddressForms {
		said := strings.NewReplacer("ID", "12", "NAME", "x").Replace(form)
		if a, err := ParseAddress(said); err != nil || a.String() != said {
			t.Errorf("%s: got %v, %v", said, a, err)
		}
	}
}
