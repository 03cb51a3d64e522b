package access

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io"
	"time"
)

// Scope is what a link allows; each includes the ones before it.
type Scope string

// The scopes.
const (
	Read Scope = "read" // look at boards, records and procedures
	Ask  Scope = "ask"  // and ask, check and recompute
	Duty Scope = "duty" // and do what duty officers do
)

var scopes = []Scope{Read, Ask, Duty}

// ParseScope reads a scope.
func ParseScope(text string) (Scope, error) {
	for _, s := range scopes {
		if string(s) == text {
			return s, nil
		}
	}
	return "", fmt.Errorf("%q is no scope; write read, ask or duty", text)
}

// Allows says that a scope includes another.
func (s Scope) Allows(what Scope) bool {
	rank := func(of Scope) int {
		for i, o := range scopes {
			if o == of {
				return i
			}
		}
		return -1
	}
	return rank(what) >= 0 && rank(s) >= rank(what)
}

// Hash is the SHA-256 of a secret.
type Hash [sha256.Size]byte

// Token is a named link. Its name is how the record knows whoever uses it.
type Token struct {
	Name     string
	Hash     Hash
	Scope    Scope
	Made     time.Time
	Ends     time.Time // from then on it lets nobody in; zero: it has no end
	Revoked  time.Time // zero: it is good
	LastUsed time.Time // zero: never
}

// Good says that a link lets people in at a time.
func (t Token) Good(at time.Time) bool {
	return t.Revoked.IsZero() && (t.Ends.IsZero() || at.Before(t.Ends))
}

// Session is a browser that came in by a link.
type Session struct {
	Hash Hash
	Made time.Time
	Used time.Time
}

// Open is a session as it is listed: whose link it came in by, and when.
type Open struct {
	Link       string
	Made, Used time.Time
}

// secretBytes makes guessing hopeless.
const secretBytes = 32

// Secret makes one: what to hand out, and the hash to keep.
func Secret() (text string, h Hash) {
	var b [secretBytes]byte
	if _, err := io.ReadFull(rand.Reader, b[:]); err != nil {
		panic("access: the system has no randomness: " + err.Error()) // crypto/rand never fails
	}
	text = base64.RawURLEncoding.EncodeToString(b[:])
	return text, sha256.Sum256([]byte(text))
}

// HashOf is the hash of a secret as it was handed out; ok is false for what
// cannot be one.
func HashOf(text string) (h Hash, ok bool) {
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil || len(b) != secretBytes {
		return Hash{}, false
	}
	return sha256.Sum256([]byte(text)), true
}
