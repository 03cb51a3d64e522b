package airportcsv

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"firn/bot/airports"
	"firn/bot/spelling"
	"firn/bot/strictyaml"
)

// Options say how a list is read.
type Options struct {
	File string // as people know it; stands before problems
	// Edition is what a row is from that does not say so itself.
	Edition airports.Edition
}

// Summary is what came of a reading.
type Summary struct {
	Rows     int // read and handed over
	Left     int // left out: no ident of an airfield, no aeroplane's field
	Edition  airports.Edition
	Problems []*strictyaml.Problem // rows that could not be read, at most some hundred of them
	Faulty   int                   // all of them
}

const keptProblems = 100

// Read hands over the rows of a list. A row that cannot be read is told and
// left out, and so is one without the ident of an airfield; the error is of the
// header, of the file or of add.
func Read(src io.Reader, o Options, add func(airports.Airport) error) (Summary, error) {
	r := reader{o: o, add: func(a *airports.Airport) error { return add(*a) }}
	err := r.all(src)
	r.sum.Edition = r.o.Edition
	return r.sum, err
}

// Load reads the list that the configuration names. Whatever is wrong with it
// is an error, of type *strictyaml.Problem where a place can be named.
func Load(src io.Reader, file string) (*airports.Directory, error) {
	var b airports.Builder
	r := reader{o: Options{File: file, Edition: airports.Edition{Source: file}}, strict: true, add: b.Add}
	if err := r.all(src); err != nil {
		return nil, err
	}
	d, err := b.Build()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return d, nil
}

type reader struct {
	o      Options
	strict bool
	add    func(*airports.Airport) error
	sum    Summary
	csv    *csv.Reader
	cols   []string
	skip   int // lines of comments in front, which the CSV reader does not see
	zones  map[string]bool
	days   map[string]airports.Airport
	one    airports.Airport // the row that is being read
}

func (r *reader) all(src io.Reader) error {
	in := bufio.NewReaderSize(src, 1<<16)
	if err := r.comments(in); err != nil {
		return err
	}
	r.csv = csv.NewReader(in)
	r.csv.Comment, r.csv.ReuseRecord, r.csv.FieldsPerRecord = '#', true, -1
	head, err := r.csv.Read()
	switch {
	case errors.Is(err, io.EOF):
		return r.problem(1, 1, "the list is empty; its first line names the columns, such as ident,name,lat,lon,elevation_ft")
	case err != nil:
		return r.unreadable(err)
	}
	if err := r.header(head); err != nil {
		return err
	}
	for {
		row, err := r.csv.Read()
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil && r.strict:
			return r.unreadable(err)
		case err != nil:
			if _, is := errors.AsType[*csv.ParseError](err); !is {
				return r.unreadable(err)
			}
			r.tell(r.unreadable(err))
			continue
		}
		if err := r.row(row); err != nil {
			return err
		}
	}
}

// comments reads what stands in front, and takes the list's own dates from it.
func (r *reader) comments(in *bufio.Reader) error {
	if mark, err := in.Peek(3); err == nil && bytes.Equal(mark, []byte("\xef\xbb\xbf")) {
		_, _ = in.Discard(3)
	}
	for {
		c, err := in.Peek(1)
		if err != nil || c[0] != '#' {
			return nil
		}
		line, err := in.ReadString('\n')
		r.skip++
		key, value, _ := strings.Cut(strings.TrimLeft(line, "# "), ":")
		value = strings.TrimSpace(value)
		to := &r.o.Edition.Date
		switch strings.ToLower(strings.TrimSpace(key)) {
		case date:
		case until:
			to = &r.o.Edition.Until
		default:
			to = nil
		}
		if to != nil {
			t, wrong := day(value)
			if wrong != nil {
				return r.problem(0, 1, "%v", wrong)
			}
			*to = t
		}
		if err != nil {
			return nil // the header is missing, which is told
		}
	}
}

// header says what each column is.
func (r *reader) header(head []string) error {
	if len(head) == 1 && strings.Contains(head[0], ";") {
		return r.problem(1, 1, "the columns are parted by semicolons; save the list with commas")
	}
	seen := map[string]bool{}
	for i, h := range head {
		key := strings.ToLower(strings.ReplaceAll(strings.TrimSpace(h), " ", "_"))
		col := columns[key]
		if col != "" && seen[col] {
			if r.strict {
				return r.at(i, "column %q stands here twice", h)
			}
			col = "" // such as ident and icao_code: the first counts
		}
		if col == "" && r.strict {
			return r.at(i, "unknown column %.40q%s", h, meant(key))
		}
		seen[col] = true
		r.cols = append(r.cols, col)
	}
	switch {
	case !seen[ident]:
		return r.problem(1, 1, "no column is called ident")
	case !seen[temperature] && !(seen[lat] && seen[lon] && seen[elevation]):
		return r.problem(1, 1, "the list says neither where airfields are (lat, lon, elevation_ft) nor at which temperature they are restricted (temperature_c)")
	}
	return nil
}

