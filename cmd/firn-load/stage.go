package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"time"

	"firn/adapters/testkit/pgtest"
	"firn/adapters/testkit/slackdouble"
)

// stage is firn at work: the program as a process, on a store of its own, with
// Slack's double before it.
type stage struct {
	world   world
	dir     string
	page    string // its address
	address string // of its PostgreSQL database; empty: SQLite
	slack   *slackdouble.Server
	cmd     *exec.Cmd
	ended   chan struct{} // its log is at its end
	ready   time.Duration
	people  int
	next    int // who asks next
	asked   *asked
	lags    *lags
	troubles
}

// troubles are the warnings and errors in firn's log.
type troubles struct {
	count atomic.Int64
	first atomic.Pointer[string]
}

// program is what is run: built once, in a folder that goes with the run.
type program struct {
	root, firn, dir string
	pprof           string // the address of its profiles; empty: none
	postgres        *pgtest.Server
	url             string // of a database that was given
	databases       int
}

func newProgram(ctx context.Context, store, pprof string) (_ *program, err error) {
	p := &program{pprof: pprof}
	if p.root, err = root(ctx); err != nil {
		return nil, err
	}
	if p.dir, err = os.MkdirTemp("", "firn-load-"); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, p.close())
		}
	}()
	p.firn = filepath.Join(p.dir, "firn")
	if err = build(ctx, p.root, p.firn, pprof != ""); err != nil {
		return nil, err
	}
	switch store {
	case "sqlite":
	case "postgres":
		if p.url = os.Getenv("FIRN_DATABASE_URL"); p.url == "" {
			// As a server is run: what is committed is on the disk.
			p.postgres, err = pgtest.Start("fsync=on", "full_page_writes=on", "autovacuum=on")
		}
	default:
		err = fmt.Errorf("-store is %q: write sqlite or postgres", store)
	}
	return p, err
}

func (p *program) close() error {
	var err error
	if p.postgres != nil {
		err = p.postgres.Stop()
	}
	return errors.Join(err, os.RemoveAll(p.dir))
}

// database is an empty one; the one that was given serves a single run.
func (p *program) database(ctx context.Context) (string, error) {
	if p.postgres == nil {
		if p.databases++; p.url != "" && p.databases > 1 {
			return "", errors.New("a database that is given by FIRN_DATABASE_URL serves one combination: give one of -bases and -rate")
		}
		return p.url, nil
	}
	p.databases++
	return p.postgres.Create(ctx, fmt.Sprintf("load_%d", p.databases))
}

var (
	readyLine = regexp.MustCompile(`level=INFO msg=ready page=(\S+)`)
	trouble   = regexp.MustCompile(`level=(WARN|ERROR) `)
)

// start starts firn over a world and waits until it is ready.
func (p *program) start(ctx context.Context, w world, people int) (_ *stage, err error) {
	s := &stage{world: w, people: people, asked: newAsked(), lags: &lags{due: w.due}, ended: make(chan struct{})}
	if s.dir, err = os.MkdirTemp(p.dir, "run-"); err != nil {
		return nil, err
	}
	err = cmpErr(os.WriteFile(filepath.Join(s.dir, "config.yaml"), []byte(w.config()), 0o600), w.weather(filepath.Join(s.dir, "weather")))
	if err != nil {
		return nil, err
	}
	if s.address, err = p.database(ctx); err != nil {
		return nil, err
	}
	s.slack, err = slackdouble.Start(slackdouble.Options{
		NoEcho: true, Keep: 2000, Unchecked: true,
		OnPost: func(m slackdouble.Message) {
			if m.Thread == "" {
				s.lags.posted(m)
				return
			}
			if len(m.Files) == 0 {
				s.asked.answered(m.Channel+"/"+m.Thread, len(m.Blocks) > 2)
			}
		},
	})
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			s.stop()
		}
	}()
	for i := range channels {
		s.slack.AddChannel(slackChannel(i))
	}
	for i := range people {
		s.slack.AddUser(slackPerson(i), fmt.Sprintf("Person %d", i))
	}
	s.cmd = exec.Command(p.firn, "serve", "--config", "config.yaml")
	s.cmd.Dir = s.dir
	s.cmd.Env = append(os.Environ(), "FIRN_SLACK_APP_TOKEN="+s.slack.AppToken(), "FIRN_SLACK_BOT_TOKEN="+s.slack.BotToken(),
		"FIRN_SLACK_API_URL="+s.slack.URL(), "FIRN_DATABASE_URL="+s.address, "FIRN_DISCORD_TOKEN=", "FIRN_LOAD_PPROF="+p.pprof)
	log, err := s.cmd.StderrPipe()
	if err != nil {
		return nil, err
	}
	began := time.Now()
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	page := make(chan string, 1)
	go s.read(log, page)
	select {
	case s.page = <-page:
	case <-s.ended:
		return nil, errors.New("firn ended: " + s.trouble())
	case <-time.After(3 * time.Minute):
		return nil, errors.New("firn is not ready after three minutes")
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	s.ready = time.Since(began)
	if !s.slack.Wait(20*time.Second, func() bool { return s.slack.Connections() > 0 }) {
		return nil, errors.New("firn does not connect")
	}
	return s, nil
}

// read reads firn's log to its end.
func (s *stage) read(log io.Reader, page chan<- string) {
	defer close(s.ended)
	out := quiet()
	lines := bufio.NewScanner(log)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		line := lines.Text()
		fmt.Fprintln(out, line)
		if m := readyLine.FindStringSubmatch(line); m != nil {
			page <- strings.TrimSuffix(strings.Trim(m[1], `"`), "/")
		}
		if trouble.MatchString(line) || !strings.HasPrefix(line, "time=") {
			s.troubles.count.Add(1)
			s.troubles.first.CompareAndSwap(nil, &line)
		}
	}
}

func (t *troubles) trouble() string {
	if line := t.first.Load(); line != nil {
		return *line
	}
	return "nothing in its log"
}

// stop ends firn and its double.
func (s *stage) stop() {
	end(s.cmd, s.ended)
	if s.slack != nil {
		_ = s.slack.Close()
	}
	_ = os.RemoveAll(s.dir)
}

// say lets the next person ask: most type the temperature, one in ten goes by
// the base's latest report.
func (s *stage) say() error {
	n := s.next
	s.next++
	person := n % s.people
	ident := s.world.idents[n%len(s.world.idents)]
	line := ident + " -38 8200 7400 5340"
	if n%10 == 5 {
		line = ident + " 8200 7400 5340"
	}
	channel := slackChannel(person % channels)
	before := time.Now()
	ts, err := s.slack.Say(slackdouble.Said{User: slackPerson(person), Channel: channel, Text: s.slack.Mention() + " " + line})
	if err != nil {
		return err
	}
	s.asked.was(channel+"/"+ts, before)
	return nil
}

// size measures the store.
func (s *stage) size(ctx context.Context) (sizes, error) {
	return measureStore(ctx, filepath.Join(s.dir, "data", "firn.db"), s.address)
}
