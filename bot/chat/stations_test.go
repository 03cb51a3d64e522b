package chat_test

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/airports"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/reply"
)

// listed offers the stations of a configuration and of its list.
type listed struct{ *config.Config }

func (l listed) Find(typed string, limit int) (out []bot.Offer) {
	for _, s := range l.Config.Find(typed, limit) {
		out = append(out, bot.Offer{Value: s.Ident, Label: s.Ident + " " + s.Name})
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

// typist answers nothing, and has something to offer.
type typist struct{ asked []bot.Message }

func (*typist) Handle(context.Context, bot.Message) (r reply.Reply, _ error) { return r, nil }

func (*typist) OfferProcedures(_ context.Context, station, typed string, n int) ([]bot.Offer, error) {
	return []bot.Offer{{Value: fmt.Sprint(station, "/", typed, "/", n), Label: "a procedure"}}, nil
}

func (k *typist) OfferRecords(_ context.Context, m bot.Message, toCheck bool, typed string, n int) ([]bot.Offer, error) {
	k.asked = append(k.asked, m)
	return []bot.Offer{{Value: fmt.Sprint(toCheck, "/", typed, "/", n), Label: "a record"}}, nil
}

// Offers come from whoever answers, for members at a place with answers.
func TestOffers(t *testing.T) {
	k := &typist{}
	desk := chat.New(slog.New(slog.DiscardHandler), time.Now, k, chat.Settings{Where: map[string]chat.Where{"slack": {Channels: []string{"C1"}}}})
	s := newOffice(t, chat.Settings{}).slack
	typed := func(e chat.Event, field string) string {
		e.Text = " ka "
		var values []string
		for _, c := range desk.Offers(t.Context(), s, e, field, 25) {
			values = append(values, c.Value)
		}
		return strings.Join(values, " ")
	}
	here := said(1, "")
	here.Fields = map[string]string{chat.FieldStation: "XKLD", chat.FieldCommand: "check"}
	direct, elsewhere, guest, card := here, here, here, here
	direct.Place = chat.Place{Channel: "D1", Direct: true}
	elsewhere.Place.Channel = "C2"
	guest.Person.Standing = chat.Outsider
	card.Fields = map[string]string{chat.FieldCommand: "card"}
	for _, c := range []struct {
		name  string
		event chat.Event
		field string
		want  string
	}{
		{"a procedure", here, chat.FieldProcedure, "XKLD/ka/25"},
		{"a record to check", here, chat.FieldRecord, "true/ka/25"},
		{"a record", card, chat.FieldRecord, "false/ka/25"},
		{"in a direct message", direct, chat.FieldRecord, "true/ka/25"},
		{"where there are no answers", elsewhere, chat.FieldRecord, ""},
		{"to a guest", guest, chat.FieldRecord, ""},
		{"to a guest, a procedure", guest, chat.FieldProcedure, ""},
		{"a field of which nothing is known", here, chat.FieldAltitudes, ""},
	} {
		if got := typed(c.event, c.field); got != c.want {
			t.Errorf("%s: offered %q, want %q", c.name, got, c.want)
		}
	}
	for i, want := range []bool{false, false, true} {
		if m := k.asked[i]; m.Direct != want || m.Person != "slack:"+here.Person.ID || m.Surface != "slack" {
			t.Errorf("records are looked for as %+v, direct %v", m, want)
		}
	}
}
