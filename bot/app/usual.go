package app

import (
	"context"

	"firn/bot/approach"
	"firn/bot/reply"
)

// usual are the procedures of a base that its alerts show. One that is not stored, or
// of which several are meant, is left out and logged.
func (a *App) usual(ident string) (out []reply.UsualProcedure) {
	st, ok := a.cfg.Station(ident)
	if !ok || len(st.Usual) == 0 {
		return nil
	}
	all, err := a.catalog.Procedures(context.Background(), ident)
	if err != nil {
		a.log.Error("procedures not read", "base", ident, "err", err)
		return nil
	}
	for _, name := range st.Usual {
		p, one := approach.Find(all, name).One()
		if !one {
			a.log.Warn("usual procedure not stored, or not one alone", "base", ident, "procedure", name)
			continue
		}
		out = append(out, a.bot.Usual(st, p))
	}
	return out
}
