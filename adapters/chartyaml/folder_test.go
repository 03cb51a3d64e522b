package chartyaml

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestReadFS: what cannot be used of a folder is left out and told, and
// nothing else with it.
func TestReadFS(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"a.yaml":     good,
		"b.yaml":     good,
		"c.yaml":     "station: XKLD\nprocedure: [\n---\nstation: xrun\n---\nstation: XKLD\n",
		"e.yaml":     "{{",
		"far.yaml":   strings.ReplaceAll(good+"---\n"+strings.Replace(good, "RWY 31", "RWY 13", 1), "XKLD", "XFAR"),
		"README.md":  "not a procedure",
		"xrun.yaml":  strings.NewReplacer("XKLD", "XRUN", "RWY 31", "RWY 12").Replace(good),
		"other.yaml": strings.ReplaceAll(good, "RWY 31", "Z RWY 31"),
		"z.yaml":     strings.Repeat("#", largest+1),
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mkfifo(filepath.Join(dir, "d.yaml"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "f.yaml"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("nowhere", filepath.Join(dir, "g.yaml")); err != nil {
		t.Fatal(err)
	}
	done := make(chan struct{})
	var f Folder
	var err error
	go func() {
		defer close(done)
		f, err = ReadFS(os.DirFS(dir), fields)
	}()
	select {
	case <-done:
	case <-time.After(10 * time.Second):
		t.Fatal("it waits for whoever writes into the pipe")
	}
	if err != nil || len(f.All) != 3 {
		t.Errorf("%d approaches, %v, want the three that are right", len(f.All), err)
	}
	if !slices.Equal(f.Others, []string{"far.yaml (XFAR)"}) {
		t.Errorf("for other stations: %q", f.Others)
	}
	var got []string
	for _, l := range f.Left {
		got = append(got, l.File+" "+strings.Join(l.Idents, ",")+" "+strings.SplitN(l.Error(), "\n", 2)[0])
	}
	for i, want := range []string{
		"b.yaml XKLD b.yaml:1:1: XKLD rnav 31 stands in a.yaml already; remove one of them", "c.yaml XKLD,XRUN c.yaml:", "d.yaml  d.yaml: it is no ordinary file",
		"e.yaml  e.yaml:", "f.yaml  f.yaml: it is no ordinary file", "g.yaml  g.yaml: ", "z.yaml  z.yaml: it has 1048577 bytes",
	} {
		if i >= len(got) || !strings.HasPrefix(got[i], want) {
			t.Fatalf("left out:\n%s\nwant line %d to begin with %q", strings.Join(got, "\n"), i+1, want)
		}
	}
	empty, err := ReadFS(os.DirFS(t.TempDir()), fields)
	if err != nil || len(empty.All)+len(empty.Left)+len(empty.Others) > 0 {
		t.Errorf("an empty folder: %+v, %v", empty, err)
	}
}
