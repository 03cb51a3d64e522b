package jsonl

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/sendertest"
)

func newBox(t *testing.T, dir string) *Box {
	t.Helper()
	return New(slog.New(slog.NewTextHandler(t.Output(), nil)), dir)
}

func TestSuite(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		dir := t.TempDir()
		b := newBox(t, dir)
		return sendertest.Surface{
			Sender:   b,
			Channels: []string{"file:alerts", "file:duty-log"},
			Bad:      "file:../alerts",
			Text: func(t *testing.T, channel string) string {
				return contents(t, dir, strings.TrimPrefix(channel, "file:"))
			},
			Break: func() {
				b.write = func(*os.File, []byte) (int, error) { return 0, syscall.EIO }
			},
		}
	})
}

// contents is what stands in a file; nothing when there is none.
func contents(t *testing.T, dir, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(dir, name+extension))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		t.Fatal(err)
	}
	return string(data)
}

// keys are those of a file's lines, in order; every line must be whole.
func keys(t *testing.T, text string) []string {
	t.Helper()
	if text != "" && !strings.HasSuffix(text, "\n") {
		t.Errorf("the file ends in a torn line: %q", text[strings.LastIndex(text, "\n")+1:])
	}
	var all []string
	for line := range strings.Lines(text) {
		var l Line
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Errorf("line %q: %v", line, err)
			continue
		}
		all = append(all, l.Key)
	}
	return all
}

func post(key string) outbox.Post {
	return outbox.Post{Key: key, Channel: "file:alerts", Body: reply.Reply{Kind: reply.KindStatus, Facts: []string{"Cold at XKLD."}}}
}

func send(t *testing.T, b *Box, p outbox.Post) {
	t.Helper()
	if _, err := b.Send(t.Context(), p); err != nil {
		t.Fatalf("Send(%q) = %v", p.Key, err)
	}
}

func find(t *testing.T, b *Box, key string, want bool) {
	t.Helper()
	if _, found, err := b.Find(t.Context(), "file:alerts", key); err != nil || found != want {
		t.Errorf("Find(%q) = %v, %v; want %v", key, found, err, want)
	}
}

// TestMade: whoever owns the folder above can be given what is made in it.
func TestMade(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "posts")
	b := newBox(t, dir)
	var made []string
	b.Made = func(path string) error {
		made = append(made, path)
		return nil
	}
	send(t, b, post("XK01"))
	send(t, b, post("XK02"))
	if want := []string{dir, filepath.Join(dir, "alerts"+extension)}; !slices.Equal(made, want) {
		t.Errorf("made = %q, want %q", made, want)
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		channel string
		ok      bool
	}{
		{"file:alerts", true},
		{"file:Duty_Log-2", true},
		{"file:7", true},
		{"file:" + strings.Repeat("n", 64), true},
		{"file:" + strings.Repeat("n", 65), false},
		{"file:", false},
		{"file", false},
		{"slack:C0123ABCD", false},
		{"file:..", false},
		{"file:../alerts", false},
		{"file:/etc/alerts", false},
		{"file:a/b", false},
		{`file:a\b`, false},
		{"file:.hidden", false},
		{"file:-rf", false},
		{"file:a.jsonl", false},
		{"file:a\x00", false},
		{"file:a\n", false},
		{"file:schnee❄", false},
	} {
		if err := Check(c.channel); (err == nil) != c.ok {
			t.Errorf("Check(%q) = %v, want ok %v", c.channel, err, c.ok)
		}
	}
}

func TestModes(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state", "posts")
	b := newBox(t, dir)
	find(t, b, "a/1", false)
	if _, err := os.Stat(dir); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a lookup made the folder: %v", err)
	}
	send(t, b, post("a/1"))
	for path, want := range map[string]fs.FileMode{dir: 0o700 | fs.ModeDir, filepath.Join(dir, "alerts.jsonl"): 0o600} {
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode() != want {
			t.Errorf("mode of %s is %v, want %v", filepath.Base(path), info.Mode(), want)
		}
	}
}

