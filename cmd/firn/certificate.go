package main

import (
	"crypto/tls"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"sync"
	"time"
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
	looked time.Time
}

// openCertificate reads the pair, so that what cannot be right is known before
// anybody connects.
func openCertificate(log *slog.Logger, cert, key string) (*renewable, error) {
	c := &renewable{log: log, cert: cert, key: key}
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, fmt.Errorf("page: certificate %s with key %s: %w", cert, key, err)
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
	if stamp == c.stamp {
		return c.pair, nil
	}
	c.stamp = stamp
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil {
		// Half of a renewal, perhaps: its other file changes the stamp again.
		c.log.Error("the page's new certificate is not taken; the one before stays", "err", err)
		return c.pair, nil
	}
	c.pair = &pair
	c.log.Info("the page's certificate was read again", "until", c.pair.Leaf.NotAfter.UTC())
	return c.pair, nil
}

// expiryNear is when doctor begins to speak of a certificate's end. The figure
// is ours: whoever renews by a program does so before.
const expiryNear = 14 * 24 * time.Hour

// certificate looks at the page's pair.
func (d *doctor) certificate(s *services) {
	p := s.loaded.Page
	if p.TLSCert == "" {
		return
	}
	cert, key := s.loaded.path(p.TLSCert), s.loaded.path(p.TLSKey)
	c, err := openCertificate(s.log, cert, key)
	if err != nil {
		d.fails("page", err)
		return
	}
	if info, err := os.Stat(key); err == nil && info.Mode().Perm()&(0o077&^fs.FileMode(0o040)) != 0 {
		d.sick("page", "others on this machine may reach the key %s: chmod 600, or 640 with a group of its own", key)
	}
	leaf, now := c.pair.Leaf, d.h.now()
	switch left := leaf.NotAfter.Sub(now); {
	case left <= 0:
		d.sick("page", "the certificate %s ended %s: renew it, firn reads it again by itself", cert, leaf.NotAfter.UTC().Format(time.RFC3339))
	case now.Before(leaf.NotBefore):
		d.sick("page", "the certificate %s begins %s, which is to come: is the clock right?", cert, leaf.NotBefore.UTC().Format(time.RFC3339))
	case left < expiryNear:
		d.note("page", "the certificate %s ends %s: renew it", cert, leaf.NotAfter.UTC().Format(time.RFC3339))
	default:
		d.well("page", "the certificate %s and its key match, until %s", cert, leaf.NotAfter.UTC().Format(time.DateOnly))
	}
}
