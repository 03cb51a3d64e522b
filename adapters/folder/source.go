package folder

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"firn/bot/weather"
)

// Options are what a Source is made of; only Dir or FS must be given.
type Options struct {
	Dir string
	FS  fs.FS            // read in place of Dir: files that a program brings with it
	Now func() time.Time // nil: the system's clock
	Log *slog.Logger     // hears of files that cannot be read, once; nil: nobody does

	MaxBytes int64         // of one file; 0: 1 MiB
	MaxFiles int           // entries of the folder that are looked at; 0: 2000
	Every    time.Duration // the folder is looked at no more often; 0: 1 s
}

// Source is a folder as a weather.Source.
type Source struct {
	o     Options
	root  *os.Root // nil with Options.FS
	files fs.FS

	mu       sync.Mutex
	looked   time.Time // when the folder was last looked at
	failed   error     // why that failed
	read     map[string]*file
	board    *weather.Board // of all files
	problems []error
	told     string // the problems that Log has heard of
}

var _ weather.Source = (*Source)(nil)

// New opens a folder. The error says that it cannot be opened.
func New(o Options) (*Source, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.MaxBytes <= 0 {
		o.MaxBytes = 1 << 20
	}
	if o.MaxFiles <= 0 {
		o.MaxFiles = 2000
	}
	if o.Every <= 0 {
		o.Every = time.Second
	}
	s := &Source{o: o, files: o.FS, read: map[string]*file{}, board: &weather.Board{}}
	if s.files == nil {
		root, err := os.OpenRoot(o.Dir)
		if err != nil {
			return nil, fmt.Errorf("weather folder: %w", err)
		}
		s.root, s.files = root, root.FS()
	}
	return s, nil
}

// Close lets go of the folder.
func (s *Source) Close() error {
	if s.root == nil {
		return nil
	}
	return s.root.Close()
}

// Name is that of the configuration.
func (s *Source) Name() string { return "folder" }

// Observation is the newest METAR's.
func (s *Source) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	return look(ctx, s, ident, (*weather.Board).Observation)
}

// Forecast is the newest TAF's.
func (s *Source) Forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	return look(ctx, s, ident, (*weather.Board).Forecast)
}

// look gives a station's report. Where there is none and a file cannot be
// read, the error is that file's: it may hold the report.
func look[T any](ctx context.Context, s *Source, ident string, find func(*weather.Board, string) (T, error)) (T, error) {
	var zero T
	if err := ctx.Err(); err != nil {
		return zero, err
	}
	board, problems, err := s.current(ctx)
	if err != nil {
		return zero, fmt.Errorf("weather folder: %s: %w", ident, err)
	}
	got, err := find(board, strings.ToUpper(ident))
	if errors.Is(err, weather.ErrNone) {
		for _, p := range problems {
			if _, unread := errors.AsType[*UnreadError](p); unread {
				err = fmt.Errorf("nothing in the files that can be read; %w", p)
				break
			}
		}
	}
	if err != nil {
		return zero, fmt.Errorf("weather folder: %s: %w", ident, err)
	}
	return got, nil
}

// Problems are what is wrong with the folder's files, as of the last look:
// *UnreadError for a whole file, else a report with its file and line.
func (s *Source) Problems(ctx context.Context) ([]error, error) {
	_, problems, err := s.current(ctx)
	return problems, err
}

// UnreadError is a file that is not used at all.
type UnreadError struct {
	File string // its name, without the folder
	Err  error
}

func (e *UnreadError) Error() string { return fmt.Sprintf("file %q is not read: %v", e.File, e.Err) }

// Unwrap is for errors.Is.
func (e *UnreadError) Unwrap() error { return e.Err }
