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
	nameHolds   = time.Hour
	groupHolds  = 3 * time.Minute // a new duty officer waits no longer
	afterFault  = 30 * time.Second
	lookupLasts = 2 * time.Second // an answer does not wait longer for a name
)

// person fills in what an event leaves out: the name, and the groups that
// matter. Nothing of it is worth losing an event for.
func (s *Surface) person(ctx context.Context, p chat.Person) chat.Person {
	// One name for one person: commands and presses bring another than messages.
	if name := s.nameOf(ctx, p.ID); name != "" {
		p.Name = name
	}
	for _, g := range s.opts.Groups {
		if slices.Contains(s.members(ctx, g), p.ID) {
			p.Groups = append(p.Groups, g)
		}
	}
	return p
}

func (s *Surface) nameOf(ctx context.Context, id string) string {
	return s.names.get(id, func(old string) (string, time.Duration) {
		ctx, cancel := context.WithTimeout(ctx, lookupLasts)
		defer cancel()
		var user *slackgo.User
		err := s.call(ctx, "users.info", "", func(ctx context.Context) (err error) {
			user, err = s.api.GetUserInfoContext(ctx, id)
			return err
		})
		if err != nil {
			s.log.WarnContext(ctx, "slack does not say a name", "user", id, "err", err)
			return old, afterFault
		}
		for _, name := range []string{user.Profile.DisplayName, user.Profile.RealName, user.RealName, user.Name} {
			if name != "" {
				return name, nameHolds
			}
		}
		return "", nameHolds
	})
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
