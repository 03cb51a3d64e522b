package record

import (
	"slices"
	"time"

	"firn/bot/person"
	"firn/bot/weather"
	"firn/engine"
)

// Settings are what a unit decides. The zero value has the defaults.
type Settings struct {
	Expire time.Duration // how long a result holds; default 6 h
	// Retain is how long a result is kept once it is over; 0: for ever.
	Retain time.Duration
	// Step is how far beyond a row of the table, or past the restriction
	// temperature, the temperature goes before that alone is told; default 1.
	// A figure that changes is told however little it moves.
	Step engine.CelsiusDelta
	// Blind has every channel check blind; BlindChannels are those that do in
	// any case, by address. Else a plain confirmation counts too.
	Blind         bool
	BlindChannels []string
	// Linked are the accounts of one person each, by address.
	Linked [][]string

	// Field is a station as it is configured now; false where it is not any more.
	// nil: nobody knows.
	Field func(ident string) (Field, bool)
	// Known is the latest observation of a station as far as it is at hand; nil:
	// an Observer that is a Knower is asked.
	Known func(ident string) (weather.Observation, bool)
	// Zone is a station's own; nil: UTC.
	Zone func(ident string) *time.Location
	// Lost is told of each result that could not be kept; nil: nobody.
	Lost func()
	// Wrote is told when a card may have to be changed; nil: nobody.
	Wrote func()
}

// The defaults. Six hours are the product's; a degree moves the corrections of
// an initial segment by about as much as they are rounded by.
const (
	DefaultExpire                     = 6 * time.Hour
	DefaultStep   engine.CelsiusDelta = 1
)

func (s Settings) withDefaults() Settings {
	if s.Expire <= 0 {
		s.Expire = DefaultExpire
	}
	if s.Step <= 0 {
		s.Step = DefaultStep
	}
	if s.Zone == nil {
		s.Zone = func(string) *time.Location { return time.UTC }
	}
	if s.Lost == nil {
		s.Lost = func() {}
	}
	if s.Wrote == nil {
		s.Wrote = func() {}
	}
	return s
}

// blind says that checks in a channel are blind.
func (s Settings) blind(channel string) bool {
	return s.Blind || slices.Contains(s.BlindChannels, channel)
}

// same says that two accounts are one person's: one that differs in case,
// width or punctuation alone is no other.
func (s Settings) same(a, b Person) bool {
	return person.Key(a.Address) == person.Key(b.Address) || slices.ContainsFunc(s.Linked, func(accounts []string) bool {
		return slices.Contains(accounts, a.Address) && slices.Contains(accounts, b.Address)
	})
}

// here says that two did something in the same browser, whatever names they
// typed.
func (s Settings) here(a, b Person) bool { return a.Via != "" && a.Via == b.Via }

// clock writes an instant for people at a station: in its own time and in UTC,
// with the day where it is not that of since.
func (s Settings) clock(ident string, t, since time.Time) string {
	zone := s.Zone(ident)
	form := "15:04"
	if t.In(zone).Format(time.DateOnly) != since.In(zone).Format(time.DateOnly) {
		form = "Mon 2 Jan 15:04"
	}
	if zone == time.UTC {
		return t.UTC().Format(form + "Z")
	}
	return t.In(zone).Format(form) + " local (" + t.UTC().Format("15:04Z") + ")"
}
