package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/engine/ruleset"
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
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		if !strings.Contains(text, "`"+s.ID+"`") {
			t.Errorf("the README does not name the rule set %s", s.ID)
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

// TestDocs holds what is written of the tree to the tree: a test that a document
// or a comment names is there, and where a package's map (doc.go) goes by files it
// has all of them and no others.
func TestDocs(t *testing.T) {
	files := texts(t, "../..", ".go", ".md")
	declared := map[string]bool{}
	for _, text := range files {
		for _, m := range regexp.MustCompile(`(?m)^func ((?:Test|Fuzz|Benchmark)\w+)\(`).FindAllStringSubmatch(text, -1) {
			declared[m[1]] = true
		}
	}
	named := regexp.MustCompile(`\b(?:Test|Fuzz|Benchmark)[A-Z]\w+\b`)
	comment := regexp.MustCompile(`(?m)//.*$`)
	for name, text := range files {
		if strings.HasSuffix(name, ".go") {
			text = strings.Join(comment.FindAllString(text, -1), "\n")
		}
		for _, test := range named.FindAllString(text, -1) {
			if !declared[test] {
				t.Errorf("%s names %s, and there is none", name, test)
			}
		}
	}
	own := regexp.MustCompile(`(^|[^\w/])(\w+\.go)\b`)
	for name, text := range files {
		if filepath.Base(name) != "doc.go" {
			continue
		}
		written := map[string]bool{}
		for _, m := range own.FindAllStringSubmatch(text, -1) {
			written[m[2]] = true
		}
		var missing []string
		mapped := false
		for other := range files {
			base := filepath.Base(other)
			if filepath.Dir(other) != filepath.Dir(name) || base == "doc.go" || !strings.HasSuffix(base, ".go") || strings.HasSuffix(base, "_test.go") {
				continue
			}
			if mapped = mapped || written[base]; !written[base] {
				missing = append(missing, base)
			}
		}
		if slices.Sort(missing); mapped && len(missing) > 0 {
			t.Errorf("%s leaves out %s", name, strings.Join(missing, ", "))
		}
	}
}

// texts are the files below a folder whose names end so, by their paths from it.
func texts(t *testing.T, root string, ends ...string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && d.Name() == ".git":
			return fs.SkipDir
		case !d.IsDir() && slices.Contains(ends, filepath.Ext(path)):
			data, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			name, err := filepath.Rel(root, path)
			all[filepath.ToSlash(name)] = string(data)
			return err
		}
		return nil
	})
	if err != nil || len(all) == 0 {
		t.Fatalf("%d files below %s: %v", len(all), root, err)
	}
	return all
}
