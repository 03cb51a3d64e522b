package bases

import (
	"context"
	"fmt"
	"log/slog"
	"reflect"
	"strings"
	"sync"
	"time"

	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/parse"
	"firn/bot/reply"
)

// Watcher watches bases.
type Watcher interface {
	// Watch has it watch these and no others.
	Watch(all []config.Station)
}

// Settings are what a Keeper is made of besides its store.
type Settings struct {
	Log    *slog.Logger
	Now    func() time.Time
	Config *config.Config
	Watch  Watcher
	// Served says what keeps an address from being posted to; nil error: nothing.
	Served func(config.Address) error
	// Changed is called when other bases are watched than before; nil for nobody.
	Changed func()
	// Wrote is called after posts were written; nil for nobody.
	Wrote func()
}

// Keeper adds and drops bases. Safe for concurrent use.
type Keeper struct {
	set   Settings
	store Store

	mu   sync.Mutex
	have []Base
	read bool
}

// New makes a Keeper; Refresh has it read the store.
func New(s Store, set Settings) *Keeper {
	if set.Wrote == nil {
		set.Wrote = func() {}
	}
	return &Keeper{set: set, store: s}
}

// Wish is what somebody asks for.
type Wish struct {
	Ident   string
	At      string        // HH:MM; empty: 06:00
	Window  time.Duration // 0: the usual one
	Channel string        // an address; empty: Here, where it is one that can be posted to
	Here    string        // where it was asked; empty: nowhere that others read
	By      string        // for people
}

// defaultAt is the hour of a base that nobody names one for, the example
// configuration's.
var defaultAt = config.TimeOfDay{Hour: 6}

// Outcome is what became of it: a sentence, and whether it was done.
type Outcome struct {
	Text string
	Done bool
	Try  string // the line to type instead; empty where there is none
}

// Add has a field watched from now on. The error is the store's.
func (k *Keeper) Add(ctx context.Context, w Wish) (Outcome, error) {
	st, ok := k.set.Config.Station(w.Ident)
	if !ok {
		return Outcome{Text: parse.UnknownStation(w.Ident)}, nil
	}
	b, problem := k.baseOf(st, w)
	if problem != "" {
		return Outcome{Text: problem}, nil
	}
	where := channelsText(b.Channels)
	text := fmt.Sprintf("%s is watched from now on, added by %s: daily at %s local (%s), %s ahead, told %s.", b.Ident, b.By, b.At, st.Zone, hours(b.Window), where)
	if st.Restriction == nil {
		text += " No restriction temperature is known for it: nothing is judged against one."
	} else {
		text += fmt.Sprintf(" It is restricted at %s °C.", reply.Degrees(*st.Restriction))
	}
	for _, note := range st.ListNotes(b.Made) {
		if st.Restriction != nil {
			text += " " + note
		}
	}
	fresh, err := k.store.AddBase(ctx, b, k.posts(b, w.Here, 1, text))
	switch {
	case err != nil:
		return Outcome{}, fmt.Errorf("add base %s: %w", b.Ident, err)
	case !fresh:
		return Outcome{Text: b.Ident + " is watched already; drop it first to have it watched otherwise.", Try: "base drop " + b.Ident}, k.Refresh(ctx)
	}
	k.set.Wrote()
	return Outcome{Text: text, Done: true}, k.Refresh(ctx)
}

// baseOf is the base that is asked for, or why it cannot be watched.
func (k *Keeper) baseOf(st *config.Station, w Wish) (b Base, problem string) {
	b = Base{Ident: st.Ident, At: defaultAt, Window: config.DefaultWindow, By: w.By, Made: k.set.Now().UTC()}
	switch {
	case k.set.Config.Configured(st.Ident) && st.Watch != nil && !k.added(st.Ident):
		return b, fmt.Sprintf("%s is a base of the configuration: it is watched at %s local already.", st.Ident, st.Watch.At)
	case st.NoElevation():
		return b, fmt.Sprintf("The field elevation of %s is on no list, so that no correction can be worked out for it; put it under stations in the configuration.", st.Ident)
	case st.Zone == time.UTC && (st.Listed == nil || st.Listed.Zone == ""):
		return b, fmt.Sprintf("The time zone of %s is not known; put it under stations in the configuration.", st.Ident)
	}
	if w.At != "" {
		t, err := time.Parse("15:04", w.At)
		if err != nil {
			return b, fmt.Sprintf("%s is no local hour, such as 06:00.", w.At)
		}
		b.At = config.TimeOfDay{Hour: t.Hour(), Minute: t.Minute()}
	}
	if w.Window != 0 {
		if b.Window = w.Window; w.Window < config.ShortestWindow || w.Window > config.LongestWindow {
			return b, fmt.Sprintf("A window is from %s to %s, not %s.", hours(config.ShortestWindow), hours(config.LongestWindow), hours(w.Window))
		}
	}
	channel := w.Channel
	if channel == "here" || channel == "" {
		if channel == "here" && w.Here == "" {
			return b, "“here” is no channel that others read; name one, such as slack:C0123ABCD or page."
		}
		channel = w.Here
	}
	if channel == "" {
		return b, ""
	}
	a, err := config.ParseAddress(channel)
	if err == nil && a.Group() {
		err = fmt.Errorf("%s is a group of people, and nothing can be posted to one", a)
	}
	if err == nil && k.set.Served != nil {
		err = k.set.Served(a)
	}
	switch {
	case err == nil:
		b.Channels = []string{a.String()}
	case w.Channel == "": // where it was asked is no place for alerts: wherever the surfaces decide
	default:
		return b, strings.TrimSuffix(err.Error(), ".") + "."
	}
	return b, ""
}

