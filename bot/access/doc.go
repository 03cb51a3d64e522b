// Package access holds who may use the crew-room page from other machines:
// named links, and the browsers that came in by one.
//
//   - access.go: Token, Session, what a scope allows, Secret and its hash
//   - port.go: Store
//   - links.go: Links: what an operator does with them, and the table of them
//
// A link's secret is shown once and never kept: what is kept is its SHA-256,
// which is enough for 32 random bytes. A browser that comes in gets a secret of
// its own, kept the same way, so that the link's is in no cookie; revoking the
// link ends them all.
package access