// meant is the column that was probably meant.
func meant(key string) string {
	best, least := "", 3
	for _, c := range slices.Sorted(maps.Keys(columns)) {
		if d := spelling.Distance(key, c, 2); d < least {
			best, least = c, d
		}
	}
	if best == "" {
		return "; the columns are " + strings.Join(written, ", ")
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// row reads one field.
func (r *reader) row(cells []string) error {
	a := &r.one
	*a = airports.Airport{}
	bad := error(nil)
	for i, col := range r.cols {
		if i >= len(cells) {
			break
		}
		cell := strings.TrimSpace(cells[i])
		switch {
		case cell == "" || col == "":
			continue
		case col == kind && noAirfield[strings.ToLower(cell)] && !r.strict:
			r.sum.Left++
			return nil
		case col == kind, col == zone && r.knownZone(a, cell), r.knownDay(a, col, cell):
			continue
		}
		if err := set(a, col, cell); err != nil && bad == nil {
			if col == ident && !r.strict {
				r.sum.Left++
				return nil
			}
			bad = r.at(i, "%s %v", col, err)
		}
	}
	switch {
	case bad != nil:
	case a.Ident == "":
		bad = r.at(0, "this row has no ident")
	case len(cells) > len(r.cols):
		bad = r.at(len(r.cols), "more cells than the header has columns: put a name with a comma in quotes")
	}
	if bad != nil {
		if r.strict {
			return bad
		}
		r.tell(bad)
		return nil
	}
	if a.HasElevation || a.HasPlace {
		r.from(&a.From)
	}
	if a.Restricted {
		r.from(&a.RestrictedBy)
	} else {
		a.RestrictedBy, a.Segments = airports.Edition{}, 0
	}
	r.sum.Rows++
	return r.add(a)
}

// from says what a row is from that does not say so itself.
func (r *reader) from(e *airports.Edition) {
	if e.Source == "" {
		e.Source = r.o.Edition.Source
	}
	if e.Date.IsZero() {
		e.Date = r.o.Edition.Date
		if e.Until.IsZero() {
			e.Until = r.o.Edition.Until
		}
	}
}

// knownZone takes a zone that was looked up before: a list has a few hundred,
// and looking one up reads a file.
func (r *reader) knownZone(a *airports.Airport, cell string) bool {
	if r.zones[cell] {
		a.Zone = cell
		return true
	}
	if set(a, zone, cell) != nil {
		return false
	}
	if r.zones == nil {
		r.zones = map[string]bool{}
	}
	r.zones[cell] = true
	return true
}

// knownDay takes a day that was read before: a list has few.
func (r *reader) knownDay(a *airports.Airport, col, cell string) bool {
	if col != date && col != until && col != byDate && col != byUntil {
		return false
	}
	one, ok := r.days[cell]
	if !ok {
		if set(&one, date, cell) != nil {
			return false
		}
		if r.days == nil {
			r.days = map[string]airports.Airport{}
		}
		r.days[cell] = one
	}
	switch t := one.From.Date; col {
	case date:
		a.From.Date = t
	case until:
		a.From.Until = t
	case byDate:
		a.RestrictedBy.Date = t
	case byUntil:
		a.RestrictedBy.Until = t
	}
	return true
}

// at is a problem of the row that was read last, in the cell of an index.
func (r *reader) at(cell int, format string, args ...any) *strictyaml.Problem {
	line, column := r.csv.FieldPos(cell)
	return r.problem(line, column, format, args...)
}

func (r *reader) problem(line, column int, format string, args ...any) *strictyaml.Problem {
	return &strictyaml.Problem{File: r.o.File, Line: line + r.skip, Column: max(column, 1), Text: fmt.Sprintf(format, args...)}
}

func (r *reader) unreadable(err error) error {
	if p, ok := errors.AsType[*csv.ParseError](err); ok {
		return r.problem(p.Line, p.Column, "not readable as CSV: %v", p.Err)
	}
	return fmt.Errorf("%s: %w", r.o.File, err)
}

func (r *reader) tell(err error) {
	r.sum.Faulty++
	if p, ok := errors.AsType[*strictyaml.Problem](err); ok && len(r.sum.Problems) < keptProblems {
		r.sum.Problems = append(r.sum.Problems, p)
	}
}
