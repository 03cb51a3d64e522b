package present

import (
	"strconv"
	"strings"

	"firn/bot/reply"
)

// What is said where a working was made shorter.
const compactText = "Steps that stand above are not repeated; the sources stand at the end."

// Compact makes a working shorter where a service takes less than all of it:
// steps that an earlier altitude has as well are not repeated, the methods are
// one line, and each source stands once, at the end. It says so. No figure is
// lost; blocks without steps stay.
func Compact(blocks []Block) []Block {
	var out []Block
	stands := map[reply.Step]string{} // where
	numbers := map[string]int{}
	var sources []string
	steps := 0
	for _, b := range blocks {
		k, ok := b.(Steps)
		if !ok {
			out = append(out, b)
			continue
		}
		if steps++; steps == 1 {
			out = append(out, Line{Text: compactText})
		}
		of := strings.TrimPrefix(k.Title, workingFor)
		var short []reply.Step
		above := "" // whose steps are being left out
		for _, s := range k.Steps {
			if at := stands[s]; at != "" {
				if at != above {
					above = at
					short = append(short, reply.Step{Text: "as for " + at})
				}
				continue
			}
			above, stands[s] = "", of
			if s.Source != "" {
				n, known := numbers[s.Source]
				if !known {
					n = len(sources) + 1
					numbers[s.Source] = n
					sources = append(sources, "("+strconv.Itoa(n)+") "+s.Source)
				}
				s = reply.Step{Text: s.Text + " (" + strconv.Itoa(n) + ")"}
			}
			short = append(short, s)
		}
		if len(k.Methods) > 0 {
			short = append(short, reply.Step{Text: methodsOf(k.Methods)})
		}
		out = append(out, Steps{Title: k.Title, Steps: short})
	}
	if len(sources) > 0 {
		out = append(out, List{Title: "Sources", Lines: sources})
	}
	return out
}

// ByEveryMethod says of a list of corrections what they are of.
const ByEveryMethod = "its own height by every method"

// methodsOf are the corrections of an altitude's own height, in feet, on one line.
func methodsOf(all []reply.MethodFigure) string {
	texts := make([]string, len(all))
	for i, m := range all {
		texts[i] = m.Method + " " + strconv.FormatFloat(m.CorrectionFt, 'f', 1, 64)
		if m.Method == "four-percent" {
			texts[i] += " (no answer)" // it is taught
		}
	}
	return ByEveryMethod + ", in feet: " + strings.Join(texts, ", ")
}
