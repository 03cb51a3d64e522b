package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"firn/bot/reply"
)

// Row is a record for other programs. Its fields and their order are a
// contract: new ones come at the end, none goes or changes its meaning.
type Row struct {
	ID          string         `json:"id"`                     // the name, KALOMI-RUTA
	Version     int            `json:"version"`                // 1 for the first
	Replaces    string         `json:"replaces,omitempty"`     // the record that this is the next version of
	ReplacedBy  string         `json:"replaced_by,omitempty"`  // its own next version
	State       string         `json:"state"`                  // when it was exported
	AskedAt     time.Time      `json:"asked_at"`               // RFC 3339, UTC, as are all times
	AskedBy     string         `json:"asked_by"`               // the account, slack:U1
	AskedName   string         `json:"asked_name,omitempty"`   // as it was shown
	Surface     string         `json:"surface"`                // where it was asked
	Channel     string         `json:"channel,omitempty"`      // its address
	Thread      string         `json:"thread,omitempty"`       // as the surface calls it
	Message     string         `json:"message"`                // the surface's id of the question
	Text        string         `json:"text"`                   // the question, as typed
	Station     string         `json:"station,omitempty"`      // ident
	ElevationFt float64        `json:"elevation_ft"`           // of the field
	Temperature reply.OptFloat `json:"temperature_c,omitzero"` // that the figures hold for
	Source      string         `json:"temperature_source"`     // where it is from, in words
	Measured    time.Time      `json:"temperature_at,omitzero"`
	Rules       string         `json:"rules"`
	RulesV      string         `json:"rules_version"`
	Method      string         `json:"method,omitempty"`
	Engine      string         `json:"engine"`
	Required    bool           `json:"required"`
	Altitudes   []Number       `json:"altitudes,omitempty"`
	Checks      []Check        `json:"checks,omitempty"`
	CheckedBy   string         `json:"checked_by,omitempty"` // account of the check that counts
	CheckedAt   time.Time      `json:"checked_at,omitzero"`
	CheckedHow  string         `json:"checked_how,omitempty"` // confirm or blind
	Changed     string         `json:"changed,omitempty"`     // what newer weather changed
	Expires     time.Time      `json:"expires_at"`
	ExportedBy  string         `json:"exported_by,omitempty"` // the version of the program that wrote this
	Private     bool           `json:"private"`               // asked in a direct message and not posted: the log shows it to nobody else
}

// RowOf is a record's row at a time.
func RowOf(r Record, now time.Time) Row {
	row := Row{
		ID: r.ID, Version: r.Version, Replaces: r.Replaces, State: string(r.State(now)),
		AskedAt: r.At, AskedBy: r.Asked.Address, AskedName: r.Asked.Name,
		Surface: r.Surface, Channel: r.Channel, Thread: r.Thread, Message: r.Message, Text: r.Text,
		Station: r.Station(), ElevationFt: r.Reply.Station.ElevationFt,
		Temperature: r.Reply.TemperatureC, Source: r.Reply.TemperatureSource, Measured: r.Measured,
		Rules: r.Reply.Rules, RulesV: r.Reply.RulesVersion, Method: r.Reply.Method, Engine: r.Engine,
		Required: r.Reply.Required == reply.Yes, Altitudes: r.Numbers, Checks: r.Checks, Expires: r.Expires, Private: r.Private(),
	}
	if r.Replaced != nil {
		row.ReplacedBy = r.Replaced.By
	}
	if k, ok := r.check(); ok {
		row.CheckedBy, row.CheckedAt, row.CheckedHow = k.By.Address, k.At, k.How
	}
	if n := len(r.Noticed); n > 0 {
		row.Changed = r.Noticed[n-1].Text
	}
	return row
}

// Columns are those of the CSV form.
func Columns() []string {
	return []string{
		"id", "version", "replaces", "replaced_by", "state", "asked_at", "asked_by", "asked_name",
		"surface", "channel", "thread", "message", "text", "station", "elevation_ft",
		"temperature_c", "temperature_source", "temperature_at", "rules", "rules_version", "method", "engine", "required",
		"altitudes", "checks", "checked_by", "checked_at", "checked_how", "changed", "expires_at", "exported_by", "private",
	}
}

// Fields are a row's for the CSV form: altitudes as "FAF 8200=9000; DA
// 5340=5480", checks as "slack:U2 blind agrees 2026-01-15T13:20:00Z". A field
// that a spreadsheet would take for a formula has an apostrophe before it.
func (w Row) Fields() []string {
	t := ""
	if w.Temperature.OK {
		t = figure(w.Temperature.Value)
	}
	altitudes := make([]string, len(w.Altitudes))
	for i, n := range w.Altitudes {
		altitudes[i] = strings.TrimSpace(n.Label+" "+figure(n.PublishedFt)) + "=" + figure(n.CorrectedFt)
	}
	checks := make([]string, len(w.Checks))
	for i, k := range w.Checks {
		word := "agrees"
		switch {
		case !k.stands():
			word = "withdrawn"
		case !k.Agrees():
			word = "disagrees"
		}
		checks[i] = fmt.Sprintf("%s %s %s %s", k.By.Address, k.How, word, stamp(k.At))
	}
	return []string{
		w.ID, strconv.Itoa(w.Version), w.Replaces, w.ReplacedBy, w.State, stamp(w.AskedAt), Cell(w.AskedBy), Cell(w.AskedName),
		Cell(w.Surface), Cell(w.Channel), Cell(w.Thread), Cell(w.Message), Cell(w.Text), w.Station, figure(w.ElevationFt),
		t, Cell(w.Source), stamp(w.Measured), w.Rules, w.RulesV, w.Method, w.Engine, strconv.FormatBool(w.Required),
		Cell(strings.Join(altitudes, "; ")), Cell(strings.Join(checks, "; ")), Cell(w.CheckedBy), stamp(w.CheckedAt), w.CheckedHow, Cell(w.Changed), stamp(w.Expires), w.ExportedBy, strconv.FormatBool(w.Private),
	}
}

func figure(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// formula is what begins one in a spreadsheet, the wide signs too.
const formula = "=+-@\t\r\n＝＋－＠"

// Cell is text as a cell of a CSV file: what a spreadsheet would run, as "-38 8200"
// begins, has an apostrophe before it. Uncell is the text again.
func Cell(s string) string {
	if strings.IndexAny(s, formula) == 0 {
		return "'" + s
	}
	return s
}

// Uncell is the text of a cell that Cell made.
func Uncell(s string) string {
	if rest, ok := strings.CutPrefix(s, "'"); ok && strings.IndexAny(rest, formula) == 0 {
		return rest
	}
	return s
}
