package discord

import (
	"context"
	"net/http"

	"github.com/bwmarrin/discordgo"
)

// Try asks Discord whether it takes the token, and opens no connection.
func (s *Surface) Try(ctx context.Context) error {
	var info discordgo.GatewayBotResponse
	return s.api.call(ctx, request{what: "ask for the gateway", method: http.MethodGet, path: "gateway/bot", bucket: "gateway/bot", repeat: true}, &info)
}
