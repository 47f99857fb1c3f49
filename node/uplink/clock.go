package uplink

import (
	"sync"
	"time"

	"bellrow/node/clock"
	"bellrow/proto"
)

// exchanges runs the clock exchange with one hub and ties the source's sample
// count to this node's clock. It is safe for concurrent use.
type exchanges struct {
	mu     sync.Mutex
	nextID uint64
	clock  clock.Clock

	sample int64
	rate   float64
	at     time.Time

	pinged time.Time // the last ping
	tracks bool      // partial tracks went out since
}

// tracked notes that partial tracks go out: the hub lays them beside others',
// and wants to know the clock of these very seconds.
func (e *exchanges) tracked() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.tracks = true
}

// due reports whether tracks went out and the last ping is older than TrackEvery.
func (e *exchanges) due(now time.Time) bool {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.tracks && now.Sub(e.pinged).Seconds() >= clock.TrackEvery
}

// tie notes that sample was read at the given moment.
func (e *exchanges) tie(sample int64, rate float64, at time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.sample, e.rate, e.at = sample, rate, at
}

// minError is the least error ever stated, in seconds, because 0 means that
// there is no estimate yet.
const minError = 1e-6

// coming is the number of the next ping, or less than its number.
func (e *exchanges) coming() uint64 {
	e.mu.Lock()
	defer e.mu.Unlock()
	return e.nextID + 1
}

// ping makes the next ping, sent now, with boot as the zero of the clock.
func (e *exchanges) ping(boot, now time.Time) *proto.Ping {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.nextID++
	e.pinged, e.tracks = now, false
	p := &proto.Ping{ID: e.nextID, Sent: now.Sub(boot).Seconds()}
	if est := e.clock.Estimate(p.Sent); est.OK {
		p.Offset, p.Error = est.Offset, max(est.Error, minError)
	}
	if !e.at.IsZero() {
		p.Sample = max(0, e.sample+int64(e.rate*now.Sub(e.at).Seconds()))
	}
	return p
}

// pong takes an answer that came in at now.
func (e *exchanges) pong(p *proto.Pong, boot, now time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if p.ID > 0 && p.ID <= e.nextID {
		e.clock.Add(clock.Exchange{Sent: p.Sent, At: p.At, Received: now.Sub(boot).Seconds()})
	}
}

// reset forgets the exchanges: another hub, or a restarted one, has another clock.
func (e *exchanges) reset() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.clock = clock.Clock{}
}

// pause is how long to wait before ping number n of a connection: a burst
// until enough is known, then seldom.
func pause(n int) time.Duration {
	if n < clock.Kept {
		return time.Duration(clock.Burst * float64(time.Second))
	}
	return time.Duration(clock.Every * float64(time.Second))
}
