package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/watch"
)

// Mark says how it stands with what a doctor looked at.
type Mark string

// The marks.
const (
	Well Mark = "ok"
	Sick Mark = "WRONG"
	Note Mark = "note"
)

// Machine is what a doctor looks at besides: files and what listens.
type Machine interface {
	// Disk is the folder that the work is kept in, or is to be.
	Disk(shared bool) Disk
	// Certificate is the page's; nil: it has none.
	Certificate() *Certificate
	// Plain is where the page is reached by others without TLS; empty: nowhere.
	Plain() string
}

// Disk is where things are written.
type Disk struct {
	Folder string
	Free   uint64 // bytes
	Known  bool   // Free is
	Err    error  // nothing can be written there
	// Others is whose it is, where this process is root and they are not: empty else.
	Others string
}

// Certificate is the page's pair.
type Certificate struct {
	Cert, Key string // the files
	From, To  time.Time
	Open      bool  // others on this machine may reach the key
	Err       error // they cannot be used
}

// Doctor looks whether everything is as it must be. It goes on after what is
// wrong.
type Doctor struct {
	// Print shows a finding.
	Print func(m Mark, what, text string)
	// Advice says what to do about an error that came from outside, or nothing
	// where it says so itself.
	Advice func(err error) string
	Now    func() time.Time
	// Flags are for commands that are to be typed: which configuration is looked at.
	Flags string

	ill bool
}

// Ill says that something was wrong.
func (d *Doctor) Ill() bool { return d.ill }

// Sick tells of something that is wrong.
func (d *Doctor) Sick(what, format string, args ...any) {
	d.ill = true
	d.Print(Sick, what, fmt.Sprintf(format, args...))
}

// Fails tells of an error with what to do about it.
func (d *Doctor) Fails(what string, err error) {
	if say := d.Advice(err); say != "" {
		d.Sick(what, "%v; %s", err, say)
		return
	}
	d.Sick(what, "%v", err)
}

// Note tells of something to mind.
func (d *Doctor) Note(what, format string, args ...any) {
	d.Print(Note, what, fmt.Sprintf(format, args...))
}

func (d *Doctor) well(what, format string, args ...any) {
	d.Print(Well, what, fmt.Sprintf(format, args...))
}

// Examine looks at an App and its machine.
func (d *Doctor) Examine(ctx context.Context, a *App, on Machine) {
	d.configuration(ctx, a)
	d.airports(a)
	d.clock(ctx, a)
	_, several := a.parts.Store.(shared)
	d.disk(on.Disk(several))
	d.storage(ctx, a)
	d.proof(ctx, a)
	d.serving(ctx, a)
	d.services(ctx, a)
	d.reach(ctx, a, on)
	d.certificate(on.Certificate())
	d.charts(ctx, a)
	d.weather(ctx, a)
	d.unsaid(ctx, a)
	d.next(a)
}

func (d *Doctor) configuration(ctx context.Context, a *App) {
	watched := len(a.watched())
	d.well("config", "%s: %d stations, %d watched, rules %s", a.parts.Name, len(a.cfg.Stations), watched, a.bot.Rules().ID)
	if a.bases != nil {
		for _, b := range a.bases.All() {
			d.Note("bases", "%s is watched besides, added by %s on %s; base drop %s ends it", b.Ident, b.By, b.Made.Format("2 Jan 2006"), b.Ident)
		}
	}
	if watched == 0 {
		d.Note("config", "no station has a watch: no morning alert will come")
	}
	var unlined []string
	for _, s := range a.cfg.Watched() {
		if s.Restriction == nil {
			unlined = append(unlined, s.Ident)
		}
	}
	if len(unlined) > 0 {
		d.Note("config", "watched and without a restriction temperature: %s; however cold it is, the watch says \"clear\": give restriction_c where one is published", strings.Join(unlined, ", "))
	}
	if err := a.ChannelsServed(); err != nil {
		d.Sick("channels", "%v", err)
	}
	d.posting(ctx, a)
}

// posting looks whether what posts by itself could: a file that cannot be written
// is else found when the next alert waits.
func (d *Doctor) posting(ctx context.Context, a *App) {
	for _, c := range a.told() {
		by, ok := a.parts.Senders[string(c.Surface)].(interface {
			Try(ctx context.Context, channel string) error
		})
		if !ok {
			continue // a chat service is asked for itself
		}
		trying, cancel := context.WithTimeout(ctx, askTime)
		if err := by.Try(trying, c.String()); err != nil {
			d.Fails("channels", err)
		}
		cancel()
	}
}

// oldest is from before this program was written: a clock that says so is
// wrong.
var oldest = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// clockApart is how far this clock may be from the database's: leases of a
// minute bear more, but a forecast's age is told in minutes. The figure is ours.
const clockApart = 30 * time.Second

