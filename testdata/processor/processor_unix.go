//go:build unix

// Package processor tells what a program costs: on a loaded machine wall time
// tells of the load.
package processor

import (
	"syscall"
	"time"
)

// Time is the processor time of this process so far, its own and the system's
// on its behalf.
func Time() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
