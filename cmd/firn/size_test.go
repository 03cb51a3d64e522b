package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
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
			set := token.NewFileSet()
			f, err := parser.ParseFile(set, filepath.Join(p.Dir, name), nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			if n := set.File(f.Pos()).LineCount() - 1; n > fileLines {
				t.Errorf("%s/%s has %d lines, more than %d", p.ImportPath, name, n, fileLines)
			}
			ast.Inspect(f, func(n ast.Node) bool {
				switch n.(type) {
				case *ast.FuncDecl, *ast.FuncLit:
					if lines := set.Position(n.End()).Line - set.Position(n.Pos()).Line + 1; lines > functionLines {
						t.Errorf("%s: a function of %d lines, more than %d", set.Position(n.Pos()), lines, functionLines)
					}
				}
				return true
			})
		}
	}
	if files == 0 {
		t.Error("no file was looked at")
	}
}
