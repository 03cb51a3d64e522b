// Package files has the configuration's file, and says where what it names lies.
package files

import (
	"cmp"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"firn/bot/app"
	"firn/bot/config"
	"firn/engine/ruleset"
)

// largest is read of a configuration at most; package config refuses far less.
const largest = 64 << 20

// The store's file when the configuration names none: in the folder that is
// given, else in this one below the configuration's. Never below the folder that
// firn is started in, or a command from elsewhere would look at another store.
const (
	defaultData  = "firn-data"
	defaultStore = "firn.db"
)

// relative is for whoever copied a configuration, and not its folders.
const relative = "paths in the configuration are relative to its own folder"

// Demo is a configuration that comes with the program, with its folders.
type Demo struct {
	Name    string
	Text    []byte
	Folders fs.FS
}

// Loaded is a configuration with its rule sets, and where its files are.
type Loaded struct {
	*config.Config
	Rules []*ruleset.Set // the built-in ones and the operator's
	Name  string         // of the file

	folder string // that its paths are relative to
	data   string // the folder of what is kept; empty: not given
	demo   fs.FS  // nil: it is on the disk
	text   []byte
	edited time.Time // when the file was written; zero for the demo
}

// Load reads a configuration, the demo's where path is empty. data is the folder
// of what is kept, where the configuration names no store; it may be empty.
func Load(path, data string, demo Demo) (*Loaded, error) {
	l := &Loaded{Name: path, folder: filepath.Dir(path), data: data}
	text := demo.Text
	var err error
	if path == "" {
		l.Name, l.demo = demo.Name, demo.Folders
	} else if text, l.edited, err = read(path); err != nil {
		return nil, fmt.Errorf("configuration: %w", err)
	}
	l.text = text
	l.Config, l.Rules, err = app.Configure(l.Name, text)
	return l, err
}

// Digest is one of what serve takes in at its start and at a reload: the
// configuration, the charts and the list of airports. Where one of them is changed,
// comes or goes it is another. edited is when the latest was written; zero for
// the demo.
func (l *Loaded) Digest() (digest string, edited time.Time) {
	h := sha256.New()
	fmt.Fprintf(h, "%d\n%s", len(l.text), l.text)
	edited = l.edited
	// What cannot be read is told by whoever uses it.
	add := func(path string) {
		is, err := os.Stat(path)
		if err != nil {
			return
		}
		if is.ModTime().After(edited) {
			edited = is.ModTime()
		}
		if !is.Mode().IsRegular() {
			return // opening a pipe would wait for who writes to it
		}
		f, err := os.Open(path)
		if err != nil {
			return
		}
		defer f.Close()
		fmt.Fprintf(h, "%s %d\n", filepath.Base(path), is.Size())
		io.Copy(h, f)
	}
	if l.demo == nil && l.Procedures != "" {
		folder := l.Path(l.Procedures)
		add(folder) // a chart that went, or was moved there, is not newer itself
		names, _ := fs.Glob(os.DirFS(folder), "*.yaml")
		for _, name := range names {
			add(filepath.Join(folder, name))
		}
	}
	if l.demo == nil && l.AirportList != "" {
		add(l.Path(l.AirportList))
	}
	return fmt.Sprintf("%x", h.Sum(nil)), edited
}

// errNoFile: whoever opens a pipe waits for who writes to it, and reads it once;
// what a configuration names lies in its folder, and a pipe has none.
var errNoFile = errors.New("it is no file: write it to one, for its paths are relative to its folder, and it is read again at a reload")

func read(path string) (text []byte, edited time.Time, err error) {
	if is, err := os.Stat(path); err == nil && !is.Mode().IsRegular() {
		return nil, edited, fmt.Errorf("%s: %w", path, errNoFile)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, edited, err
	}
	defer f.Close()
	if is, err := f.Stat(); err == nil {
		edited = is.ModTime()
	}
	text, err = io.ReadAll(io.LimitReader(f, largest))
	return text, edited, err
}

// Configured says that it is somebody's own, and not the demo's.
func (l *Loaded) Configured() bool { return l.demo == nil }

// Beside is where the store's file is of a configuration in a folder that names none.
func Beside(folder, data string) string {
	return filepath.Join(cmp.Or(data, filepath.Join(folder, defaultData)), defaultStore)
}

// StoreFile is where the store's file is, as an absolute path: people read it in
// another folder than firn was started in.
func (l *Loaded) StoreFile() string {
	path := l.Path(l.Store.Path)
	if path == "" {
		path = Beside(l.folder, l.data)
	}
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return path // where this folder is gone there is nothing to be relative to
}

// Posts is the folder of the file surface, beside the store's file.
func (l *Loaded) Posts() string { return filepath.Join(filepath.Dir(l.StoreFile()), "posts") }

// Path is a path of the configuration: relative to the folder of its file.
func (l *Loaded) Path(p string) string {
	if p == "" || filepath.IsAbs(p) {
		return p
	}
	return filepath.Join(l.folder, p)
}

// Brought is a folder that the configuration names, where it came with the
// program; nil for one on the disk.
func (l *Loaded) Brought(p string) fs.FS {
	if l.demo == nil {
		return nil
	}
	sub, err := fs.Sub(l.demo, filepath.Base(p))
	if err != nil {
		return nil
	}
	return sub
}

// Folder is a folder that the configuration names, which must be there.
func (l *Loaded) Folder(p string) (fs.FS, error) {
	if brought := l.Brought(p); brought != nil {
		return brought, nil
	}
	path := l.Path(p)
	if _, err := os.Stat(path); err != nil {
		return nil, Missing(err)
	}
	return os.DirFS(path), nil
}

// Missing says what to mind about a path of the configuration that is not there.
func Missing(err error) error { return fmt.Errorf("%w; %s", err, relative) }
