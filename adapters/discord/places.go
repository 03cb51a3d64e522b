package discord

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/bounded"
)

// recent remembers the last things that were put into it.
type recent[V any] struct{ kept *bounded.Map[string, V] }

func remember[V any](most int) recent[V] { return recent[V]{bounded.New[string, V](most, 0)} }

func (r recent[V]) get(key string) (V, bool) { return r.kept.Get(key, time.Time{}) }

func (r recent[V]) put(key string, v V) { r.kept.Put(key, v, time.Time{}) }

func (r recent[V]) keys() []string { return r.kept.Keys() }

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

// conversations knows the channels and which messages belong to one conversation.
// Everything in it can be asked for again or is told by the service, so it
// may forget.
type conversations struct {
	channels recent[channel]
	// roots are the id of the conversation by that of a message or thread of
	// it, where they are not the same: answers in a channel without threads,
	// and threads under such answers.
	roots recent[string]
	// closed are the channels in which no thread can be begun, with when that
	// is tried again.
	closed recent[time.Time]
}

func newPlaces() *conversations {
	return &conversations{channels: remember[channel](16384), roots: remember[string](16384), closed: remember[time.Time](1024)}
}

func (p *conversations) add(c *discordgo.Channel) {
	if c != nil && c.ID != "" {
		p.channels.put(c.ID, channelOf(c))
	}
}

// root is the conversation that a message or thread belongs to.
func (p *conversations) root(id string) string {
	if r, ok := p.roots.get(id); ok && r != "" {
		return r
	}
	return id
}

// rootOf is the conversation that a message in a channel belongs to; of an
// answer that is not known, or not yet, that of what it refers to.
func (p *conversations) rootOf(m *discordgo.Message, channel string) string {
	root := p.root(m.ID)
	if before := m.MessageReference; root == m.ID && before != nil && before.MessageID != "" && before.ChannelID == channel {
		return p.root(before.MessageID)
	}
	return root
}

// link makes a message or thread part of a conversation.
func (p *conversations) link(id, root string) {
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
