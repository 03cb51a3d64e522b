package machine

import (
	"errors"
	"io/fs"
	"os"
	"os/user"
	"path/filepath"
	"strconv"

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
	if info, err := os.Stat(folder); err == nil && os.Geteuid() == 0 {
		if id, known := ownerOf(info); known && id != 0 {
			d.Others = called(strconv.Itoa(id))
		}
	}
	return d
}

// called is a user's name, or the number where it has none here.
func called(id string) string {
	if u, err := user.LookupId(id); err == nil {
		return u.Username
	}
	return "user " + id
}
