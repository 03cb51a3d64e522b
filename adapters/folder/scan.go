package folder

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	"firn/bot/weather"
)

// mostProblems are kept of one look; a folder with more is no weather folder.
const mostProblems = 50

// file is one file as it was when it was last read.
type file struct {
	stamp    stamp
	board    *weather.Board
	problems []error
}

// stamp changes when the file does; hour only moves for a demo file.
type stamp struct {
	modified time.Time
	size     int64
	hour     time.Time
}

// current is what the folder holds, looked at now unless it just was.
func (s *Source) current(ctx context.Context) (*weather.Board, []error, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.o.Now().UTC()
	if since := now.Sub(s.looked); s.looked.IsZero() || since >= s.o.Every || since < 0 {
		s.failed = s.scan(now)
		s.looked = now
		s.tell(ctx)
	}
	return s.board, s.problems, s.failed
}

// tell logs the problems when they are others than before.
func (s *Source) tell(ctx context.Context) {
	all := make([]string, len(s.problems))
	for i, p := range s.problems {
		all[i] = p.Error()
	}
	text := strings.Join(all, "; ")
	if text != s.told && text != "" {
		s.o.Log.WarnContext(ctx, "weather folder has problems", "problems", text)
	}
	s.told = text
}

func (s *Source) scan(now time.Time) error {
	entries, more, err := s.list()
	if err != nil {
		return err
	}
	var found []string
	changed := false
	problems := []error{}
	if more {
		problems = append(problems, fmt.Errorf("the folder has more than %d entries; the rest is not looked at", s.o.MaxFiles))
	}
	unread := func(name string, err error) {
		problems = append(problems, &UnreadError{name, plain(err)})
	}
	for _, e := range entries {
		name := e.Name()
		if low := strings.ToLower(name); !strings.HasSuffix(low, ".txt") || strings.HasPrefix(low, ".") || e.IsDir() {
			continue
		}
		// Follows a link, inside the folder only.
		info, err := fs.Stat(s.files, name)
		switch {
		case errors.Is(err, fs.ErrNotExist) && e.Type().IsRegular():
			continue // gone between the two looks
		case err != nil:
			unread(name, err)
			continue
		case !info.Mode().IsRegular():
			unread(name, errors.New("it is no ordinary file"))
			continue
		case info.Size() > s.o.MaxBytes:
			unread(name, fmt.Errorf("it has %d bytes; at most %d are read", info.Size(), s.o.MaxBytes))
			continue
		}
		st := stamp{modified: info.ModTime(), size: info.Size()}
		if isDemo(name) {
			st.hour = now.Truncate(time.Hour)
		}
		f := s.read[name]
		if f == nil || f.stamp != st {
			text, err := s.text(name)
			if err != nil {
				unread(name, err)
				continue
			}
			f = parse(name, text, st, now)
			s.read[name] = f
			changed = true
		}
		found = append(found, name)
		problems = append(problems, f.problems...)
	}
	for name := range s.read {
		if !slices.Contains(found, name) {
			delete(s.read, name)
			changed = true
		}
	}
	if changed {
		board := &weather.Board{}
		for _, name := range found {
			board.Merge(s.read[name].board)
		}
		s.board = board
	}
	s.problems = problems[:min(len(problems), mostProblems)]
	return nil
}

// list gives the folder's entries in order of name.
func (s *Source) list() (entries []fs.DirEntry, more bool, err error) {
	f, err := s.files.Open(".")
	if err != nil {
		return nil, false, plain(err)
	}
	defer f.Close()
	d, ok := f.(fs.ReadDirFile)
	if !ok {
		return nil, false, errors.New("its entries cannot be listed")
	}
	entries, err = d.ReadDir(s.o.MaxFiles + 1)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, false, plain(err)
	}
	if len(entries) > s.o.MaxFiles {
		entries, more = entries[:s.o.MaxFiles], true
	}
	slices.SortFunc(entries, func(a, b fs.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	return entries, more, nil
}

func (s *Source) text(name string) (string, error) {
	f, err := s.files.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, s.o.MaxBytes+1))
	if err != nil {
		return "", err
	}
	if int64(len(data)) > s.o.MaxBytes {
		return "", fmt.Errorf("it has more than %d bytes", s.o.MaxBytes)
	}
	return strings.ToValidUTF8(strings.TrimPrefix(string(data), "\ufeff"), "?"), nil
}

// parse reads a file's reports. They were made before the file was written.
func parse(name, text string, st stamp, now time.Time) *file {
	f := &file{stamp: st, board: &weather.Board{}}
	at := now
	if st.modified.Before(at) {
		at = st.modified
	}
	source, received := "folder", st.modified
	if isDemo(name) {
		source, at, received = "demo", now, st.hour
	}
	for _, r := range weather.Split(text) {
		var err error
		if isDemo(name) {
			r.Text, err = render(r, now)
		}
		if err == nil {
			err = f.board.Add(r, source, at, received)
		}
		if err != nil && len(f.problems) < mostProblems {
			f.problems = append(f.problems, fmt.Errorf("file %q, line %d: %w", name, r.Line, err))
		}
	}
	return f
}

// plain takes the path out of an error: the name is told beside it.
func plain(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok {
		return e.Err
	}
	return err
}
