package airportcsv

import (
	"os"

	"firn/bot/airports"
)

// Open loads a list from its file.
func Open(path string) (*airports.Directory, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Load(f, path)
}
