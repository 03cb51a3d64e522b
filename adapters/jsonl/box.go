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
	"regexp"
	"strings"
	"sync"
	"unicode/utf8"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// Surface is the first part of the channels that a Box serves.
const Surface = "file"

const extension = ".jsonl"

// longestKey bounds a key, so that it stands within the beginning of its line
// that the index looks at, also when each of its bytes is written as \u00xx.
const longestKey = 1000

// Line is what stands in a file for a post. Its first two fields are where
// the index looks for them.
type Line struct {
	Key     string      `json:"key"`
	Channel string      `json:"channel"`
	Late    string      `json:"late,omitempty"` // "late by 47 min"
	Reply   reply.Reply `json:"reply"`
}

// Box is a folder of files that are posted to. It is an outbox.Sender.
type Box struct {
	// Made is told of each folder and file that is made; nil: nobody is.
	Made func(path string) error

	log *slog.Logger
	dir string

	mu    sync.Mutex
	files map[string]*file

	// What a disk can refuse, apart so that tests can have it refuse.
	write func(*os.File, []byte) (int, error)
	sync  func(*os.File) error
}

// New makes a Box over a folder, which is made with the first post.
func New(log *slog.Logger, dir string) *Box {
	return &Box{
		log: log, dir: filepath.Clean(dir), files: map[string]*file{},
		write: (*os.File).Write, sync: (*os.File).Sync,
	}
}

// names are those that a file may have: no separators, no leading dot, and
// nothing that a file system could read in another way.
var names = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$`)

// Check says what is wrong with a channel of this surface, or nothing.
func Check(channel string) error {
	name, ok := strings.CutPrefix(channel, Surface+":")
	if !ok {
		return fmt.Errorf("%q is no file channel; type file:NAME, such as file:alerts", channel)
	}
	if !names.MatchString(name) {
		return fmt.Errorf("%q cannot be a file's name; use up to 64 letters, digits, - and _, such as file:alerts", name)
	}
	return nil
}

// with calls do with the channel's file, when nobody else in this process is
// at it.
func (b *Box) with(ctx context.Context, channel, key string, do func(*file) error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := Check(channel); err != nil {
		return outbox.Permanent(err)
	}
	if key == "" || len(key) > longestKey || !utf8.ValidString(key) {
		return outbox.Permanent(fmt.Errorf("a key must be 1 to %d bytes of UTF-8, and %.40q is not", longestKey, key))
	}
	name := strings.TrimPrefix(channel, Surface+":")
	b.mu.Lock()
	c := b.files[name]
	if c == nil {
		c = &file{name: name, path: filepath.Join(b.dir, name+extension), busy: make(chan struct{}, 1)}
		b.files[name] = c
	}
	b.mu.Unlock()
	select {
	case c.busy <- struct{}{}:
		defer func() { <-c.busy }()
	case <-ctx.Done():
		return ctx.Err()
	}
	return do(c)
}

// Send appends a post to its file. A post whose key stands there already is
// not written again.
func (b *Box) Send(ctx context.Context, p outbox.Post) (ref string, err error) {
	err = b.with(ctx, p.Channel, p.Key, func(c *file) error {
		ref, err = b.send(ctx, c, p)
		return err
	})
	return ref, explain(p.Channel, err)
}

func (b *Box) send(ctx context.Context, c *file, p outbox.Post) (ref string, err error) {
	var text bytes.Buffer
	enc := json.NewEncoder(&text) // ends each value with a newline
	enc.SetEscapeHTML(false)
	if err := enc.Encode(Line{p.Key, p.Channel, p.Lateness(), p.Body}); err != nil {
		return "", outbox.Permanent(fmt.Errorf("it has no JSON form: %w", err))
	}
	f, err := b.open(ctx, c, true)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if ref, found, err := b.find(ctx, c, f.File, p.Channel, p.Key); found || err != nil {
		return ref, err
	}
	if err := c.mend(ctx, b.log, f.File); err != nil {
		return "", err
	}
	if err := ctx.Err(); err != nil {
		return "", err
	}
	offset, err := b.add(c, f.File, text.Bytes())
	if err != nil {
		return "", err
	}
	c.at[digestOf(p.Channel, p.Key)] = offset
	c.upTo = offset + int64(text.Len())
	c.synced = c.upTo
	return reference(c.name, offset), nil
}

// Try says whether a channel can be posted to, as far as that is seen without a
// post: nil where its folder is not there yet. Nothing of it stays.
func (b *Box) Try(ctx context.Context, channel string) error {
	if err := Check(channel); err != nil {
		return err
	}
	path := filepath.Join(b.dir, strings.TrimPrefix(channel, Surface+":")+extension)
	f, err := openLocked(ctx, path)
	if err == nil {
		return f.Close()
	}
	if errors.Is(err, fs.ErrNotExist) {
		var made *os.File
		if made, err = os.CreateTemp(b.dir, ".firn-doctor-"); errors.Is(err, fs.ErrNotExist) {
			return nil // it is made with the first post
		} else if err == nil {
			err = errors.Join(made.Close(), os.Remove(made.Name()))
		}
	}
	return explain(channel, err)
}

// Find looks for a post in its file.
func (b *Box) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	err = b.with(ctx, channel, key, func(c *file) (err error) {
		f, err := b.open(ctx, c, false)
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, f.Close()) }()
		ref, found, err = b.find(ctx, c, f.File, channel, key)
		return err
	})
	if err != nil {
		return "", false, explain(channel, err)
	}
	return ref, found, nil
}

// find looks for a key in a file that is open and locked.
func (b *Box) find(ctx context.Context, c *file, f *os.File, channel, key string) (ref string, found bool, err error) {
	if err := c.extend(ctx, f); err != nil {
		return "", false, err
	}
	offset, found := c.at[digestOf(channel, key)]
	if !found {
		return "", false, nil
	}
	if offset >= c.synced {
		// Who wrote it may have died before it was on the disk.
		if err := b.sync(f); err != nil {
			return "", false, err
		}
		c.synced = c.upTo
	}
	return reference(c.name, offset), true, nil
}

// explain puts what people need to know in front of an error.
func explain(channel string, err error) error {
	switch {
	case err == nil:
		return nil
	case full(err):
		return fmt.Errorf("no room on the disk for %s; it is tried again, make room: %w", channel, err)
	case errors.Is(err, fs.ErrPermission):
		return fmt.Errorf("not allowed to write %s; it is tried again, let firn write to its folder: %w", channel, err)
	}
	return fmt.Errorf("post to %s: %w", channel, err)
}
