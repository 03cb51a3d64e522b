package files

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// Write has a file filled by write, whole or not at all: it is written beside its
// place and takes it in one step, so that a full disk or a kill leaves what stood
// there before, or nothing. A file that is there keeps its mode, another one has
// mode, whatever the umask; where a link leads is written to. What is no file, such
// as a pipe or a device, is written into.
func Write(path string, mode fs.FileMode, write func(io.Writer) error) error {
	place := path
	if real, err := filepath.EvalSymlinks(path); err == nil {
		place = real
	}
	there, err := os.Stat(place)
	switch {
	case err == nil && there.IsDir():
		return fmt.Errorf("nothing was written: %s is a folder; name a file in it", path)
	case err == nil && !there.Mode().IsRegular():
		if err := into(place, write); err != nil {
			return fmt.Errorf("%s was not written whole: %w", path, plain(err))
		}
		return nil
	case err == nil:
		mode = there.Mode().Perm()
	}
	if err := beside(place, mode, write); err != nil {
		if there != nil {
			return fmt.Errorf("nothing was written, and %s is what it was: %w", path, plain(err))
		}
		return fmt.Errorf("nothing was written to %s: %w", path, plain(err))
	}
	return nil
}

// partly begins the name of a file while it is written.
const partly = ".firn-part-"

// plain is an error without that name.
func plain(err error) error {
	if e, ok := errors.AsType[*fs.PathError](err); ok && strings.HasPrefix(filepath.Base(e.Path), partly) {
		return e.Err
	}
	return err
}

func into(place string, write func(io.Writer) error) error {
	f, err := os.OpenFile(place, os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(write(f), f.Close())
}

func beside(place string, mode fs.FileMode, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(place), partly)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close() // once more where that is what failed
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	out := bufio.NewWriterSize(f, 1<<16)
	for _, step := range []func() error{
		func() error { return write(out) }, out.Flush, func() error { return f.Chmod(mode) }, f.Sync, f.Close,
	} {
		if err = step(); err != nil {
			return err
		}
	}
	return os.Rename(f.Name(), place)
}
