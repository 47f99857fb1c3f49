package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
)

// TestManualNamesEveryCommand: the manual and the program have the same
// commands.
func TestManualNamesEveryCommand(t *testing.T) {
	manual, err := os.ReadFile(filepath.Join("..", "package", "files", "bellrow.1"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range commands() {
		if !regexp.MustCompile(`(?m)^\.BR? ` + regexp.QuoteMeta(c.name) + `( |$)`).Match(manual) {
			t.Errorf("the manual has no entry for %q", c.name)
		}
	}
}
