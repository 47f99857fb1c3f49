package estimate

import (
	"bufio"
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"

	"bellrow/node/capture"
	"bellrow/proto/pitch"
)

// The reference libraries, general-purpose and used as they come: aubio
// (Debian aubio-tools, run as a process) and pitchy (npm, run by node). Each
// gives a pitch per hop; the median over the segment is its reading.

// pitchyVersion is the version installed for the comparison.
const pitchyVersion = "4.1.0"

//go:embed pitchy.mjs
var pitchyScript []byte

// peers returns the reference libraries found here, and why others are not.
func peers(ctx context.Context) (found []method, missing []string) {
	if path, err := exec.LookPath("aubiopitch"); err == nil {
		found = append(found, aubio(path, "yinfft", 8192), aubio(path, "yin", 4096))
	} else {
		missing = append(missing, "aubio: aubiopitch is not installed (Debian: aubio-tools)")
	}
	m, err := pitchy(ctx)
	if err != nil {
		return found, append(missing, "pitchy: "+err.Error())
	}
	return append(found, m), missing
}

// aubio reads each segment from a file.
func aubio(path, algorithm string, window int) method {
	return method{fmt.Sprintf("%s %d", algorithm, window), func(ctx context.Context, segments []segment) ([]result, error) {
		dir, err := os.MkdirTemp("", "bellrow-aubio-")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		out := make([]result, len(segments))
		for i, s := range segments {
			file := filepath.Join(dir, "segment.wav")
			if err := writeWAV(file, s.samples); err != nil {
				return nil, err
			}
			cmd := exec.CommandContext(ctx, path, "-i", file, "-p", algorithm, "-B", strconv.Itoa(window), "-H", "480", "-u", "Hz")
			text, err := cmd.Output()
			if err != nil {
				return nil, fmt.Errorf("accuracy: aubiopitch: %w", err)
			}
			out[i] = medianOf(aubioPitches(text, window))
		}
		return out, nil
	}}
}

// aubioPitches reads lines of time and pitch, without those of windows that
// reach before the beginning.
func aubioPitches(text []byte, window int) []float64 {
	var hz []float64
	lines := bufio.NewScanner(bytes.NewReader(text))
	for lines.Scan() {
		fields := strings.Fields(lines.Text())
		if len(fields) != 2 {
			continue
		}
		at, err1 := strconv.ParseFloat(fields[0], 64)
		f, err2 := strconv.ParseFloat(fields[1], 64)
		if err1 == nil && err2 == nil && f > 0 && at*rate >= float64(window) {
			hz = append(hz, f)
		}
	}
	return hz
}

func medianOf(hz []float64) result {
	if len(hz) == 0 {
		return result{}
	}
	return result{hz: pitch.Hertz(quantile(hz, 0.5)), ok: true}
}

func writeWAV(path string, x []float64) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := capture.WriteWAV(f, x, rate); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// pitchy installs the package into a temporary directory and returns the
// method; every call runs one process over all segments.
func pitchy(ctx context.Context) (method, error) {
	node, err := exec.LookPath("node")
	if err != nil {
		return method{}, fmt.Errorf("node is not installed")
	}
	npm, err := exec.LookPath("npm")
	if err != nil {
		return method{}, fmt.Errorf("npm is not installed")
	}
	dir, err := installed(ctx, npm)
	if err != nil {
		return method{}, err
	}
	return method{"mcleod 8192", func(ctx context.Context, segments []segment) ([]result, error) {
		list := make([]string, len(segments))
		for i, s := range segments {
			list[i] = filepath.Join(dir, fmt.Sprintf("%d.wav", i))
			if err := writeWAV(list[i], s.samples); err != nil {
				return nil, err
			}
			defer os.Remove(list[i])
		}
		cmd := exec.CommandContext(ctx, node, filepath.Join(dir, "pitchy.mjs"), "8192", strconv.Itoa(rate))
		cmd.Dir = dir
		cmd.Stdin = strings.NewReader(strings.Join(list, "\n"))
		text, err := cmd.Output()
		if err != nil {
			return nil, fmt.Errorf("accuracy: pitchy: %w", err)
		}
		var all [][]float64
		if err := json.Unmarshal(text, &all); err != nil || len(all) != len(segments) {
			return nil, fmt.Errorf("accuracy: pitchy: %d answers for %d segments (%v)", len(all), len(segments), err)
		}
		out := make([]result, len(segments))
		for i, hz := range all {
			out[i] = medianOf(hz)
		}
		return out, nil
	}}, nil
}

// installed installs pitchy once per version under the temporary directory.
func installed(ctx context.Context, npm string) (string, error) {
	dir := filepath.Join(os.TempDir(), "bellrow-pitchy-"+pitchyVersion)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", err
	}
	if err := os.WriteFile(filepath.Join(dir, "pitchy.mjs"), pitchyScript, 0o600); err != nil {
		return "", err
	}
	if _, err := os.Stat(filepath.Join(dir, "node_modules", "pitchy")); err == nil {
		return dir, nil
	}
	if os.Getenv("BELLROW_REGISTRY") != "1" {
		return "", errors.New("it is fetched from a registry: allow it with BELLROW_REGISTRY=1")
	}
	cmd := exec.CommandContext(ctx, npm, "install", "--prefix", dir, "--no-audit", "--no-fund", "pitchy@"+pitchyVersion)
	if out, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("npm install: %w: %s", err, bytes.TrimSpace(out))
	}
	return dir, nil
}
