package bot

import (
	"fmt"
	"strings"

	"firn/bot/parse"
)

// leftOut says which files of a station's procedures could not be used; empty
// where there are none. Those that may be another station's count where the
// procedure was not found.
func (b *Bot) leftOut(ident string, found bool) string {
	u, ok := b.ports.Procedures.(Unreader)
	if !ok {
		return ""
	}
	own, unknown := u.Unread(ident)
	if !found {
		own = append(own[:len(own):len(own)], unknown...)
	}
	if len(own) == 0 {
		return ""
	}
	quoted := make([]string, len(own))
	for i, name := range own {
		quoted[i] = "“" + name + "”" // whoever names a file may name it anyhow
	}
	return fmt.Sprintf("What is typed in %s could not be read and is left out; whoever runs firn sees why (firn doctor)", strings.Join(quoted, ", "))
}

// withLeftOut adds to a question for a procedure that it may be in a file that
// could not be read.
func (b *Bot) withLeftOut(p *parse.Problem, ident string) *parse.Problem {
	if text := b.leftOut(ident, false); p != nil && text != "" {
		p.Text = strings.TrimSpace(p.Text + " " + text + ".")
	}
	return p
}
