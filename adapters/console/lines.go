package console

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"firn/bot"
	"firn/engine/wxreport"
)

// JSON writes a value as one line.
func JSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// eachLine writes what comes of each line, in order. Whoever writes a line and
// waits for its answer gets it.
func eachLine(ctx context.Context, in io.Reader, to io.Writer, what string, do func(line string, out io.Writer) error) error {
	lines := bufio.NewReaderSize(in, 1<<16)
	out := bufio.NewWriter(to)
	for ctx.Err() == nil {
		line, err := ReadLine(lines)
		if errors.Is(err, io.EOF) && line == "" {
			break
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read a %s: %w", what, err)
		}
		if err := do(line, out); err != nil {
			return err
		}
		if lines.Buffered() == 0 {
			if err := out.Flush(); err != nil {
				return err
			}
		}
	}
	if err := out.Flush(); err != nil {
		return err
	}
	return ctx.Err()
}

// Answer answers a message a line. A line is a message, or a JSON object with the
// message, its thread and who wrote it: lines of one thread follow one another.
// fixing says that one of them needs fixing.
func Answer(ctx context.Context, a Answerer, now func() time.Time, in io.Reader, out io.Writer, asJSON, full bool) (fixing bool, err error) {
	err = eachLine(ctx, in, out, "message", func(line string, out io.Writer) error {
		r, err := a.Handle(ctx, lineMessage(line, now()))
		if err != nil {
			return err
		}
		fixing = fixing || r.Problem != nil
		if asJSON {
			return JSON(out, r)
		}
		if err := Render(out, r, Style{Full: full}); err != nil {
			return err
		}
		_, err = io.WriteString(out, "\n")
		return err
	})
	return fixing, err
}

// Message is one that was typed on the command line.
func Message(text string, at time.Time) bot.Message {
	return bot.Message{Surface: "console", Text: text, At: at, Direct: true, Duty: true}
}

func lineMessage(line string, at time.Time) bot.Message {
	m := Message(line, at)
	if !strings.HasPrefix(line, "{") {
		return m
	}
	var o struct {
		Text   *string `json:"text"`
		Thread string  `json:"thread"`
		User   string  `json:"user"`
	}
	if json.Unmarshal([]byte(line), &o) == nil && o.Text != nil {
		m.Text, m.Thread, m.User = *o.Text, o.Thread, o.User
	}
	return m
}

// Decode shows what is read from a report a line; failed says that one of them
// is none.
func Decode(ctx context.Context, now func() time.Time, in io.Reader, out io.Writer, asJSON bool) (failed bool, err error) {
	err = eachLine(ctx, in, out, "report", func(line string, out io.Writer) error {
		d := wxreport.Decode(line, now())
		failed = failed || d.Kind == "error"
		if asJSON {
			return JSON(out, d)
		}
		return RenderReport(out, d)
	})
	return failed, err
}
