package access

import (
	"strings"
	"testing"
	"time"
)

// TestListLinks: each link with its end and its browsers, and below them who
// is signed in since when.
func TestListLinks(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2026, 1, 25, h, 0, 0, 0, time.UTC) }
	all := []Token{
		{Name: "Anna Dahl", Scope: Ask, Made: at(1), LastUsed: at(9)},
		{Name: "bo", Scope: Duty, Made: at(2), Ends: at(10)},
		{Name: "cy", Scope: Read, Made: at(3), Revoked: at(4)},
	}
	open := []Open{{Link: "Anna Dahl", Made: at(5), Used: at(9)}, {Link: "Anna Dahl", Made: at(6), Used: at(7)}}
	var b strings.Builder
	if err := (Links{Now: func() time.Time { return at(12) }}).list(&b, all, open); err != nil {
		t.Fatal(err)
	}
	want := []string{
		"NAME SCOPE MADE ENDS LAST USED BROWSERS STATE",
		"Anna Dahl ask 2026-01-25 01:00Z never 2026-01-25 09:00Z 2 good",
		"bo duty 2026-01-25 02:00Z 2026-01-25 10:00Z never 0 ended",
		"cy read 2026-01-25 03:00Z never never 0 revoked 2026-01-25 04:00Z",
		"",
		"SIGNED IN SINCE LAST USED",
		"Anna Dahl 2026-01-25 05:00Z 2026-01-25 09:00Z",
		"Anna Dahl 2026-01-25 06:00Z 2026-01-25 07:00Z",
	}
	var got []string
	for line := range strings.Lines(b.String()) {
		got = append(got, strings.Join(strings.Fields(line), " "))
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("listed\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}
