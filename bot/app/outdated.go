package app

import (
	"context"
	"slices"
	"strings"

	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
)

// outdated tells, by the outbox, of results that newer weather has made hold no
// longer: each channel where cards of them stand once, and in a direct message
// whoever asked or checked one.
type outdated struct{ a *App }

// Outdated puts into the outbox what is told, once by its key.
func (t outdated) Outdated(ctx context.Context, o record.Outdated) error {
	channels, err := t.channels(ctx, o.Records)
	if err != nil {
		return err
	}
	var posts []outbox.Item
	post := func(channel string, body reply.Reply) {
		posts = append(posts, outbox.Item{Key: o.Key(), Channel: channel, Body: body, Made: o.At, Due: o.At})
	}
	for _, c := range channels.names {
		post(c, t.a.book.Summary(record.Outdated{Base: o.Base, At: o.At, Records: channels.of[c]}))
	}
	people := t.people(ctx, o.Records)
	for _, c := range people.names {
		post(c, t.a.book.ToPerson(record.Outdated{Base: o.Base, At: o.At, Records: people.of[c]}, record.Person{Address: c}))
	}
	return t.add(ctx, posts)
}

// Ended puts into the outbox what each reads who checked a result that ended, but
// for whoever asked what came in its place.
func (t outdated) Ended(ctx context.Context, was record.Record, next *record.Result) error {
	var posts []outbox.Item
	var told []record.Person
	for _, p := range was.Checkers() {
		known := func(q record.Person) bool { return t.a.book.Same(p, q) }
		if !t.reads(ctx, p.Address) || slices.ContainsFunc(told, known) || next != nil && known(next.Asked) {
			continue
		}
		told = append(told, p)
		posts = append(posts, outbox.Item{
			Key: "ended/" + was.ID, Channel: p.Address, Body: t.a.book.CheckEnded(was, next),
			Made: was.Replaced.At, Due: was.Replaced.At,
		})
	}
	return t.add(ctx, posts)
}

func (t outdated) add(ctx context.Context, posts []outbox.Item) error {
	if len(posts) == 0 {
		return nil
	}
	_, err := t.a.parts.Store.AddPosts(ctx, posts)
	if err == nil {
		t.a.kick()
	}
	return err
}

// addressed are records by the address that is told of them.
type addressed struct {
	names []string // in the order of the records
	of    map[string][]record.Record
}

func (d *addressed) add(address string, r record.Record) {
	if d.of == nil {
		d.of = map[string][]record.Record{}
	}
	if d.of[address] == nil {
		d.names = append(d.names, address)
	}
	d.of[address] = append(d.of[address], r)
}

// service is the one of this firn that reaches an address; nil: none does. The page
// shows in place what is out of date.
func (t outdated) service(address string) Surface {
	if outbox.Surface(address) == string(config.OnPage) {
		return nil
	}
	return t.a.reached(address)
}

// reads says that a service reaches a person and does not say that they belong to
// the unit no more. Where it cannot say they are told: they relied on the result.
func (t outdated) reads(ctx context.Context, address string) bool {
	s := t.service(address)
	if s == nil {
		return false
	}
	who, knows := s.(chat.Knowing)
	_, id, _ := strings.Cut(address, ":")
	return !knows || who.Who(ctx, chat.Person{ID: id}).Standing != chat.Outsider
}

// channels are those where cards of records stand: where they were asked, but for
// direct messages, and where they were posted.
func (t outdated) channels(ctx context.Context, all []record.Record) (d addressed, err error) {
	posted, err := t.a.standing(ctx, postedResult)
	if err != nil {
		return d, err
	}
	where := map[string][]string{}
	for _, p := range posted {
		where[p.Key] = append(where[p.Key], p.Channel)
	}
	for _, r := range all {
		on := where[postedResult+r.ID]
		if !r.Direct && r.Channel != "" && !slices.Contains(on, r.Channel) {
			on = append([]string{r.Channel}, on...)
		}
		for _, c := range on {
			if t.service(c) != nil {
				d.add(c, r)
			}
		}
	}
	return d, nil
}

// people are those who asked or checked a record, each by one account.
func (t outdated) people(ctx context.Context, all []record.Record) (d addressed) {
	read := map[string]bool{} // a service is asked once for each
	for _, r := range all {
		var had []string
		for _, p := range r.Involved() {
			if _, asked := read[p.Address]; !asked {
				read[p.Address] = t.reads(ctx, p.Address)
			}
			if !read[p.Address] {
				continue
			}
			address := p.Address
			if i := slices.IndexFunc(d.names, func(n string) bool { return t.a.book.Same(record.Person{Address: n}, p) }); i >= 0 {
				address = d.names[i]
			}
			if !slices.Contains(had, address) {
				had = append(had, address)
				d.add(address, r)
			}
		}
	}
	return d
}
