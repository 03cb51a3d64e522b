package person_test

import (
	"strings"
	"testing"

	"firn/bot/person"
)

func TestCheck(t *testing.T) {
	for _, name := range []string{
		"anna", "Bjørn-2", "Anna Dahl", "J. R. Øye", "Firn Dahl", "O'Brien", "Łukasz", "Đặng Thị Hà", "Aşık", "Наталья", "Ελένη", "大野 さくら", "김민준", "عمر", "7 Bo",
		strings.Repeat("a", 40),
	} {
		if err := person.Check(name); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
	for name, why := range map[string]string{
		"": "letters", "1842": "letters", "- .": "letters", strings.Repeat("a", 41): "40",
		"Anna at 18:40Z. Checked by Kari": "':'", "Anna 1840Z. Checked by Kari": "checked", "Anna checked by Kari": "checked",
		"firn": "no person", "F.I.R.N": "no person", "Nobody": "no person", "somebody": "no person", "The Page": "no person",
		"Anna, Kari": "','", "Anna/Kari": "'/'", "Anna (Kari)": "'('", "anna_b": "'_'", "<b>": "'<'", "“Anna”": "'“'", "Anna ❄": "'❄'",
		"a\x00": "hidden", "\u202eanna": "hidden", "an\u200bna": "hidden", "an\u00adna": "hidden", "\u3164x": "hidden", "\xff": "broken",
		"\u0430nna":                "Cyrillic and Latin",      // а
		"Ann\u0391":                "Greek and Latin",         // Α
		"\u0430\u0441\u0435":       "look like Latin",         // асе, all of it Cyrillic
		"\u0391\u039d\u039d\u0391": "look like Latin",         // ΑΝΝΑ, all of it Greek
		"\u0251nna":                "'ɑ'", "\u1d00nna": "'ᴀ'", // phonetic letters
		"anna\u02bc": "'ʼ'", "anna\u0661": "'١'", "e\u0301\u0301": "'\u0301'",
	} {
		if err := person.Check(name); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%q: %v, want %q", name, err, why)
		}
	}
}

func TestKey(t *testing.T) {
	for _, c := range []struct {
		a, b string
		same bool
	}{
		{"anna", "Anna", true}, {"anna", "ANNA", true}, {"anna", "ＡＮＮＡ", true}, {"anna", " anna ", true}, {"Anna Dahl", "anna-dahl", true},
		{"Anna Dahl", "ANNA  DAHL", true}, {"J. Dahl", "j dahl", true}, {"anna_b", "Anna-B", true}, {"O'Brien", "OBrien", true}, {"Asık", "Asik", true}, {"Łukasz", "łukasz", true},
		{"é", "e\u0301", true}, {"U01AB", "u01ab", true},
		{"anna", "anne", false}, {"anna", "anna2", false}, {"Bjørn", "Bjorn", false}, {"Aaron", "Åron", false},
	} {
		if got := person.Key(c.a) == person.Key(c.b); got != c.same {
			t.Errorf("%q and %q: one person %v, want %v (%q, %q)", c.a, c.b, got, c.same, person.Key(c.a), person.Key(c.b))
		}
	}
}

func TestShown(t *testing.T) {
	for name, want := range map[string]string{
		"Anna": "Anna", "Anna-Maria Dahl": "Anna-Maria Dahl", "": "",
		"Anna at 18:40Z. Checked by Kari":       "“Anna at 18:40Z. Checked by Kari”",
		"Bo. Checked by Kari":                   "“Bo. Checked by Kari”",
		"J. Dahl":                               "“J. Dahl”",
		"Ola | 41 Sqn":                          "“Ola | 41 Sqn”",
		"x” at 18:40Z. Checked by “Kari":        "“x' at 18:40Z. Checked by 'Kari”",
		"x\" «y» „z":                            "“x' 'y' 'z”",
		"“Anna (away)”":                         "“Anna (away)”",
		strings.Repeat("long ", 9) + "name too": "“" + strings.Repeat("long ", 9) + "name too”",
		"Anna checked":                          "“Anna checked”",
	} {
		if got := person.Shown(name); got != want {
			t.Errorf("%q is shown as %s, want %s", name, got, want)
		}
		if got := person.Shown(want); got != want {
			t.Errorf("%s is shown again as %s", want, got)
		}
	}
}

// TestNamed: a name is a name, and never an account.
func TestNamed(t *testing.T) {
	for kept, want := range map[string]string{
		"Anna (slack:U1)":             "Anna",
		"“Kari at 06:00.” (slack:U1)": "“Kari at 06:00.”",
		"Bo (slack:U2) (slack:U1)":    "Bo (slack:U2)", // it is what the account calls itself
		"Odd (night shift)":           "Odd (night shift)",
		"slack:U1":                    "somebody on Slack",
		"page:browser-e08165":         person.OnPage,
		"the console":                 "the console",
		"":                            "",
	} {
		if got := person.Named(kept); got != want {
			t.Errorf("%q is %q, want %q", kept, got, want)
		}
	}
	if !person.Nameless("browser e08165") || person.Nameless("browser e0816z") || person.Nameless("Browser") {
		t.Error("what a browser without a name is called is no name, and no other")
	}
}