// Drop ends the watch of an added base. The error is the store's.
func (k *Keeper) Drop(ctx context.Context, w Wish) (Outcome, error) {
	var was *Base
	if err := k.Refresh(ctx); err != nil {
		return Outcome{}, err
	}
	for _, b := range k.All() {
		if b.Ident == w.Ident {
			was = &b
			break
		}
	}
	if was == nil {
		if st, ok := k.set.Config.Station(w.Ident); ok && st.Watch != nil {
			return Outcome{Text: w.Ident + " is a base of the configuration, which alone ends its watch."}, nil
		}
		return Outcome{Text: w.Ident + " is not watched."}, nil
	}
	text := fmt.Sprintf("%s is not watched any more, dropped by %s; it was added by %s on %s.", was.Ident, w.By, was.By, was.Made.Format("2 Jan 2006"))
	had, err := k.store.DropBase(ctx, was.Ident, k.posts(*was, w.Here, 2, text))
	switch {
	case err != nil:
		return Outcome{}, fmt.Errorf("drop base %s: %w", was.Ident, err)
	case !had:
		return Outcome{Text: w.Ident + " is not watched."}, k.Refresh(ctx)
	}
	k.set.Wrote()
	return Outcome{Text: text, Done: true}, k.Refresh(ctx)
}

// posts tell the channels of a base, but the one that it was asked in, which
// reads the answer. seq is 1 of its beginning and 2 of its end, which are posted in
// this order.
func (k *Keeper) posts(b Base, here string, seq int, text string) []outbox.Item {
	channels := b.Channels
	if len(channels) == 0 {
		for _, a := range k.set.Config.Everywhere() {
			channels = append(channels, a.String())
		}
	}
	now := k.set.Now().UTC()
	var items []outbox.Item
	for _, c := range channels {
		if c != here {
			items = append(items, outbox.Item{
				Key: fmt.Sprintf("base/%s/%d/%d", b.Ident, b.Made.UnixMicro(), seq), Channel: c, Made: now, Due: now,
				Body: reply.Reply{Kind: reply.KindNotice, Facts: []string{text}},
			})
		}
	}
	return items
}

// All are the added bases as of the last Refresh.
func (k *Keeper) All() []Base {
	k.mu.Lock()
	defer k.mu.Unlock()
	return append([]Base(nil), k.have...)
}

func (k *Keeper) added(ident string) bool {
	for _, b := range k.All() {
		if b.Ident == ident {
			return true
		}
	}
	return false
}

// Refresh reads the store, and has the configuration and the watch follow.
func (k *Keeper) Refresh(ctx context.Context) error {
	all, err := k.store.Bases(ctx)
	if err != nil {
		return fmt.Errorf("bases: %w", err)
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.read && reflect.DeepEqual(all, k.have) {
		return nil
	}
	first := !k.read
	k.have, k.read = all, true
	Watch(ctx, k.set.Log, k.set.Config, k.set.Watch, all)
	if !first && k.set.Changed != nil {
		k.set.Changed()
	}
	return nil
}

// Watch has the configuration and the watch know added bases, in the place of
// those before.
func Watch(ctx context.Context, log *slog.Logger, cfg *config.Config, w Watcher, all []Base) {
	added := make(map[string]*config.Watch, len(all))
	for i := range all {
		if _, ok := cfg.Station(all[i].Ident); !ok {
			log.WarnContext(ctx, "an added base is not watched: no list has it any more", "base", all[i].Ident)
			continue
		}
		added[all[i].Ident] = all[i].watch()
	}
	cfg.WatchAlso(added)
	w.Watch(cfg.Watched())
}

func hours(d time.Duration) string {
	if d == time.Hour {
		return "1 hour"
	}
	return strings.TrimSuffix(fmt.Sprintf("%.1f", d.Hours()), ".0") + " hours"
}

func channelsText(all []string) string {
	if len(all) == 0 {
		return "where alerts go"
	}
	return "in " + strings.Join(all, ", ")
}
