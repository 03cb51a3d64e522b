package chat_test

import (
	"fmt"
	"log/slog"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/chat"
	"firn/bot/config"
)

// listed offers the stations of a configuration and of its list.
type listed struct{ *config.Config }

func (l listed) Find(typed string, limit int) (out []chat.Choice) {
	for _, s := range l.Config.Find(typed, limit) {
		out = append(out, chat.Choice{Value: s.Ident, Label: s.Ident + " " + s.Name})
	}
	return out
}

// BenchmarkStations20000 is what a chat service waits for while somebody types,
// over a list of 20 000: at most 50 ms. Slack shows a hundred, Discord 25.
func BenchmarkStations20000(b *testing.B) {
	cfg, err := config.Parse("x.yaml", []byte("stations: [{ident: XKLD, name: Kaldmoor, elevation_ft: 4802}]"), config.Known{})
	if err != nil {
		b.Fatal(err)
	}
	digits := "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
	all := make([]airports.Airport, 20000)
	for i := range all {
		all[i] = airports.Airport{
			Ident: fmt.Sprintf("Y%c%c%c", digits[i/1296%36], digits[i/36%36], digits[i%36]), HasElevation: true, HasPlace: true,
			Name: fmt.Sprintf("Fernmere %c%c Regional Airport", digits[i%36], digits[i/7%36]),
		}
	}
	d, err := airports.NewDirectory(all)
	if err != nil {
		b.Fatal(err)
	}
	cfg.Know(d)
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, nil, chat.Settings{Stations: listed{cfg}})
	for _, typed := range []string{"", "y", "yabc", "kald", "regional", "regonial", "zzzz"} {
		b.Run("typed="+typed, func(b *testing.B) {
			for b.Loop() {
				desk.Stations(typed, 100)
			}
		})
	}
}
