package console

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"golang.org/x/term"

	"firn/bot"
	"firn/bot/reply"
)

// Answerer answers messages.
type Answerer interface {
	Handle(ctx context.Context, m bot.Message) (reply.Reply, error)
}

// Lines gives messages one at a time; io.EOF ends the conversation.
type Lines interface {
	ReadLine() (string, error)
}

// prompt stands where the crew types.
const prompt = "firn> "

// Chat holds a conversation: a line in, a reply out, follow-ups read with
// what was asked before. "more" shows all of the last reply. It returns when the
// lines end, at "quit" or "exit", and with the context's error when that ends first.
func Chat(ctx context.Context, a Answerer, now func() time.Time, lines Lines, out io.Writer, style Style) error {
	began := now().UnixNano() // no other conversation has these names
	var last reply.Reply
	for n := 1; ; n++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		text, err := lines.ReadLine()
		if errors.Is(err, io.EOF) && text == "" {
			return nil
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read a line: %w", err)
		}
		switch strings.ToLower(strings.TrimSpace(text)) {
		case "":
			continue
		case "quit", "exit":
			return nil
		case "more":
			if last.Kind == "" {
				break
			}
			full := style
			full.Full = true
			if err := say(out, last, full); err != nil {
				return err
			}
			continue
		}
		r, err := a.Handle(ctx, bot.Message{Surface: "console", Thread: "chat", ID: fmt.Sprintf("%d/%d", began, n), Text: text, At: now(), Direct: true, Duty: true})
		if err != nil {
			return err
		}
		if err := say(out, r, style); err != nil {
			return err
		}
		last = r
	}
}

// say writes a reply and an empty line, in one call.
func say(out io.Writer, r reply.Reply, style Style) error {
	var b strings.Builder
	if err := Render(&b, r, style); err != nil {
		return fmt.Errorf("write a reply: %w", err)
	}
	if _, err := io.WriteString(out, b.String()+"\n"); err != nil {
		return fmt.Errorf("write a reply: %w", err)
	}
	return nil
}

// Plain reads lines from a pipe or a file, however long.
func Plain(in io.Reader) Lines { return &plain{bufio.NewReader(in)} }

type plain struct{ r *bufio.Reader }

func (p *plain) ReadLine() (string, error) { return ReadLine(p.r) }

// longestLine bounds what one line may hold in memory; the rest of a longer
// one is read and dropped, and what remains is still too long for a message.
const longestLine = 1 << 16

// ReadLine reads one line without its end, bounded in memory.
func ReadLine(r *bufio.Reader) (string, error) {
	var b strings.Builder
	for {
		part, more, err := r.ReadLine()
		if err != nil {
			return b.String(), err
		}
		if room := longestLine - b.Len(); room > 0 {
			b.Write(part[:min(room, len(part))])
		}
		if !more {
			return b.String(), nil
		}
	}
}

// Terminal is a terminal in raw mode with line editing and history.
type Terminal struct {
	*term.Terminal
	restore func() error
	resize  func()
}

// ReadLine makes a paste of several lines one message.
func (t *Terminal) ReadLine() (string, error) {
	t.resize()
	text, err := t.Terminal.ReadLine()
	for errors.Is(err, term.ErrPasteIndicator) {
		var next string
		next, err = t.Terminal.ReadLine()
		text += "\n" + next
	}
	return text, err
}

// Close gives the terminal back as it was.
func (t *Terminal) Close() error { return t.restore() }

// Open takes over the terminal behind fd. Close must be called in the end.
func Open(fd int, rw io.ReadWriter) (*Terminal, error) {
	state, err := term.MakeRaw(fd)
	if err != nil {
		return nil, fmt.Errorf("terminal: %w", err)
	}
	t := &Terminal{
		Terminal: term.NewTerminal(rw, prompt),
		restore:  func() error { return term.Restore(fd, state) },
	}
	t.resize = func() {
		if w, h, err := term.GetSize(fd); err == nil && w > 0 {
			// A width that cannot be set only spoils the editing of long lines.
			_ = t.SetSize(w, h)
		}
	}
	return t, nil
}
