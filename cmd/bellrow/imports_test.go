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

// A wall is a direction that imports must not take, and why. Packages are
// matched by prefix below the module.
type wall struct {
	from, to string
	why      string
}

var walls = []wall{
	{"proto", "node", "the wire format lies below both sides"},
	{"proto", "hub", "the wire format lies below both sides"},
	{"proto/pitch", "proto/instrument", "quantities know no instruments"},
	{"node", "hub", "the sides meet only on the wire and in cmd"},
	{"hub", "node", "the sides meet only on the wire and in cmd"},
	{"hub/slide", "hub/sqlite", "a calculator stores nothing"},
	{"hub/sqlite", "hub/web", "adapters do not know one another"},
	{"hub/web", "hub/link", "adapters do not know one another"},
	{"hub/web", "hub/sqlite", "adapters do not know one another"},
	{"hub/link", "hub/sqlite", "adapters do not know one another"},
	{"hub/tuneup", "hub/show", "rules read nothing that was made for people"},
	{"hub/tuneup", "hub/session", "rules know nobody who runs them"},
	{"hub/tuneup", "hub/journal", "rules know no storage"},
	{"hub/show", "hub/session", "what is shown is made from facts alone"},
	{"hub/journal", "hub/tuneup", "a journal knows no rules"},
	{"hub/receipt", "hub/tuneup", "a receipt knows no rules"},
	{"hub/session", "hub/link", "adapters know the session, never the other way round"},
	{"hub/session", "hub/web", "adapters know the session, never the other way round"},
	{"hub/session", "hub/sqlite", "the session knows a store when it sees one"},
	{"hub/link", "hub/session", "an adapter says what it needs"},
}

// recordsOnly holds records and imports nothing of the hub's but the two
// calculators in whose facts a stored answer is put.
const recordsOnly = "hub"

var vocabulary = []string{module + "hub/slide", module + "hub/intonation"}

// pure packages get everything handed in: they import no clock, lock, context,
// log, storage or network.
var (
	pure   = []string{"hub/piece", "hub/tuneup", "hub/ensemble", "hub/show", "hub/belief", "hub/slide", "hub/intonation", "hub/attribute", "hub/history"}
	impure = []string{"context", "database/sql", "log", "log/slog", "net", "net/http", "os", "sync"}
)

// module is this module's path.
const module = "bellrow/"

func TestImportDirections(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", module+"...").Output()
	if err != nil {
		t.Skipf("go list is not to be had here: %v", err)
	}
	dec := json.NewDecoder(strings.NewReader(string(out)))
	seen := 0
	for {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		seen++
		for _, to := range p.Imports {
			if slices.Contains(pure, strings.TrimPrefix(p.ImportPath, module)) && slices.Contains(impure, to) {
				t.Errorf("%s imports %s: it is pure", p.ImportPath, to)
			}
			if p.ImportPath == module+recordsOnly && strings.HasPrefix(to, module+recordsOnly+"/") && !slices.Contains(vocabulary, to) {
				t.Errorf("%s imports %s: records have no logic", p.ImportPath, to)
			}
			for _, w := range walls {
				if w.broken(p.ImportPath, to) {
					t.Errorf("%s imports %s: %s", p.ImportPath, to, w.why)
				}
			}
		}
	}
	if seen < 10 {
		t.Fatalf("go list named %d packages, need the whole module", seen)
	}
}

func (w wall) broken(from, to string) bool {
	return below(from, w.from) && below(to, w.to)
}

func below(path, prefix string) bool {
	rel, ok := strings.CutPrefix(path, module)
	return ok && (rel == prefix || strings.HasPrefix(rel, prefix+"/"))
}

// TestPureTellsNoTime: what is pure is told the time, and never looks.
func TestPureTellsNoTime(t *testing.T) {
	for _, pkg := range pure {
		files, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(pkg), "*.go"))
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %d files (%v), need some", pkg, len(files), err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			if looks := looksAtClock(t, name, nil); looks != "" {
				t.Errorf("%s calls time.%s: it is pure", name, looks)
			}
		}
	}
	if looksAtClock(t, "x.go", "package x\n\nvar t = time.Now()\n") != "Now" {
		t.Error("a file that looks at the clock must be found")
	}
}

// looksAtClock names what a file takes of package time that depends on when it
// is called, "" for nothing. src is its text, nil to read it.
func looksAtClock(t *testing.T, name string, src any) (found string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), name, src, 0)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if sel, ok := n.(*ast.SelectorExpr); ok {
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains(clockCalls, sel.Sel.Name) {
				found = sel.Sel.Name
			}
		}
		return true
	})
	return found
}

var clockCalls = []string{"Now", "Since", "Until", "After", "AfterFunc", "NewTicker", "NewTimer", "Sleep", "Tick"}

func TestWallsCanBreak(t *testing.T) {
	if !walls[3].broken("bellrow/node/find", "bellrow/hub/link") {
		t.Error("node importing hub must break a wall")
	}
}
