package mic

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"bellrow/node/capture"
)

// Watchdog times.
const (
	// silentFor is how long an open device may deliver nothing before it counts
	// as lost: callbacks come every 10 ms, and a machine that stalls for
	// 300 ms still delivers.
	silentFor = time.Second
	// startFor is the same for the first samples: some systems take two
	// seconds to wake a device.
	startFor = 3 * time.Second
	// lookEvery is how often the watchdog looks.
	lookEvery = 100 * time.Millisecond
)

// ringSeconds is how long the reader may stall before samples are lost. The
// listener needs a few milliseconds per block; four seconds outlast a laptop
// that swaps, and cost 0.8 MB.
const ringSeconds = 4

// stream is the device under a source.
type stream interface {
	// stop ends the callbacks: none runs once it has returned.
	stop() error
	// free gives the device back. It is called once, after stop.
	free() error
}

// source is a live microphone.
type source struct {
	info   capture.Info
	ring   *capture.Ring
	stream stream

	quit  chan struct{}
	watch sync.WaitGroup
	once  sync.Once
	err   error // of Close
}

// newSource watches over a stream that has been started and fills ring.
func newSource(info capture.Info, ring *capture.Ring, s stream) *source {
	m := &source{info: info, ring: ring, stream: s, quit: make(chan struct{})}
	m.watch.Go(m.watchdog)
	return m
}

// Info implements capture.Source.
func (m *source) Info() capture.Info { return m.info }

// Read implements capture.Source.
func (m *source) Read(ctx context.Context) (capture.Block, error) { return m.ring.Read(ctx) }

// Close implements capture.Source. The reader never touches the device, so
// the device can be closed under a Read: the ring releases it.
func (m *source) Close() error {
	m.once.Do(func() {
		m.ring.Fail(capture.ErrClosed)
		close(m.quit)
		m.watch.Wait()
		m.err = m.stream.stop()
		if err := m.stream.free(); m.err == nil {
			m.err = err
		}
		if m.err != nil {
			m.err = fmt.Errorf("mic: close %s: %w", m.info.Name, m.err)
		}
	})
	return m.err
}

// watchdog fails the ring once no samples have come for too long.
func (m *source) watchdog() {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	seen, since, allowed := int64(0), time.Now(), startFor
	for {
		select {
		case <-m.quit:
			return
		case now := <-tick.C:
			if n := m.ring.Count(); n != seen {
				seen, since, allowed = n, now, silentFor
				continue
			}
			if now.Sub(since) >= allowed {
				m.ring.Fail(fmt.Errorf("mic: %w: nothing from %s for %v", ErrLost, m.info.Name, allowed))
				return
			}
		}
	}
}

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
