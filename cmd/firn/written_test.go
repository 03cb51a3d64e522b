package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestFilesAreWhole: a command that writes a file leaves a whole one, or none,
// and what stood there before stands there still; it says so. A disk that takes
// no more is a limit of the size of files.
func TestFilesAreWhole(t *testing.T) {
	const fits = 40 // bytes
	dir := t.TempDir()
	t.Chdir(dir)
	list := filepath.Join(t.TempDir(), "open.csv")
	if err := os.WriteFile(list, []byte("ident,name,lat,lon,elevation_ft\nXKLD,Kaldmoor,,,4802\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	commands := [][]string{
		{"picture", "-o", "a.svg", "XKLD", "-38", "FAF", "8200"},
		{"card", "-o", "a.pdf", "XKLD", "-38", "FAF", "8200"},
		{"import", "airports", "-o", "a.csv", list},
	}
	firn := func(args []string) (code int, said string) {
		t.Helper()
		var out bytes.Buffer
		h := host{stdout: &out, stderr: &out, getenv: func(string) string { return "" }, now: time.Now}
		return run(t.Context(), args, h), out.String()
	}
	none := func(when string) {
		t.Helper()
		if all, err := os.ReadDir(dir); err != nil || len(all) > 0 {
			t.Errorf("%s: there are %v, %v", when, all, err)
		}
	}
	for _, args := range commands {
		name := args[slices.Index(args, "-o")+1]
		if code, said := fullDisk(t, fits, args...); code != exitOther || !strings.Contains(said, "nothing was written to "+name+": ") {
			t.Errorf("%s on a full disk: exit %d\n%s", args[0], code, said)
		}
		none(args[0] + " on a full disk")
		before := []byte("what stood there")
		if err := os.WriteFile(name, before, 0o640); err != nil {
			t.Fatal(err)
		}
		if code, said := fullDisk(t, fits, args...); code != exitOther || !strings.Contains(said, "nothing was written, and "+name+" is what it was: ") {
			t.Errorf("%s over another on a full disk: exit %d\n%s", args[0], code, said)
		}
		if now, err := os.ReadFile(name); err != nil || !bytes.Equal(now, before) {
			t.Errorf("%s: what stood there before is %q, %v", name, now, err)
		}
		if code, said := firn(args); code != exitAnswered || !strings.Contains(said, name) {
			t.Errorf("%s: exit %d\n%s", args[0], code, said)
		}
		if info, err := os.Stat(name); err != nil || info.Size() <= fits || info.Mode() != 0o640 {
			t.Errorf("%s: %v, %v", name, info, err)
		}
		if err := os.Remove(name); err != nil {
			t.Error(err)
		}
		none("after " + args[0])
	}
	device := slices.Replace(slices.Clone(commands[0]), 2, 3, os.DevNull)
	if code, said := firn(device); code != exitAnswered {
		t.Errorf("into what is no file: exit %d\n%s", code, said)
	}
	if info, err := os.Stat(os.DevNull); err != nil || info.Mode()&os.ModeDevice == 0 {
		t.Fatalf("%s was replaced: %v, %v", os.DevNull, info, err)
	}
}

// fullDisk runs a command in a process none of whose files grow over a size, as on a
// full disk. It is one of its own, for go test writes a log beside the tests.
func fullDisk(t *testing.T, fits uint64, args ...string) (code int, said string) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0], args...)
	cmd.Env = append(os.Environ(), childPlain+"=1", childFits+"="+strconv.FormatUint(fits, 10))
	out, err := cmd.CombinedOutput()
	if exit, ok := errors.AsType[*exec.ExitError](err); err != nil && (!ok || exit.ExitCode() < 0) {
		t.Fatalf("%v\n%s", err, out)
	}
	return cmd.ProcessState.ExitCode(), string(out)
}

// childFits is how large such a child's files may grow, in bytes.
const childFits = "FIRN_TEST_FITS"

// limitFiles has no file of this process grow over a size.
func limitFiles(fits uint64) {
	signal.Ignore(syscall.SIGXFSZ) // a full disk sends none
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: fits, Max: fits}); err != nil {
		panic(err)
	}
}
