package weather

import (
	"context"
	"errors"
	"time"

	"firn/engine"
	"firn/engine/coldwatch"
)

// ErrNone is wrapped when a source works and has nothing for a station; any
// other error means that the source itself failed.
var ErrNone = errors.New("nothing for this station")

// Observation is a temperature as it was reported.
type Observation struct {
	Ident    string
	C        engine.Celsius
	At       time.Time // observed
	Source   string    // for people: "METAR (folder)", "typed by duty officer"
	Raw      string    // the report's text as received
	Received time.Time
	// Newer says that a newer report cannot be read, and why: this one counts
	// only as far as it is colder. It holds for the moment: no store keeps it.
	Newer string `store:"-"`
}

// Forecast is a forecast as it was received.
type Forecast struct {
	coldwatch.Forecast
	Ident    string
	Raw      string
	Received time.Time
}

// Source is one place that temperatures come from. Safe for use by several
// goroutines. Idents are taken in any case and given in capitals, times are
// in UTC, and what is handed over is shared: nobody changes it. No error holds
// a secret or the credentials of a URL.
type Source interface {
	Name() string // as configured: folder, awc, nws, typed
	// Observation is the latest; ErrNone when there is none.
	Observation(ctx context.Context, ident string) (Observation, error)
	// Forecast is the latest; ErrNone when there is none. It may hold no
	// temperature at all: a TAF without TX and TN.
	Forecast(ctx context.Context, ident string) (Forecast, error)
}

// Labelled is a Source that can say what stands in the Source field of what
// it hands over, so that what was kept of it can be found in an Archive when
// it fails. An empty label: it never hands over such a thing.
type Labelled interface {
	Labels() (observation, forecast string)
}

// Archive keeps what was received. Saving the same thing again changes
// nothing and is not fresh.
type Archive interface {
	SaveObservation(ctx context.Context, o Observation) (fresh bool, err error)
	SaveForecast(ctx context.Context, f Forecast) (fresh bool, err error)
	// LatestObservation is the latest by time observed; source empty: of any.
	LatestObservation(ctx context.Context, ident, source string) (Observation, bool, error)
	LatestForecast(ctx context.Context, ident, source string) (Forecast, bool, error)
}
