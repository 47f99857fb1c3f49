//go:build !unix

package accuracy

import "time"

var started = time.Now()

// processorTime stands in with wall time where the system has no simple count.
func processorTime() time.Duration { return time.Since(started) }
