package slack

import (
	"context"
	"fmt"
)

// Try asks Slack whether it takes both tokens, and opens no connection: that
// would take events away from who serves. It says what to do about a no.
func (s *Surface) Try(ctx context.Context) error {
	if err := s.ask(ctx); err != nil {
		return advised(err, "FIRN_SLACK_BOT_TOKEN", "the bot token (xoxb-) from OAuth & Permissions")
	}
	err := s.call(ctx, "apps.connections.open", "", func(ctx context.Context) error {
		_, _, err := s.api.StartSocketModeContext(ctx) // the address that it gives is not used
		return err
	})
	if err != nil {
		return advised(err, "FIRN_SLACK_APP_TOKEN", "an app-level token (xapp-) with the scope connections:write from Basic Information")
	}
	return nil
}

// advised says which variable to set where the token is refused.
func advised(err error, variable, token string) error {
	if tokenRefusals[code(err)] {
		return fmt.Errorf("%w: Slack refuses the token; set %s to %s of the app's settings", err, variable, token)
	}
	return err
}
