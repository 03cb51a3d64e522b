package main

import (
	"cmp"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"firn/adapters/airportcsv"
	"firn/adapters/front"
	"firn/adapters/machine"
	"firn/adapters/page"
	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/bot/config"
	"firn/engine/ruleset"
)

// demo is config.example.yaml, which a test holds it equal to: without
// --config the invented region answers.
//
//go:generate sh -c "cp ../../config.example.yaml demo.yaml && cp ../../testdata/demo-weather/*.txt demo-weather/ && cp ../../testdata/demo-procedures/*.yaml demo-procedures/"
//go:embed demo.yaml
var demo []byte

// demoFiles are the folders that it names, so that it answers anywhere.
//
//go:embed demo-weather/*.txt demo-procedures/*.yaml
var demoFiles embed.FS

// largestConfig is read at most; package config refuses far less.
const largestConfig = 64 << 20

// loaded is a configuration with its rule sets.
type loaded struct {
	*config.Config
	sets     []*ruleset.Set // the built-in ones and the operator's
	name     string         // of the file
	folder   string         // that its paths are relative to
	embedded bool
	data     string // the folder of --data
}

// file is where the store's file is, as an absolute path: people read it in
// another folder than firn was started in.
func (l *loaded) file() string {
	path := l.path(l.Store.Path)
	if path == "" {
		path = filepath.Join(cmp.Or(l.data, filepath.Join(l.folder, defaultData)), defaultStore)
	}
	if whole, err := filepath.Abs(path); err == nil {
		return whole
	}
	return path // where this folder is gone there is nothing to be relative to
}

// The store's file when the configuration names none: in the folder of --data,
// else in this one below the configuration's. Never below the folder that firn
// is started in, or a command from elsewhere would look at another store.
const (
	defaultData  = "firn-data"
	defaultStore = "firn.db"
)

// place is where the store is: the PostgreSQL database that the environment
// names, else the file.
func (l *loaded) place(h host) (sqlstore.Place, error) {
	url, err := machine.Env(h.getenv).Secret(envDatabase)
	return sqlstore.Place{Database: url.Reveal(), File: l.file()}, err
}

// place is where the store of a command is that needs nothing else.
func (f files) place(h host) (sqlstore.Place, error) {
	l, err := f.load(h.stderr)
	if err != nil {
		return sqlstore.Place{}, err
	}
	return l.place(h)
}

// posts is the folder of the file surface, beside the store's file.
func (l *loaded) posts() string { return filepath.Join(filepath.Dir(l.file()), "posts") }

// defaultListen is the page's address where the configuration has none: on
// this machine only.
const defaultListen = "127.0.0.1:7470"

// front is where the page is reached.
func (l *loaded) front() front.Options {
	listen := cmp.Or(l.Page.Listen, defaultListen)
	return front.Options{
		Listen: listen, Cert: l.path(l.Page.TLSCert), Key: l.path(l.Page.TLSKey),
		Proxied: l.Page.BehindProxy, Exposed: !page.Loopback(listen),
	}
}

// signIn says that people come in by links: whoever is not at this machine can
// reach the page.
func (l *loaded) signIn() bool { return l.Page.BehindProxy || l.front().Exposed }

// pageURL is the page's address as people reach it.
func (l *loaded) pageURL(given string) (string, error) {
	if given != "" {
		is, err := front.ParseURL(given)
		if err != nil {
			return "", fmt.Errorf("%w: --url %w", errUsage, err)
		}
		return is, nil
	}
	if l.Page.BehindProxy {
		return "", fmt.Errorf("%w: behind a proxy firn does not know its own address; add --url https://firn.example.org", errUsage)
	}
	return l.front().URL()
}

// path is a path of the configuration: relative to the folder of its file.
func (l *loaded) path(p string) string {
	if p == "" || filepath.IsAbs(p) {
		return p
	}
	return filepath.Join(l.folder, p)
}

// brought is a folder that the configuration names, where it came with the
// program; nil for one on the disk.
func (l *loaded) brought(p string) fs.FS {
	if !l.embedded {
		return nil
	}
	sub, err := fs.Sub(demoFiles, filepath.Base(p))
	if err != nil {
		return nil
	}
	return sub
}

// files are where a command finds what is configured and what is kept.
type files struct {
	Config string `help:"Configuration file; without it the demo region." placeholder:"FILE"`
	Data   string `help:"Folder of what firn keeps, where the configuration names no store; else firn-data beside the configuration." placeholder:"FOLDER"`
}

// load reads the configuration. Without a path the embedded demo region is
// used, and the notice on stderr says so.
func (f files) load(stderr io.Writer) (*loaded, error) {
	path := f.Config
	name, data := "the embedded config.example.yaml", demo
	if path == "" {
		fmt.Fprintln(stderr, "firn: no --config given; these are the invented stations of the demo region")
	} else {
		var err error
		if name = path; name == "" {
			return nil, fmt.Errorf("%w: --config needs a file", errUsage)
		}
		if data, err = readFile(path); err != nil {
			return nil, err
		}
	}
	cfg, sets, err := app.Configure(name, data)
	if err != nil {
		return nil, err
	}
	if f.Data != "" && cfg.Store.Path != "" {
		return nil, fmt.Errorf("%w: --data %s would not be used: %s names the store, %s; leave one of them out", errUsage, f.Data, name, cfg.Store.Path)
	}
	l := &loaded{Config: cfg, sets: sets, name: name, folder: filepath.Dir(path), embedded: path == "", data: f.Data}
	return l, l.airports()
}

// airports reads the list that the configuration names.
func (l *loaded) airports() error {
	path := l.path(l.AirportList)
	if path == "" {
		return nil
	}
	f, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%s: airports: %w; firn import airports writes the list", l.name, err)
	}
	defer f.Close()
	d, err := airportcsv.Load(f, path)
	if err != nil {
		return err
	}
	l.Know(d)
	return nil
}

func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("configuration: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, largestConfig))
	if err != nil {
		return nil, fmt.Errorf("configuration: %w", err)
	}
	return data, nil
}