func (d *Doctor) clock(ctx context.Context, a *App) {
	now := d.Now()
	if now.Before(oldest) {
		d.Sick("clock", "it says %s, which is past: set it", now.UTC().Format(time.RFC3339))
		return
	}
	if db, ok := a.parts.Store.(shared); ok {
		there, err := db.Now(ctx)
		if err != nil {
			d.Fails("clock", fmt.Errorf("the database does not tell its time: %w", err))
			return
		}
		if apart := d.Now().Sub(there).Abs(); apart > clockApart {
			d.Sick("clock", "it is %s away from the database's: set both by a time service", apart.Round(time.Second))
			return
		}
	}
	d.well("clock", "%s UTC", now.UTC().Format("Mon 2 Jan 2006 15:04:05"))
}

// What the disk must have left: less and a day's records may not fit.
const (
	roomNeeded = 50 << 20
	roomWanted = 1 << 30
)

func (d *Doctor) disk(on Disk) {
	if on.Others != "" {
		d.Sick("user", "this is root, and %s belongs to %s: what serve may not read looks well from here; run doctor as that user, or give the folder to root where serve is root", on.Folder, on.Others)
	}
	switch {
	case on.Err != nil:
		d.Fails("disk", fmt.Errorf("nothing can be written in %s: %w", on.Folder, on.Err))
	case !on.Known:
		d.well("disk", "%s can be written to", on.Folder)
	case on.Free < roomNeeded:
		d.Sick("disk", "%s has only %d MiB left: make room; without it alerts are neither kept nor sent", on.Folder, on.Free>>20)
	case on.Free < roomWanted:
		d.Note("disk", "%s has %d MiB left: make room soon", on.Folder, on.Free>>20)
	default:
		d.well("disk", "%s can be written to, %d GiB are left", on.Folder, on.Free>>30)
	}
}

// serving looks whether a serve says that it lives: one that was stopped or is
// stuck would otherwise be missed when the next morning's word does not come.
func (d *Doctor) serving(ctx context.Context, a *App) {
	if a.parts.Store == nil {
		return // said at the start
	}
	all, err := a.parts.Store.Held(ctx, chat.PlaceNames()...)
	if err != nil {
		d.Fails("serve", err)
		return
	}
	if len(all) == 0 {
		const text = "no firn serve has run on this store yet: nobody is told anything until one does"
		if len(a.watched()) > 0 {
			d.Sick("serve", text+"; where one was started its log says why it ended")
			return
		}
		d.Note("serve", text) // so it is where firn chat alone is used
		return
	}
	last := all[0].Left
	var heard []time.Duration // ago, of those that live
	for _, h := range all {
		if last = max(last, h.Left); h.Left > 0 {
			heard = append(heard, max(0, chat.BeatsMissed*chat.BeatEvery-h.Left))
		}
	}
	slices.Sort(heard)
	if one, ok := a.parts.Store.(sole); ok && len(heard) > 0 {
		switch is, known := one.Served(); {
		case known && !is: // killed: else it would have said that it ends
			d.Sick("serve", "no firn serve runs on this store: the last was heard of %s ago, and its process is gone; nobody is told of cold, and no message is answered", heard[0].Round(time.Second))
			return
		case known:
			heard = heard[:1] // the others were there before it
		}
	}
	if len(heard) == 0 {
		d.Sick("serve", "no firn serve runs on this store since %s, or it is stuck or can write nothing: nobody is told of cold, and no message is answered", d.Now().Add(last).UTC().Format("Mon 2 Jan 15:04Z"))
		return
	}
	d.well("serve", "%d firn serve on this store", len(heard))
	if late := heard[len(heard)-1]; late > chat.BeatEvery+chat.BeatEvery/2 {
		d.Note("serve", "one was last heard of %s ago, and each says every %s that it lives: it may be gone", late.Round(time.Second), chat.BeatEvery)
	}
	d.reread(ctx, a, len(heard))
}

// reread looks whether a serve has the configuration that is looked at: one that
// was not told of a change, or refused it, watches what it watched before.
func (d *Doctor) reread(ctx context.Context, a *App, alive int) {
	all, err := a.parts.Store.Held(ctx, chat.ReadNames()...)
	if err != nil {
		d.Fails("serve", err)
		return
	}
	all = slices.DeleteFunc(all, func(h watch.Held) bool { return h.Left <= 0 })
	if len(all) == 0 || slices.ContainsFunc(all, func(h watch.Held) bool { return h.Holder == a.parts.Digest }) {
		return // with none they are of a firn that did not say so
	}
	const what, advice = "none of the %d firn serve on this store has this configuration, with its charts and its list of airports, as it is now", ": reload it (systemctl reload, or kill -HUP), and see in its log whether it was taken; until then what is watched is as it was before"
	if edited := a.parts.Edited; !edited.IsZero() && d.Now().Sub(edited) > lateAfter {
		d.Sick("serve", what+", changed %s"+advice, alive, edited.UTC().Format("Mon 2 Jan 15:04Z"))
		return
	}
	d.Note("serve", what+advice, alive) // so it is between a change and the reload
}

// askTime bounds the questions to one chat service.
const askTime = 20 * time.Second

