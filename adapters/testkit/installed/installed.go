// Package installed looks up the programs that tests need and a machine may
// not have: a browser, the PDF tools, a PostgreSQL server. Where one is missing
// the test is skipped with the line to type; where the environment says that
// everything is installed, as .ci/run does, it fails.
package installed

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
)

// All is the variable that says that everything is installed: with it set to 1
// a program that is missing fails its test.
const All = "FIRN_TEST_ALL"

// Program is one that a test needs.
type Program struct {
	name  string
	apt   string   // the packages that have it
	files []string // names on the path, or patterns of paths; the first that is there
}

// Chromium is a browser that needs no window, with fonts like those people have.
func Chromium() Program {
	return Program{"chromium", "chromium fonts-liberation", []string{"chromium", "chromium-browser", "google-chrome", "google-chrome-stable"}}
}

// PDFToPPM rasters a PDF.
func PDFToPPM() Program { return Program{"pdftoppm", "poppler-utils", []string{"pdftoppm"}} }

// PDFToText reads the text of a PDF.
func PDFToText() Program { return Program{"pdftotext", "poppler-utils", []string{"pdftotext"}} }

// PostgreSQL is the server's initdb; the other programs lie beside it. Debian
// keeps them off the path.
func PostgreSQL() Program {
	return Program{"PostgreSQL server", "postgresql", []string{"/usr/lib/postgresql/*/bin/initdb", "initdb"}}
}

// Find gives the program's path. The error says in one line what to install.
func (p Program) Find() (string, error) {
	for _, file := range p.files {
		if !filepath.IsAbs(file) {
			if path, err := exec.LookPath(file); err == nil {
				return path, nil
			}
			continue
		}
		if found, _ := filepath.Glob(file); len(found) > 0 { // the patterns are well formed
			return slices.MaxFunc(found, func(a, b string) int { return version(a) - version(b) }), nil
		}
	}
	return "", fmt.Errorf("no %s: apt-get install %s", p.name, p.apt)
}

// version is ten times that of a server, from its path: /usr/lib/postgresql/15/bin/initdb.
func version(path string) int {
	v, _ := strconv.ParseFloat(filepath.Base(filepath.Dir(filepath.Dir(path))), 64)
	return int(v * 10)
}

// Need gives the program's path, or skips the test, or fails it.
func (p Program) Need(t testing.TB) string {
	t.Helper()
	path, err := p.Find()
	switch {
	case err == nil:
	case os.Getenv(All) == "1":
		t.Fatalf("%v (%s=1 says that it is there)", err, All)
	default:
		t.Skip(err)
	}
	return path
}
