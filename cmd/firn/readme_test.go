package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// readmeLines is what somebody reads before they try it.
const readmeLines = 260

// TestReadme holds the README to its length, its example to what firn answers,
// and its links to files that are there; -update writes the example anew.
func TestReadme(t *testing.T) {
	const path = "../../README.md"
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := string(data)
	example := regexp.MustCompile(`(?s)<!-- ask: ([^\n]*) -->\n(.*?)<!-- ask: end -->`)
	m := example.FindStringSubmatch(text)
	if m == nil {
		t.Fatal("no example")
	}
	var out bytes.Buffer
	args := append([]string{"ask"}, strings.Fields(m[1])...)
	if code := run(t.Context(), args, host{stdout: &out, stderr: t.Output(), getenv: func(string) string { return "" }, now: func() time.Time { return goldenTime }}); code != exitAnswered {
		t.Fatalf("%q = %d", args, code)
	}
	var want strings.Builder
	want.WriteString("\n")
	for line := range strings.Lines(out.String()) {
		want.WriteString(strings.TrimRight("    "+line, " \n") + "\n")
	}
	want.WriteString("\n")
	if is := fmt.Sprintf("<!-- ask: %s -->\n%s<!-- ask: end -->", m[1], &want); is != m[0] {
		if *update {
			text = strings.Replace(text, m[0], is, 1)
			if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		} else {
			t.Errorf("the README's example is another; run with -update:\n%s", is)
		}
	}
	if n := strings.Count(text, "\n"); n > readmeLines {
		t.Errorf("the README has %d lines, want %d at most", n, readmeLines)
	}
	for _, file := range []string{path, "deploy/README.md", "../../testdata/tour/README.md"} {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range regexp.MustCompile(`\]\(([^)#:]+)(?:#[^)]*)?\)`).FindAllStringSubmatch(string(data), -1) {
			if _, err := os.Stat(filepath.Join(filepath.Dir(file), l[1])); err != nil {
				t.Errorf("%s links to %s: %v", file, l[1], err)
			}
		}
		// Everybody on a machine reads its command lines.
		if found := regexp.MustCompile(`postgres://[^@\s]*:[^@\s]*@|\$FIRN_DATABASE_URL`).FindString(string(data)); found != "" {
			t.Errorf("%s has a password on a command line: %s", file, found)
		}
	}
}
