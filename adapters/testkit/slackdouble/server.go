package slackdouble

import (
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Options set a double up. A zero takes the default.
type Options struct {
	AppToken, BotToken string // made up where empty
	Team               string // default T0XKLD
	Bot, BotID         string // the bot's user and bot id; default U0FIRN, B0FIRN
	App                string // default A0FIRN
	// Scopes the bot token has; nil: all. Events the app has subscribed to,
	// by their names in a manifest; nil: all.
	Scopes, Events []string
	// AckWithin is how long an acknowledgement may take. Default 3 s.
	AckWithin time.Duration
	// Again are the pauses before an event that was not acknowledged is sent
	// again. Default at once, 1 min, 5 min.
	Again []time.Duration
	// TriggerLife is how long a trigger opens a form. Default 3 s.
	TriggerLife time.Duration
	// Page is the most that a page of history holds. Default 200.
	Page int
	// Keep bounds the messages kept of each channel, for long runs; 0 keeps all.
	Keep int
	// NoEcho leaves out the events that tell the bot of its own messages.
	NoEcho bool
	// Unchecked leaves out the look at blocks, and answers a post without
	// repeating it: a load program measures its bot and not the double.
	Unchecked bool
	// Limits refuses calls that come too often (limits.go), by Now; default
	// time.Now.
	Limits bool
	Now    func() time.Time
	// OnPost is told of each message that the bot posts, before the bot is
	// answered.
	OnPost func(Message)
	// Addr to listen on. Default a free port of 127.0.0.1.
	Addr string
}

// Server is the double. Its methods may be used by several goroutines.
type Server struct {
	opts   Options
	http   *http.Server
	listen net.Listener
	ended  chan struct{}

	mu       sync.Mutex
	last     int64 // of the timestamps, in microseconds
	serial   int
	channels map[string]*channel
	users    map[string]string // names by id
	outside  map[string]string // teams of people of other organisations, by id
	guests   map[string]bool
	groups   map[string][]string
	homes    map[string]json.RawMessage // front pages by user
	views    map[string]*View
	triggers map[string]*trigger
	replies  map[string]*reply // response addresses by id
	uploads  map[string]*upload
	deeds    map[string][]envelope
	faults   []*Fault
	problems []string
	calls    map[string]int
	updates  []time.Time              // of the last minute
	posts    map[string]*rate.Limiter // by channel
	tooMany  int
	inBody   int // tokens that came in the form and not in the header
	revoked  map[string]bool
	private  []*Message // shown to one person

	line sockets
}

type channel struct {
	id       string
	member   bool // the bot is in it
	archived bool
	direct   string // the person, of a direct message
	messages []*Message
	byTS     map[string]*Message
}

type trigger struct {
	made time.Time
	user string
	used bool
}

type reply struct {
	made      time.Time
	channel   string
	thread    string
	user      string
	posts     int
	message   *Message // that the press came from
	ephemeral bool
}

type upload struct {
	id, name, alt string
	length, got   int
	done          bool
}

// Start starts a double.
func Start(o Options) (*Server, error) {
	or := func(s *string, other string) {
		if *s == "" {
			*s = other
		}
	}
	// In two halves, so that nothing takes them for somebody's secret.
	or(&o.AppToken, "xapp-"+"1-A0FIRN-double")
	or(&o.BotToken, "xoxb-"+"double-0")
	or(&o.Team, "T0XKLD")
	or(&o.Bot, "U0FIRN")
	or(&o.BotID, "B0FIRN")
	or(&o.App, "A0FIRN")
	or(&o.Addr, "127.0.0.1:0")
	if o.AckWithin <= 0 {
		o.AckWithin = 3 * time.Second
	}
	if o.TriggerLife <= 0 {
		o.TriggerLife = 3 * time.Second
	}
	if o.Again == nil {
		o.Again = []time.Duration{0, time.Minute, 5 * time.Minute}
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Page <= 0 {
		o.Page = 200
	}
	s := &Server{
		opts: o, ended: make(chan struct{}),
		channels: map[string]*channel{}, users: map[string]string{}, outside: map[string]string{}, guests: map[string]bool{}, groups: map[string][]string{},
		homes: map[string]json.RawMessage{}, views: map[string]*View{}, triggers: map[string]*trigger{},
		replies: map[string]*reply{}, uploads: map[string]*upload{}, deeds: map[string][]envelope{},
		calls: map[string]int{}, posts: map[string]*rate.Limiter{}, revoked: map[string]bool{},
	}
	s.line.init()
	var err error
	if s.listen, err = net.Listen("tcp", o.Addr); err != nil {
		return nil, fmt.Errorf("slack double: %w", err)
	}
	mux := http.NewServeMux()
	mux.HandleFunc("/api/", s.serveAPI)
	mux.HandleFunc("/link", s.serveSocket)
	mux.HandleFunc("/response/", s.serveResponse)
	mux.HandleFunc("/upload/", s.serveUpload)
	s.http = &http.Server{Handler: mux}
	go func() {
		defer close(s.ended)
		if err := s.http.Serve(s.listen); err != nil && !errors.Is(err, http.ErrServerClosed) {
			s.problem("the server ended: %v", err)
		}
	}()
	return s, nil
}

// Close ends the double and its connections.
func (s *Server) Close() error {
	s.line.close()
	err := s.http.Close()
	<-s.ended
	return err
}

// URL is the base of the Web API, for FIRN_SLACK_API_URL.
func (s *Server) URL() string { return "http://" + s.listen.Addr().String() + "/api/" }

func (s *Server) base() string { return "http://" + s.listen.Addr().String() }

// AppToken opens sockets.
func (s *Server) AppToken() string { return s.opts.AppToken }

// BotToken is for the Web API.
func (s *Server) BotToken() string { return s.opts.BotToken }

// Team is the workspace's id.
func (s *Server) Team() string { return s.opts.Team }

// Bot is the bot's user id.
func (s *Server) Bot() string { return s.opts.Bot }

// Mention is how a message mentions the bot.
func (s *Server) Mention() string { return "<@" + s.opts.Bot + ">" }

// AddChannel adds a channel with the bot in it.
func (s *Server) AddChannel(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.channels[id] = &channel{id: id, member: true, byTS: map[string]*Message{}}
}

// Kick takes the bot out of a channel; Archive closes one.
func (s *Server) Kick(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.channels[id].member = false
}

// Archive closes a channel.
func (s *Server) Archive(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.channels[id].archived = true
}

// AddUser adds a person.
func (s *Server) AddUser(id, name string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.users[id] = name
}

// SetGroup sets who is in a user group.
func (s *Server) SetGroup(id string, users ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.groups[id] = users
}

// Direct is the channel of the direct message with a person.
func (s *Server) Direct(user string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.direct(user).id
}

func (s *Server) direct(user string) *channel {
	id := "D" + strings.TrimPrefix(user, "U")
	c := s.channels[id]
	if c == nil {
		c = &channel{id: id, member: true, direct: user, byTS: map[string]*Message{}}
		s.channels[id] = c
	}
	return c
}

// Problems are what Slack would have warned of, punished or shown broken.
func (s *Server) Problems() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]string(nil), s.problems...)
}

