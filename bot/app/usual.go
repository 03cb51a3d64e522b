package app

import (
	"context"

	"firn/bot/approach"
	"firn/bot/reply"
)

// usual has the procedures of a base that its alerts show.
type usual struct{ a *App }

// of are those of one base. One that is not stored, or of which several are
// meant, is left out and logged.
func (u usual) of(ident string) (out []reply.UsualProcedure) {
	st, ok := u.a.cfg.Station(ident)
	if !ok || len(st.Usual) == 0 {
		return nil
	}
	all, err := u.a.catalog.Procedures(context.Background(), ident)
	if err != nil {
		u.a.log.Error("procedures not read", "base", ident, "err", err)
		return nil
	}
	for _, name := range st.Usual {
		p, one := approach.Find(all, name).One()
		if !one {
			u.a.log.Warn("usual procedure not stored, or not one alone", "base", ident, "procedure", name)
			continue
		}
		out = append(out, u.a.bot.Usual(st, p))
	}
	return out
}