// TestTry: what cannot be posted to is seen before the first post, and looking
// leaves nothing behind.
func TestTry(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "posts")
	b := newBox(t, dir)
	try := func(name string, well bool) {
		t.Helper()
		if err := b.Try(t.Context(), "file:alerts"); (err == nil) != well {
			t.Errorf("%s: %v", name, err)
		}
	}
	try("no folder yet", true)
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	try("no file yet", true)
	if all, err := os.ReadDir(dir); err != nil || len(all) > 0 {
		t.Errorf("it left %v, %v", all, err)
	}
	file := filepath.Join(dir, "alerts"+extension)
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	try("a file", true)
	if err := errors.Join(os.Remove(file), os.Mkdir(file, 0o700)); err != nil {
		t.Fatal(err)
	}
	try("no regular file", false)
	if err := errors.Join(os.RemoveAll(dir), os.WriteFile(dir, nil, 0o600)); err != nil {
		t.Fatal(err)
	}
	try("no folder can be there", false)
}

func TestLine(t *testing.T) {
	dir := t.TempDir()
	p := post("alert/XKLD/2026-01-15/1")
	p.Late = 47 * time.Minute
	send(t, newBox(t, dir), p)
	want := `{"key":"alert/XKLD/2026-01-15/1","channel":"file:alerts","late":"late by 47 min","reply":{"kind":"status","facts":["Cold at XKLD."]}}` + "\n"
	if got := contents(t, dir, "alerts"); got != want {
		t.Errorf("the line is %s, want %s", got, want)
	}
}

// A kill in mid-write leaves the beginning of a line, of any length.
func TestTornLine(t *testing.T) {
	dir := t.TempDir()
	send(t, newBox(t, dir), post("a/1"))
	first := contents(t, dir, "alerts")
	send(t, newBox(t, dir), post("a/2"))
	second := strings.TrimPrefix(contents(t, dir, "alerts"), first)
	path := filepath.Join(dir, "alerts.jsonl")
	for n := range len(second) {
		if err := os.WriteFile(path, []byte(first+second[:n]), 0o600); err != nil {
			t.Fatal(err)
		}
		b := newBox(t, dir)
		find(t, b, "a/1", true)
		find(t, b, "a/2", false)
		send(t, b, post("a/2"))
		if got := contents(t, dir, "alerts"); got != first+second {
			t.Fatalf("after a tear at byte %d the file is %q, want %q", n, got, first+second)
		}
	}
}

// What a box knows of a file must follow what others do to it.
func TestOthersAtWork(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "alerts.jsonl")
	a, b := newBox(t, dir), newBox(t, dir)
	send(t, a, post("a/1"))
	send(t, b, post("a/2"))
	find(t, a, "a/2", true)
	send(t, a, post("a/2")) // stands there already
	send(t, a, post("a/3"))
	find(t, b, "a/3", true)
	if got := keys(t, contents(t, dir, "alerts")); fmt.Sprint(got) != "[a/1 a/2 a/3]" {
		t.Errorf("keys are %v", got)
	}

	t.Run("lines of nobody's", func(t *testing.T) {
		f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		foreign := "\n{}\nnot JSON\n{\"key\":\n{\"key\":\"a/9\"}\n{\"key\":\"a/9\\\n{\"channel\":\"file:alerts\",\"key\":\"a/9\"}\n" + strings.Repeat("long ", buffer) + "\n"
		if _, err := f.WriteString(foreign); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		find(t, a, "a/9", false)
		send(t, a, post("a/9"))
		find(t, b, "a/9", true)
		find(t, newBox(t, dir), "a/9", true)
	})
	t.Run("moved away", func(t *testing.T) {
		if err := os.Rename(path, path+".old"); err != nil {
			t.Fatal(err)
		}
		find(t, a, "a/1", false)
		send(t, b, post("a/4"))
		find(t, a, "a/4", true)
		find(t, a, "a/1", false)
	})
	t.Run("cut", func(t *testing.T) {
		if err := os.Truncate(path, 0); err != nil {
			t.Fatal(err)
		}
		find(t, a, "a/4", false)
	})
	t.Run("not a file", func(t *testing.T) {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
		if err := os.Mkdir(path, 0o700); err != nil {
			t.Fatal(err)
		}
		if _, err := a.Send(t.Context(), post("a/5")); err == nil || outbox.IsPermanent(err) {
			t.Errorf("Send to a folder = %v, want an error that another attempt may cure", err)
		}
	})
}

