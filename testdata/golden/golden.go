// Package golden compares what a test saw with what was written down before. A
// golden file holds what our own program says, not truth: it shows a reviewer what a
// change changes. Laws and values from outside stand beside it in other tests.
package golden

import (
	"flag"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Update says that golden files are to be written, not compared.
var Update = flag.Bool("update", false, "write what is seen now into the golden files")

// near is how far two numbers may lie apart, as a share of their size or of one:
// processors round differently, and the last digit that is printed may turn.
const near = 2e-6

// Lines compares a text with testdata/NAME, line by line; numbers may differ by rounding.
func Lines(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *Update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; write it with -update", err)
	}
	g, w := strings.Split(got, "\n"), strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	wrong := 0
	for i := range max(len(g), len(w)) {
		var a, b string
		if i < len(g) {
			a = g[i]
		}
		if i < len(w) {
			b = w[i]
		}
		if alike(a, b) {
			continue
		}
		if wrong++; wrong > 5 {
			t.Fatalf("%s: and more lines differ", file)
		}
		t.Errorf("%s:%d:\n got %s\nwant %s\n(if that is meant: go test -run %s -update, and read the diff)", file, i+1, a, b, t.Name())
	}
}

// around may stand about a number.
const around = "[](){},;:"

// alike reports whether two lines say the same.
func alike(a, b string) bool {
	if a == b {
		return true
	}
	x, y := strings.Fields(a), strings.Fields(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i] == y[i] {
			continue
		}
		p, errX := strconv.ParseFloat(strings.Trim(x[i], around), 64)
		q, errY := strconv.ParseFloat(strings.Trim(y[i], around), 64)
		if errX != nil || errY != nil || math.IsInf(p-q, 0) || !(math.Abs(p-q) <= near*max(1, math.Abs(p))) {
			return false
		}
	}
	return true
}
