package capture

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// Watchdog times.
const (
	// silentFor is how long a live source may deliver nothing before it counts
	// as lost: callbacks come every 10 to 50 ms, and a machine that stalls for
	// 300 ms still delivers.
	silentFor = time.Second
	// startFor is the same for the first samples: some systems take two
	// seconds to wake a device.
	startFor = 3 * time.Second
	// lookEvery is how often the watchdog looks.
	lookEvery = 100 * time.Millisecond
)

// RingSeconds is how long the reader of a live source may stall before
// samples are lost. A listener needs a few milliseconds per block; four seconds
// outlast a laptop that swaps, and cost 0.8 MB.
const RingSeconds = 4

// Live is a Source over a Ring that somebody fills in real time. A watchdog
// ends it with ErrLost when nothing comes any more, because sound systems
// keep silent about a device that went away.
type Live struct {
	info    Info
	ring    *Ring
	release func() error

	quit  chan struct{}
	watch sync.WaitGroup
	once  sync.Once
	err   error // of Close
}

// Watch returns a source of what is put into ring, and starts its watchdog.
// Close stops the watchdog and then calls release, which ends the producer.
// The reader never touches the device, so it may be closed under a Read.
func Watch(info Info, ring *Ring, release func() error) *Live {
	info.Live = true
	l := &Live{info: info, ring: ring, release: release, quit: make(chan struct{})}
	l.watch.Go(l.watchdog)
	return l
}

// Info implements Source.
func (l *Live) Info() Info { return l.info }

// Read implements Source.
func (l *Live) Read(ctx context.Context) (Block, error) { return l.ring.Read(ctx) }

// Lost is the number of samples lost so far. Anybody may call it.
func (l *Live) Lost() int64 { return l.ring.Lost() }

// Close implements Source.
func (l *Live) Close() error {
	l.once.Do(func() {
		l.ring.Fail(ErrClosed)
		close(l.quit)
		l.watch.Wait()
		if err := l.release(); err != nil {
			l.err = fmt.Errorf("capture: close %s: %w", l.info.Name, err)
		}
	})
	return l.err
}

// watchdog fails the ring once no samples have come for too long.
func (l *Live) watchdog() {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	seen, since, allowed := int64(0), time.Now(), startFor
	for {
		select {
		case <-l.quit:
			return
		case now := <-tick.C:
			if n := l.ring.Count(); n != seen {
				seen, since, allowed = n, now, silentFor
				continue
			}
			if now.Sub(since) >= allowed {
				l.ring.Fail(fmt.Errorf("capture: %s %w, nothing for %v", l.info.Name, ErrLost, allowed))
				return
			}
		}
	}
}
