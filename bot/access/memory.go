package access

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/bot/person"
)

// Memory is a Store that lasts as long as its process.
type Memory struct {
	mu       sync.Mutex
	tokens   map[string]Token
	sessions map[Hash]came
}

// came is a session with the hash of its link.
type came struct {
	Session
	by Hash
}

var _ Store = (*Memory)(nil)

// NewMemory makes an empty one.
func NewMemory() *Memory { return &Memory{tokens: map[string]Token{}, sessions: map[Hash]came{}} }

func instant(t time.Time) time.Time {
	if t.IsZero() {
		return time.Time{}
	}
	return t.UTC().Truncate(time.Microsecond)
}

// AddToken keeps a link.
func (m *Memory) AddToken(ctx context.Context, t Token) (bool, error) {
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
func (m *Memory) Tokens(ctx context.Context) ([]Token, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var out []Token
	for _, t := range m.tokens {
		out = append(out, t)
	}
	slices.SortFunc(out, func(a, b Token) int { return strings.Compare(a.Name, b.Name) })
	return out, nil
}

// RevokeToken ends a link.
func (m *Memory) RevokeToken(ctx context.Context, name string, at time.Time) (bool, error) {
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
func (m *Memory) signOut(link Hash) {
	for h, s := range m.sessions {
		if s.by == link {
			delete(m.sessions, h)
		}
	}
}

// RotateToken gives a link another secret.
func (m *Memory) RotateToken(ctx context.Context, name string, hash Hash, at, ends time.Time) (bool, error) {
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
func (m *Memory) Sessions(ctx context.Context, at, idle time.Time) ([]Open, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	var out []Open
	for _, s := range m.sessions {
		if t, ok := m.good(s.by, at); ok && !s.Used.Before(idle) {
			out = append(out, Open{t.Name, s.Made, s.Used})
		}
	}
	slices.SortFunc(out, func(a, b Open) int {
		return cmp.Or(strings.Compare(a.Link, b.Link), b.Used.Compare(a.Used), b.Made.Compare(a.Made))
	})
	return out, nil
}

// good is the link with a hash that is good at a time; the lock is held.
func (m *Memory) good(h Hash, at time.Time) (Token, bool) {
	for _, t := range m.tokens {
		if t.Hash == h && t.Good(at) {
			return t, true
		}
	}
	return Token{}, false
}

// Enter begins a session.
func (m *Memory) Enter(ctx context.Context, token Hash, s Session, idle time.Time) (Token, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return Token{}, false, err
	}
	for h, old := range m.sessions {
		if old.Used.Before(idle) {
			delete(m.sessions, h)
		}
	}
	t, ok := m.good(token, s.Made)
	if !ok {
		return Token{}, false, nil
	}
	s.Made, s.Used = instant(s.Made), instant(s.Used)
	m.sessions[s.Hash] = came{s, token}
	t.LastUsed = s.Used
	m.tokens[t.Name] = t
	return t, true, nil
}

// Session finds the link of a session.
func (m *Memory) Session(ctx context.Context, hash Hash, at, idle time.Time) (Token, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return Token{}, false, err
	}
	s, has := m.sessions[hash]
	if !has || s.Used.Before(idle) {
		return Token{}, false, nil
	}
	t, ok := m.good(s.by, at)
	if !ok {
		return Token{}, false, nil
	}
	if at.Sub(s.Used) >= UseStep {
		s.Used = instant(at)
		m.sessions[hash] = s
		t.LastUsed = s.Used
		m.tokens[t.Name] = t
	}
	return t, true, nil
}

// Leave ends a session.
func (m *Memory) Leave(ctx context.Context, hash Hash) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	delete(m.sessions, hash)
	return nil
}
