package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// sumsName is the file of checksums, in the form that sha256sum -c reads.
const sumsName = "SHA256SUMS"

// writeSums writes the checksums of everything in dir.
func writeSums(dir string) error {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var lines strings.Builder
	for _, e := range entries {
		if e.IsDir() || e.Name() == sumsName {
			continue
		}
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		fmt.Fprintf(&lines, "%x  %s\n", sha256.Sum256(data), e.Name())
	}
	return os.WriteFile(filepath.Join(dir, sumsName), []byte(lines.String()), 0o644)
}
