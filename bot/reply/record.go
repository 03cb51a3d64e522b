package reply

import "time"

// RecordStatus is what the record says of an answer: its name, whether somebody has
// checked it, and until when it holds. A reply with one is the face of that
// record.
type RecordStatus struct {
	ID      string `json:"id"` // as people say it: KALOMI-RUTA
	Version int    `json:"version"`
	// State is one word or two: unchecked, checked, disagreed, recompute,
	// expired, replaced; noted where there is nothing to check; not kept where
	// the record could not be written.
	State      string    `json:"state"`
	Lines      []string  `json:"lines"` // who computed it, who checked it, what changed, how long it holds
	ValidUntil time.Time `json:"valid_until"`
}

// Title is the name and the state on one line; the words alone are enough.
func (c *RecordStatus) Title() string { return "Record " + c.ID + ": " + c.State }
