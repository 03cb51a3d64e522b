package cifp

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"
)

// header reads the record count of HDR01, columns 29-35, and the cycle, 36-39, and holds the words of
// HDR04 against it. The cycle in columns 129-132 of a record is that of its
// own last change and says nothing of the file.
func (r *reader) header(s []byte) {
	switch {
	case bytes.HasPrefix(s, []byte("HDR01")) && len(s) >= 39:
		if r.headerRead {
			r.note(s, &fault{text: "a second HDR01; the first one's cycle holds"})
			return
		}
		r.headerRead = true
		if n := s[28:35]; figures(n) { // columns 29-35, record count
			r.sum.Declared = number(n)
		}
		cycle := latin1(s[35:39])
		effective, end, err := CycleDates(cycle)
		if err != nil {
			r.note(s, &fault{text: err.Error()})
			return
		}
		r.sum.Cycle, r.sum.Effective, r.sum.End = cycle, effective, end
		r.sum.Source = "coded procedures, cycle " + cycle
	case bytes.HasPrefix(s, []byte("HDR04")):
		if text := r.disputed(strings.Fields(latin1(s))); text != "" {
			r.sum.Cycle, r.sum.Effective, r.sum.End, r.sum.Source = "", time.Time{}, time.Time{}, ""
			r.note(s, &fault{text: text + ": the cycle of the file is not known"})
		}
	}
}

// disputed says what the words of HDR04, "VOLUME 2609 EFFECTIVE 03 SEP 2026",
// have against the cycle of HDR01.
func (r *reader) disputed(words []string) string {
	if i := slices.Index(words, "VOLUME"); i >= 0 && i+1 < len(words) && words[i+1] != r.sum.Cycle {
		return fmt.Sprintf("HDR04 says cycle %q, HDR01 says %q", words[i+1], r.sum.Cycle)
	}
	if i := slices.Index(words, "EFFECTIVE"); i >= 0 && i+3 < len(words) {
		day, err := time.Parse("02 Jan 2006", strings.Join(words[i+1:i+4], " "))
		if err == nil && !day.Equal(r.sum.Effective) {
			return fmt.Sprintf("HDR04 says effective %s, and cycle %q begins on %s", day.Format(time.DateOnly), r.sum.Cycle, r.sum.Effective.Format(time.DateOnly))
		}
	}
	return ""
}
