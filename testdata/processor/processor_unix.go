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
func Time() time.Duration { return used(syscall.RUSAGE_SELF) }

// WithChildren is Time with that of the programs that it has started and that
// have ended.
func WithChildren() time.Duration { return Time() + used(syscall.RUSAGE_CHILDREN) }

func used(who int) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(who, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
