package uplink

import (
	"sync"
	"time"

	"bellrow/proto"
)

// clockKeep is how many exchanges are looked back on: four minutes at the slow
// pace, within which a quartz that is 50 ppm off moves by 12 ms.
const clockKeep = 12

// exchanges estimates the hub's clock from pings: of the last few, the one
// with the shortest round trip is believed, and its error is at most half that
// trip (RFC 5905, clock filter). It also ties the source's sample count to
// this node's clock. It is safe for concurrent use.
type exchanges struct {
	mu     sync.Mutex
	nextID uint64
	last   []exchange

	sample int64
	rate   float64
	at     time.Time
}

type exchange struct{ offset, roundTrip float64 }

// tie notes that sample was read at the given moment.
func (e *exchanges) tie(sample int64, rate float64, at time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.sample, e.rate, e.at = sample, rate, at
}

// ping makes the next ping, sent now, with boot as the zero of the clock.
func (e *exchanges) ping(boot, now time.Time) *proto.Ping {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.nextID++
	p := &proto.Ping{ID: e.nextID, Sent: now.Sub(boot).Seconds()}
	p.Offset, p.Error = e.best()
	if !e.at.IsZero() {
		p.Sample = max(0, e.sample+int64(e.rate*now.Sub(e.at).Seconds()))
	}
	return p
}

// pong takes an answer that came in at now.
func (e *exchanges) pong(p *proto.Pong, boot, now time.Time) {
	e.mu.Lock()
	defer e.mu.Unlock()
	back := now.Sub(boot).Seconds()
	trip := back - p.Sent
	if trip < 0 || p.ID == 0 || p.ID > e.nextID {
		return
	}
	e.last = append(e.last, exchange{offset: p.At - (p.Sent+back)/2, roundTrip: trip})
	if len(e.last) > clockKeep {
		e.last = e.last[1:]
	}
}

// reset forgets the exchanges: another hub has another clock.
func (e *exchanges) reset() {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.last = nil
}

func (e *exchanges) best() (offset, errorBound float64) {
	best := exchange{roundTrip: -1}
	for _, x := range e.last {
		if best.roundTrip < 0 || x.roundTrip < best.roundTrip {
			best = x
		}
	}
	if best.roundTrip < 0 {
		return 0, 0
	}
	// Zero means "none yet", so even an exact exchange has some error.
	return best.offset, max(best.roundTrip/2, 1e-6)
}
