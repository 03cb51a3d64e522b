package bot

import (
	"strconv"
	"unicode/utf8"

	"firn/bot/parse"
	"firn/bot/reply"
)

// mostPicks and longestPick are what buttons with lines to pick have room for:
// services take five in a row, and a phone shows 60 characters; ours.
const (
	mostPicks   = 10
	longestPick = 60
)

// picks are the lines that answer a question to be picked: which approach, which
// fix; none where one of them would be missing.
func picks(p *parse.Problem) []reply.Action {
	var out []reply.Action
	for _, c := range p.Choices {
		if c.Aside {
			continue
		}
		if c.Line == "" || len(out) == mostPicks || utf8.RuneCountInString(c.Line) > longestPick {
			return nil
		}
		out = append(out, reply.Action{ID: "pick-" + strconv.Itoa(len(out)+1), Label: c.Line, Message: c.Line})
	}
	if len(out) < 2 {
		return nil
	}
	return out
}
