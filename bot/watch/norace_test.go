//go:build !race

package watch_test

// seasonGroups of a hundred winters each.
const seasonGroups = 10

// winterDays is how long a winter of TestWinter is.
const winterDays = 120
