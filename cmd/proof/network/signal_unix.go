//go:build unix

package network

import "syscall"

// What the trials tell their processes.
const (
	askStanding = syscall.SIGUSR1 // print how you stand
	askClock    = syscall.SIGUSR2 // read your clock's error again
	freezing    = syscall.SIGSTOP
	thawing     = syscall.SIGCONT
)
