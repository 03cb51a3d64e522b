package chat

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"

	"golang.org/x/time/rate"

	"firn/bot/parse"
	"firn/bot/person"
	"firn/bot/reply"
)

// Answers says whether there are answers at a place.
func (d *Dispatcher) Answers(s Surface, p Place) bool {
	w, ok := d.set.Where[s.Name()]
	if p.Direct {
		return w.Home == "" || p.Home == "" || p.Home == w.Home
	}
	return ok && (w.Home == "" || p.Home == w.Home) && slices.Contains(w.Channels, p.Channel)
}

// may says whether the person may ask for this, and tells one who may not. The
// bot looks again at what it has understood with its stations.
func (d *Dispatcher) may(ctx context.Context, s Surface, e Event, text string) bool {
	if !DutyDeed(text) || d.onDuty(s, e.Person) {
		return true
	}
	if e.Unmentioned && d.set.Problem != nil && d.set.Problem(text) != nil {
		return false // people say "ack" to each other
	}
	d.log.InfoContext(ctx, "not a duty officer", "surface", s.Name(), "person", e.Person.ID, "event", e.ID)
	d.whisper(ctx, s, e, d.notOnDuty(ctx, s))
	return false
}

// onDuty says whether a person may do what duty officers do.
func (d *Dispatcher) onDuty(s Surface, p Person) bool {
	if p.NoDuty {
		return false
	}
	if len(d.set.Duty) == 0 {
		return true
	}
	if slices.Contains(d.set.Duty, s.Name()+":"+p.ID) {
		return true
	}
	return slices.ContainsFunc(p.Groups, func(g string) bool {
		return slices.Contains(d.set.Duty, s.Name()+":"+g) || slices.Contains(d.set.Duty, s.Name()+":role:"+g)
	})
}

// DutyDeed says that a message asks for a duty officer's deed.
func DutyDeed(text string) bool { return parse.OnDuty(text) }

// mostOnDuty is how many names a refusal has; ours.
const mostOnDuty = 5

// notOnDuty refuses a deed and says whose it is: by names, since nobody knows
// people by ids.
func (d *Dispatcher) notOnDuty(ctx context.Context, s Surface) reply.Reply {
	var named []string
	here, others := false, false
	for _, a := range d.set.Duty {
		id, ok := strings.CutPrefix(a, s.Name()+":")
		if !ok {
			continue
		}
		here = true
		name := d.set.DutyNames[a]
		if on, ok := s.(Naming); ok && name == "" && len(named) < mostOnDuty && !strings.HasPrefix(id, "role:") {
			name = on.NameOf(ctx, id)
		}
		if name = person.Shown(oneLine(name)); name == "" || len(named) == mostOnDuty {
			others = true
			continue
		}
		named = append(named, name)
	}
	text := "Only a duty officer may do that"
	switch {
	case len(d.set.Duty) == 0:
		text += ", and you are none here"
	case !here:
		text += "; none is named for this service"
	case len(named) > 0:
		text += ": " + strings.Join(named, ", ")
		if others {
			text += " and others"
		}
	}
	return reply.Refuse(reply.Problem{Text: text + "."})
}

// A name is cut at this many characters, ours: services allow 80 and less.
const longestName = 80

// oneLine is text on one line, without what would turn or hide its neighbours.
func oneLine(text string) string {
	var b strings.Builder
	n, gap := 0, false
	for _, r := range text {
		switch {
		case r == unicode.ReplacementChar, unicode.Is(unicode.Cf, r):
			continue
		case unicode.IsSpace(r), unicode.IsControl(r):
			gap = n > 0
			continue
		}
		if n == longestName {
			break
		}
		if gap {
			b.WriteByte(' ')
			gap = false
		}
		b.WriteRune(r)
		n++
	}
	return b.String()
}

// user is a person as the record shows one: the name to read and the address
// that is nobody else's.
func user(s Surface, p Person) string {
	address := s.Name() + ":" + oneLine(p.ID)
	if name := oneLine(p.Name); name != "" {
		return name + " (" + address + ")"
	}
	return address
}

// People who asked lately. More than these at once would be let off a wait.
const askersMost = 10000

// asker is how much a person has asked lately.
type asker struct {
	may  *rate.Limiter
	told bool // that there is a wait, since the last answer
}

// allowance is what is counted of a person apart: what people say to each other in
// the bot's threads, and that they look at its front page, takes nothing from what
// they ask.
type allowance string

const (
	asked  allowance = ""
	heard  allowance = "/heard"
	ofHome allowance = "/home"
)

// flooded takes one from what the person may do at once, or says how long it
// is until there is one; tell is true the first time.
func (d *Dispatcher) flooded(s Surface, p Person, of allowance) (wait time.Duration, tell bool) {
	now, key := d.now(), s.Name()+":"+p.ID+string(of)
	full := func() asker { return asker{may: rate.NewLimiter(rate.Every(d.set.Every), d.set.Burst)} }
	d.people.With(key, now, full, func(a *asker, _ bool) {
		r := a.may.ReserveN(now, 1)
		if wait = r.DelayFrom(now); wait < time.Microsecond { // the library counts in fractions
			wait, a.told = 0, false
			return
		}
		r.CancelAt(now)
		tell, a.told = !a.told, true
	})
	return wait, tell
}

// tooMany refuses for a while; then says what becomes of what is sent.
func tooMany(wait time.Duration, then string) reply.Reply {
	s := int(math.Ceil(wait.Seconds() - 1e-6))
	return reply.Refuse(reply.Problem{Text: fmt.Sprintf("That was too much at once; firn answers you again in %d s. %s", max(s, 1), then)})
}
