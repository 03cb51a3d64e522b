package main

import (
	"encoding/json"
	"errors"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// listed is what go list says of a package.
type listed struct {
	ImportPath string
	Dir        string
	Standard   bool
	GoFiles    []string
	Imports    []string
	XTestImports,
	TestImports []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestImports,XTestImports", "firn/...")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var all []listed
	dec := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p listed
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return all
		} else if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
}

// yamlDecoder is the one library that the pure packages may use, in the two
// places that read documents.
const yamlDecoder = "github.com/goccy/go-yaml"

// unicodeText is what bot/person compares names with: Unicode's own tables.
const unicodeText = "golang.org/x/text/"

// pureLibraries are those that reach no file, no network and no clock, by the
// packages of bot that use them in place of parts of their own.
var pureLibraries = map[string][]string{
	"golang.org/x/time/rate":                       {"firn/bot/chat"},
	"github.com/hashicorp/golang-lru/v2/simplelru": {"firn/bot/bounded"},
}

// isTestkit says that a package is for tests: suites, doubles and what starts
// the things that tests need. No program that people run has it.
func isTestkit(path string) bool {
	return strings.HasPrefix(path, "firn/adapters/testkit/") || strings.HasPrefix(path, "firn/bot/testkit/")
}

// TestImports holds the layers to what DEVELOPERS.md says of them.
func TestImports(t *testing.T) {
	kept := map[string]bool{}
	for _, p := range packages(t) {
		for _, imp := range p.Imports {
			if why := forbidden(p.ImportPath, imp); why != "" {
				t.Errorf("%s imports %s: %s", p.ImportPath, imp, why)
			}
		}
		for _, imp := range append(p.TestImports, p.XTestImports...) {
			if strings.HasPrefix(p.ImportPath, "firn/bot") && strings.HasPrefix(imp, "firn/adapters") {
				t.Errorf("the tests of %s import %s: bot knows no adapter, not even in tests", p.ImportPath, imp)
			}
			if strings.HasPrefix(p.ImportPath, "firn/engine") && ours(imp) && !strings.HasPrefix(imp, "firn/engine") {
				t.Errorf("the tests of %s import %s: engine knows nothing of ours", p.ImportPath, imp)
			}
		}
		kept[layer(p.ImportPath)] = true
	}
	for _, l := range []string{"engine", "bot", "adapters", "cmd"} {
		if !kept[l] {
			t.Errorf("no package of %s was looked at", l)
		}
	}
}

func ours(imp string) bool { return imp == "firn" || strings.HasPrefix(imp, "firn/") }

func layer(path string) string {
	rest := strings.TrimPrefix(path, "firn/")
	first, _, _ := strings.Cut(rest, "/")
	return first
}

// adapter is the adapter that a package belongs to.
func adapter(path string) string {
	rest := strings.TrimPrefix(path, "firn/adapters/")
	first, _, _ := strings.Cut(rest, "/")
	return first
}

func standard(imp string) bool {
	first, _, _ := strings.Cut(imp, "/")
	return !strings.Contains(first, ".") && !ours(imp)
}

// forbidden says why a package may not import another, or nothing.
func forbidden(pkg, imp string) string {
	if isTestkit(imp) && !isTestkit(pkg) && pkg != "firn/cmd/firn-load" {
		return "testkit is for tests"
	}
	isYAML := imp == yamlDecoder || strings.HasPrefix(imp, yamlDecoder+"/")
	switch layer(pkg) {
	case "engine":
		switch {
		case ours(imp) && layer(imp) != "engine":
			return "engine imports nothing of ours but engine"
		case isYAML && pkg != "firn/engine/ruleset":
			return "only engine/ruleset reads documents"
		case !ours(imp) && !standard(imp) && !isYAML:
			return "engine uses the standard library"
		case imp == "os" || strings.HasPrefix(imp, "os/") || imp == "net" || strings.HasPrefix(imp, "net/") ||
			imp == "log" || strings.HasPrefix(imp, "log/") || strings.HasPrefix(imp, "database/") || imp == "io/ioutil" || imp == "syscall" || imp == "math/rand" || imp == "math/rand/v2":
			return "engine reaches nothing outside itself"
		}
	case "bot":
		switch {
		case ours(imp) && layer(imp) != "engine" && layer(imp) != "bot":
			return "bot knows no adapter and no command"
		case isYAML && pkg != "firn/bot/strictyaml" && pkg != "firn/bot/config":
			return "only bot/strictyaml and bot/config read documents"
		case !ours(imp) && !standard(imp) && !isYAML && !(pkg == "firn/bot/person" && strings.HasPrefix(imp, unicodeText)) && !slices.Contains(pureLibraries[imp], pkg):
			return "bot uses the standard library; a library belongs into an adapter"
		case imp == "os" || strings.HasPrefix(imp, "os/") || imp == "net" || strings.HasPrefix(imp, "net/http") || strings.HasPrefix(imp, "database/"):
			return "bot reaches the world through its ports"
		}
	case "adapters":
		if ours(imp) && (layer(imp) == "cmd" || layer(imp) == "adapters" && adapter(imp) != adapter(pkg)) {
			return "adapters never import each other"
		}
	}
	return ""
}

