package access_test

import (
	"strings"
	"testing"

	"firn/bot/access"
)

func TestScopes(t *testing.T) {
	for _, c := range []struct {
		has, what access.Scope
		want      bool
	}{
		{access.Read, access.Read, true}, {access.Read, access.Ask, false}, {access.Read, access.Duty, false},
		{access.Ask, access.Read, true}, {access.Ask, access.Ask, true}, {access.Ask, access.Duty, false},
		{access.Duty, access.Read, true}, {access.Duty, access.Ask, true}, {access.Duty, access.Duty, true},
		{"", access.Read, false}, {"other", access.Read, false}, {access.Duty, "other", false}, {"other", "other", false},
	} {
		if got := c.has.Allows(c.what); got != c.want {
			t.Errorf("%q allows %q: %v, want %v", c.has, c.what, got, c.want)
		}
	}
	if s, err := access.ParseScope("ask"); err != nil || s != access.Ask {
		t.Errorf("ask = %q, %v", s, err)
	}
	if _, err := access.ParseScope("admin"); err == nil || !strings.Contains(err.Error(), "read, ask or duty") {
		t.Errorf("admin: %v", err)
	}
}

func TestSecret(t *testing.T) {
	seen := map[string]bool{}
	for range 100 {
		text, h := access.Secret()
		got, ok := access.HashOf(text)
		if !ok || got != h || seen[text] || len(text) != 43 { // 32 bytes in base64 without padding
			t.Fatalf("a secret of %d characters, its hash ok %v", len(text), ok)
		}
		seen[text] = true
	}
	for _, text := range []string{"", "x", strings.Repeat("a", 42), strings.Repeat("a", 44), strings.Repeat("/", 43)} {
		if _, ok := access.HashOf(text); ok {
			t.Errorf("%q passes for a secret", text)
		}
	}
}
