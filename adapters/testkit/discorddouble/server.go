package discorddouble

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strconv"
	"sync"
	"time"
)

// Person is somebody who uses the service.
type Person struct {
	ID, Name string
	Roles    []string
	Guest    bool // set for Options.Guests
}

// Options are what the double is started with; every field may be zero.
type Options struct {
	Listen    string   // default 127.0.0.1:0
	Token     string   // what the bot must give; empty: any token
	Bot       Person   // default 900100200300400500, "firn"
	Guild     string   // default 100200300400500600
	Channels  []string // of the guild; default ...601 and ...602
	Other     []Place  // channels of other guilds that the bot is in
	People    []Person // default three; the first has the role ...701
	Guests    []Person // in the guild, and let into a voice channel alone
	Strangers []Person // in no guild of the bot; they can write to it all the same

	AllowContent  bool             // the message content intent may be asked for
	IdentifyEvery time.Duration    // an earlier identification is told off (op 9)
	Identifies    int              // identifications left for the day; default 1000
	Heartbeat     time.Duration    // default 41.25 s
	Answer        time.Duration    // within which an interaction must be answered; default 3 s
	NonceFor      time.Duration    // how long a nonce is enforced; default 3 min
	PerChannel    int              // posts to a channel in 5 s, and edits; 0: no limit
	PerSecond     int              // calls of the bot in a second, but for interactions; 0: no limit
	Now           func() time.Time // by which these are counted; default: the machine's
	Keep          int              // messages kept a channel; default 10000
	// OnPost is told of each message that the bot posts, before the bot is
	// answered. It must not call the double.
	OnPost func(Message)
}

// Place is a channel of a guild.
type Place struct{ Guild, Channel string }

// Channel is one as the double has it.
type Channel struct {
	ID, Guild, Name string
	Kind            int    // 0 text, 1 direct messages, 11 thread
	Parent, Owner   string // of a thread
	With            string // of direct messages: the person

	messages     []*Message
	posts, edits []time.Time
}

const (
	kindText   = 0
	kindDirect = 1
	kindThread = 11
)

// Server is a running double.
type Server struct {
	set  Options
	http *http.Server
	addr string
	done sync.WaitGroup

	mu           sync.Mutex
	news         chan struct{} // closed when something was changed
	clock        int64
	closed       bool
	people       map[string]Person
	channels     map[string]*Channel
	order        []string // of the channels
	nonces       map[string]nonce
	calls        int
	refused      int
	lately       []time.Time // calls
	commands     map[string][]byte
	interactions map[string]*interaction // by id and by token
	recent       []string                // ids of interactions, oldest first
	deeds        map[string][]deed
	deedOrder    []string
	sessions     map[string]*session
	identified   time.Time
	left         int
	identifies   int
	resumes      int
	registers    int
	token        string
	revoked      bool
	noThreads    map[string]bool
	noAccess     map[string]bool
	faults       []*Fault
	twice        int
	swap         bool
	held         []func() // a dispatch that comes behind the next one
	violations   []string
}

type nonce struct {
	message *Message
	at      time.Time
}

type deed struct {
	event string
	data  any
	guild string
}

// Start starts a double.
func Start(o Options) (*Server, error) {
	def(&o.Listen, "127.0.0.1:0")
	def(&o.Bot.ID, "900100200300400500")
	def(&o.Bot.Name, "firn")
	def(&o.Guild, "100200300400500600")
	def(&o.Heartbeat, 41250*time.Millisecond)
	def(&o.Answer, 3*time.Second)
	def(&o.NonceFor, 3*time.Minute)
	def(&o.Keep, 10000)
	def(&o.Identifies, 1000)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Channels == nil {
		o.Channels = []string{"100200300400500601", "100200300400500602"}
	}
	if o.People == nil {
		o.People = []Person{
			{ID: "200300400500600001", Name: "Ada", Roles: []string{"100200300400500701"}},
			{ID: "200300400500600002", Name: "Brun"},
			{ID: "200300400500600003", Name: "Cleo"},
		}
	}
	s := &Server{
		set: o, news: make(chan struct{}), people: map[string]Person{}, channels: map[string]*Channel{},
		nonces: map[string]nonce{}, commands: map[string][]byte{}, interactions: map[string]*interaction{},
		deeds: map[string][]deed{}, sessions: map[string]*session{}, left: o.Identifies, token: o.Token,
		noThreads: map[string]bool{}, noAccess: map[string]bool{},
	}
	for i := range o.Guests {
		o.Guests[i].Guest = true
	}
	for _, p := range slices.Concat(o.People, o.Guests, o.Strangers) {
		s.people[p.ID] = p
	}
	for i, id := range o.Channels {
		s.addChannel(&Channel{ID: id, Guild: o.Guild, Name: "channel-" + strconv.Itoa(i+1)})
	}
	for _, p := range o.Other {
		s.addChannel(&Channel{ID: p.Channel, Guild: p.Guild, Name: "elsewhere"})
	}
	l, err := net.Listen("tcp", o.Listen)
	if err != nil {
		return nil, fmt.Errorf("discord double: %w", err)
	}
	s.addr = l.Addr().String()
	s.http = &http.Server{Handler: s, ReadHeaderTimeout: 10 * time.Second}
	s.done.Go(func() {
		_ = s.http.Serve(l) // it ends with Close
	})
	return s, nil
}

