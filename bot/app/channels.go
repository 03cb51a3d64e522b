package app

import (
	"cmp"
	"fmt"
	"slices"

	"firn/bot/config"
)

// served refuses a channel that nothing here can post to.
func (a *App) served(c config.Address) error {
	if a.outbox.Serves(c.String()) {
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

// told are the channels that alerts go to, each once.
func (a *App) told() (all []config.Address) {
	for i := range a.cfg.Stations {
		if st := &a.cfg.Stations[i]; st.Watch != nil {
			all = append(all, st.Watch.Channels...)
		}
	}
	all = append(all, a.cfg.Everywhere()...)
	all = append(all, a.cfg.Record.Team...)
	all = append(all, a.cfg.Duty...)
	slices.SortFunc(all, func(x, y config.Address) int { return cmp.Compare(x.String(), y.String()) })
	return slices.Compact(all)
}

// ChannelsServed refuses channels that nothing here can post to: an alert to
// one would be lost.
func (a *App) ChannelsServed() error {
	refused := func(all []config.Address, what string) error {
		for _, c := range all {
			if err := a.served(c); err != nil {
				return fmt.Errorf("%s: %s %w", a.parts.Name, what, err)
			}
		}
		return nil
	}
	for i := range a.cfg.Stations {
		if st := &a.cfg.Stations[i]; st.Watch != nil {
			if err := refused(st.Watch.Channels, "alerts of "+st.Ident+" go to"); err != nil {
				return err
			}
		}
	}
	if err := refused(a.cfg.Everywhere(), "alerts go to"); err != nil {
		return err
	}
	if err := refused(a.cfg.Record.Team, "results are posted to"); err != nil {
		return err
	}
	people := slices.DeleteFunc(slices.Clone(a.cfg.Duty), config.Address.Group)
	return refused(people, "alerts escalate to")
}