// services asks the chat services whether they take the tokens.
func (d *Doctor) services(ctx context.Context, a *App) {
	for _, on := range a.surfaces {
		service, ok := on.(interface{ Try(context.Context) error })
		if !ok {
			continue // the page, which is ours
		}
		asking, cancel := context.WithTimeout(ctx, askTime)
		err := service.Try(asking)
		cancel()
		if err != nil {
			d.Fails(on.Name(), err)
			continue
		}
		d.well(on.Name(), "it takes the token")
	}
}

// reach looks at who may come to the page, and how.
func (d *Doctor) reach(ctx context.Context, a *App, on Machine) {
	if listen := on.Plain(); listen != "" {
		d.Sick("page", "it listens on %s, for others, without TLS: what they send, links too, can be read on the way; set tls_cert and tls_key, or behind_proxy", listen)
	}
	if !a.parts.SignIn || a.parts.Store == nil {
		return
	}
	all, err := a.parts.Store.Tokens(ctx)
	if err != nil {
		d.Fails("page", err)
		return
	}
	good, ended := 0, 0
	for _, t := range all {
		switch {
		case t.Good(d.Now()):
			good++
		case t.Revoked.IsZero():
			ended++
		}
	}
	switch {
	case good == 0 && ended > 0:
		d.Sick("page", "people come in by links, and there is none but %d that ended: firn access list%s shows them, access rotate NAME --until DAY gives somebody another", ended, d.Flags)
		return
	case good == 0:
		d.Sick("page", "people come in by links, and there is none: firn access add NAME%s makes one", d.Flags)
		return
	}
	d.well("page", "people who have a link: %d", good)
}

// expiryNear is when a doctor begins to speak of a certificate's end. The figure
// is ours: whoever renews by a program does so before.
const expiryNear = 14 * 24 * time.Hour

func (d *Doctor) certificate(c *Certificate) {
	if c == nil {
		return
	}
	if c.Err != nil {
		d.Fails("page", c.Err)
		return
	}
	if c.Open {
		d.Sick("page", "others on this machine may reach the key %s: chmod 600, or 640 with a group of its own", c.Key)
	}
	now := d.Now()
	switch left := c.To.Sub(now); {
	case left <= 0:
		d.Sick("page", "the certificate %s ended %s: renew it, firn reads it again by itself", c.Cert, c.To.UTC().Format(time.RFC3339))
	case now.Before(c.From):
		d.Sick("page", "the certificate %s begins %s, which is to come: is the clock right?", c.Cert, c.From.UTC().Format(time.RFC3339))
	case left < expiryNear:
		d.Note("page", "the certificate %s ends %s: renew it", c.Cert, c.To.UTC().Format(time.RFC3339))
	default:
		d.well("page", "the certificate %s and its key match, until %s", c.Cert, c.To.UTC().Format(time.DateOnly))
	}
}

// charts tells of files of procedures that are left out, and of usual
// procedures that no alert will show.
func (d *Doctor) charts(ctx context.Context, a *App) {
	for i := range a.cfg.Stations {
		st := &a.cfg.Stations[i]
		if len(st.Usual) == 0 {
			continue
		}
		all, err := a.catalog.Procedures(ctx, st.Ident)
		if err != nil {
			d.Fails("charts", err)
			return
		}
		for _, name := range st.Usual {
			if _, one := approach.Find(all, name).One(); !one {
				d.Sick("charts", "%s: the usual procedure %q is not stored, or is not one alone: its alerts will show no corrections for it; type it into the folder of procedures, or import it", st.Ident, name)
			}
		}
	}
	for _, l := range a.parts.Charts.Left {
		d.Sick("charts", "%s; the file is left out", l)
	}
	for _, o := range a.parts.Charts.Others {
		d.Note("charts", "%s: the station is not in the configuration", o)
	}
}

// unsaid tells of bases whose morning's word is due and not written: nothing
// looks at them.
func (d *Doctor) unsaid(ctx context.Context, a *App) {
	if a.outbox == nil {
		return // said at the start
	}
	all, err := a.watch.Unsaid(ctx, d.Now(), lateAfter)
	if err != nil {
		d.Fails("watch", err)
		return
	}
	if len(all) == 0 {
		return
	}
	first, idents := all[0].Due, make([]string, len(all))
	for i, u := range all {
		idents[i] = u.Ident
		if u.Due.Before(first) {
			first = u.Due
		}
	}
	d.Sick("watch", "nothing is said yet of %s, due since %s: is firn serve running on this store?", strings.Join(idents, ", "), first.UTC().Format("Mon 2 Jan 15:04Z"))
}

// next says when each base is looked at next and whom it tells.
func (d *Doctor) next(a *App) {
	for _, n := range a.watch.Next(d.Now()) {
		if n.At.IsZero() {
			d.Sick("next", "%s has no day on which it is watched", n.Ident)
			continue
		}
		local := n.At.In(a.bot.Zone(n.Ident))
		var to []string
		for _, c := range n.Channels {
			to = append(to, c.String())
		}
		d.well("next", "%s %s local (%s), to %s", n.Ident, local.Format("Mon 2 Jan 15:04"), n.At.UTC().Format("15:04Z"), strings.Join(to, ", "))
	}
}
