package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strings"
	"testing"
)

// The most lines of a file and of a function, so that each is read in one sitting.
// The figures are ours.
const (
	fileLines     = 450
	functionLines = 80
)

// TestSizes holds what is no test and no testkit to them.
func TestSizes(t *testing.T) {
	files := 0
	for _, p := range packages(t) {
		if isTestkit(p.ImportPath) {
			continue
		}
		for _, name := range p.GoFiles {
			files++
			for _, long := range tooLong(t, filepath.Join(p.Dir, name), nil) {
				t.Error(long)
			}
		}
	}
	if files == 0 {
		t.Error("no file was looked at")
	}
}

// TestCodesAreNamed: what a caution is called in the contract stands in one table,
// bot/reply/codes.go, and nowhere else as a text.
func TestCodesAreNamed(t *testing.T) {
	for _, p := range packages(t) {
		if layer(p.ImportPath) != "bot" || isTestkit(p.ImportPath) {
			continue
		}
		for _, name := range p.GoFiles {
			for _, place := range bareCodes(t, filepath.Join(p.Dir, name), nil) {
				t.Errorf("%s: name this code in bot/reply/codes.go", place)
			}
		}
	}
	if got := bareCodes(t, "p.go", "package p\n\nvar a, b = T{Code: \"x\"}, T{Code: x}\n"); len(got) != 1 {
		t.Errorf("one bare code of two: got %q", got)
	}
}

// bareCodes are the places in a file where a code is a text; text as in tooLong.
func bareCodes(t *testing.T, name string, text any) (all []string) {
	t.Helper()
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, name, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(f, func(n ast.Node) bool {
		if kv, ok := n.(*ast.KeyValueExpr); ok {
			key, named := kv.Key.(*ast.Ident)
			if _, bare := kv.Value.(*ast.BasicLit); named && bare && key.Name == "Code" {
				all = append(all, set.Position(kv.Pos()).String())
			}
		}
		return true
	})
	return all
}

// TestTooLong shows that the sizes can be too large.
func TestTooLong(t *testing.T) {
	const around = 4 // lines of the file beside those within
	for _, c := range []struct{ within, want int }{{functionLines - 2, 0}, {functionLines - 1, 1}, {fileLines - around, 1}, {fileLines - around + 1, 2}} {
		text := "package p\n\nfunc f() {\n" + strings.Repeat("\tf()\n", c.within) + "}\n"
		if got := tooLong(t, "p.go", text); len(got) != c.want {
			t.Errorf("%d lines within: got %q, want %d of them", c.within, got, c.want)
		}
	}
}

// tooLong says what is too long in a file; text stands in its place where it is given.
func tooLong(t *testing.T, name string, text any) (all []string) {
	t.Helper()
	set := token.NewFileSet()
	f, err := parser.ParseFile(set, name, text, 0)
	if err != nil {
		t.Fatal(err)
	}
	if n := set.File(f.Pos()).LineCount(); n > fileLines {
		all = append(all, fmt.Sprintf("%s has %d lines, more than %d", name, n, fileLines))
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n.(type) {
		case *ast.FuncDecl, *ast.FuncLit:
			if lines := set.Position(n.End()).Line - set.Position(n.Pos()).Line + 1; lines > functionLines {
				all = append(all, fmt.Sprintf("%s: a function of %d lines, more than %d", set.Position(n.Pos()), lines, functionLines))
			}
		}
		return true
	})
	return all
}
