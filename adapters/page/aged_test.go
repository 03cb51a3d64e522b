package page

import (
	"strings"
	"testing"
	"time"
)

// TestAged: what was so old when it was said is as old as it is when it is read.
func TestAged(t *testing.T) {
	for _, tt := range []struct {
		text  string
		since time.Duration
		want  string
	}{
		{"METAR, 0 min old", 0, `METAR, <span class="old" data-age="0">0 min old</span>`},
		{"METAR <a>, 37 min old.", 20 * time.Minute, `METAR &lt;a&gt;, <span class="old" data-age="3420">57 min old</span>.`},
		{"119 min old, 3 h old", time.Hour, `<span class="old" data-age="10740">2 h old</span>, <span class="old" data-age="14400">4 h old</span>`},
		{"30 days old", 24 * time.Hour, `<span class="old" data-age="2678400">31 days old</span>`},
		{"the clock is ahead: 5 min old", -time.Hour, `the clock is ahead: <span class="old" data-age="300">5 min old</span>`},
		{"12 old", time.Hour, "12 old"},
	} {
		if got := string(aged(tt.text, tt.since)); got != tt.want {
			t.Errorf("%q after %v: %s, want %s", tt.text, tt.since, got, tt.want)
		}
	}
}

// TestToldEach: what changes at once is told each by itself, as far as anybody
// listens.
func TestToldEach(t *testing.T) {
	var u update
	for i, want := range []string{"A is out of date", "A is out of date. B", "A is out of date. B. C.", "A is out of date. B. C. D.", "A is out of date. B. C. D. And 1 more.", "A is out of date. B. C. D. And 2 more."} {
		if u.say([]string{"A is out of date", "B", "C.", "D", "E", "F"}[i]); u.Say != want {
			t.Errorf("%q, want %q", u.Say, want)
		}
	}
}

// TestOwnIsChecked: whoever computed a result is offered what they can do, and a
// way to hand it on, not the check that is another's.
func TestOwnIsChecked(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna, bo := r.open(t, "Anna", ""), r.open(t, "Bo", "")
	id := recordOf(t, anna, goodLine)
	link := `data-copy="/record/` + id + `/check"`
	for _, at := range []string{"/", "/record/" + id} {
		g := anna.get(t, at)
		if strings.Contains(g.body, `data-action="check"`) || !strings.Contains(g.body, link) {
			t.Errorf("%s: the author is to check:\n%s", at, parse(t, g.body).read())
		}
	}
	if g := bo.get(t, "/record/"+id); !strings.Contains(g.body, `class="button strong" href="/record/`+id+`/check"`) || strings.Contains(g.body, link) {
		t.Errorf("nobody else is:\n%s", parse(t, g.body).read())
	}
	recordOf(t, bo, "XKLD rnav 31 -38")
	if log := parse(t, bo.get(t, "/log").body).read(); !strings.Contains(log, "XKLD rnav 31 −38") {
		t.Errorf("the log does not say which approach:\n%s", log)
	}
}
