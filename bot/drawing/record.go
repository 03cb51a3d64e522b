package drawing

import (
	"time"

	"firn/bot/present"
	"firn/bot/record"
)

// StandingOf is what a printed card says of a record: who computed and checked
// it, how long it holds, and why it does not where it does not.
func StandingOf(k record.Record, now time.Time, zone func(ident string) *time.Location) Standing {
	s := Standing{
		Record: k.ID, State: present.StateWord(string(k.State(now))),
		Computed:   Signed{By: nameOf(k, k.Asked), At: k.At},
		ValidUntil: k.Expires, Now: now, Zone: zone(k.Station()),
	}
	for _, c := range k.Checks {
		if c.Withdrawn.IsZero() && c.Agrees() {
			s.Checked = append(s.Checked, Signed{By: nameOf(k, c.By), At: c.At})
		}
	}
	switch k.State(now) {
	case record.Recompute, record.Disagreed, record.Replaced:
		s.Void = record.Above(k, now, record.Settings{Zone: zone})
	}
	return s
}

// nameOf is who it is; empty where a surface that does not tell its people
// apart was told no name.
func nameOf(r record.Record, p record.Person) string {
	if p.Name == "" && !p.Known() {
		return ""
	}
	return r.Named(p)
}
