package fetch

import (
	"context"
	"fmt"
	"net"
	"net/netip"
	"strings"
	"syscall"
	"time"
)

// inner are the addresses that no public service has, by the registries of
// special-purpose addresses (IANA; RFC 6890 and what updates it). Those that
// netip tells by itself are not among them.
var inner = []netip.Prefix{
	netip.MustParsePrefix("0.0.0.0/8"),       // this network, RFC 791
	netip.MustParsePrefix("100.64.0.0/10"),   // behind a carrier's translation, RFC 6598
	netip.MustParsePrefix("192.0.0.0/24"),    // protocol assignments, RFC 6890
	netip.MustParsePrefix("192.0.2.0/24"),    // documentation, RFC 5737
	netip.MustParsePrefix("198.18.0.0/15"),   // benchmarks, RFC 2544
	netip.MustParsePrefix("198.51.100.0/24"), // documentation
	netip.MustParsePrefix("203.0.113.0/24"),  // documentation
	netip.MustParsePrefix("240.0.0.0/4"),     // reserved, RFC 1112, and broadcast
	netip.MustParsePrefix("64:ff9b::/96"),    // an IPv4 address within, RFC 6052
	netip.MustParsePrefix("64:ff9b:1::/48"),  // local translation, RFC 8215
	netip.MustParsePrefix("100::/64"),        // discard, RFC 6666
	netip.MustParsePrefix("2001::/23"),       // protocol assignments, Teredo among them
	netip.MustParsePrefix("2001:db8::/32"),   // documentation, RFC 3849
	netip.MustParsePrefix("2002::/16"),       // 6to4: an IPv4 address within, RFC 3056
	netip.MustParsePrefix("fec0::/10"),       // site-local, RFC 3879
	netip.MustParsePrefix("::/96"),           // IPv4-compatible, RFC 4291
}

// public says whether an address can be a public service's.
func public(a netip.Addr) bool {
	a = a.Unmap().WithZone("")
	if !a.IsGlobalUnicast() || a.IsPrivate() { // loopback, link-local and multicast are no global unicast
		return false
	}
	for _, p := range inner {
		if p.Contains(a) {
			return false
		}
	}
	return true
}

// named says whether a host of the configuration names an address inside by
// itself, so that nobody can have meant another.
func named(host string) bool {
	if _, err := netip.ParseAddr(host); err == nil {
		return true
	}
	h := strings.ToLower(strings.TrimSuffix(host, "."))
	return h == "localhost" || strings.HasSuffix(h, ".localhost")
}

// dialer connects to the service. The address is looked at when it is known,
// just before the connection is made: a name may lead elsewhere each time it
// is asked for. A proxy, which the operator's environment names, is where it
// is.
func dialer(host string, private bool, resolver *net.Resolver) func(ctx context.Context, network, address string) (net.Conn, error) {
	free := &net.Dialer{Timeout: 10 * time.Second, KeepAlive: 30 * time.Second, Resolver: resolver}
	if private || named(host) {
		return free.DialContext
	}
	guarded := *free
	guarded.ControlContext = func(_ context.Context, _, address string, _ syscall.RawConn) error {
		a, err := netip.ParseAddrPort(address)
		if err != nil || !public(a.Addr()) {
			return fmt.Errorf("%w: %s", ErrPrivate, address)
		}
		return nil
	}
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		if to, _, err := net.SplitHostPort(address); err == nil && !strings.EqualFold(to, host) {
			return free.DialContext(ctx, network, address)
		}
		return guarded.DialContext(ctx, network, address)
	}
}
