package front

import (
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
)

// ParseURL reads the page's address as people reach it.
func ParseURL(text string) (string, error) {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return "", fmt.Errorf("%q is no address; write it as https://firn.example.org", text)
	}
	if u.Path != "" && u.Path != "/" && u.Path != "/enter" {
		return "", fmt.Errorf("%q has a path, and the page stands at the root of its host alone; write it as %s://%s", text, u.Scheme, u.Host)
	}
	return strings.TrimRight(u.Scheme+"://"+u.Host, "/"), nil
}

// URL is the page's address as others on its network reach it, without a proxy.
func (o Options) URL() (string, error) {
	scheme := "http"
	if o.Cert != "" {
		scheme = "https"
	}
	name, port, err := net.SplitHostPort(o.Listen)
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

// URL says how the page is reached, for the log, and warns there of what to
// mind.
func (f *Front) URL() string {
	o := f.o
	o.Listen = f.listener.Addr().String() // port 0 is another by now
	if o.Plain() {
		f.log.Warn("the page is reached by others without TLS: what they send, links too, can be read on the way; set tls_cert and tls_key, or behind_proxy")
	}
	address, err := o.URL()
	if err != nil {
		address = "http://" + o.Listen
	}
	return address + "/"
}
