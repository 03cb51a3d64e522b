package slack

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"

	slackgo "github.com/slack-go/slack"

	"firn/bot/outbox"
)

// refusals are the errors of Slack that another attempt cannot cure, with
// what to do about them. What an operator can mend while the outbox goes on
// trying (tokens, scopes) is not among them.
var refusals = map[string]string{
	"channel_not_found":                   "there is no such channel, or it is private and the bot is not in it",
	"not_in_channel":                      "invite the bot to the channel",
	"is_archived":                         "the channel is archived",
	"is_inactive":                         "the channel is frozen",
	"user_not_found":                      "there is no such person",
	"users_not_found":                     "there is no such person",
	"user_disabled":                       "the person's account is closed",
	"cannot_dm_bot":                       "that is a bot",
	"user_not_visible":                    "the bot may not see that person",
	"message_not_found":                   "the message is gone",
	"cant_update_message":                 "it is not the bot's message",
	"edit_window_closed":                  "the message is too old to be changed",
	"restricted_action":                   "the workspace does not let the bot post there",
	"restricted_action_thread_locked":     "the thread is locked",
	"restricted_action_read_only_channel": "the channel is read-only",
	"invalid_blocks":                      "Slack cannot read the message",
	"invalid_blocks_format":               "Slack cannot read the message",
	"invalid_arguments":                   "Slack cannot read the message",
	"invalid_metadata_format":             "Slack cannot read the message",
	"metadata_too_large":                  "the post's key is too long",
	"msg_too_long":                        "the message is too long",
	"msg_blocks_too_long":                 "the message is too long",
	"no_text":                             "the message is empty",
	"invalid_users":                       "there is no such person",
}

// tokenRefusals are those of a token.
var tokenRefusals = map[string]bool{
	"invalid_auth": true, "not_authed": true, "account_inactive": true, "token_revoked": true, "token_expired": true,
	"not_allowed_token_type": true,
}

// passing are the service's own troubles: whether the call was done is open.
var passing = map[string]bool{
	"internal_error": true, "fatal_error": true, "request_timeout": true, "service_unavailable": true,
}

// code is Slack's own name of an error, or nothing.
func code(err error) string {
	var r slackgo.SlackErrorResponse
	if errors.As(err, &r) {
		return r.Err
	}
	return ""
}

// unsure says that a call may have been done although it failed.
func unsure(err error) bool {
	var limited *slackgo.RateLimitedError
	if err == nil || errors.As(err, &limited) || errors.Is(err, errNotSent) {
		return false
	}
	if c := code(err); c != "" {
		return passing[c]
	}
	return true
}

// errNotSent is that of a call that was not made.
var errNotSent = errors.New("not sent")

// fault is an error as it may leave the package: where it happened, marked
// for the outbox, and without addresses and tokens.
func (s *Surface) fault(method string, err error) error {
	if err == nil {
		return nil
	}
	var status slackgo.StatusCodeError
	c := code(err)
	switch {
	case c != "":
		text := c
		if advice := refusals[c]; advice != "" {
			text += " (" + advice + ")"
		}
		var r slackgo.SlackErrorResponse
		if errors.As(err, &r) {
			if r.Needed != "" {
				text += ", needs the scope " + r.Needed
			}
			if len(r.ResponseMetadata.Messages) > 0 {
				text += ": " + strings.Join(r.ResponseMetadata.Messages, "; ")
			}
		}
		err = s.quiet(method+": "+text, err)
		if refusals[c] != "" {
			return outbox.Permanent(err)
		}
		return err
	case errors.As(err, &status):
		text := fmt.Sprintf("%s: Slack answers %d %s", method, status.Code, http.StatusText(status.Code))
		return s.quiet(text, err)
	}
	return s.quiet(method+": "+plainCause(err), err)
}

// plainCause is an error's text without the address that was called: some of
// Slack's addresses are secrets in themselves.
func plainCause(err error) string {
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err.Error()
	}
	return err.Error()
}

// quietError has a text of its own and can still be asked what it is.
type quietError struct {
	text  string
	cause error
}

func (e *quietError) Error() string { return e.text }
func (e *quietError) Unwrap() error { return e.cause }

// quiet makes an error whose text holds no token.
func (s *Surface) quiet(text string, cause error) error {
	return &quietError{text: "slack " + s.withoutTokens(text), cause: cause}
}

func (s *Surface) withoutTokens(text string) string {
	for _, t := range []Token{s.opts.AppToken, s.opts.BotToken} {
		if t != "" {
			text = strings.ReplaceAll(text, string(t), hiddenToken)
		}
	}
	return text
}