func TestDiskFaults(t *testing.T) {
	torn := func(f *os.File, b []byte) (int, error) {
		n, err := f.Write(b[:len(b)/2])
		return n, errors.Join(err, &fs.PathError{Op: "write", Path: "alerts.jsonl", Err: syscall.ENOSPC})
	}
	for _, c := range []struct {
		name  string
		fault func(*Box)
		words string
	}{
		{"full in mid-line", func(b *Box) { b.write = torn }, "no room on the disk for file:alerts"},
		{"full at once", func(b *Box) {
			b.write = func(*os.File, []byte) (int, error) { return 0, syscall.EDQUOT }
		}, "no room on the disk for file:alerts"},
		{"the line cannot be synced", func(b *Box) {
			b.sync = func(*os.File) error { return syscall.EIO }
		}, "file:alerts"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			good := newBox(t, dir)
			send(t, good, post("a/1"))
			before := contents(t, dir, "alerts")
			b := newBox(t, dir)
			c.fault(b)
			_, err := b.Send(t.Context(), post("a/2"))
			if err == nil || outbox.IsPermanent(err) || !strings.Contains(err.Error(), c.words) {
				t.Errorf("Send = %v, want an error for another attempt that says %q", err, c.words)
			}
			if got := contents(t, dir, "alerts"); got != before {
				t.Errorf("the file is %q after the failure, want %q", got, before)
			}
			find(t, good, "a/2", false)
			send(t, good, post("a/2"))
			if got := keys(t, contents(t, dir, "alerts")); fmt.Sprint(got) != "[a/1 a/2]" {
				t.Errorf("keys are %v", got)
			}
		})
	}
}

// A line that another process wrote, and may have died before syncing, is
// synced before it is said to stand.
func TestFindSyncs(t *testing.T) {
	dir := t.TempDir()
	send(t, newBox(t, dir), post("a/1"))
	b := newBox(t, dir)
	b.sync = func(*os.File) error { return syscall.EIO }
	if _, found, err := b.Find(t.Context(), "file:alerts", "a/1"); found || !errors.Is(err, syscall.EIO) {
		t.Errorf("Find = %v, %v; want the error of the sync", found, err)
	}
	b.sync = (*os.File).Sync
	find(t, b, "a/1", true)
}

// A lock that another process holds is waited for no longer than the context.
func TestLockHeld(t *testing.T) {
	dir := t.TempDir()
	b := newBox(t, dir)
	send(t, b, post("a/1"))
	held, err := openLocked(t.Context(), filepath.Join(dir, "alerts.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := b.Send(ctx, post("a/2")); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("Send = %v, want %v", err, context.DeadlineExceeded)
	}
	var wg sync.WaitGroup
	wg.Go(func() { send(t, b, post("a/2")) })
	if err := held.Close(); err != nil {
		t.Fatal(err)
	}
	wg.Wait()
	find(t, b, "a/2", true)
}

func TestBadKeys(t *testing.T) {
	b := newBox(t, t.TempDir())
	for _, k := range []string{"", "\xff", strings.Repeat("k", longestKey+1)} {
		if _, err := b.Send(t.Context(), post(k)); err == nil || !outbox.IsPermanent(err) {
			t.Errorf("Send(%.20q) = %v, want a permanent error", k, err)
		}
	}
	longest := strings.Repeat("\x01", longestKey)
	send(t, b, post(longest))
	find(t, b, longest, true)
}

// BenchmarkFirstLookup reads a file of 64 MB; later lookups read nothing.
func BenchmarkFirstLookup(b *testing.B) {
	dir := b.TempDir()
	var text bytes.Buffer
	facts := strings.Repeat("Cold at XKLD. ", 60)
	for i := 0; text.Len() < 64<<20; i++ {
		fmt.Fprintf(&text, `{"key":"alert/XKLD/2026-01-15/%d","channel":"file:alerts","reply":{"kind":"status","facts":[%q]}}`+"\n", i, facts)
	}
	if err := os.WriteFile(filepath.Join(dir, "alerts.jsonl"), text.Bytes(), 0o600); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(text.Len()))
	for b.Loop() {
		box := New(slog.New(slog.DiscardHandler), dir)
		if _, found, err := box.Find(b.Context(), "file:alerts", "alert/XKLD/2026-01-15/77"); !found || err != nil {
			b.Fatal(found, err)
		}
	}
}