// TestForbidden shows that the rules can fail.
func TestForbidden(t *testing.T) {
	for _, c := range []struct {
		pkg, imp string
		want     bool
	}{
		{"firn/engine/correction", "math", false},
		{"firn/engine/correction", "os", true},
		{"firn/engine/correction", "net/http", true},
		{"firn/engine/correction", "log/slog", true},
		{"firn/engine/correction", "firn/bot", true},
		{"firn/engine/correction", "github.com/goccy/go-yaml", true},
		{"firn/engine/ruleset", "github.com/goccy/go-yaml", false},
		{"firn/bot", "firn/engine/ruleset", false},
		{"firn/bot", "firn/adapters/console", true},
		{"firn/bot", "database/sql", true},
		{"firn/bot/config", "github.com/goccy/go-yaml/ast", false},
		{"firn/bot/strictyaml", "github.com/goccy/go-yaml", false},
		{"firn/bot/parse", "golang.org/x/text/unicode/norm", true},
		{"firn/bot/person", "golang.org/x/text/unicode/norm", false},
		{"firn/bot/person", "github.com/goccy/go-yaml", true},
		{"firn/bot/chat", "golang.org/x/time/rate", false},
		{"firn/bot/parse", "golang.org/x/time/rate", true},
		{"firn/adapters/console", "firn/bot/reply", false},
		{"firn/adapters/console", "firn/adapters/slack", true},
		{"firn/adapters/console", "firn/adapters/console/inner", false},
		{"firn/adapters/page", "firn/adapters/testkit/headless", true},
		{"firn/cmd/firn", "firn/adapters/testkit/pgtest", true},
		{"firn/bot/watch", "firn/bot/testkit/storetest", true},
		{"firn/bot/testkit/surfacetest", "firn/bot/testkit/storetest", false},
		{"firn/cmd/firn-load", "firn/adapters/testkit/pgtest", false},
	} {
		if got := forbidden(c.pkg, c.imp) != ""; got != c.want {
			t.Errorf("%s importing %s: forbidden %v, want %v", c.pkg, c.imp, got, c.want)
		}
	}
}

// TestEngineHasNoClock looks for time.Now and its like in engine.
func TestEngineHasNoClock(t *testing.T) {
	clock := map[string]bool{"Now": true, "Since": true, "Until": true, "Sleep": true, "After": true, "Tick": true, "NewTimer": true, "NewTicker": true, "Local": true}
	files := 0
	for _, p := range packages(t) {
		if layer(p.ImportPath) != "engine" {
			continue
		}
		for _, name := range p.GoFiles {
			files++
			set := token.NewFileSet()
			f, err := parser.ParseFile(set, filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				sel, ok := n.(*ast.SelectorExpr)
				if !ok {
					return true
				}
				if id, ok := sel.X.(*ast.Ident); ok && id.Name == "time" && clock[sel.Sel.Name] {
					t.Errorf("%s: time.%s", set.Position(sel.Pos()), sel.Sel.Name)
				}
				return true
			})
		}
	}
	if files == 0 {
		t.Error("no file of engine was looked at")
	}
}
