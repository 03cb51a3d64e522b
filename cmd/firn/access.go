package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"firn/adapters/page"
	"firn/adapters/sqlstore"
	"firn/bot/access"
	"firn/cmd/wiring"
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
	wiring.Places
	Name  string `arg:"" help:"Whose it is, as the record shows them: letters, digits, spaces, - ' and dots."`
	Until string `help:"The last day on which it opens, in UTC, such as 2026-03-31." placeholder:"DATE"`
	Scope string `help:"read: look. ask: ask and check as well. duty: and what duty officers do." enum:"read,ask,duty" default:"ask"`
	URL   string `name:"url" help:"The page's address as people reach it, such as https://firn.example.org" placeholder:"ADDRESS"`
}

type accessList struct {
	wiring.Places
}

type accessRotate struct {
	wiring.Places
	Name  string `arg:"" help:"Whose link."`
	Until string `help:"The last day on which the new one opens, in UTC; never: it has no end. Without it the end stays." placeholder:"DATE"`
	URL   string `name:"url" help:"The page's address as people reach it, such as https://firn.example.org" placeholder:"ADDRESS"`
}

type accessRevoke struct {
	wiring.Places
	Name string `arg:"" help:"Whose link."`
}

// links opens the store alone: no weather, no surfaces. done lets go of it.
func links(ctx context.Context, h host, at wiring.Places, how sqlstore.Opening) (l *wiring.Loaded, links access.Links, done func(), err error) {
	if l, err = at.Load(h.wiring()); err != nil {
		return nil, links, nil, err
	}
	place, err := l.StoreAt(h.wiring())
	if err != nil {
		return nil, links, nil, err
	}
	s, err := place.Open(ctx, how)
	if err != nil {
		return nil, links, nil, err
	}
	fmt.Fprintln(h.stderr, "firn: the store is", place)
	return l, access.Links{Store: s, Now: h.now, Flags: at.Flags()}, func() { closed(h, s) }, nil
}

// closed lets go of a store that a command opened by itself.
func closed(h host, s io.Closer) {
	if err := s.Close(); err != nil {
		slog.New(slog.NewTextHandler(h.stderr, nil)).Error("store not closed well", "err", err)
	}
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

// issue hands out the link that made makes. One that nobody has seen is ended.
func issue(ctx context.Context, h host, at wiring.Places, url string, made func(access.Links) (secret, name string, err error)) error {
	l, all, done, err := links(ctx, h, at, sqlstore.MustExist)
	if err != nil {
		return err
	}
	defer done()
	front, err := l.PageURL(url)
	if err != nil {
		return err
	}
	secret, name, err := made(all)
	if err != nil {
		return err
	}
	if !l.SignIn() {
		fmt.Fprintln(h.stderr, "firn: the page is open to this machine alone and asks nobody for a link; that begins with another address in page listen, or behind_proxy")
	}
	if err := handOut(h, front, secret, name); err != nil {
		if _, ended := all.Revoke(context.WithoutCancel(ctx), name); ended != nil {
			return errors.Join(err, ended)
		}
		fmt.Fprintf(h.stderr, "firn: the link of %s could not be shown, so it is revoked; firn access add %[1]s%s makes another\n", name, at.Flags())
		return err
	}
	return nil
}

// Run makes a link.
func (c *accessAdd) Run(ctx context.Context, h host) error {
	order, err := access.Links{Now: h.now}.NewOrder(c.Name, c.Scope, c.Until)
	if err != nil {
		return err
	}
	return issue(ctx, h, c.Places, c.URL, func(all access.Links) (secret, name string, err error) {
		secret, err = all.Add(ctx, order)
		return secret, order.Name, err
	})
}

// Run gives somebody another link.
func (c *accessRotate) Run(ctx context.Context, h host) error {
	if _, err := (access.Links{Now: h.now}).EndOf(c.Until); err != nil {
		return err
	}
	return issue(ctx, h, c.Places, c.URL, func(all access.Links) (secret, name string, err error) {
		return all.Rotate(ctx, c.Name, c.Until)
	})
}

// Run lists the links.
func (c *accessList) Run(ctx context.Context, h host) error {
	_, all, done, err := links(ctx, h, c.Places, sqlstore.ToRead)
	if err != nil {
		return err
	}
	defer done()
	return all.List(ctx, h.stdout, page.SessionLife)
}

// Run ends a link.
func (c *accessRevoke) Run(ctx context.Context, h host) error {
	_, all, done, err := links(ctx, h, c.Places, sqlstore.MustExist)
	if err != nil {
		return err
	}
	defer done()
	name, err := all.Revoke(ctx, c.Name)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.stdout, "the link of %s is revoked; whoever came in by it is signed out\n", name)
	return err
}
