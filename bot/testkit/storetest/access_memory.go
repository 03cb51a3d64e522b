package storetest

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/bot/access"
	"firn/bot/person"
)

// Access is an access.Store that lasts as long as its process.
type Access struct {
	mu       sync.Mutex
	tokens   map[string]access.Token
	sessions map[access.Hash]came
}

// came is a session with the hash of its link.
type came struct {
	access.Session
	by access.Hash
}

var _ access.Store = (*Access)(nil)

// NewAccess makes an empty one.
func NewAccess() *Access {
	return &Access{tokens: map[string]access.Token{}, sessions: map[access.Hash]came{}}
}

// AddToken keeps a link.
func (m *Access) AddToken(ctx context.Context, t access.Token) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return false, err
	}
	for _, old := range m.tokens {
		if old.Good(t.Made) && person.Key(old.Name) == person.Key(t.Name) {
			return false, nil
		}
	}
	t.Ends = instant(t.Ends)
	t.Made, t.Revoked, t.LastUsed = instant(t.Made), instant(t.Revoked), instant(t.LastUsed)
	m.tokens[t.Name] = t
	return true, nil
}

// Tokens are all links.
func (m *Access) Tokens(ctx context.Context) ([]access.Token, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var out []access.Token
	for _, t := range m.tokens {
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b access.Token) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// RevokeToken ends a link.
func (m *Access) RevokeToken(ctx context.Context, name string, at time.Time) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return false, err
	}
	t, has := m.tokens[name]
	if !has || !t.Revoked.IsZero() {
		return false, nil
	}
	t.Revoked = instant(at)
	m.tokens[name] = t
	m.signOut(t.Hash)
	return true, nil
}

// signOut ends the sessions of a link; the lock is held.
func (m *Access) signOut(link access.Hash) {
	for h, s := range m.sessions {
		if s.by == link {
			delete(m.sessions, h)
		}
	}
}

// RotateToken gives a link another secret.
func (m *Access) RotateToken(ctx context.Context, name string, hash access.Hash, at, ends time.Time) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return false, err
	}
	t, has := m.tokens[name]
	if !has || !t.Revoked.IsZero() {
		return false, nil
	}
	m.signOut(t.Hash)
	t.Hash, t.Made, t.Ends = hash, instant(at), instant(ends)
	m.tokens[name] = t
	return true, nil
}

// Sessions are the open ones.
func (m *Access) Sessions(ctx context.Context, at, idle time.Time) ([]access.Open, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var out []access.Open
	for _, s := range m.sessions {
		if t, ok := m.good(s.by, at); ok && !s.Used.Before(idle) {
			out = append(out, access.Open{Link: t.Name, Made: s.Made, Used: s.Used})
		}
	}
	slices.SortFunc(out, func(a, b access.Open) int {
		return cmp.Or(strings.Compare(a.Link, b.Link), b.Used.Compare(a.Used), b.Made.Compare(a.Made))
	})
	return out, nil
}

// good is the link with a hash that is good at a time; the lock is held.
func (m *Access) good(h access.Hash, at time.Time) (access.Token, bool) {
	for _, t := range m.tokens {
		if t.Hash == h && t.Good(at) {
			return t, true
		}
	}
	return access.Token{}, false
}

// Enter begins a session.
func (m *Access) Enter(ctx context.Context, token access.Hash, s access.Session, idle time.Time) (access.Token, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return access.Token{}, false, err
	}
	for h, old := range m.sessions {
		if old.Used.Before(idle) {
			delete(m.sessions, h)
		}
	}
	t, ok := m.good(token, s.Made)
	if !ok {
		return access.Token{}, false, nil
	}
	s.Made, s.Used = instant(s.Made), instant(s.Used)
	m.sessions[s.Hash] = came{s, token}
	t.LastUsed = s.Used
	m.tokens[t.Name] = t
	return t, true, nil
}

// Session finds the link of a session.
func (m *Access) Session(ctx context.Context, hash access.Hash, at, idle time.Time) (access.Token, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return access.Token{}, false, err
	}
	s, has := m.sessions[hash]
	if !has || s.Used.Before(idle) {
		return access.Token{}, false, nil
	}
	t, ok := m.good(s.by, at)
	if !ok {
		return access.Token{}, false, nil
	}
	if at.Sub(s.Used) >= access.UseStep {
		s.Used = instant(at)
		m.sessions[hash] = s
		t.LastUsed = s.Used
		m.tokens[t.Name] = t
	}
	return t, true, nil
}

// Leave ends a session.
func (m *Access) Leave(ctx context.Context, hash access.Hash) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	delete(m.sessions, hash)
	return nil
}
