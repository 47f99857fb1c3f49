package access

import (
	"sync"
	"time"
)

// Limiter is a token bucket for each address: burst at once, then one more
// every interval. Addresses count singly, because a prefix is what a whole
// network shares; somebody with many addresses is slowed by the length of the
// secret instead. It is safe for concurrent use and its memory is bounded. A
// rate.Limiter has no way to give a try back.
type Limiter struct {
	burst float64
	every time.Duration
	now   func() time.Time

	mu      sync.Mutex
	buckets map[string]bucket
}

type bucket struct {
	left float64
	at   time.Time
}

// maxBuckets bounds the memory of a Limiter: about 1 MB.
const maxBuckets = 8192

// NewLimiter returns a limiter; nil now means time.Now.
func NewLimiter(burst int, every time.Duration, now func() time.Time) *Limiter {
	if now == nil {
		now = time.Now
	}
	return &Limiter{burst: float64(burst), every: every, now: now, buckets: map[string]bucket{}}
}

// Left reports whether remote has a try left, without taking it.
func (l *Limiter) Left(remote string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.level(addressKey(remote)) >= 1
}

// Take takes one try and reports whether there was one.
func (l *Limiter) Take(remote string) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	key := addressKey(remote)
	left := l.level(key)
	if left < 1 {
		return false
	}
	if _, seen := l.buckets[key]; !seen && len(l.buckets) >= maxBuckets {
		l.shrink()
	}
	l.buckets[key] = bucket{left: left - 1, at: l.now()}
	return true
}

// Give gives one try back.
func (l *Limiter) Give(remote string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	key := addressKey(remote)
	switch left := l.level(key) + 1; {
	case left >= l.burst:
		delete(l.buckets, key)
	default:
		l.buckets[key] = bucket{left: left, at: l.now()}
	}
}

func (l *Limiter) level(key string) float64 {
	b, ok := l.buckets[key]
	if !ok {
		return l.burst
	}
	refill := float64(l.now().Sub(b.at)) / float64(l.every)
	return min(l.burst, b.left+max(refill, 0))
}

// shrink forgets the addresses that are back at full, and any others, at
// random, until half the room is free.
func (l *Limiter) shrink() {
	for key := range l.buckets {
		if l.level(key) >= l.burst {
			delete(l.buckets, key)
		}
	}
	for key := range l.buckets {
		if len(l.buckets) <= maxBuckets/2 {
			return
		}
		delete(l.buckets, key)
	}
}
