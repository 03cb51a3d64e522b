package slack

import (
	"context"
	"errors"
	"slices"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
)

const (
	nameHolds   = 5 * time.Minute // who becomes a guest reads no longer
	groupHolds  = 3 * time.Minute // a new duty officer waits no longer
	afterFault  = 30 * time.Second
	lookupLasts = 2 * time.Second // an answer does not wait longer for a name
)

// person fills in what an event leaves out: the name, and the groups that
// matter. Nothing of it is worth losing an event for.
func (s *Surface) person(ctx context.Context, p chat.Person) chat.Person {
	// One name for one person: commands and presses bring another than messages.
	is := s.profile(ctx, p.ID)
	if is.name != "" {
		p.Name = is.name
	}
	p.Standing = is.standing
	for _, g := range s.opts.Groups {
		if slices.Contains(s.members(ctx, g), p.ID) {
			p.Groups = append(p.Groups, g)
		}
	}
	return p
}

// Who is what Slack says of somebody now.
func (s *Surface) Who(ctx context.Context, p chat.Person) chat.Person {
	p.Groups = nil
	return s.person(ctx, p)
}

// profile is what Slack says of a person.
type profile struct {
	name     string
	standing chat.Standing
}

func (s *Surface) profile(ctx context.Context, id string) profile {
	return s.profiles.get(id, func(old profile) (profile, time.Duration) {
		ctx, cancel := context.WithTimeout(ctx, lookupLasts)
		defer cancel()
		var user *slackgo.User
		err := s.call(ctx, "users.info", "", func(ctx context.Context) (err error) {
			user, err = s.api.GetUserInfoContext(ctx, id)
			return err
		})
		if err != nil {
			s.log.WarnContext(ctx, "slack does not say who somebody is", "user", id, "err", err)
			if old == (profile{}) {
				old.standing = chat.Unsure
			}
			return old, afterFault
		}
		is := profile{standing: s.standingOf(user)}
		for _, name := range []string{user.Profile.DisplayName, user.Profile.RealName, user.RealName, user.Name} {
			if name != "" {
				is.name = name
				break
			}
		}
		return is, nameHolds
	})
}

// NameOf is what somebody is called.
func (s *Surface) NameOf(ctx context.Context, id string) string {
	if slices.Contains(s.opts.Groups, id) {
		return ""
	}
	return s.profile(ctx, id).name
}

// standingOf tells members of the workspace from guests, and from people whom a
// shared channel brings along from another organisation. Several workspaces of
// one organisation are one unit where the person is in this one.
func (s *Surface) standingOf(u *slackgo.User) chat.Standing {
	here := s.me().team
	switch {
	case u.IsStranger, u.IsRestricted, u.IsUltraRestricted, u.Deleted:
		return chat.Outsider
	case u.TeamID == "", here == "", u.TeamID == here, slices.Contains(u.Enterprise.Teams, here):
		return chat.Member
	}
	return chat.Outsider
}

// members are those of a user group. When Slack does not say, those that it
// named before stay in it: a duty officer must be able to acknowledge during
// an outage.
func (s *Surface) members(ctx context.Context, group string) []string {
	return s.groups.get(group, func(old []string) ([]string, time.Duration) {
		ctx, cancel := context.WithTimeout(ctx, lookupLasts)
		defer cancel()
		var users []string
		err := s.call(ctx, "usergroups.users.list", "", func(ctx context.Context) (err error) {
			users, err = s.api.GetUserGroupMembersContext(ctx, group)
			return err
		})
		if err != nil {
			s.log.WarnContext(ctx, "slack does not say who is in a user group", "group", group, "err", err)
			return old, afterFault
		}
		return users, groupHolds
	})
}

// direct is the channel of the direct message with a person.
func (s *Surface) direct(ctx context.Context, user string) (channel string, err error) {
	channel = s.directs.get(user, func(string) (string, time.Duration) {
		var c *slackgo.Channel
		err = s.call(ctx, "conversations.open", "", func(ctx context.Context) (err error) {
			c, _, _, err = s.api.OpenConversationContext(ctx, &slackgo.OpenConversationParameters{Users: []string{user}, ReturnIM: true})
			return err
		})
		if err != nil {
			return "", 0
		}
		if c == nil || c.ID == "" {
			err = s.quiet("conversations.open: Slack names no channel", nil)
			return "", 0
		}
		return c.ID, 24 * time.Hour
	})
	if channel == "" && err == nil {
		err = s.quiet("conversations.open: no direct message", errors.ErrUnsupported)
	}
	return channel, err
}
