package machine

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"firn/bot/app"
)

// Disk tries to write in a folder, or in what is there of it.
func Disk(folder string) app.Disk {
	for _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) && folder != filepath.Dir(folder); _, err = os.Stat(folder) {
		folder = filepath.Dir(folder)
	}
	f, err := os.CreateTemp(folder, ".firn-doctor-")
	if err == nil {
		_, err = f.Write(make([]byte, 4096))
		err = errors.Join(err, f.Sync(), f.Close(), os.Remove(f.Name()))
	}
	d := app.Disk{Folder: folder, Err: err}
	d.Free, d.Known = spaceLeft(folder)
	return d
}
