// Package clock aligns a node's clock with the hub's from ping and pong over
// the socket.
//
// Each exchange bounds the offset (hub minus node) without any assumption on
// the network: the hub stamped its answer after the ping was sent and before
// the pong came, so At-Received <= offset <= At-Sent. The estimate is the
// middle of the interval common to the recent exchanges, and its error half
// the width. That is the lowest-round-trip sample, narrowed by any other
// exchange that had one quick direction (Marzullo and Owicki 1983, "Maintaining
// the time in a distributed system"; the clock filter of RFC 5905, section 10,
// prefers the lowest round trip for the same reason). A fixed difference
// between the two directions cannot be seen, but stays inside the stated error.
//
// The package has no clock of its own and no goroutine; times are arguments,
// in seconds. A Clock belongs to one goroutine.
package clock

import "math"

// Figures of the alignment.
const (
	// DriftPPM is how far two laptops' clocks may drift apart: 100 ppm each.
	// Older exchanges are widened by it.
	DriftPPM = 200
	// Kept is how many exchanges are remembered: a burst of 16 at the start
	// finds the quick ones on a busy radio link.
	Kept = 16
	// Every is how often to ask again once aligned: drift adds 6 ms in 30 s
	// at worst, about 1 ms between usual clocks.
	Every = 30.0
	// TrackEvery is how often to ask while partial tracks go out: 200 ppm of a
	// sound card are 0.2 ms then, and one lost answer is no harm.
	TrackEvery = 1.0
	// Burst is how often to ask until Kept exchanges are in.
	Burst = 0.1
)

// Exchange is one ping and its pong, in seconds: Sent and Received on the
// node's clock, At on the hub's.
type Exchange struct {
	Sent, At, Received float64
}

// RTT is the round trip in seconds.
func (e Exchange) RTT() float64 { return e.Received - e.Sent }

// Estimate is the offset between the clocks: hub time = node time + Offset,
// within Error either way. Error is 0, and OK false, while nothing is known.
type Estimate struct {
	Offset float64
	Error  float64
	RTT    float64 // lowest round trip among the kept exchanges
	Count  int     // exchanges used
	OK     bool
}

// Clock keeps the last exchanges. The zero value is ready.
type Clock struct {
	ring  [Kept]Exchange
	n     int // exchanges held
	next  int
	steps int
}

// Add takes an exchange and reports whether it was usable: finite, received
// after it was sent. An exchange that contradicts all earlier ones means that
// a clock was stepped or the laptop slept; the earlier ones are dropped.
func (c *Clock) Add(e Exchange) bool {
	if !finite(e.Sent) || !finite(e.At) || !finite(e.Received) || e.RTT() < 0 {
		return false
	}
	if lo, hi := c.bounds(e.Received); c.n > 0 && (e.At-e.Received > hi || e.At-e.Sent < lo) {
		c.n, c.next = 0, 0
		c.steps++
	}
	c.ring[c.next] = e
	c.next = (c.next + 1) % Kept
	c.n = min(c.n+1, Kept)
	return true
}

// Estimate returns the offset as known at now, on the node's clock.
func (c *Clock) Estimate(now float64) Estimate {
	if c.n == 0 || !finite(now) {
		return Estimate{}
	}
	lo, hi := c.bounds(now)
	e := Estimate{Offset: (lo + hi) / 2, Error: math.Abs(hi-lo) / 2, RTT: math.Inf(1), Count: c.n, OK: true}
	for _, x := range c.ring[:c.n] {
		e.RTT = min(e.RTT, x.RTT())
	}
	return e
}

// Due reports whether another exchange is wanted at now, last being when the
// last ping was sent.
func (c *Clock) Due(now, last float64) bool {
	if c.n < Kept {
		return now-last >= Burst
	}
	return now-last >= Every
}

// Steps counts how often a clock was found to have been stepped.
func (c *Clock) Steps() int { return c.steps }

// bounds intersects the intervals of all kept exchanges as they stand at now.
func (c *Clock) bounds(now float64) (lo, hi float64) {
	lo, hi = math.Inf(-1), math.Inf(1)
	for _, x := range c.ring[:c.n] {
		wide := DriftPPM * 1e-6 * math.Abs(now-x.Received)
		lo = max(lo, x.At-x.Received-wide)
		hi = min(hi, x.At-x.Sent+wide)
	}
	return lo, hi
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
