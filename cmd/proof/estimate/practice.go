package estimate

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"

	"bellrow/node/capture"
)

// A practice note is one recorded note of a real player, with its reference.
type practice struct {
	name       string
	instrument string
	grade      string
	samples    []float64 // at rate
	onset      float64   // seconds
	window     [2]float64
	reference  float64 // Hz, the mean over window
	agreement  float64 // cents, of the methods behind reference
	winding    *winding
}

// practiceFolder is where the notes lie, seen from the root of the module.
const practiceFolder = "../shared/audio/real"

// errNoPractice says that no recorded notes are here.
var errNoPractice = errors.New("no recorded notes")

// practiceNotes reads the notes that folder's manifest.csv lists; an empty
// folder is practiceFolder. It returns errNoPractice when there is none.
func practiceNotes(ctx context.Context, folder string) ([]practice, error) {
	if folder == "" {
		root, err := moduleRoot()
		if err != nil {
			return nil, err
		}
		folder = filepath.Join(root, practiceFolder)
	}
	f, err := os.Open(filepath.Join(folder, "manifest.csv"))
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("%w: %s has no manifest.csv; -notes names another folder", errNoPractice, folder)
	}
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		return nil, fmt.Errorf("accuracy: %s: %d lines (%v), need a heading and notes", f.Name(), len(rows), err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var all []practice
	for _, row := range rows[1:] {
		n, err := practiceNote(ctx, folder, func(name string) string { return row[column[name]] })
		if err != nil {
			return nil, err
		}
		all = append(all, n)
	}
	return all, nil
}

func practiceNote(ctx context.Context, folder string, field func(string) string) (practice, error) {
	var failed error
	number := func(name string) float64 {
		v, err := strconv.ParseFloat(field(name), 64)
		failed = errors.Join(failed, err)
		return v
	}
	n := practice{
		name: field("file"), instrument: field("instrument"), grade: field("grade"),
		onset: number("onset_s"), reference: number("reference_hz"), agreement: number("own_agreement_cents"),
	}
	n.window[0] = number("ref_window_start_s")
	n.window[1] = n.window[0] + number("ref_window_len_s")
	if failed != nil {
		return n, fmt.Errorf("accuracy: manifest of %s: %w", n.name, failed)
	}
	var err error
	if n.samples, err = readSound(ctx, filepath.Join(folder, n.name)); err != nil {
		return n, err
	}
	fade := rate / 50 // a note that was cut must not end in a click
	for i := range min(fade, len(n.samples)) {
		n.samples[len(n.samples)-1-i] *= float64(i) / float64(fade)
	}
	n.winding = newWinding(n.samples, n.reference)
	return n, nil
}

// moduleRoot is the folder above this one that holds go.mod.
func moduleRoot() (string, error) {
	dir, err := os.Getwd()
	if err != nil {
		return "", err
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir, nil
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", fmt.Errorf("%w: not inside the module; -notes names a folder", errNoPractice)
		}
		dir = up
	}
}

// readSound reads a whole file, several channels as the node hears them.
func readSound(ctx context.Context, path string) ([]float64, error) {
	src, err := capture.Open(path)
	if err != nil {
		return nil, err
	}
	defer src.Close()
	var x []float64
	for {
		b, err := src.Read(ctx)
		if errors.Is(err, io.EOF) {
			return x, nil
		}
		if err != nil {
			return nil, err
		}
		x = append(x, b.Samples...)
	}
}
