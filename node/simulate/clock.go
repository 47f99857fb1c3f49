package simulate

import (
	"slices"
	"sync"
	"time"
)

// Clock is the time on a stage that does not keep real time: it goes on with the
// sound, as quickly as all microphones are read. It may be used from any goroutine.
type Clock struct {
	mu      sync.Mutex
	at      time.Time
	waiting []alarm
}

type alarm struct {
	at time.Time
	c  chan time.Time
}

// NewClock returns a clock that stands at a time until a stage drives it.
func NewClock(at time.Time) *Clock { return &Clock{at: at.Round(0)} }

// Now is the time on the stage.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

// After sends the time once d has passed, as time.After does.
func (c *Clock) After(d time.Duration) <-chan time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	a := alarm{c.at.Add(d), make(chan time.Time, 1)}
	if d <= 0 {
		a.c <- c.at
	} else {
		c.waiting = append(c.waiting, a)
	}
	return a.c
}

// Pass lets time go by.
func (c *Clock) Pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
	c.waiting = slices.DeleteFunc(c.waiting, func(a alarm) bool {
		due := !a.at.After(c.at)
		if due {
			a.c <- c.at
		}
		return due
	})
}
