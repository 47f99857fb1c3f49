package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
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
}

// pure packages get everything handed in: they import no clock, lock, context,
// log, storage or network.
var (
	pure   = []string{"hub/piece"}
	impure = []string{"context", "database/sql", "log", "log/slog", "net", "net/http", "os", "sync", "time"}
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

func TestWallsCanBreak(t *testing.T) {
	if !walls[3].broken("bellrow/node/find", "bellrow/hub/link") {
		t.Error("node importing hub must break a wall")
	}
}
