package page

import (
	"fmt"
	"html/template"
	"regexp"
	"strconv"
	"strings"
	"time"

	"firn/bot/reply"
)

// age is how old something was when a sentence was made, as reply.Age says it.
var age = regexp.MustCompile(`\b(\d{1,6}) (min|h|days) old\b`)

var ageUnits = map[string]time.Duration{"min": time.Minute, "h": time.Hour, "days": 24 * time.Hour}

// aged is a sentence in which what was so old when it was made, since ago, is as
// old as it is now; the page's script lets it grow older on an open page.
func aged(text string, since time.Duration) template.HTML {
	var b strings.Builder
	done := 0
	for _, m := range age.FindAllStringSubmatchIndex(text, -1) {
		n, err := strconv.Atoi(text[m[2]:m[3]])
		if err != nil {
			continue
		}
		old := time.Duration(n)*ageUnits[text[m[4]:m[5]]] + max(since, 0)
		b.WriteString(template.HTMLEscapeString(text[done:m[0]]))
		fmt.Fprintf(&b, `<span class="old" data-age="%d">%s</span>`, int64(old.Seconds()), reply.Age(old))
		done = m[1]
	}
	b.WriteString(template.HTMLEscapeString(text[done:]))
	return template.HTML(b.String())
}
