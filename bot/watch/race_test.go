//go:build race

package watch_test

// seasonGroups of a hundred winters each: one goroutine plays them, so the race
// detector learns nothing from the others. .ci/run plays all, without it.
const seasonGroups = 1

// winterDays is how long a winter of TestWinter is; .ci/run plays a whole one, without the detector.
const winterDays = 30
