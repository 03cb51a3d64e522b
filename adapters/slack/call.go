package slack

import (
	"context"
	"errors"
	"fmt"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/outbox"
)

// call makes a call of the Web API. channel is given for methods that Slack
// limits by channel. A 429 is waited out where the context leaves time;
// otherwise the error says how long it would take.
func (s *Surface) call(ctx context.Context, method, channel string, do func(context.Context) error) error {
	place := method + " " + channel
	for {
		if err := ctx.Err(); err != nil {
			return s.fault(method, fmt.Errorf("%w: %w", errNotSent, err))
		}
		short, err := s.gates.pass(ctx, place)
		if err != nil {
			return s.fault(method, fmt.Errorf("%w: %w", errNotSent, err))
		}
		if short > 0 {
			return s.busy(method, &slackgo.RateLimitedError{RetryAfter: short}, short)
		}
		err = do(ctx)
		if method != responseMethod {
			s.heard(err)
		}
		var limited *slackgo.RateLimitedError
		if !errors.As(err, &limited) {
			return s.fault(method, err)
		}
		wait := max(limited.RetryAfter, 100*time.Millisecond) // "0" must not make a busy loop
		s.log.InfoContext(ctx, "slack asks for patience", "method", method, "channel", channel, "wait", wait)
		s.gates.rest(place, wait)
		if !s.gates.leaves(ctx, wait) {
			return s.busy(method, limited, wait)
		}
	}
}

func (s *Surface) busy(method string, err error, after time.Duration) error {
	return outbox.Busy(s.quiet(method+": Slack is asked too often, again in "+after.Round(time.Second/10).String(), err), after)
}

// responseMethod stands for posts to a response address, which need no token.
const responseMethod = "response"

// heard notes what an answer says of the bot's token.
func (s *Surface) heard(err error) {
	switch c := code(err); {
	case err == nil:
		s.state.botWorks()
	case tokenRefusals[c]:
		s.state.botRefused(c)
	}
}
