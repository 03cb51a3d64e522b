package app

import (
	"fmt"
	"slices"

	"firn/bot/config"
)

// ChannelsServed refuses channels that nothing here can post to: an alert to
// one would be lost.
func (a *App) ChannelsServed() error {
	refused := func(all []config.Address, what string) error {
		for _, c := range all {
			if !a.outbox.Serves(c.String()) {
				return fmt.Errorf("%s: %s %s, and nothing here posts there: %s", a.parts.Name, what, c, a.parts.Wanting(c.Surface))
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
