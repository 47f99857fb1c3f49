//go:build !windows

package main

import "os/exec"

// hide has nothing to do elsewhere: only Windows has such a starter.
func hide(*exec.Cmd) {}
