package cifp

import (
	"bufio"
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"firn/bot/approach"
)

// bigFile repeats the excerpt's real records until there are 400 000.
func bigFile(b *testing.B) string {
	b.Helper()
	sample := excerpt(b)
	header, records, _ := bytes.Cut(sample, []byte("\n"))
	lines := bytes.SplitAfter(records, []byte("\n"))
	name := filepath.Join(b.TempDir(), "big.txt")
	f, err := os.Create(name)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriterSize(f, 1<<20)
	w.Write(append(header, '\n'))
	const wanted = 400_000
	for n := 0; n < wanted; {
		for _, l := range lines {
			if len(l) == 0 || n == wanted {
				continue
			}
			w.Write(l)
			n++
		}
	}
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	return name
}

func open(b *testing.B, name string) *os.File {
	b.Helper()
	f, err := os.Open(name)
	if err != nil {
		b.Fatal(err)
	}
	return f
}

// countLines is how Go counts lines: a scanner, a line at a time.
func countLines(b *testing.B, name string) int {
	f := open(b, name)
	defer f.Close()
	n := 0
	s := bufio.NewScanner(f)
	for s.Scan() {
		n++
	}
	if s.Err() != nil {
		b.Fatal(s.Err())
	}
	return n
}

// countEnds counts them without looking at the lines: the least that reading
// a file can cost.
func countEnds(b *testing.B, name string) int {
	f := open(b, name)
	defer f.Close()
	buf := make([]byte, chunkSize)
	n := 0
	for {
		got, err := f.Read(buf)
		n += bytes.Count(buf[:got], []byte("\n"))
		if err == io.EOF {
			return n
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRead400k reads 400 000 records, every approach handed over, and
// counts their lines in turn, so that both meet the same machine; the fastest
// run of each counts, for what disturbs it disturbs the longer one more. The
// figure to reach is x-lines of at most 2.
func BenchmarkRead400k(b *testing.B) {
	name := bigFile(b)
	fastest := func(have time.Duration, f func()) time.Duration {
		start := time.Now()
		f()
		if took := time.Since(start); have == 0 || took < have {
			return took
		}
		return have
	}
	var reading, lines, ends time.Duration
	legs := 0
	b.ReportAllocs()
	for b.Loop() {
		ends = fastest(ends, func() { countEnds(b, name) })
		lines = fastest(lines, func() { countLines(b, name) })
		reading = fastest(reading, func() {
			f := open(b, name)
			defer f.Close()
			s, err := Read(f, Handler{Approach: func(a *approach.Approach) error { legs += len(a.Legs); return nil }})
			if err != nil || s.Records != 400_001 || s.Malformed > 0 {
				b.Fatalf("got %d records, %d malformed, error %v, want 400001 and none", s.Records, s.Malformed, err)
			}
		})
	}
	b.ReportMetric(float64(reading)/float64(lines), "x-lines")
	b.ReportMetric(float64(reading)/float64(ends), "x-line-ends")
	b.ReportMetric(float64(reading.Nanoseconds())/400_000, "ns/record")
}
