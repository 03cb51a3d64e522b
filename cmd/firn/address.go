package main

import (
	"cmp"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"

	"firn/adapters/page"
)

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
