package app

import (
	"cmp"
	"fmt"
	"slices"

	"firn/bot/config"
)

// served refuses a channel that nothing here can post to.
func (a *App) served(c config.Address) error {
	_, known := a.parts.Senders[string(c.Surface)]
	if known || c.Surface == config.OnPage || slices.ContainsFunc(a.surfaces, func(on Surface) bool { return on.Name() == string(c.Surface) }) {
		return nil
	}
	return fmt.Errorf("%s, and nothing here posts there: %s", c, a.parts.Wanting(c.Surface))
}

// answersIn refuses a channel that alerts of an added base cannot go to: who is
// asked there to acknowledge must be answered there.
func (a *App) answersIn(c config.Address) error {
	if ids, chat := a.cfg.ChatChannels()[c.Surface]; chat && !slices.Contains(a.channels(c.Surface, ids), c.ID) {
		return fmt.Errorf("%s is no channel that firn answers in; it must stand under channels in the configuration", c)
	}
	return a.served(c)
}

// posting is what is posted, as in a sentence, with the channels that it goes to.
type posting struct {
	what     string
	channels []config.Address
}

// postings are all that is posted unasked, in the order of the configuration.
func (a *App) postings() (all []posting) {
	for i := range a.cfg.Stations {
		if st := &a.cfg.Stations[i]; st.Watch != nil {
			all = append(all, posting{"alerts of " + st.Ident + " go to", st.Watch.Channels})
		}
	}
	people := slices.DeleteFunc(slices.Clone(a.cfg.Duty), config.Address.Group)
	return append(all, posting{"alerts go to", a.cfg.Everywhere()}, posting{"results are posted to", a.cfg.Record.Team}, posting{"alerts escalate to", people})
}

// told are the channels that something is posted to, each once.
func (a *App) told() (all []config.Address) {
	for _, p := range a.postings() {
		all = append(all, p.channels...)
	}
	slices.SortFunc(all, func(x, y config.Address) int { return cmp.Compare(x.String(), y.String()) })
	return slices.Compact(all)
}

// ChannelsServed refuses channels that nothing here can post to: an alert to
// one would be lost.
func (a *App) ChannelsServed() error {
	for _, p := range a.postings() {
		for _, c := range p.channels {
			if err := a.served(c); err != nil {
				return fmt.Errorf("%s: %s %w", a.parts.Name, p.what, err)
			}
		}
	}
	return nil
}
