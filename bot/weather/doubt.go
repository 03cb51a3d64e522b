package weather

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// OldForecast is the age from which a forecast is said to be old: TAFs are made every
// six hours (WMO practice, from memory), and one more is allowed for.
const OldForecast = 12 * time.Hour

// ErrNoTemperature is wrapped when the newest report of a station has no temperature
// and the source has none before it at hand; it is an ErrNone. What was kept of the
// source stands until it is too old.
var ErrNoTemperature = fmt.Errorf("the newest report has no temperature: %w", ErrNone)

// FailedNote is what people must know of a forecast whose source has failed.
func FailedNote(issued time.Time) string {
	if issued.IsZero() {
		return failedForecast + "an unknown time"
	}
	return failedForecast + written(issued)
}

const (
	failedForecast = "source failed, forecast of "
	failedSources  = "the forecast source failed: "
	alsoFailed     = "the source "
)

// NoteFailed is the note of a judgement with the sources that failed beside those
// that it was made of, by the error of Forecasts.
func NoteFailed(note string, err error) string {
	if err == nil || errors.Is(err, ErrNone) {
		return note
	}
	for _, name := range Failing(err) {
		note = strings.TrimPrefix(note+"; "+alsoFailed+name+" failed", "; ")
	}
	return note
}

// NoteWhy is the note of no forecast at all, by the sources' failures in one line.
func NoteWhy(failures string) string { return failedSources + failures }

// Doubt is what a note says of the sources, and that a forecast is old, in a few words
// for whoever reads no more than a line; empty where nothing is to be said. Notes are
// those of judgements, issued is of their forecast; zero: not known.
func Doubt(note string, issued, now time.Time) string {
	var all []string
	failed := false
	for part := range strings.SplitSeq(note, "; ") {
		said := ""
		switch name, also := strings.CutPrefix(part, alsoFailed); {
		case strings.HasPrefix(part, failedForecast):
			said, failed = part, true
		case strings.HasPrefix(part, failedSources):
			said = "the sources failed"
		case also && strings.HasSuffix(name, " failed"):
			said = name
		case strings.HasPrefix(part, "a newer ") && strings.Contains(part, " cannot be read"):
			before, _, _ := strings.Cut(part, " cannot be read")
			said = before + " cannot be read"
		case strings.HasPrefix(part, "sources disagree: "):
			said = "sources disagree"
		}
		if said != "" && !slices.Contains(all, said) {
			all = append(all, said)
		}
	}
	if !failed && !issued.IsZero() && now.Sub(issued) > OldForecast {
		all = append(all, "old forecast, of "+written(issued))
	}
	return strings.Join(all, ", ")
}

// ago is how long ago something was, for people.
func ago(d time.Duration) string {
	switch {
	case d <= 2*time.Hour:
		return fmt.Sprintf("%d minutes ago", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours ago", int(d.Hours()))
	}
	return fmt.Sprintf("%d days ago", int(d.Hours()/24))
}
