package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"text/tabwriter"
	"time"

	"firn/adapters/page"
	"firn/bot/access"
	"firn/bot/person"
)

// accessCommand looks after the links by which people come in to the page from
// other machines.
type accessCommand struct {
	Add    accessAdd    `cmd:"" help:"Make a link for somebody, and show it this once."`
	List   accessList   `cmd:"" help:"Show the links, when each was used, and the browsers that came in by it."`
	Rotate accessRotate `cmd:"" help:"Give somebody another link: the old one ends, and whoever came in by it is signed out."`
	Revoke accessRevoke `cmd:"" help:"End a link, and sign out whoever came in by it."`
}

type accessAdd struct {
	files
	Name  string `arg:"" help:"Whose it is, as the record shows them: letters, digits, spaces, - ' and dots."`
	Until string `help:"The last day on which it opens, in UTC, such as 2026-03-31." placeholder:"DATE"`
	Scope string `help:"read: look. ask: ask and check as well. duty: and what duty officers do." enum:"read,ask,duty" default:"ask"`
	URL   string `name:"url" help:"The page's address as people reach it, such as https://firn.example.org" placeholder:"ADDRESS"`
}

type accessList struct {
	files
}

type accessRotate struct {
	files
	Name  string `arg:"" help:"Whose link."`
	Until string `help:"The last day on which the new one opens, in UTC; never: it has no end. Without it the end stays." placeholder:"DATE"`
	URL   string `name:"url" help:"The page's address as people reach it, such as https://firn.example.org" placeholder:"ADDRESS"`
}

type accessRevoke struct {
	files
	Name string `arg:"" help:"Whose link."`
}

// links opens the store alone: no weather, no surfaces.
func links(ctx context.Context, h host, at files) (*loaded, store, error) {
	l, err := at.load(h.stderr)
	if err != nil {
		return nil, nil, err
	}
	s, where, err := openStore(ctx, h, l, mustBeThere)
	if err == nil {
		fmt.Fprintln(h.stderr, "firn: the store is", where)
	}
	return l, s, err
}

// Run makes a link.
func (c *accessAdd) Run(ctx context.Context, h host) error {
	c.Name = person.Clean(c.Name)
	if err := person.Check(c.Name); err != nil {
		return fmt.Errorf("%w: %w", errUsage, err)
	}
	scope, err := access.ParseScope(c.Scope)
	if err != nil {
		return fmt.Errorf("%w: %w", errUsage, err)
	}
	ends, err := endOf(c.Until, h.now())
	if err != nil {
		return err
	}
	l, s, err := links(ctx, h, c.files)
	if err != nil {
		return err
	}
	defer closed(h, s)
	front, err := l.pageURL(c.URL)
	if err != nil {
		return err
	}
	secret, hash := access.Secret()
	added, err := s.AddToken(ctx, access.Token{Name: c.Name, Hash: hash, Scope: scope, Made: h.now(), Ends: ends})
	if err != nil {
		return err
	}
	if !added {
		return c.taken(ctx, s)
	}
	if !l.signIn() {
		fmt.Fprintln(h.stderr, "firn: the page is open to this machine alone and asks nobody for a link; that begins with another address in page listen, or behind_proxy")
	}
	return handOut(h, front, secret, c.Name)
}

// handOut shows a link. Its secret stands behind the #, which browsers send
// nowhere.
func handOut(h host, front, secret, name string) error {
	_, err := fmt.Fprintf(h.stdout, "%s/enter#%s\n", front, secret)
	if err == nil {
		fmt.Fprintf(h.stderr, "firn: whoever has this link is %s to the record; it is not shown again\n", name)
	}
	return err
}

// taken says whose link keeps another from being made.
func (c *accessAdd) taken(ctx context.Context, s access.Store) error {
	name, err := linkOf(ctx, s, c.Name)
	if err != nil {
		return err
	}
	also := ""
	if name.Name != c.Name {
		also = ", and " + c.Name + " reads like the same name"
	}
	return fmt.Errorf("%s has a link already%s; \"firn access rotate '%s'\" gives another, \"firn access revoke '%s'\" ends it", name.Name, also, name.Name, name.Name)
}

