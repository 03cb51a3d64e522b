package weather

import (
	"context"
	"errors"
	"time"
)

// note remembers how a source did.
func (c *Chain) note(i int, what, ident string, err error) {
	now := c.o.Now()
	c.mu.Lock()
	defer c.mu.Unlock()
	h := &c.health[i]
	key := what + " " + h.Source + " " + ident
	switch {
	case err == nil:
		h.Worked = now
		delete(c.gone, key)
	case errors.Is(err, ErrNoTemperature):
		h.Worked = now
	case errors.Is(err, ErrNone):
		h.Worked = now
		c.gone[key] = now
	default:
		h.Failed, h.Err = now, err
	}
}

// known says whether the archive has this already.
func (c *Chain) known(key string, m mark) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.saved[key] == m
}

func (c *Chain) know(key string, m mark) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.saved[key] = m
}

func (c *Chain) saveObservation(ctx context.Context, s Source, o Observation) {
	if c.o.Archive == nil {
		return
	}
	key, m := "observation "+s.Name()+" "+o.Ident, mark{at: o.At, raw: o.Raw}
	if c.known(key, m) {
		return
	}
	if _, err := c.o.Archive.SaveObservation(ctx, o); err != nil {
		c.o.Log.WarnContext(ctx, "observation not kept", "base", o.Ident, "source", o.Source, "err", err)
		return
	}
	c.know(key, m)
}

func (c *Chain) saveForecast(ctx context.Context, s Source, f Forecast) {
	if c.o.Archive == nil {
		return
	}
	key, m := "forecast "+s.Name()+" "+f.Ident, mark{at: f.Issued, from: f.ValidFrom, to: f.ValidTo, raw: f.Raw}
	if c.known(key, m) {
		return
	}
	if _, err := c.o.Archive.SaveForecast(ctx, f); err != nil {
		c.o.Log.WarnContext(ctx, "forecast not kept", "base", f.Ident, "source", f.Source, "err", err)
		return
	}
	c.know(key, m)
}

// labels of a source; empty where it does not say.
func labels(s Source) (observation, forecast string) {
	if l, ok := s.(Labelled); ok {
		return l.Labels()
	}
	return "", ""
}

// withdrawn says whether a source has said, after something was received, that
// it has nothing any more: a cancelled TAF must not come back.
func (c *Chain) withdrawn(what string, s Source, ident string, received time.Time) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	gone, ok := c.gone[what+" "+s.Name()+" "+ident]
	return ok && !received.After(gone)
}

func (c *Chain) keptObservation(ctx context.Context, s Source, ident string) (Observation, bool) {
	label, _ := labels(s)
	if c.o.Archive == nil || label == "" {
		return Observation{}, false
	}
	o, ok, err := c.o.Archive.LatestObservation(ctx, ident, label)
	if err != nil {
		c.o.Log.WarnContext(ctx, "kept observation not read", "base", ident, "source", label, "err", err)
		return Observation{}, false
	}
	return o, ok && !c.withdrawn("observation", s, ident, o.Received)
}

// keptForecast is what the archive has of a source and is valid still; looked
// is false where there is no telling.
func (c *Chain) keptForecast(ctx context.Context, s Source, ident string) (_ Forecast, ok, looked bool) {
	_, label := labels(s)
	if c.o.Archive == nil || label == "" {
		return Forecast{}, false, false
	}
	f, ok, err := c.o.Archive.LatestForecast(ctx, ident, label)
	if err != nil {
		c.o.Log.WarnContext(ctx, "kept forecast not read", "base", ident, "source", label, "err", err)
		return Forecast{}, false, false
	}
	return f, ok && f.ValidTo.After(c.o.Now()) && !c.withdrawn("forecast", s, ident, f.Received), true
}
