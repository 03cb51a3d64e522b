package awc

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"firn/adapters/httpwx/fetch"
	"firn/bot/weather"
)

const name = "awc"

// loose is a field whose type has changed between releases (from memory): a
// string, a number, or anything else, which counts as missing.
type loose string

// UnmarshalJSON never fails.
func (l *loose) UnmarshalJSON(data []byte) error {
	*l = ""
	if data[0] == '"' {
		var s string
		if json.Unmarshal(data, &s) == nil {
			*l = loose(s)
		}
	} else if data[0] == '-' || data[0] >= '0' && data[0] <= '9' {
		*l = loose(data)
	}
	return nil
}

// instant reads seconds since 1970 or a written date.
func (l loose) instant() (time.Time, bool) {
	if s, err := strconv.ParseFloat(string(l), 64); err == nil && s > 0 && s < 1e11 {
		return time.Unix(int64(s), 0).UTC(), true
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05"} {
		if t, err := time.Parse(layout, string(l)); err == nil {
			return t.UTC(), true
		}
	}
	return time.Time{}, false
}

// fields are those of both answers that are looked at.
type fields struct {
	ICAO      loose `json:"icaoId"`
	RawMetar  loose `json:"rawOb"`
	RawTaf    loose `json:"rawTAF"`
	Observed  loose `json:"obsTime"`
	Issued    loose `json:"issueTime"`
	Bulletin  loose `json:"bulletinTime"`
	ValidFrom loose `json:"validTimeFrom"`
}

// answer is what was read out of one.
type answer struct {
	weather.Board
	notFound bool
}

// readJSON reads an answer to format=json. The error says that it is no list
// of reports.
func readJSON(what string, a fetch.Answer, now time.Time) (*answer, error) {
	b := &answer{notFound: a.NotFound}
	if a.None {
		return b, nil
	}
	var list []json.RawMessage
	if err := json.Unmarshal(a.Body, &list); err != nil {
		return nil, fmt.Errorf("no JSON list of reports: %w", err)
	}
	for _, item := range list {
		var f fields
		if json.Unmarshal(item, &f) != nil {
			continue // no object: nobody can say whose
		}
		r, kind, dated := weather.Report{Text: string(f.RawMetar)}, "METAR", f.Observed
		if what == "taf" {
			r, kind, dated = weather.Report{Text: string(f.RawTaf), Taf: true}, "TAF", f.Issued
			for _, other := range []loose{f.Bulletin, f.ValidFrom} {
				if _, ok := dated.instant(); !ok {
					dated = other
				}
			}
		}
		if strings.TrimSpace(r.Text) == "" {
			t, _ := dated.instant()
			b.Fail(kind, string(f.ICAO), errors.New("the answer has no raw report of it"), t, a.Received)
			continue
		}
		// The month is that of the answer's own date, where it has one that
		// has come: an old report must not be taken for this month's.
		at := now
		t, ok := dated.instant()
		if ok && t.Before(at) {
			at = t
		}
		if err := b.Add(r, name, at, a.Received); err != nil {
			b.Fail(kind, string(f.ICAO), err, t, a.Received)
		}
	}
	return b, nil
}

// readRaw reads an answer to format=raw. The error says that there is no
// report in it.
func readRaw(what string, a fetch.Answer, now time.Time) (*answer, error) {
	b := &answer{notFound: a.NotFound}
	if a.None {
		return b, nil
	}
	reports := weather.Split(string(a.Body))
	if len(reports) == 0 {
		return nil, errors.New("no report in the raw text")
	}
	for _, r := range reports {
		r.Taf = r.Taf || what == "taf"
		// A report that cannot be read answers for its station alone.
		_ = b.Add(r, name, now, a.Received)
	}
	return b, nil
}
