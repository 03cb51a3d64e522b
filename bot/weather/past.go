package weather

import (
	"context"
	"time"

	"firn/engine/coldwatch"
)

// Past is what was observed at a station, by any source, from one time up to,
// not including, another, in the order of time. An Archive has it.
type Past interface {
	Observed(ctx context.Context, ident string, from, to time.Time) ([]coldwatch.Sample, error)
}
