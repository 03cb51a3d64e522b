package page

import (
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/reply"
)

var rewrite = flag.Bool("update", false, "write the golden cards anew; read the difference before you commit it")

// blank are lines without anything, which templates leave.
var blank = regexp.MustCompile(`(?m)^\s*\n`)

// TestGoldenCards renders the replies of testdata/reply, as the other surfaces
// do.
func TestGoldenCards(t *testing.T) {
	names, err := filepath.Glob("../../testdata/reply/*.txtar")
	if err != nil || len(names) == 0 {
		t.Fatalf("no golden replies: %v", err)
	}
	p := empty(t)
	r := &request{p: p, who: visitor{secret: "invented", key: "0123456789abcdef", scope: access.Ask}}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			a, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			// It is kept, and read again, as a restart would.
			k := &entry{id: "0123456789ab", place: r.who.key, at: time.Date(2026, 1, 25, 12, 30, 0, 0, time.UTC)}
			p.o.Now = func() time.Time { return k.at }
			k.By, k.Message = "Anna", "m/0123456789abcdef/0123456789abcdef01234567"
			for _, f := range a.Files {
				switch f.Name {
				case "messages.txt":
					lines := strings.Split(strings.TrimSpace(string(f.Data)), "\n")
					k.Asked = clean(lines[len(lines)-1])
				case "reply.json":
					var body reply.Reply
					if err := json.Unmarshal(f.Data, &body); err != nil {
						t.Fatal(err)
					}
					k.show(chat.Message{Reply: body})
				}
			}
			text, err := json.Marshal(k.kept)
			if err != nil {
				t.Fatal(err)
			}
			if k, err = entryOf(pagestate.Entry{Place: k.place, ID: k.id, Made: k.at, Body: string(text)}); err != nil {
				t.Fatal(err)
			}
			got := blank.ReplaceAllString(bare(p.part("card", r.cardView(k))), "") + "\n"
			parse(t, got)
			golden := filepath.Join("testdata", "card", strings.TrimSuffix(filepath.Base(name), ".txtar")+".html")
			if *rewrite {
				if err := os.MkdirAll(filepath.Dir(golden), 0o755); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatalf("%v; run with -update", err)
			}
			if got != string(want) {
				t.Errorf("%s differs; got\n%s\nwant\n%s", golden, got, want)
			}
		})
	}
}
