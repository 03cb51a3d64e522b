package main

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"firn/adapters/airportcsv"
	"firn/adapters/files"
	"firn/adapters/front"
	"firn/adapters/machine"
	"firn/adapters/page"
	"firn/adapters/sqlstore"
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

// places are where a command finds what is configured and what is kept.
type places struct {
	Config string `help:"Configuration file; without it the demo region." placeholder:"FILE"`
	Data   string `help:"Folder of what firn keeps, where the configuration names no store; else firn-data beside the configuration." placeholder:"FOLDER"`
}

// loaded is a configuration with where its files are.
type loaded struct{ *files.Loaded }

// load reads the configuration. Without a path the embedded demo region is
// used, and the notice on stderr says so.
func (p places) load(stderr io.Writer) (*loaded, error) {
	if p.Config == "" {
		fmt.Fprintln(stderr, "firn: no --config given; these are the invented stations of the demo region")
	}
	all, err := files.Load(p.Config, p.Data, files.Demo{Name: "the embedded config.example.yaml", Text: demo, Folders: demoFiles})
	if err != nil {
		return nil, err
	}
	l := &loaded{all}
	if p.Data != "" && l.Store.Path != "" {
		return nil, fmt.Errorf("%w: --data %s would not be used: %s names the store, %s; leave one of them out", errUsage, p.Data, l.Name, l.Store.Path)
	}
	if l.AirportList == "" {
		return l, nil
	}
	list, err := airportcsv.Open(l.Path(l.AirportList))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: airports: %w; firn import airports writes the list", l.Name, err)
	}
	if err != nil {
		return nil, err
	}
	l.Know(list)
	return l, nil
}

// place is where the store is: the PostgreSQL database that the environment
// names, else the file.
func (l *loaded) place(h host) (sqlstore.Place, error) {
	url, err := machine.Env(h.getenv).Secret(envDatabase)
	return sqlstore.Place{Database: url.Reveal(), File: l.StoreFile()}, err
}

// place is where the store of a command is that needs nothing else.
func (p places) place(h host) (sqlstore.Place, error) {
	l, err := p.load(h.stderr)
	if err != nil {
		return sqlstore.Place{}, err
	}
	return l.place(h)
}

// defaultListen is the page's address where the configuration has none: on
// this machine only.
const defaultListen = "127.0.0.1:7470"

// front is where the page is reached.
func (l *loaded) front() front.Options {
	listen := cmp.Or(l.Page.Listen, defaultListen)
	return front.Options{
		Listen: listen, Cert: l.Path(l.Page.TLSCert), Key: l.Path(l.Page.TLSKey),
		Proxied: l.Page.BehindProxy, Exposed: !page.Loopback(listen),
	}
}

// signIn says that people come in by links: whoever is not at this machine can
// reach the page.
func (l *loaded) signIn() bool { return l.Page.BehindProxy || l.front().Exposed }

// pageURL is the page's address as people reach it.
func (l *loaded) pageURL(given string) (is string, err error) {
	switch {
	case given != "":
		if is, err = front.ParseURL(given); err != nil {
			err = fmt.Errorf("%w: --url %w", errUsage, err)
		}
		return is, err
	case l.Page.BehindProxy:
		return "", fmt.Errorf("%w: behind a proxy firn does not know its own address; add --url https://firn.example.org", errUsage)
	}
	return l.front().URL()
}
