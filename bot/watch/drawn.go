package watch

import (
	"context"
	"strings"
	"time"

	"firn/engine/coldwatch"
)

// Window is the duty window of a base that is running at a time, else the
// next; false for a base that is not watched.
func (w *Watch) Window(ident string, at time.Time) (coldwatch.Window, bool) {
	b := w.watched.Load().byIdent[strings.ToUpper(ident)]
	if b == nil {
		return coldwatch.Window{}, false
	}
	p, ok := b.coming(at)
	return p.window, ok
}

// Judged is what the watch says of a base's Window, and the forecast that it
// goes by; nil when there is none.
func (w *Watch) Judged(ctx context.Context, ident string, at time.Time) (coldwatch.Judgement, *coldwatch.Forecast, error) {
	b := w.watched.Load().byIdent[strings.ToUpper(ident)]
	if b == nil {
		return coldwatch.Judgement{State: coldwatch.NoForecast, Note: "it is not watched"}, nil, nil
	}
	j, _, _ := w.status(ctx, b, at)
	if j.State == coldwatch.NoForecast || ctx.Err() != nil {
		return j, nil, ctx.Err()
	}
	all, err := w.ask(ctx, b.Ident)
	if err != nil {
		return j, nil, err
	}
	for i := range all {
		if f := &all[i].Forecast; f.Source == j.Source && f.Issued.Equal(j.Issued) {
			return j, f, nil
		}
	}
	return j, nil, nil
}
