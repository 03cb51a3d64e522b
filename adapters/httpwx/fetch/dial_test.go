package fetch

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// TestPublic goes by the registries of special-purpose addresses.
func TestPublic(t *testing.T) {
	for _, c := range []struct {
		address string
		want    bool
	}{
		{"140.90.33.21", true}, {"2610:20:8000::1", true}, {"8.8.8.8", true},
		{"127.0.0.1", false}, {"127.9.9.9", false}, {"::1", false},
		{"10.0.0.1", false}, {"172.16.0.1", false}, {"172.31.255.255", false}, {"192.168.1.1", false},
		{"172.32.0.1", true}, {"11.0.0.1", true},
		{"169.254.169.254", false}, {"fe80::1", false}, {"fe80::1%eth0", false}, {"fd00::1", false},
		{"0.0.0.0", false}, {"::", false}, {"0.1.2.3", false}, {"255.255.255.255", false}, {"224.0.0.1", false}, {"ff02::1", false},
		{"100.64.0.1", false}, {"198.18.0.1", false}, {"192.0.0.192", false}, {"203.0.113.9", false}, {"240.0.0.1", false},
		{"::ffff:127.0.0.1", false}, {"::ffff:10.0.0.1", false}, {"::ffff:8.8.8.8", true}, {"::127.0.0.1", false},
		{"64:ff9b::7f00:1", false}, {"2002:7f00:1::", false}, {"2001::1", false}, {"2001:db8::1", false},
	} {
		if got := public(netip.MustParseAddr(c.address)); got != c.want {
			t.Errorf("public(%s) = %v, want %v", c.address, got, c.want)
		}
	}
}

// names is a name server on loopback that has one address for every name.
func names(t *testing.T, address string) *net.Resolver {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	a := netip.MustParseAddr(address)
	go func() {
		b := make([]byte, 1024)
		for {
			n, from, err := conn.ReadFrom(b)
			if err != nil {
				return
			}
			end := 12 // behind the header, RFC 1035 4.1.1
			for end < n && b[end] != 0 {
				end += int(b[end]) + 1
			}
			end += 5 // the root, type and class
			kind, size := byte(1), byte(4)
			if a.Is6() {
				kind, size = 28, 16
			}
			out := append([]byte{b[0], b[1], 0x81, 0x80, 0, 1, 0, 0, 0, 0, 0, 0}, b[12:end]...)
			if b[end-3] == kind {
				out[7] = 1
				out = append(out, 0xc0, 12, 0, kind, 0, 1, 0, 0, 0, 0, 0, size)
				out = append(out, a.AsSlice()...)
			}
			if _, err := conn.WriteTo(out, from); err != nil {
				return
			}
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		var d net.Dialer
		return d.DialContext(ctx, "udp", conn.LocalAddr().String())
	}}
}

// TestPrivateAddresses has a public name lead inside.
func TestPrivateAddresses(t *testing.T) {
	var calls atomic.Int32
	inside := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		calls.Add(1)
		w.Header().Set("Content-Type", "text/plain")
		_, _ = w.Write([]byte("ok"))
	}))
	defer inside.Close()
	at, err := url.Parse(inside.URL)
	if err != nil {
		t.Fatal(err)
	}
	ask := func(base string, change func(*Options)) (string, error) {
		o := Options{BaseURL: base, Timeout: 5 * time.Second}
		if change != nil {
			change(&o)
		}
		c, err := New(o)
		if err != nil {
			t.Fatal(err)
		}
		return Get(t.Context(), c, Request{Path: "/x", Types: []string{"text/plain"}}, func(a Answer) (string, error) { return string(a.Body), nil })
	}
	for _, address := range []string{"127.0.0.1", "::1", "10.1.2.3", "192.168.0.1", "169.254.169.254", "fe80::1", "fd00::1", "100.64.0.1", "0.0.0.0", "::ffff:127.0.0.1"} {
		t.Run("a name that leads to "+address, func(t *testing.T) {
			got, err := ask("http://Weather.Example:"+at.Port(), func(o *Options) { o.Resolver = names(t, address) })
			if !errors.Is(err, ErrPrivate) {
				t.Errorf("got %q, %v, want ErrPrivate", got, err)
			}
			if err != nil && strings.Contains(err.Error(), "http://") {
				t.Errorf("the error repeats the URL: %v", err)
			}
		})
	}
	if calls.Load() != 0 {
		t.Errorf("the service inside was asked %d times", calls.Load())
	}
	t.Run("leave was given", func(t *testing.T) {
		got, err := ask("http://weather.example:"+at.Port(), func(o *Options) { o.Private, o.Resolver = true, names(t, "127.0.0.1") })
		if err != nil || got != "ok" {
			t.Errorf("got %q, %v", got, err)
		}
	})
	for _, host := range []string{"127.0.0.1", "localhost", "LocalHost"} {
		t.Run("the configuration says "+host, func(t *testing.T) {
			if got, err := ask("http://"+host+":"+at.Port(), nil); err != nil || got != "ok" {
				t.Errorf("got %q, %v", got, err)
			}
		})
	}
	t.Run("by the operator's proxy", func(t *testing.T) {
		got, err := ask("http://weather.example", func(o *Options) {
			o.Transport = &http.Transport{Proxy: http.ProxyURL(at), DialContext: dialer("weather.example", false, nil)}
		})
		if err != nil || got != "ok" {
			t.Errorf("got %q, %v", got, err)
		}
	})
}