// linkOf is the link of somebody, however the name is written: the one that
// was not revoked, where there are several.
func linkOf(ctx context.Context, s access.Store, name string) (access.Token, error) {
	all, err := s.Tokens(ctx)
	if err != nil {
		return access.Token{}, err
	}
	best := access.Token{}
	for _, t := range all {
		better := best.Name == "" || !best.Revoked.IsZero() && t.Revoked.IsZero() || t.Revoked.IsZero() && t.Made.After(best.Made)
		if person.Key(t.Name) == person.Key(name) && better {
			best = t
		}
	}
	if best.Name == "" || !best.Revoked.IsZero() {
		return access.Token{}, fmt.Errorf("%s has no link", name)
	}
	return best, nil
}

// endOf reads a last day: a link ends when it is over.
func endOf(day string, now time.Time) (time.Time, error) {
	if day == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return t, fmt.Errorf("%w: --until %q is no day; write it as 2026-03-31", errUsage, day)
	}
	if t = t.AddDate(0, 0, 1); !t.After(now) {
		return t, fmt.Errorf("%w: --until %s is past", errUsage, day)
	}
	return t, nil
}

// Run gives somebody another link.
func (c *accessRotate) Run(ctx context.Context, h host) error {
	ends := time.Time{}
	if c.Until != "never" {
		var err error
		if ends, err = endOf(c.Until, h.now()); err != nil {
			return err
		}
	}
	l, s, err := links(ctx, h, c.files)
	if err != nil {
		return err
	}
	defer closed(h, s)
	front, err := l.pageURL(c.URL)
	if err != nil {
		return err
	}
	t, err := linkOf(ctx, s, c.Name)
	if err != nil {
		return err
	}
	if c.Until == "" {
		if ends = t.Ends; !ends.IsZero() && !ends.After(h.now()) {
			return fmt.Errorf("the link of %s has ended; add --until DATE, or --until never", t.Name)
		}
	}
	secret, hash := access.Secret()
	found, err := s.RotateToken(ctx, t.Name, hash, h.now(), ends)
	if err != nil {
		return err
	}
	if !found {
		return fmt.Errorf("%s has no link", c.Name)
	}
	return handOut(h, front, secret, t.Name)
}

// Run lists the links.
func (c *accessList) Run(ctx context.Context, h host) error {
	_, s, err := links(ctx, h, c.files)
	if err != nil {
		return err
	}
	defer closed(h, s)
	all, err := s.Tokens(ctx)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(h.stdout, "there are no links; \"firn access add NAME --scope ask\" makes one")
		return err
	}
	open, err := s.Sessions(ctx, h.now(), h.now().Add(-page.SessionLife))
	if err != nil {
		return err
	}
	return listLinks(h.stdout, h.now(), all, open)
}

// listLinks writes the links and, below them, the browsers that are signed in.
func listLinks(out io.Writer, now time.Time, all []access.Token, open []access.Open) error {
	when := func(t time.Time, none string) string {
		if t.IsZero() {
			return none
		}
		return t.Format("2006-01-02 15:04Z")
	}
	browsers := map[string]int{}
	for _, o := range open {
		browsers[o.Link]++
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NAME\tSCOPE\tMADE\tENDS\tLAST USED\tBROWSERS\tSTATE")
	for _, t := range all {
		state := "good"
		switch {
		case !t.Revoked.IsZero():
			state = "revoked " + when(t.Revoked, "")
		case !t.Good(now):
			state = "ended"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\t%d\t%s\n", t.Name, t.Scope, when(t.Made, "never"), when(t.Ends, "never"), when(t.LastUsed, "never"), browsers[t.Name], state)
	}
	if len(open) > 0 {
		fmt.Fprintln(w)
		fmt.Fprintln(w, "SIGNED IN\tSINCE\tLAST USED")
		for _, o := range open {
			fmt.Fprintf(w, "%s\t%s\t%s\n", o.Link, when(o.Made, ""), when(o.Used, ""))
		}
	}
	return w.Flush()
}

// Run ends a link.
func (c *accessRevoke) Run(ctx context.Context, h host) error {
	_, s, err := links(ctx, h, c.files)
	if err != nil {
		return err
	}
	defer closed(h, s)
	t, err := linkOf(ctx, s, c.Name)
	if err != nil {
		return err
	}
	found, err := s.RevokeToken(ctx, t.Name, h.now())
	if err != nil {
		return err
	}
	if !found {
		return fmt.Errorf("%s has no link", c.Name)
	}
	_, err = fmt.Fprintf(h.stdout, "the link of %s is revoked; whoever came in by it is signed out\n", t.Name)
	return err
}

// closed lets go of a store that a command opened by itself.
func closed(h host, s store) {
	if err := s.Close(); err != nil {
		slog.New(slog.NewTextHandler(h.stderr, nil)).Error("store not closed well", "err", err)
	}
}
