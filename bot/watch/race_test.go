//go:build race

package watch_test

// seasonGroups of a hundred winters each: one goroutine plays them, so the race
// detector learns nothing from the others. .ci/run plays all without it.
const seasonGroups = 1

// winterDays is how long a winter of TestWinter is; without the detector a whole one.
const winterDays = 30
