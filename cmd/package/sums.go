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

// writeSums writes the checksums of the named files in dir. What another
// version left there is not among them.
func writeSums(dir string, names []string) error {
	var lines strings.Builder
	for _, name := range names {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		fmt.Fprintf(&lines, "%x  %s\n", sha256.Sum256(data), name)
	}
	return os.WriteFile(filepath.Join(dir, sumsName), []byte(lines.String()), 0o644)
}
