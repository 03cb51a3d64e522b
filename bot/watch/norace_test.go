//go:build !race

package watch_test

import "os"

// whole has every winter played whole, which .ci/run has the time for.
var whole = os.Getenv("FIRN_TEST_ALL") == "1"

// seasonGroups of a hundred winters each.
var seasonGroups = map[bool]int{true: 10, false: 2}[whole]

// winterDays is how long a winter of TestWinter is.
var winterDays = map[bool]int{true: 120, false: 45}[whole]
