package main

import (
	"os"
	"os/exec"
	"strings"
	"syscall"
)

// startedAgain starts this program once more, on its own, when it was opened
// as an app: macOS brings a running app to the front instead of starting it a
// second time, and ours has no window to bring. So the app itself ends at once,
// and a second double click starts it and finds the page.
func startedAgain() (bool, error) {
	const mark = "BELLROW_STARTED"
	program, err := os.Executable()
	if err != nil || !strings.Contains(program, ".app/Contents/MacOS/") || os.Getenv(mark) != "" {
		return false, nil
	}
	cmd := exec.Command(program)
	cmd.Env = append(os.Environ(), mark+"=1")
	cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
	return true, cmd.Start()
}
