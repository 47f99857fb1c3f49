package mic

import (
	"math"
	"time"

	"bellrow/node/capture"
)

// feed is the work of a device callback: it puts frames of one or more
// channels into the ring as mono, and counts what the device says it lost.
// It allocates nothing after the first call of the largest size.
type feed struct {
	ring     *capture.Ring
	channels int
	rate     float64
	mono     []float32
	due      time.Duration // device time at which the next frame should begin
}

// newFeed makes a feed with room for callbacks of up to the given frames.
func newFeed(ring *capture.Ring, channels int, rate float64, frames int) *feed {
	return &feed{ring: ring, channels: channels, rate: rate, mono: make([]float32, frames)}
}

// put takes one callback: interleaved samples, the device time of the first
// frame, and whether the device reports an overflow before it.
func (f *feed) put(in []float32, at time.Duration, overflowed bool) {
	if overflowed {
		f.ring.Skip(f.missing(at))
	}
	frames := len(in) / f.channels
	f.due = at + time.Duration(float64(frames)/f.rate*float64(time.Second))
	if f.channels == 1 {
		f.ring.Put(in)
		return
	}
	if len(f.mono) < frames {
		f.mono = make([]float32, frames)
	}
	scale := 1 / float32(f.channels)
	for i := range frames {
		var sum float32
		for _, x := range in[i*f.channels : (i+1)*f.channels] {
			sum += x
		}
		f.mono[i] = sum * scale
	}
	f.ring.Put(f.mono[:frames])
}

// missing estimates from the device's clock how many frames an overflow lost:
// at least one, and one where the clock tells nothing.
func (f *feed) missing(at time.Duration) int64 {
	if f.due == 0 || at <= f.due {
		return 1
	}
	return max(1, int64(math.Round((at-f.due).Seconds()*f.rate)))
}