func def[T comparable](at *T, to T) {
	var none T
	if *at == none {
		*at = to
	}
}

// Close ends the double and every connection to it.
func (s *Server) Close() {
	s.mu.Lock()
	s.closed = true
	for _, x := range s.sessions {
		x.drop()
	}
	s.tell()
	s.mu.Unlock()
	_ = s.http.Close() // nobody is waited for
	s.done.Wait()
}

// URL is the address of the interface, with its final slash.
func (s *Server) URL() string { return "http://" + s.addr + "/api/v10/" }

// Bot is the bot's user.
func (s *Server) Bot() Person { return s.set.Bot }

// Guild is the id of the server.
func (s *Server) Guild() string { return s.set.Guild }

// Channels are the server's own.
func (s *Server) Channels() []string { return slices.Clone(s.set.Channels) }

// People are those of the server.
func (s *Server) People() []Person { return slices.Clone(s.set.People) }

// addChannel needs s.mu, or nobody who knows s.
func (s *Server) addChannel(c *Channel) {
	s.channels[c.ID] = c
	s.order = append(s.order, c.ID)
}

// epoch is Discord's, in milliseconds (reference, "Snowflakes").
const epoch = 1420070400000

// id is a new snowflake, larger than every one before; it needs s.mu.
func (s *Server) id() string {
	s.clock = max(s.clock+1, (time.Now().UnixMilli()-epoch)<<22)
	return strconv.FormatInt(s.clock, 10)
}

// tell wakes those who wait for something; it needs s.mu.
func (s *Server) tell() {
	close(s.news)
	s.news = make(chan struct{})
}

// Wait waits until ok, which is asked whenever something has changed, and may
// use every method that only looks.
func (s *Server) Wait(ctx context.Context, ok func() bool) error {
	for {
		s.mu.Lock()
		news, closed := s.news, s.closed
		s.mu.Unlock()
		if ok() {
			return nil
		}
		if closed {
			return errors.New("discord double: closed")
		}
		select {
		case <-news:
		case <-ctx.Done():
			return fmt.Errorf("discord double: waited in vain: %w", ctx.Err())
		}
	}
}

// DM is the channel of direct messages between the bot and a person.
func (s *Server) DM(person string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.dm(person).ID
}

func (s *Server) dm(person string) *Channel {
	for _, c := range s.channels {
		if c.Kind == kindDirect && c.With == person {
			return c
		}
	}
	c := &Channel{ID: s.id(), Kind: kindDirect, With: person}
	s.addChannel(c)
	return c
}

// Channel is what a channel is.
func (s *Server) Channel(id string) (Channel, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[id]
	if c == nil {
		return Channel{}, false
	}
	out := *c
	out.messages, out.posts, out.edits = nil, nil, nil
	return out, true
}

// AllChannels are the ids of the channels, threads and direct messages, in
// the order in which they began.
func (s *Server) AllChannels() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.order)
}

// Messages are those of a channel, in order, with those that one person alone
// sees.
func (s *Server) Messages(channel string) []Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil {
		return nil
	}
	out := make([]Message, len(c.messages))
	for i, m := range c.messages {
		out[i] = m.copy()
	}
	return out
}

// Message is one message.
func (s *Server) Message(channel, id string) (Message, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.find(channel, id)
	if m == nil {
		return Message{}, false
	}
	return m.copy(), true
}

func (s *Server) find(channel, id string) *Message {
	c := s.channels[channel]
	if c == nil {
		return nil
	}
	for i := len(c.messages) - 1; i >= 0; i-- {
		if c.messages[i].ID == id {
			return c.messages[i]
		}
	}
	return nil
}

// FromBot are the bot's messages in a channel.
func (s *Server) FromBot(channel string) []Message {
	return slices.DeleteFunc(s.Messages(channel), func(m Message) bool { return m.Author != s.set.Bot.ID })
}

// Violations are what the client did that Discord would refuse or punish.
func (s *Server) Violations() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.violations)
}

func (s *Server) violation(format string, a ...any) {
	s.violations = append(s.violations, fmt.Sprintf(format, a...))
}

// Counts are how often something happened on the gateway and beside it.
type Counts struct {
	Identifies, Resumes, Registers int
	Calls                          int // of the interface, also those that failed
	TooMany                        int // of these were refused since there were too many
}

// Counts gives them.
func (s *Server) Counts() Counts {
	s.mu.Lock()
	defer s.mu.Unlock()
	return Counts{s.identifies, s.resumes, s.registers, s.calls, s.refused}
}

// Connected is how many gateway sessions have a connection.
func (s *Server) Connected() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := 0
	for _, x := range s.sessions {
		x.mu.Lock()
		if x.conn != nil {
			n++
		}
		x.mu.Unlock()
	}
	return n
}

// ForgetNonces lets nonces be used again, as after a few minutes.
func (s *Server) ForgetNonces() {
	s.mu.Lock()
	defer s.mu.Unlock()
	clear(s.nonces)
}

// add stores a message and trims its channel; it needs s.mu.
func (s *Server) add(c *Channel, m *Message) {
	c.messages = append(c.messages, m)
	if len(c.messages) > s.set.Keep+s.set.Keep/4 {
		c.messages = slices.Clone(c.messages[len(c.messages)-s.set.Keep:])
	}
	s.tell()
	if m.Author == s.set.Bot.ID && s.set.OnPost != nil {
		s.set.OnPost(m.copy())
	}
}
