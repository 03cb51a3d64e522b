package record

import (
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var spoken = regexp.MustCompile(`^([BFGHKLMRST][AIOU]){3}-([BFGHKLMRST][AIOU]){2}$`)

func TestName(t *testing.T) {
	seen := map[string]bool{}
	for i := range 20000 {
		n := name("slack", strings.Repeat("x", i%7)+string(rune('0'+i%10))+strings.Repeat("y", i/70), 0)
		if !spoken.MatchString(n) {
			t.Fatalf("%q cannot be said", n)
		}
		seen[n] = true
	}
	a, b, c := name("slack", "1", 0), name("slack", "1", 1), name("discord", "1", 0)
	if a != name("slack", "1", 0) || a == b || a == c {
		t.Errorf("names %s, %s, %s: the same message has the same name, others have others", a, b, c)
	}
}

func TestReadName(t *testing.T) {
	for _, c := range []struct {
		typed string
		want  string
		n     int
	}{
		{"KALOMI-RUTA", "KALOMI-RUTA", 1},
		{"kalomi-ruta", "KALOMI-RUTA", 1},
		{"kalomi ruta", "KALOMI-RUTA", 2},
		{"Kalomiruta 8990", "KALOMI-RUTA", 1},
		{"kalomi – ruta", "", 0},
		{"kal0m1–ruta 8990 8000", "KALOMI-RUTA", 1},
		{"kalomi", "", 0},
		{"kalomi 8990", "", 0},
		{"kalomi-rute", "", 0},
		{"8990 8000", "", 0},
		{"XKLD", "", 0},
		{"", "", 0},
	} {
		got, n, ok := ReadName(strings.Fields(c.typed))
		if got != c.want || ok != (c.want != "") || ok && n != c.n {
			t.Errorf("ReadName(%q) = %q, %d, %v; want %q, %d", c.typed, got, n, ok, c.want, c.n)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		want := name("s", rapid.String().Draw(t, "message"), 0)
		typed := rapid.SampledFrom([]func(string) string{strings.ToLower, strings.ToUpper,
			func(s string) string { return strings.Replace(s, "-", " ", 1) }, func(s string) string { return strings.Replace(s, "-", "", 1) }}).Draw(t, "typed")(want)
		if got, _, ok := ReadName(strings.Fields(typed)); !ok || got != want {
			t.Fatalf("ReadName(%q) = %q, %v; want %q", typed, got, ok, want)
		}
	})
}
