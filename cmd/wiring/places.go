package wiring

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
	"unicode"

	"firn/adapters/airportcsv"
	"firn/adapters/files"
	"firn/adapters/front"
	"firn/adapters/machine"
	"firn/adapters/page"
	"firn/adapters/sqlstore"
	"firn/bot/app"
)

// ErrUsage marks a mistake on the command line.
var ErrUsage = errors.New("usage")

// Host is what the wiring needs of whoever runs it.
type Host struct {
	Stderr io.Writer
	Getenv func(string) string
	Demo   files.Demo // answers where no configuration is given
	Pace   app.Pace   // zero: as people run it
}

// Places are where a command finds what is configured and what is kept.
type Places struct {
	Config string `help:"Configuration file; without it the demo region." placeholder:"FILE"`
	Data   string `help:"Folder of what firn keeps, where the configuration names no store; else firn-data beside the configuration." placeholder:"FOLDER"`
}

// Flags are those that were given, as they stand behind a command that is to find
// the same, with a space in front; empty where none were.
func (p Places) Flags() string {
	var b strings.Builder
	for _, f := range [...][2]string{{"--config", p.Config}, {"--data", p.Data}} {
		switch name, value := f[0], f[1]; {
		case value == "":
		case strings.ContainsFunc(value, func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r) && !strings.ContainsRune("/._-+:@", r)
		}):
			b.WriteString(" " + name + " '" + strings.ReplaceAll(value, "'", `'\''`) + "'")
		default:
			b.WriteString(" " + name + " " + value)
		}
	}
	return b.String()
}

// Loaded is a configuration with where its files are.
type Loaded struct {
	*files.Loaded
	env machine.Env
}

// Load reads the configuration. Without a path the embedded demo region is
// used, and the notice on stderr says so.
func (p Places) Load(h Host) (*Loaded, error) { return Wanted{Places: p}.load(h) }

func (w Wanted) load(h Host) (*Loaded, error) {
	if w.Config == "" {
		fmt.Fprintln(h.Stderr, "firn: no --config given; these are the invented stations of the demo region")
	}
	all, err := files.Load(w.Config, w.Data, h.Demo)
	if err != nil {
		return nil, err
	}
	l := &Loaded{all, h.Getenv}
	if w.Data != "" && l.Store.Path != "" {
		return nil, fmt.Errorf("%w: --data %s would not be used: %s names the store, %s; leave one of them out", ErrUsage, w.Data, l.Name, l.Store.Path)
	}
	if l.AirportList == "" {
		return l, nil
	}
	list, err := airportcsv.Open(l.Path(l.AirportList))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		err = fmt.Errorf("%s: airports: %w; firn import airports writes the list", l.Name, err)
	case err == nil:
		l.Know(list)
	}
	return l, w.without(err)
}

// StoreAt is where the store is: the PostgreSQL database that the environment
// names, else the file.
func (l *Loaded) StoreAt(h Host) (sqlstore.Place, error) {
	url, err := machine.Env(h.Getenv).Secret(EnvDatabase)
	return sqlstore.Place{Database: url.Reveal(), File: l.StoreFile()}, err
}

// StoreAt is where the store of a command is that needs nothing else.
func (p Places) StoreAt(h Host) (sqlstore.Place, error) {
	l, err := p.Load(h)
	if err != nil {
		return sqlstore.Place{}, err
	}
	at, err := l.StoreAt(h)
	at.Flags = p.Flags()
	return at, err
}

// defaultListen is the page's address where the configuration has none: on
// this machine only.
const defaultListen = "127.0.0.1:7470"

// Front is where the page is reached.
func (l *Loaded) Front() front.Options {
	listen := cmp.Or(l.Page.Listen, defaultListen)
	return front.Options{
		Listen: listen, Cert: l.handed(l.Page.TLSCert), Key: l.handed(l.Page.TLSKey),
		Proxied: l.Page.BehindProxy, Exposed: !page.Loopback(listen),
	}
}

// handed is a path of the configuration that systemd may have handed over.
func (l *Loaded) handed(path string) string {
	if file, is := l.env.Handed(path); is {
		return file
	}
	return l.Path(path)
}

// SignIn says that people come in by links: whoever is not at this machine can
// reach the page.
func (l *Loaded) SignIn() bool { return l.Page.BehindProxy || l.Front().Exposed }

// PageURL is the page's address as people reach it.
func (l *Loaded) PageURL(given string) (is string, err error) {
	switch {
	case given != "":
		if is, err = front.ParseURL(given); err != nil {
			err = fmt.Errorf("%w: --url %w", ErrUsage, err)
		}
		return is, err
	case l.Page.BehindProxy:
		return "", fmt.Errorf("%w: behind a proxy firn does not know its own address; add --url https://firn.example.org", ErrUsage)
	}
	return l.Front().URL()
}