func (s *Server) problem(format string, args ...any) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.note(format, args...)
}

// note is problem with mu held.
func (s *Server) note(format string, args ...any) {
	if len(s.problems) < 1000 {
		s.problems = append(s.problems, fmt.Sprintf(format, args...))
	}
}

// Calls is how often a method was called, whatever became of it.
func (s *Server) Calls(method string) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.calls[method]
}

// AllCalls is how often any method was called.
func (s *Server) AllCalls() (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, c := range s.calls {
		n += c
	}
	return n
}

// TokensInBody is how many calls had their token in the form. Slack takes it
// there, and advises the header.
func (s *Server) TokensInBody() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.inBody
}

// stamp is a timestamp that no other message has; mu is held.
func (s *Server) stamp() string {
	now := max(time.Now().UnixMicro(), s.last+1)
	s.last = now
	return strconv.FormatInt(now/1e6, 10) + "." + fmt.Sprintf("%06d", now%1e6)
}

// id is a fresh one; mu is held.
func (s *Server) id(prefix string) string {
	s.serial++
	return prefix + strconv.Itoa(1000000+s.serial)
}

// store adds a message to its channel; mu is held.
func (s *Server) store(c *channel, m *Message) {
	c.messages = append(c.messages, m)
	c.byTS[m.TS] = m
	if k := s.opts.Keep; k > 0 && len(c.messages) > 2*k {
		for _, old := range c.messages[:len(c.messages)-k] {
			delete(c.byTS, old.TS)
		}
		c.messages = append(make([]*Message, 0, 2*k+1), c.messages[len(c.messages)-k:]...)
	}
}

// Wait waits until a condition holds, at most as long as given.
func (s *Server) Wait(most time.Duration, holds func() bool) bool {
	for end := time.Now().Add(most); ; time.Sleep(2 * time.Millisecond) {
		if holds() {
			return true
		}
		if time.Now().After(end) {
			return false
		}
	}
}
