package access

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"firn/bot/person"
)

// ErrTyped marks what whoever looks after the links has to type otherwise.
var ErrTyped = errors.New("usage")

// Never is the day on which a link without an end ends.
const Never = "never"

// Links are the links of a store, as an operator looks after them.
type Links struct {
	Store Store
	Now   func() time.Time
	Flags string // by which another command finds the store, behind what is said to be typed
}

// Order is what somebody's new link is to be.
type Order struct {
	Name  string
	Scope Scope
	Ends  time.Time // zero: never
}

// NewOrder reads one as it is typed; until is the last day on which the link
// opens, and may be empty.
func (l Links) NewOrder(name, scope, until string) (o Order, err error) {
	o.Name = person.Clean(name)
	if err := person.Check(o.Name); err != nil {
		return o, fmt.Errorf("%w: %w", ErrTyped, err)
	}
	if o.Scope, err = ParseScope(scope); err != nil {
		return o, fmt.Errorf("%w: %w", ErrTyped, err)
	}
	o.Ends, err = l.EndOf(until)
	return o, err
}

// EndOf reads a last day in UTC: a link ends when it is over. Empty and Never
// are no end.
func (l Links) EndOf(day string) (time.Time, error) {
	if day == "" || day == Never {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return t, fmt.Errorf("%w: --until %q is no day; write it as 2026-03-31", ErrTyped, day)
	}
	if t = t.AddDate(0, 0, 1); !t.After(l.Now()) {
		return t, fmt.Errorf("%w: --until %s is past", ErrTyped, day)
	}
	return t, nil
}

// Add makes a link and gives its secret, which is kept nowhere.
func (l Links) Add(ctx context.Context, o Order) (secret string, err error) {
	secret, hash := Secret()
	added, err := l.Store.AddToken(ctx, Token{Name: o.Name, Hash: hash, Scope: o.Scope, Made: l.Now(), Ends: o.Ends})
	if err != nil || added {
		return secret, err
	}
	has, err := l.Of(ctx, o.Name)
	if err != nil {
		return "", err
	}
	also := ""
	if has.Name != o.Name {
		also = ", and " + o.Name + " reads like the same name"
	}
	return "", fmt.Errorf("%s has a link already%s; \"firn access rotate '%s'%s\" gives another, \"firn access revoke '%s'%s\" ends it", has.Name, also, has.Name, l.Flags, has.Name, l.Flags)
}

// Of is the link of somebody, however the name is written: the one that was not
// revoked, where there are several.
func (l Links) Of(ctx context.Context, name string) (Token, error) {
	all, err := l.Store.Tokens(ctx)
	if err != nil {
		return Token{}, err
	}
	best := Token{}
	for _, t := range all {
		better := best.Name == "" || !best.Revoked.IsZero() && t.Revoked.IsZero() || t.Revoked.IsZero() && t.Made.After(best.Made)
		if person.Key(t.Name) == person.Key(name) && better {
			best = t
		}
	}
	if best.Name == "" || !best.Revoked.IsZero() {
		return Token{}, fmt.Errorf("%s has no link", name)
	}
	return best, nil
}

// Rotate gives somebody another link, and the name as it stands in the store.
// With an empty until the end stays.
func (l Links) Rotate(ctx context.Context, name, until string) (secret, is string, err error) {
	ends, err := l.EndOf(until)
	if err != nil {
		return "", "", err
	}
	t, err := l.Of(ctx, name)
	if err != nil {
		return "", "", err
	}
	if until == "" {
		if ends = t.Ends; !ends.IsZero() && !ends.After(l.Now()) {
			return "", "", fmt.Errorf("the link of %s has ended; add --until DATE, or --until never", t.Name)
		}
	}
	secret, hash := Secret()
	found, err := l.Store.RotateToken(ctx, t.Name, hash, l.Now(), ends)
	if err == nil && !found {
		err = fmt.Errorf("%s has no link", name)
	}
	return secret, t.Name, err
}

// Revoke ends somebody's link, and gives the name as it stands in the store.
func (l Links) Revoke(ctx context.Context, name string) (is string, err error) {
	t, err := l.Of(ctx, name)
	if err != nil {
		return "", err
	}
	found, err := l.Store.RevokeToken(ctx, t.Name, l.Now())
	if err == nil && !found {
		err = fmt.Errorf("%s has no link", name)
	}
	return t.Name, err
}

// Back tells of the links that a store which was put back from a copy has good:
// one that was revoked since is among them, and nobody else would say so.
func (l Links) Back(ctx context.Context, out io.Writer) error {
	all, err := l.Store.Tokens(ctx)
	if err != nil {
		return err
	}
	var good []string
	for _, t := range all {
		if t.Good(l.Now()) {
			good = append(good, fmt.Sprintf("%s (%s)", t.Name, t.Scope))
		}
	}
	if len(good) == 0 {
		return nil
	}
	_, err = fmt.Fprintf(out, "links are as they were when the copy was made, and those of %s open the page; whoever lost theirs since has it again: firn access list%s shows them, firn access revoke NAME%[2]s ends one\n",
		strings.Join(good, ", "), l.Flags)
	return err
}

// List writes the links and, below them, the browsers that are signed in:
// those that were used within life.
func (l Links) List(ctx context.Context, out io.Writer, life time.Duration) error {
	all, err := l.Store.Tokens(ctx)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(out, "there are no links; \"firn access add NAME --scope ask"+l.Flags+"\" makes one")
		return err
	}
	open, err := l.Store.Sessions(ctx, l.Now(), l.Now().Add(-life))
	if err != nil {
		return err
	}
	return l.list(out, all, open)
}

func (l Links) list(out io.Writer, all []Token, open []Open) error {
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
		case !t.Good(l.Now()):
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
