package front

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"firn/bot/app"
)

// certificateEvery is how often the files of the page's certificate are looked
// at, when somebody connects.
const certificateEvery = time.Second

// renewable is the page's certificate, read again when its files change: whoever
// renews it need not tell firn.
type renewable struct {
	log       *slog.Logger
	cert, key string // the files

	mu     sync.Mutex
	pair   *tls.Certificate
	stamp  string // of the files that were read last
	failed string // why those were not taken; empty: they were
	looked time.Time
}

// openCertificate reads the pair, so that what cannot be right is known before
// anybody connects.
func openCertificate(log *slog.Logger, cert, key string) (*renewable, error) {
	c := &renewable{log: log, cert: cert, key: key}
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		hint := ""
		if errors.Is(err, fs.ErrNotExist) && (strings.HasPrefix(cert, "$") || strings.HasPrefix(key, "$")) {
			hint = "; systemd hands it over where the unit, or systemd-run, has a LoadCredential for it"
		}
		return nil, fmt.Errorf("page: certificate %s with key %s: %w%s", cert, key, err, hint)
	}
	c.pair, c.stamp, c.looked = &pair, c.stampOf(), time.Now()
	return c, nil
}

// stampOf changes when one of the files does.
func (c *renewable) stampOf() (text string) {
	for _, name := range []string{c.cert, c.key} {
		if info, err := os.Stat(name); err == nil {
			text += fmt.Sprint(info.ModTime().UnixNano(), " ", info.Size(), " ")
		}
	}
	return text
}

// get is what the listener asks for at each connection.
func (c *renewable) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if time.Since(c.looked) < certificateEvery {
		return c.pair, nil
	}
	c.looked = time.Now()
	stamp := c.stampOf()
	if stamp == c.stamp && c.failed == "" {
		return c.pair, nil
	}
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err == nil {
		err = c.worse(&pair)
	}
	if err != nil {
		// Half of a renewal, or a key that this user may not read: who mends that
		// changes its mode or its owner, which the stamp does not show.
		if stamp != c.stamp || err.Error() != c.failed {
			c.log.Error("the page's new certificate is not taken; the one before stays", "err", err)
		}
		c.stamp, c.failed = stamp, err.Error()
		return c.pair, nil
	}
	c.pair, c.stamp, c.failed = &pair, stamp, ""
	c.log.Info("the page's certificate was read again", "until", c.pair.Leaf.NotAfter.UTC())
	return c.pair, nil
}

// worse says that a pair is out of its time where the one that is served is not; nil
// has none.
func (c *renewable) worse(pair *tls.Certificate) error {
	if now := time.Now(); c == nil || holds(pair, now) || !holds(c.pair, now) {
		return nil
	}
	return fmt.Errorf("the certificate is for %s to %s, and the one before holds now", pair.Leaf.NotBefore.UTC().Format(time.RFC3339), pair.Leaf.NotAfter.UTC().Format(time.RFC3339))
}

// holds says that a browser takes a pair at a time.
func holds(pair *tls.Certificate, at time.Time) bool {
	return !at.Before(pair.Leaf.NotBefore) && !at.After(pair.Leaf.NotAfter)
}

// Certificate is the page's pair as a doctor looks at it; nil: there is none.
func (o Options) Certificate(log *slog.Logger) *app.Certificate {
	if o.Cert == "" {
		return nil
	}
	out := &app.Certificate{Cert: o.Cert, Key: o.Key}
	c, err := openCertificate(log, o.Cert, o.Key)
	if err != nil {
		out.Err = err
		return out
	}
	if info, err := os.Stat(o.Key); err == nil {
		out.Open = info.Mode().Perm()&(0o077&^fs.FileMode(0o040)) != 0
	}
	out.From, out.To = c.pair.Leaf.NotBefore, c.pair.Leaf.NotAfter
	return out
}
