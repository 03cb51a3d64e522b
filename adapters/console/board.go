package console

import (
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"firn/bot/reply"
)

// RenderBoard writes every base's state as a table; zone gives a base's local
// time. The reason of a base without a forecast stands below its row.
func RenderBoard(w io.Writer, all []reply.Cold, zone func(ident string) *time.Location, style Style) error {
	p := &page{style: style}
	if len(all) == 0 {
		p.paragraph("No base is watched: give a station a watch in the configuration.", "")
		_, err := io.WriteString(w, p.b.String())
		return err
	}
	rows := [][]string{{"base", "state", "low °C", "at, local", "restriction", "at or below it", "source"}}
	for _, b := range all {
		rows = append(rows, boardRow(b, zone(b.Ident)))
	}
	widths := make([]int, len(rows[0]))
	for _, r := range rows {
		for i, cell := range r {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for i, r := range rows {
		var b strings.Builder
		for j, cell := range r {
			if j > 0 {
				b.WriteString("  ")
			}
			b.WriteString(cell + strings.Repeat(" ", widths[j]-utf8.RuneCountInString(cell)))
		}
		line := strings.TrimRight(b.String(), " ")
		if i > 0 && all[i-1].State == "below" {
			line = p.emphasis(line)
		}
		p.line(line)
		if i > 0 && all[i-1].Note != "" {
			p.paragraph("      "+all[i-1].Note, "      ")
		}
		if i > 0 && !all[i-1].SnoozedUntil.IsZero() {
			until := all[i-1].SnoozedUntil.In(zone(all[i-1].Ident))
			p.paragraph("      no reminders until "+until.Format("Mon 15:04")+" local", "      ")
		}
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

func boardRow(b reply.Cold, zone *time.Location) []string {
	local := func(t time.Time) string { return t.In(zone).Format("Mon 15:04") }
	row := []string{b.Ident, reply.StateWord(b.State), "", "", "", "", b.Source}
	if b.LowC.OK {
		row[2], row[3] = reply.Degrees(b.LowC.Value), local(b.LowAt)+b.LowBeyond()
	}
	if b.RestrictionC.OK {
		row[4] = reply.Degrees(b.RestrictionC.Value)
	}
	switch {
	case !b.BelowFrom.IsZero():
		row[5] = b.Hours(" to ", "", local)
	case b.State == "below":
		row[5] = "hours not known"
	case b.State == "part-forecast":
		row[5] = "known to " + local(b.CoveredTo)
	}
	if !b.Issued.IsZero() {
		row[6] += ", " + b.Issued.UTC().Format("02 15:04Z")
	}
	return row
}
