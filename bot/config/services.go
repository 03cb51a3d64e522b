package config

import (
	"net/netip"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/strictyaml"
	"firn/engine"
)

func (r *reader) record(n ast.Node) Record {
	c := DefaultRecord
	var channels ast.Node
	r.Mapping(n, "record", recordKeys, func(key string, v ast.Node) {
		switch key {
		case "expire_hours":
			h, _ := r.Between(v, key, strictyaml.InHours, 1, 48)
			c.Expire = time.Duration(h * float64(time.Hour))
		case "retain_days":
			d, _ := r.Between(v, key, strictyaml.InDays, 7, 3650)
			c.Retain = time.Duration(d * 24 * float64(time.Hour))
		case "step_c":
			s, _ := r.Between(v, key, strictyaml.InKelvins, 0.5, 10)
			c.Step = engine.CelsiusDelta(s)
		case "checks":
			how, _ := r.Choice(v, key, checks)
			c.Blind = how == checkBlind
		case "blind_channels":
			channels = v
			c.BlindChannels = r.channels(v, key)
		case "team_channels":
			c.Team = r.channels(v, key)
		case "linked":
			c.Linked = r.linked(v, key)
		}
	})
	if channels != nil && c.Blind {
		r.Add(channels, "every channel checks blind with \"checks: blind\"; remove \"blind_channels\", or write \"checks: confirm\"")
	}
	return c
}

// page reads how the crew-room page is served.
func (r *reader) page(n ast.Node) (p Page) {
	var cert, private ast.Node
	r.Mapping(n, "page", pageKeys, func(k string, v ast.Node) {
		switch k {
		case "listen":
			p.Listen = r.hostPort(v, k)
		case "tls_cert":
			cert = v
			p.TLSCert = r.path(v, k)
		case "tls_key":
			private = v
			p.TLSKey = r.path(v, k)
		case "behind_proxy":
			p.BehindProxy = r.Boolean(v, k)
		}
	})
	switch {
	case cert != nil && private == nil:
		r.Add(cert, "\"tls_cert\" needs its key beside it: add \"tls_key\", or remove the line")
	case private != nil && cert == nil:
		r.Add(private, "\"tls_key\" needs its certificate beside it: add \"tls_cert\", or remove the line")
	}
	return p
}

func (r *reader) weather(n ast.Node) Weather {
	var w Weather
	var kind, path, link, private ast.Node
	known := false
	ok := r.Mapping(n, "a weather source", weatherKeys, func(key string, v ast.Node) {
		switch key {
		case "kind":
			kind = v
			var s string
			s, known = r.Choice(v, key, kinds)
			w.Kind = WeatherKind(s)
		case "path":
			path = v
			w.Path = r.path(v, key)
		case "url":
			link = v
			w.URL = r.url(v, key)
		case "private":
			private = v
			w.Private = r.Boolean(v, key)
		}
	})
	if ok && kind == nil {
		r.Add(n, `this weather source has no kind; add one, such as "kind: awc"`)
	}
	if !known {
		return w
	}
	if w.Kind == Folder && path == nil {
		r.Add(kind, `a weather source of kind folder needs a path; add one, such as "path: weather"`)
	}
	if w.Kind != Folder && path != nil {
		r.Add(path, "a weather source of kind %s has no path; remove it or write \"kind: folder\"", w.Kind)
	}
	if (w.Kind == Folder || w.Kind == Typed) && link != nil {
		r.Add(link, "a weather source of kind %s has no url; remove it or write \"kind: awc\" or \"kind: nws\"", w.Kind)
	}
	if private != nil && link == nil {
		r.Add(private, "private says where the name in a url may lead, and there is no url; remove it")
	}
	return w
}

func (r *reader) url(n ast.Node, key string) string {
	s, ok := r.Word(n, key, "an address that begins with https://")
	if !ok {
		return ""
	}
	u, err := url.Parse(s)
	switch {
	case err == nil && u.User != nil, err != nil && strictyaml.SecretIn(s):
		r.Add(n, "%s", strictyaml.SecretText(strictyaml.Quote(key)+" holds a user or a password", ""))
	case err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Hostname() == "":
		r.Add(n, "%q must begin with http:// or https:// and name a server, not %s", key, strictyaml.Quote(s))
	default:
		return s
	}
	return ""
}

func (r *reader) path(n ast.Node, key string) string {
	s, ok := r.Word(n, key, `a file or folder, such as "firn.db"`)
	if !ok {
		return ""
	}
	switch {
	case strings.Contains(s, "://"):
		r.Add(n, "%q must be a file or folder, not an address; a database server's address comes from the environment: set %s and remove the line", key, strictyaml.DatabaseURL)
	case strings.ContainsFunc(s, func(c rune) bool { return c < ' ' }):
		r.Add(n, "%q must be one line, not %s", key, strictyaml.Quote(s))
	default:
		return s
	}
	return ""
}

func (r *reader) hostPort(n ast.Node, key string) string {
	s, ok := r.Word(n, key, `"127.0.0.1:8080"`)
	if !ok {
		return ""
	}
	if !validHostPort(s) {
		r.Add(n, `%q must be host:port, not %s; write "127.0.0.1:8080" for this machine only, or ":8080" for every network`, key, strictyaml.Quote(s))
		return ""
	}
	return s
}

func validHostPort(s string) bool {
	i := strings.LastIndexByte(s, ':')
	if i < 0 {
		return false
	}
	host, port := s[:i], s[i+1:]
	if p, err := strconv.ParseUint(port, 10, 16); err != nil || strconv.FormatUint(p, 10) != port {
		return false
	}
	if strings.HasPrefix(host, "[") {
		a, err := netip.ParseAddrPort(s)
		return err == nil && a.Addr().Is6()
	}
	return hostForm.MatchString(host)
}

// How a second person checks a result.
const (
	checkConfirm = "confirm"
	checkBlind   = "blind"
)

var hostForm = regexp.MustCompile(`^[A-Za-z0-9]?[A-Za-z0-9.-]*$`)
