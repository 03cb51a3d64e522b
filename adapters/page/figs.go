package page

import (
	"fmt"
	"slices"
	"strings"

	"firn/bot/present"
	"firn/bot/record"
	"firn/bot/reply"
)

// figsView is the figures beside those that second people entered: what
// differs first, what agrees folded.
type figsView struct {
	Head          string // of the figures: fly, about, or advice
	By            []string
	Differ, Agree []figsRow
	Same          int // those of Agree that were entered
}

type figsRow struct {
	Name, Fly, Chart, Mark string
	Entered                []string // by who entered it
	Off                    []string // how far it is off; empty: it agrees
}

// figsOf are those of a record that somebody checked with figures of their
// own, in the rows of its table; nil: nobody has. A line that nobody flies was
// not asked of them, and stands among the others with its mark.
func figsOf(k *record.Record, doc present.Document) *figsView {
	table, numbers := tableOf(k, doc)
	v := figsView{Head: table.Fly}
	rows := make([]figsRow, len(table.Rows))
	for i, row := range table.Rows {
		rows[i] = figsRow{Name: row.Name, Fly: row.Fly, Chart: row.Chart, Mark: row.Mark}
	}
	for _, c := range k.Checks {
		if !c.Withdrawn.IsZero() || len(c.Compared) != len(k.Numbers) || len(rows) == 0 {
			continue
		}
		v.By = append(v.By, clean(c.By.String()))
		for i := range rows {
			entered, off := "–", ""
			if at := numbers[i]; at >= 0 {
				n := c.Compared[at]
				entered = published(n.EnteredFt)
				if !n.Agrees {
					off = strings.Replace(fmt.Sprintf("%+.0f", n.EnteredFt-n.CorrectedFt), "-", "−", 1)
				}
			}
			rows[i].Entered, rows[i].Off = append(rows[i].Entered, entered), append(rows[i].Off, off)
		}
	}
	if len(v.By) == 0 {
		return nil
	}
	for i, row := range rows {
		if slices.ContainsFunc(row.Off, func(off string) bool { return off != "" }) {
			v.Differ = append(v.Differ, row)
			continue
		}
		v.Agree = append(v.Agree, row)
		if numbers[i] >= 0 {
			v.Same++
		}
	}
	return &v
}

// tableOf is a record's table, and for each of its rows which of the numbers it
// is that a second person works out; -1: none. No rows: it has no such table.
func tableOf(k *record.Record, doc present.Document) (present.Table, []int) {
	i := slices.IndexFunc(doc.Short, func(b present.Block) bool { return kindOf(b) == "table" })
	if i < 0 || len(k.Numbers) == 0 {
		return present.Table{}, nil
	}
	table := doc.Short[i].(present.Table)
	if len(table.Rows) != len(k.Reply.Altitudes) {
		return present.Table{}, nil
	}
	numbers, n := make([]int, len(table.Rows)), 0
	for i := range k.Reply.Altitudes {
		if a := &k.Reply.Altitudes[i]; a.NoAltitude || a.State == reply.StateNotUsable {
			numbers[i] = -1
			continue
		}
		numbers[i] = n
		n++
	}
	if n != len(k.Numbers) {
		return present.Table{}, nil
	}
	return table, numbers
}
