// Starter is what a double click starts on Windows: it starts bellrow.exe beside
// it without a console window, and ends.
package main

import (
	"os"
	"os/exec"
	"path/filepath"
)

func main() {
	here, err := os.Executable()
	if err != nil {
		os.Exit(1)
	}
	cmd := exec.Command(filepath.Join(filepath.Dir(here), "bellrow.exe"))
	cmd.Dir = filepath.Dir(here)
	hide(cmd)
	if cmd.Start() != nil {
		os.Exit(1)
	}
}
