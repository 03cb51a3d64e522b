package console

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"firn/bot"
	"firn/bot/reply"
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
		m, twice := lineMessage(line, now())
		r := reply.Ask(reply.Problem{Word: twice, Text: "“" + twice + "” stands twice in this line; which one is meant?"})
		if twice == "" {
			var err error
			if r, err = a.Handle(ctx, m); err != nil {
				return err
			}
		}
		fixing = fixing || r.Problem != nil
		if asJSON {
			return JSON(out, r)
		}
		if err := Render(out, r, Style{Full: full}); err != nil {
			return err
		}
		_, err := io.WriteString(out, "\n")
		return err
	})
	return fixing, err
}

// Message is one that was typed on the command line.
func Message(text string, at time.Time) bot.Message {
	return bot.Message{Surface: "console", Text: text, At: at, Direct: true, Duty: true}
}

// lineMessage is a line as text, or as an object with one. twice is a key that an
// object has two of: nothing says which holds.
func lineMessage(line string, at time.Time) (m bot.Message, twice string) {
	m = Message(line, at)
	if !strings.HasPrefix(line, "{") {
		return m, ""
	}
	var o struct {
		Text   *string `json:"text"`
		Thread string  `json:"thread"`
		User   string  `json:"user"`
	}
	if json.Unmarshal([]byte(line), &o) == nil && o.Text != nil {
		m.Text, m.Thread, m.User = *o.Text, o.Thread, o.User
		twice = repeated(line)
	}
	return m, twice
}

// repeated is a key of ours that an object, which can be decoded, has twice, in
// whatever case; empty where it has none.
func repeated(object string) string {
	d := json.NewDecoder(strings.NewReader(object))
	if _, err := d.Token(); err != nil {
		return ""
	}
	var keys []string
	for d.More() {
		t, err := d.Token()
		if err != nil || d.Decode(new(json.RawMessage)) != nil {
			return ""
		}
		key, _ := t.(string)
		keys = append(keys, key)
	}
	for _, ours := range []string{"text", "thread", "user"} {
		same := func(k string) bool { return strings.EqualFold(k, ours) }
		if i := slices.IndexFunc(keys, same); i >= 0 && slices.ContainsFunc(keys[i+1:], same) {
			return ours
		}
	}
	return ""
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
