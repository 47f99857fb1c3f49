package ensemble

import "bellrow/proto"

// Clock ties a node's samples to the hub's clock, by the node's own estimates
// that its pings bring. The zero value knows nothing.
type Clock struct {
	first, last proto.Ping
	known       bool
}

// Take enters a ping. One without an error bound says nothing, and neither does
// one from before the first sound: its sample count belongs to no moment.
func (c *Clock) Take(p proto.Ping) {
	if !(p.Error > 0) || p.Sample <= 0 {
		return
	}
	if !c.known || p.Sample < c.last.Sample {
		c.first = p
	}
	c.last, c.known = p, true
}

// Known reports whether samples can be laid beside those of others.
func (c Clock) Known() bool { return c.known }

// Zero is the hub time of sample 0 at a sample rate, with its half width, in
// seconds; 0, 0 while unknown.
func (c Clock) Zero(rate float64) (at, err float64) {
	if !c.known || rate <= 0 {
		return 0, 0
	}
	return c.last.Sent + c.last.Offset - float64(c.last.Sample)/rate, c.last.Error
}

// ppmAfter is how far apart two pings must lie to tell how fast a sound
// card's clock runs, in seconds: 5 ms of doubt are 80 ppm then.
const ppmAfter = 60

// PPM is how much faster than nominal the samples run, with its half width;
// 0, 0 while unknown.
func (c Clock) PPM(rate float64) (ppm, err float64) {
	dt := c.last.Sent - c.first.Sent
	if !c.known || dt < ppmAfter || rate <= 0 {
		return 0, 0
	}
	samples := float64(c.last.Sample-c.first.Sample) / rate
	return (samples/dt - 1) * 1e6, (c.first.Error + c.last.Error) / dt * 1e6
}
