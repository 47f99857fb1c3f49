//go:build unix

package accuracy

import (
	"syscall"
	"time"
)

// processorTime is the user time spent by this process.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano())
}
