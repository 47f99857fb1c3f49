package mutate

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
)

// target is a package to break, with its types.
type target struct {
	path, dir, module string
	name              string
	fset              *token.FileSet
	files             []*source
	info              *types.Info
	pkg               *types.Package
}

// source is one file as it is.
type source struct {
	name string
	text []byte
	tree *ast.File
	base int // of its positions
}

// at is the place of a position in the text.
func (s *source) at(p token.Pos) int { return int(p) - s.base }

// listed is what go list tells of a package.
type listed struct {
	ImportPath, Dir, Name, Export string
	GoFiles                       []string
	DepOnly                       bool
	Module                        *struct{ Dir string }
}

// load finds and checks the packages that patterns name.
func load(ctx context.Context, patterns []string) ([]*target, error) {
	args := append([]string{"list", "-export", "-deps", "-json=ImportPath,Dir,Name,Export,GoFiles,DepOnly,Module"}, patterns...)
	c := exec.CommandContext(ctx, "go", args...)
	c.Stderr = os.Stderr
	out, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("mutate: go list: %w", err)
	}
	exports := map[string]string{}
	var wanted []listed
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var l listed
		if err := dec.Decode(&l); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, err
		}
		exports[l.ImportPath] = l.Export
		if !l.DepOnly {
			wanted = append(wanted, l)
		}
	}
	var ts []*target
	for _, l := range wanted {
		t, err := check(l, exports)
		if err != nil {
			return nil, err
		}
		ts = append(ts, t)
	}
	return ts, nil
}

// check reads a package and finds its types.
func check(l listed, exports map[string]string) (*target, error) {
	t := &target{path: l.ImportPath, dir: l.Dir, name: l.Name, fset: token.NewFileSet()}
	if l.Module != nil {
		t.module = l.Module.Dir
	}
	var trees []*ast.File
	for _, name := range l.GoFiles {
		full := filepath.Join(l.Dir, name)
		text, err := os.ReadFile(full)
		if err != nil {
			return nil, err
		}
		tree, err := parser.ParseFile(t.fset, full, text, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		t.files = append(t.files, &source{name: full, text: text, tree: tree, base: t.fset.File(tree.Pos()).Base()})
		trees = append(trees, tree)
	}
	t.info = &types.Info{Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
	open := func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) }
	conf := types.Config{Importer: importer.ForCompiler(t.fset, "gc", open)}
	var err error
	t.pkg, err = conf.Check(l.ImportPath, t.fset, trees, t.info)
	return t, err
}
