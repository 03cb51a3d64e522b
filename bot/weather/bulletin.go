package weather

import (
	"iter"
	"regexp"
	"slices"
	"strings"
)

// Report is one METAR or TAF cut out of a longer text.
type Report struct {
	Line int    // of the text, from 1
	Text string // its lines joined by single spaces
	Taf  bool   // what stands before it says TAF; false: not known, or a METAR
}

var (
	// heading is a WMO abbreviated heading, such as "FTUS80 KWBC 251140 AAA"
	// (WMO-No. 386, from memory).
	heading = regexp.MustCompile(`^([A-Z]{2})[A-Z]{2}[0-9]{1,2} [A-Z]{4} [0-9]{6}( [A-Z]{3})?$`)
	// opening is how a report without its word begins: station and time, or
	// station and NIL.
	opening = regexp.MustCompile(`^(COR |AMD )?[A-Z][A-Z0-9]{2,3} ([0-9]{6}Z?\b|NIL\b)`)
	worded  = regexp.MustCompile(`^(METAR|SPECI|TAF)\b`)
	// within is where a report begins that another may stand before on its line: with
	// its word, or with station, time and what a METAR or TAF goes on with.
	within = regexp.MustCompile(`(?i)(?:^|\s)(?:(?:METAR|SPECI|TAF)\s+(?:(?:COR|AMD)\s+)?[A-Z][A-Z0-9]{3}\s+[0-9]{6}Z|(?:(?:COR|AMD)\s+)?[A-Z][A-Z0-9]{3}\s+[0-9]{6}Z\s+(?:AUTO\s+|COR\s+)?(?:[0-9]{5}|VRB[0-9]{2}|/////|[0-9]{4}/[0-9]{4}))`)
	// bareWord is a line that only says what follows.
	bareWord = regexp.MustCompile(`^(METAR|SPECI|TAF)( AMD| COR)?$`)
)

// part is a line, or what of one follows an equals sign or another report.
type part struct {
	text  string
	first bool // of its line
}

// parts are the lines of a text, cut behind each equals sign and where a report
// begins. A line that begins with # is left whole.
func parts(text string) iter.Seq[part] {
	return func(yield func(part) bool) {
		for line := range strings.Lines(text) {
			first := true
			for p := range cut(line) {
				if !first && strings.TrimSpace(p) == "" {
					continue
				}
				if !yield(part{p, first}) {
					return
				}
				first = false
			}
		}
	}
}

func cut(line string) iter.Seq[string] {
	if strings.HasPrefix(strings.TrimSpace(line), "#") {
		return slices.Values([]string{line})
	}
	return func(yield func(string) bool) {
		for p := range strings.SplitAfterSeq(line, "=") {
			from := 0
			for _, at := range within.FindAllStringIndex(p, -1) {
				if strings.TrimSpace(p[from:at[0]]) != "" && !yield(p[from:at[0]]) {
					return
				}
				from = at[0]
			}
			if !yield(p[from:]) {
				return
			}
		}
	}
}

// Split cuts a text into reports: one a line, or wrapped over several, with
// or without their words METAR and TAF, between the headings of bulletins. A
// report ends at an equals sign, at an empty line and where the next begins, also on
// its line.
// Lines that are part of none, and those that begin with #, are left out.
func Split(text string) []Report {
	var (
		all  []Report
		open bool // the last of all goes on
		word string
		kind string // of what follows, by a heading or a bare word
	)
	n := 0
	for line := range parts(text) {
		if line.first {
			n++
		}
		line := strings.Join(strings.Fields(line.text), " ")
		up := strings.ToUpper(line)
		if up == "" {
			open = false
			continue
		}
		if line[0] == '#' {
			continue
		}
		if m := heading.FindStringSubmatch(up); m != nil {
			open, word, kind = false, "", ""
			if m[1] == "FT" || m[1] == "FC" { // long and short TAF
				kind = "TAF"
			}
			continue
		}
		if bareWord.MatchString(up) {
			open, word = false, line
			kind, _, _ = strings.Cut(up, " ")
			continue
		}
		if worded.MatchString(up) || opening.MatchString(up) {
			r := Report{Line: n, Text: line, Taf: kind == "TAF"}
			if w := worded.FindString(up); w != "" {
				r.Taf = w == "TAF"
			} else if word != "" {
				r.Text, r.Line = word+" "+line, n-1
			} else if r.Taf {
				r.Text = "TAF " + line
			}
			word = "" // AMD or COR is said of the first alone
			all = append(all, r)
			open = true
		} else if open {
			all[len(all)-1].Text += " " + line
		}
		if open && strings.HasSuffix(line, "=") {
			open = false
		}
	}
	return all
}
