package main

import (
	"os/exec"
	"syscall"
)

// createNoWindow: the program gets a console that is not shown (Microsoft,
// Process Creation Flags).
const createNoWindow = 0x08000000

func hide(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{HideWindow: true, CreationFlags: createNoWindow}
}
