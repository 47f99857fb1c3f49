package uplink

import (
	"math/rand/v2"
	"time"
)

// Back-off with full jitter: after the n-th failure in a row, wait a time
// drawn evenly from 0 to min(lastWait, firstWait·2^n), so that a whole section
// does not return in step when the hub does (Brooker, "Exponential Backoff And
// Jitter", AWS Architecture Blog, 2015).
const (
	firstWait = 500 * time.Millisecond
	lastWait  = 15 * time.Second
	// refusedWait is between tries with words that the hub refused: the leader
	// may have changed something, but guessing must not look like an attack.
	refusedWait = time.Minute
)

func backoff(failures int) time.Duration {
	most := lastWait
	if failures < 5 {
		most = min(lastWait, firstWait<<failures)
	}
	return rand.N(most)
}
