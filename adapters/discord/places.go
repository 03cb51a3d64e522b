package discord

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/bwmarrin/discordgo"
)

// recent remembers the last things that were put into it.
type recent[V any] struct {
	mu    sync.Mutex
	most  int
	have  map[string]V
	order []string // a ring
	next  int
}

func remember[V any](most int) *recent[V] {
	return &recent[V]{most: most, have: map[string]V{}}
}

func (r *recent[V]) get(key string) (V, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	v, ok := r.have[key]
	return v, ok
}

func (r *recent[V]) put(key string, v V) {
	r.mu.Lock()
	defer r.mu.Unlock()
	_, known := r.have[key]
	r.have[key] = v
	switch {
	case known:
	case len(r.order) < r.most:
		r.order = append(r.order, key)
	default:
		delete(r.have, r.order[r.next])
		r.order[r.next] = key
		r.next = (r.next + 1) % r.most
	}
}

// channel is what is known of one.
type channel struct {
	guild  string // empty: direct messages
	parent string // of a thread: the channel it is in
	thread bool
	owner  string // of a thread: who began it
}

func channelOf(c *discordgo.Channel) channel {
	if c.IsThread() {
		return channel{guild: c.GuildID, parent: c.ParentID, thread: true, owner: c.OwnerID}
	}
	return channel{guild: c.GuildID}
}

// places knows the channels and which messages belong to one conversation.
// Everything in it can be asked for again or is told by the service, so it
// may forget.
type places struct {
	channels *recent[channel]
	// roots are the id of the conversation by that of a message or thread of
	// it, where they are not the same: answers in a channel without threads,
	// and threads under such answers.
	roots *recent[string]
	// closed are the channels in which no thread can be begun, with when that
	// is tried again.
	closed *recent[time.Time]
}

func newPlaces() *places {
	return &places{channels: remember[channel](16384), roots: remember[string](16384), closed: remember[time.Time](1024)}
}

func (p *places) add(c *discordgo.Channel) {
	if c != nil && c.ID != "" {
		p.channels.put(c.ID, channelOf(c))
	}
}

// root is the conversation that a message or thread belongs to.
func (p *places) root(id string) string {
	if r, ok := p.roots.get(id); ok && r != "" {
		return r
	}
	return id
}

// rootOf is the conversation that a message in a channel belongs to; of an
// answer that is not known, or not yet, that of what it refers to.
func (p *places) rootOf(m *discordgo.Message, channel string) string {
	root := p.root(m.ID)
	if before := m.MessageReference; root == m.ID && before != nil && before.MessageID != "" && before.ChannelID == channel {
		return p.root(before.MessageID)
	}
	return root
}

// tie makes a message or thread part of a conversation.
func (p *places) tie(id, root string) {
	if id != "" && root != "" && id != root {
		p.roots.put(id, root)
	}
}

// channel is what a channel is; Discord is asked when that is not known.
func (s *Surface) channel(ctx context.Context, id string) (channel, error) {
	if c, ok := s.at.channels.get(id); ok {
		return c, nil
	}
	var c discordgo.Channel
	path := "channels/" + id
	if err := s.api.call(ctx, request{what: "look up channel " + id, method: http.MethodGet, path: path, bucket: path, repeat: true}, &c); err != nil {
		return channel{}, err
	}
	if c.ID != id {
		return channel{}, fmt.Errorf("discord: look up channel %s: another one came back", id)
	}
	s.at.add(&c)
	return channelOf(&c), nil
}
