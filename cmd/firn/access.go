package main

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"os"
	"strings"
	"text/tabwriter"
	"time"

	"firn/adapters/page"
	"firn/bot/access"
)

// accessCommand looks after the links by which people come in to the page from
// other machines.
type accessCommand struct {
	Add    accessAdd    `cmd:"" help:"Make a link for somebody, and show it this once."`
	List   accessList   `cmd:"" help:"Show the links, and when each was used."`
	Revoke accessRevoke `cmd:"" help:"End a link, and sign out whoever came in by it."`
}

type accessAdd struct {
	files
	Name  string `arg:"" help:"Whose it is, as the record shows them: letters, digits, hyphens and dots."`
	Scope string `help:"read: look. ask: ask and check as well. duty: and what duty officers do." enum:"read,ask,duty" default:"ask"`
	URL   string `name:"url" help:"The page's address as people reach it, such as https://firn.example.org" placeholder:"ADDRESS"`
}

type accessList struct {
	files
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
	if err := access.CheckName(c.Name); err != nil {
		return fmt.Errorf("%w: %w", errUsage, err)
	}
	scope, err := access.ParseScope(c.Scope)
	if err != nil {
		return fmt.Errorf("%w: %w", errUsage, err)
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
	added, err := s.AddToken(ctx, access.Token{Name: c.Name, Hash: hash, Scope: scope, Made: h.now()})
	if err != nil {
		return err
	}
	if !added {
		return fmt.Errorf("%s has a link already; \"firn access revoke %s\" ends it", c.Name, c.Name)
	}
	if !l.signIn() {
		fmt.Fprintln(h.stderr, "firn: the page is open to this machine alone and asks nobody for a link; that begins with another address in page listen, or behind_proxy")
	}
	_, err = fmt.Fprintf(h.stdout, "%s/enter/%s\n", front, secret)
	if err == nil {
		fmt.Fprintf(h.stderr, "firn: whoever has this link is %s to the record; it is not shown again\n", c.Name)
	}
	return err
}

// pageURL is the page's address as people reach it.
func (l *loaded) pageURL(given string) (string, error) {
	if given != "" {
		u, err := url.Parse(given)
		if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
			return "", fmt.Errorf("%w: --url %q is no address; write it as https://firn.example.org", errUsage, given)
		}
		return strings.TrimRight(u.Scheme+"://"+u.Host, "/"), nil
	}
	if l.Page.BehindProxy {
		return "", fmt.Errorf("%w: behind a proxy firn does not know its own address; add --url https://firn.example.org", errUsage)
	}
	scheme := "http"
	if l.Page.TLSCert != "" {
		scheme = "https"
	}
	name, port, err := net.SplitHostPort(cmp.Or(l.Page.Listen, defaultListen))
	if err != nil {
		return "", fmt.Errorf("page: %w", err)
	}
	if name, err = named(name); err != nil {
		return "", fmt.Errorf("this machine's name is not known; add --url: %w", err)
	}
	return scheme + "://" + net.JoinHostPort(name, port), nil
}

// named is a host to listen on as others reach it: this machine's name where
// that is every address.
func named(listen string) (string, error) {
	if ip := net.ParseIP(listen); listen == "" || ip != nil && ip.IsUnspecified() {
		return os.Hostname()
	}
	return listen, nil
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
	day := func(t time.Time) string {
		if t.IsZero() {
			return "never"
		}
		return t.Format("2006-01-02 15:04Z")
	}
	w := tabwriter.NewWriter(h.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "NAME\tSCOPE\tMADE\tLAST USED\tSTATE")
	for _, t := range all {
		state := "good"
		if !t.Revoked.IsZero() {
			state = "revoked " + day(t.Revoked)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", t.Name, t.Scope, day(t.Made), day(t.LastUsed), state)
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
	found, err := s.RevokeToken(ctx, c.Name, h.now())
	if err != nil {
		return err
	}
	if !found {
		return fmt.Errorf("%s has no link", c.Name)
	}
	_, err = fmt.Fprintf(h.stdout, "the link of %s is revoked; whoever came in by it is signed out\n", c.Name)
	return err
}

// closed lets go of a store that a command opened by itself.
func closed(h host, s store) {
	if err := s.Close(); err != nil {
		slog.New(slog.NewTextHandler(h.stderr, nil)).Error("store not closed well", "err", err)
	}
}

// reached says in the log how the page is reached, and what to mind.
func (s *services) reached(listens string) string {
	p, address := s.loaded.Page, listens
	if host, port, err := net.SplitHostPort(listens); err == nil {
		if name, err := named(host); err == nil {
			address = net.JoinHostPort(name, port)
		}
	}
	switch {
	case p.TLSCert != "":
		return "https://" + address + "/"
	case s.loaded.signIn() && !p.BehindProxy && !page.Loopback(listens):
		s.log.Warn("the page is reached by others without TLS: what they send, links too, can be read on the way; set tls_cert and tls_key, or behind_proxy")
	}
	return "http://" + address + "/"
}
