package jsonl

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
)

// digest stands for a channel and a key: 16 bytes instead of the text, so
// that a file of hundreds of megabytes (its lines are about a kilobyte) is
// held in some tens of them.
type digest [16]byte

func digestOf(channel, key string) digest {
	sum := sha256.Sum256([]byte(channel + "\x00" + key))
	return digest(sum[:16])
}

// index is which keys stand in a file, up to an offset. A file only grows, so
// it is read on from there each time.
type index struct {
	of   os.FileInfo // the file that it is of
	at   map[digest]int64
	upTo int64 // the end of the last whole line that was read
	// synced is up to where this process knows the file to be on the disk.
	synced int64
}

// buffer is what a line is looked at through; a line of ours has its channel
// and key well within it (see longestKey).
const buffer = 64 << 10

// extend reads on to the end of the last whole line. The file's lock must be
// held. A file that was replaced or cut is read from its beginning.
func (x *index) extend(ctx context.Context, f *os.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if x.of == nil || !os.SameFile(x.of, info) || info.Size() < x.upTo {
		*x = index{at: map[digest]int64{}}
	}
	x.of = info
	if info.Size() == x.upTo {
		return nil
	}
	r := bufio.NewReaderSize(io.NewSectionReader(f, x.upTo, info.Size()-x.upTo), buffer)
	for n := 0; ; n++ {
		if n%1024 == 0 && ctx.Err() != nil {
			return ctx.Err() // what was read stays read
		}
		start, length := x.upTo, int64(0)
		begin, err := r.ReadSlice('\n')
		length += int64(len(begin))
		d, ours := digestOfLine(begin)
		for errors.Is(err, bufio.ErrBufferFull) {
			var more []byte
			more, err = r.ReadSlice('\n')
			length += int64(len(more))
		}
		if errors.Is(err, io.EOF) {
			return nil // what is left has no newline and is no line
		}
		if err != nil {
			return err
		}
		if _, twice := x.at[d]; ours && !twice {
			x.at[d] = start
		}
		x.upTo += length
	}
}

// The beginning of each line of ours.
var (
	keyField     = []byte(`{"key":`)
	channelField = []byte(`,"channel":`)
)

// digestOfLine reads channel and key from the beginning of a line; anything
// else that stands in the file is nobody's post.
func digestOfLine(begin []byte) (d digest, ours bool) {
	rest, ok := bytes.CutPrefix(begin, keyField)
	if !ok {
		return d, false
	}
	key, rest, ok := quoted(rest)
	if !ok {
		return d, false
	}
	if rest, ok = bytes.CutPrefix(rest, channelField); !ok {
		return d, false
	}
	channel, _, ok := quoted(rest)
	if !ok {
		return d, false
	}
	return digestOf(channel, key), true
}

// quoted reads a JSON string from the beginning of b.
func quoted(b []byte) (s string, rest []byte, ok bool) {
	if len(b) == 0 || b[0] != '"' {
		return "", nil, false
	}
	for i := 1; i < len(b); i++ {
		switch b[i] {
		case '\\':
			i++
		case '"':
			err := json.Unmarshal(b[:i+1], &s)
			return s, b[i+1:], err == nil
		}
	}
	return "", nil, false
}

// reference names a line for people: which file, and the byte it begins at.
func reference(name string, offset int64) string {
	return fmt.Sprintf("%s%s@%d", name, extension, offset)
}
