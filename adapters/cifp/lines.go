package cifp

import (
	"bytes"
	"errors"
	"io"
)

// chunkSize is how much of a file is held at a time. It fits the second cache.
const chunkSize = 256 << 10

// readError is an error of reading, to be told from one of each.
type readError struct{ err error }

func (e *readError) Error() string { return e.err.Error() }

func (e *readError) Unwrap() error { return e.err }

// eachLine calls each with every line, without its line feed, and long where
// one does not fit a chunk: such a line is passed over. Its memory is one chunk,
// however large the file. An error of reading is a *readError.
func eachLine(src io.Reader, each func(line []byte) error, long func()) error {
	buf := make([]byte, chunkSize)
	n := 0            // bytes held; no line ends among them
	skipping := false // in the midst of a line that fits no chunk
	for {
		got, err := fill(src, buf[n:])
		held := buf[:n+got]
		lines := regular(held)
		for search := n; ; {
			var end int
			if lines > 0 {
				lines--
				end = recordLength
			} else if i := bytes.IndexByte(held[search:], '\n'); i >= 0 {
				end = search + i
			} else {
				break
			}
			if skipping {
				skipping = false
			} else if err := each(held[:end]); err != nil {
				return err
			}
			held, search = held[end+1:], 0
		}
		n = copy(buf, held)
		switch {
		case err != nil && !errors.Is(err, io.EOF):
			return &readError{err}
		case err != nil && n > 0 && !skipping:
			return each(buf[:n]) // the last line may have no end
		case err != nil:
			return nil
		case n == len(buf):
			if !skipping {
				long()
			}
			n, skipping = 0, true
		}
	}
}

// regular gives the number of lines, when all of them are as long as a record:
// then none needs to be searched for its end. It is 0 otherwise.
func regular(held []byte) int {
	n := 0
	for at := recordLength; at < len(held) && held[at] == '\n'; at += recordLength + 1 {
		n++
	}
	if n != bytes.Count(held, []byte{'\n'}) {
		return 0
	}
	return n
}

// fill reads until it has all it can take, or the file ends.
func fill(src io.Reader, into []byte) (n int, err error) {
	for idle := 0; n < len(into) && err == nil; {
		var got int
		got, err = src.Read(into[n:])
		n += got
		if idle++; got > 0 {
			idle = 0
		} else if idle > 100 && err == nil {
			err = io.ErrNoProgress
		}
	}
	return n, err
}
