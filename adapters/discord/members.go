package discord

import (
	"context"
	"net/http"
	"slices"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

const (
	memberHolds  = 5 * time.Minute // a new duty officer waits no longer
	memberWithin = 2 * time.Second // an answer does not wait longer for it
)

// guestFlag is that of somebody who was let into a voice channel alone
// (Discord's reference, guild member flags: IS_GUEST).
const guestFlag = 1 << 4

// outsideGuild is a person of a direct message as a member of the bot's server:
// anybody may write to a bot who shares any server with it, or has its address.
func (s *Surface) outsideGuild(ctx context.Context, p chat.Person) chat.Person {
	if is, ok := s.members.Get(p.ID, time.Now()); ok {
		return is
	}
	ctx, cancel := context.WithTimeout(ctx, memberWithin)
	defer cancel()
	is := p
	is.Standing = chat.Outsider
	for _, guild := range s.homes() {
		var m discordgo.Member
		path := "guilds/" + guild + "/members/"
		err := s.api.call(ctx, request{what: "look up member " + p.ID, method: http.MethodGet, path: path + p.ID, bucket: path, repeat: true}, &m)
		switch {
		case err == nil:
			if p.Name != "" {
				m.User = nil // the event has said who that is
			}
			found := personOf(&m, nil)
			is = p
			if is.Groups = found.Groups; found.Name != "" {
				is.Name = found.Name
			}
			is.Standing = found.Standing
		case codeOf(err) != codeUnknownMember:
			s.log.WarnContext(ctx, "discord does not say whether somebody is a member", "user", p.ID, "err", err)
			if last, ok := s.members.Last(p.ID); ok {
				return last
			}
			is.Standing = chat.Unsure
			return is
		}
		if is.Standing == chat.Member {
			break
		}
	}
	s.members.Put(p.ID, is, time.Now())
	return is
}

// Who is what Discord says of somebody now, as a member of the bot's server.
func (s *Surface) Who(ctx context.Context, p chat.Person) chat.Person {
	if !snowflake(p.ID) || len(s.homes()) == 0 { // it is not known yet in which servers the bot is
		p.Standing = chat.Unsure
		return p
	}
	return s.outsideGuild(ctx, p)
}

// NameOf is what a member is called.
func (s *Surface) NameOf(ctx context.Context, id string) string {
	if !snowflake(id) {
		return ""
	}
	return s.outsideGuild(ctx, chat.Person{ID: id}).Name
}

// seen notes a channel of a server, and that the server is the unit's when it is one
// of the unit's channels.
func (s *Surface) seen(c *discordgo.Channel) {
	if c != nil && c.GuildID != "" && slices.Contains(s.set.Channels, c.ID) {
		s.guilds.put(c.GuildID, struct{}{})
	}
	s.at.add(c)
}

// homes are the servers whose members may write to the bot: the configured one,
// else those that have channels in which it answers, else all that it is in.
func (s *Surface) homes() []string {
	if s.set.Guild != "" {
		return []string{s.set.Guild}
	}
	return s.guilds.keys()
}
