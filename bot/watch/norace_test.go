//go:build !race

package watch_test

// seasonGroups of a hundred winters each.
const seasonGroups = 10
