package installed

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// outcome is a test that says what became of it.
type outcome struct {
	testing.TB
	skipped, failed string
}

func (o *outcome) Helper() {}

func (o *outcome) Skip(args ...any) {
	o.skipped = fmt.Sprint(args...)
	runtime.Goexit()
}

func (o *outcome) Fatalf(format string, args ...any) {
	o.failed = fmt.Sprintf(format, args...)
	runtime.Goexit()
}

// need is what Need does, in a goroutine that may end there.
func need(p Program) (o outcome, path string) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		path = p.Need(&o)
	}()
	<-done
	return o, path
}

func TestNeed(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("PATH", dir)
	tool := Program{"tool", "tools", []string{filepath.Join(dir, "lib/*/bin/tool"), "tool"}}
	t.Setenv(All, "")
	if o, _ := need(tool); o.skipped != "no tool: apt-get install tools" || o.failed != "" {
		t.Errorf("missing: %+v, want it skipped with the line to type", o)
	}
	t.Setenv(All, "1")
	if o, _ := need(tool); o.failed != "no tool: apt-get install tools (FIRN_TEST_ALL=1 says that it is there)" || o.skipped != "" {
		t.Errorf("missing where all is installed: %+v, want it failed", o)
	}
	for _, c := range []struct{ name, file string }{
		{"on the path", "tool"},
		{"off the path", "lib/9.6/bin/tool"},
		{"the newest of several", "lib/15/bin/tool"},
	} {
		file := filepath.Join(dir, c.file)
		if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, nil, 0o700); err != nil {
			t.Fatal(err)
		}
		if o, path := need(tool); path != file || o.skipped+o.failed != "" {
			t.Errorf("%s: %q, %+v, want %s", c.name, path, o, file)
		}
	}
}

// TestSaysWhatToInstall holds the lines that people read on a fresh machine.
func TestSaysWhatToInstall(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	for want, p := range map[string]Program{
		"no chromium: apt-get install chromium fonts-liberation": Chromium(),
		"no pdftoppm: apt-get install poppler-utils":             PDFToPPM(),
		"no pdftotext: apt-get install poppler-utils":            PDFToText(),
	} {
		if path, err := p.Find(); err == nil || err.Error() != want {
			t.Errorf("Find = %q, %v, want %q", path, err, want)
		}
	}
}
