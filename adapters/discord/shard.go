package discord

import (
	"fmt"
	"strconv"
	"strings"
)

// ParseShard reads "0/2": this process's part, and how many there are. Empty is
// the only one.
func ParseShard(text string) (id, count int, err error) {
	if text == "" {
		return 0, 0, nil
	}
	a, b, ok := strings.Cut(text, "/")
	id, errA := strconv.Atoi(a)
	count, errB := strconv.Atoi(b)
	if !ok || errA != nil || errB != nil || id < 0 || id >= count {
		return 0, 0, fmt.Errorf("%q: write which part and of how many, such as 0/2", text)
	}
	return id, count, nil
}
