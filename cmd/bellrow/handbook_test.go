package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// placed is a file of the handbook with what is said to be in it: `hub/slide/trust.go: cold`.
var placed = regexp.MustCompile("`([\\w/.]+\\.go|[\\w]+(?:/[\\w]+)+)(?:: ([\\w., ]+))?`")

// TestHandbookLeadsThere: every file that the handbook names is there, and so is everything that it
// says is in it. A file without a folder lies in that of the one named before it in its line.
func TestHandbookLeadsThere(t *testing.T) {
	top := filepath.Join("..", "..")
	text, err := os.ReadFile(filepath.Join(top, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for i, line := range strings.Split(string(text), "\n") {
		folder := ""
		for _, m := range placed.FindAllStringSubmatch(line, -1) {
			file := m[1]
			if !strings.Contains(file, "/") {
				if folder == "" {
					continue // an example, or a file of the top
				}
				file = path.Join(folder, file)
			}
			full := filepath.Join(top, filepath.FromSlash(file))
			info, err := os.Stat(full)
			if err != nil {
				if strings.HasSuffix(file, ".go") {
					t.Errorf("DEVELOPERS.md:%d: there is no %s", i+1, file)
				}
				continue
			}
			if folder = file; !info.IsDir() {
				folder = path.Dir(file)
			}
			if m[2] == "" {
				continue
			}
			has := declared(t, full)
			for _, name := range strings.Split(m[2], ",") {
				name = strings.TrimSpace(name)
				named++
				if !has[name] {
					t.Errorf("DEVELOPERS.md:%d: %s has no %s", i+1, file, name)
				}
			}
		}
	}
	if named < 30 {
		t.Errorf("%d places are named, need the handbook's list", named)
	}
}

// declared are the names that a file declares: functions, methods also as type.method,
// constants, variables, types.
func declared(t *testing.T, file string) map[string]bool {
	t.Helper()
	tree, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	has := map[string]bool{}
	for _, d := range tree.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			has[d.Name.Name] = true
			if d.Recv != nil {
				on := d.Recv.List[0].Type
				if star, ok := on.(*ast.StarExpr); ok {
					on = star.X
				}
				if id, ok := on.(*ast.Ident); ok {
					has[id.Name+"."+d.Name.Name] = true
				}
			}
		case *ast.GenDecl:
			for _, s := range d.Specs {
				switch s := s.(type) {
				case *ast.ValueSpec:
					for _, n := range s.Names {
						has[n.Name] = true
					}
				case *ast.TypeSpec:
					has[s.Name.Name] = true
				}
			}
		}
	}
	return has
}
