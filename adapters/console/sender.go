package console

import (
	"context"
	"fmt"
	"io"
	"strings"
	"sync"

	"firn/bot/outbox"
)

// Sender prints posts for whoever watches the program run. It is an
// outbox.Sender for the channel "console".
//
// What it has printed it remembers for Find until the process ends, and no
// longer: a new process is a new screen, on which nobody has seen the post.
// So one that a killed process had printed, but not marked, is printed again
// by the next, and stands once on each screen. That is little to keep: a few
// posts a day.
type Sender struct {
	mu      sync.Mutex
	out     io.Writer
	style   Style
	printed map[string]int // by channel and key: which post it was
}

// NewSender makes a Sender. It writes each post in one call, so that posts
// and log lines stay whole where out is shared; where out is not safe for
// concurrent use by itself, hand all its users the same Share.
func NewSender(out io.Writer, style Style) *Sender {
	return &Sender{out: out, style: style, printed: map[string]int{}}
}

// Send prints a post. One that was printed already is not printed again.
func (s *Sender) Send(ctx context.Context, p outbox.Post) (ref string, err error) {
	var b strings.Builder
	if late := p.Lateness(); late != "" {
		b.WriteString("(" + late + ")\n")
	}
	if err := Render(&b, p.Body, s.style); err != nil {
		return "", fmt.Errorf("print a post: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return "", err
	}
	name := place(p.Channel, p.Key)
	if n, ok := s.printed[name]; ok {
		return number(n), nil
	}
	if _, err := io.WriteString(s.out, b.String()+"\n"); err != nil {
		return "", fmt.Errorf("print a post: %w", err)
	}
	n := len(s.printed) + 1
	s.printed[name] = n
	return number(n), nil
}

// Find looks for a post among those that this process has printed.
func (s *Sender) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	if err := ctx.Err(); err != nil {
		return "", false, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	n, found := s.printed[place(channel, key)]
	if !found {
		return "", false, nil
	}
	return number(n), true, nil
}

func place(channel, key string) string { return channel + "\x00" + key }

func number(n int) string { return fmt.Sprintf("post %d", n) }

// printable leaves out what a terminal would obey instead of showing: a post
// may hold text from elsewhere. Render's own codes stay.
func printable(s string) string {
	var b strings.Builder
	b.Grow(len(s))
	for s != "" {
		if code := codeAt(s); code != "" {
			b.WriteString(code)
			s = s[len(code):]
			continue
		}
		i := 1
		for i < len(s) && s[i] != '\x1b' {
			i++
		}
		b.WriteString(strings.Map(shown, s[:i]))
		s = s[i:]
	}
	return b.String()
}

func codeAt(s string) string {
	for _, code := range []string{bold, dim, reset} {
		if strings.HasPrefix(s, code) {
			return code
		}
	}
	return ""
}

func shown(r rune) rune {
	switch {
	case r == '\n', r == '\t':
		return r
	case r < ' ', r >= 0x7f && r < 0xa0:
		return -1
	case r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069: // turn text around
		return -1
	}
	return r
}

// Share makes a writer safe for several users; each Write stays whole.
func Share(w io.Writer) io.Writer { return &shared{w: w} }

type shared struct {
	mu sync.Mutex
	w  io.Writer
}

func (s *shared) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.w.Write(b)
}
