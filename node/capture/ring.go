package capture

import (
	"context"
	"sync/atomic"
)

// slotSamples is the length of a ring slot: one device callback of 10 ms at
// 48 kHz fits, and a longer one takes several slots.
const slotSamples = 512

// A Ring carries samples from one producer, usually a device callback, to one
// reader. The producer never waits and never allocates: it shares no lock with
// the reader, and when the ring is full the new samples are dropped and
// counted. Every slot keeps the index of its first sample, so the reader finds
// a loss exactly where it happened.
//
// Put and Skip belong to the producer, Read to the reader; Fail may be called
// by anybody.
type Ring struct {
	slots []slot
	head  atomic.Uint64 // slots filled, written by the producer
	tail  atomic.Uint64 // slots emptied, written by the reader
	put   atomic.Int64  // samples offered so far, lost ones included
	lost  atomic.Int64  // samples dropped or skipped so far
	end   atomic.Pointer[error]
	wake  chan struct{}

	expect int64 // reader: index of the next sample if none is lost
	block  [slotSamples]float64
}

type slot struct {
	first   int64
	n       int
	samples [slotSamples]float32
}

// NewRing returns a ring that holds at least the given number of samples when
// they are put in runs of slotSamples. It panics when there are none to hold.
func NewRing(samples int) *Ring {
	if samples < 1 {
		panic("capture: ring holds 0 samples, need at least 1")
	}
	return &Ring{
		slots: make([]slot, (samples+slotSamples-1)/slotSamples),
		wake:  make(chan struct{}, 1),
	}
}

// Put appends samples, or drops what does not fit.
func (r *Ring) Put(samples []float32) {
	for len(samples) > 0 {
		n := min(len(samples), slotSamples)
		r.putSlot(samples[:n])
		samples = samples[n:]
	}
	r.signal()
}

func (r *Ring) putSlot(samples []float32) {
	first := r.put.Load()
	r.put.Store(first + int64(len(samples)))
	head := r.head.Load()
	if head-r.tail.Load() == uint64(len(r.slots)) {
		r.lost.Add(int64(len(samples)))
		return
	}
	s := &r.slots[head%uint64(len(r.slots))]
	s.first, s.n = first, copy(s.samples[:], samples)
	r.head.Store(head + 1)
}

// Skip counts n samples that the device lost before they reached the producer.
func (r *Ring) Skip(n int64) {
	if n > 0 {
		r.put.Add(n)
		r.lost.Add(n)
	}
}

// Fail ends the ring: the reader gets what is left in it and then err, again
// and again. Only the first call counts.
func (r *Ring) Fail(err error) {
	r.end.CompareAndSwap(nil, &err)
	r.signal()
}

func (r *Ring) signal() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// Count is the number of samples offered so far, lost ones included. Anybody
// may call it: a watchdog sees by it whether samples still come.
func (r *Ring) Count() int64 { return r.put.Load() }

// Lost is the number of samples dropped or skipped so far. Anybody may call it.
func (r *Ring) Lost() int64 { return r.lost.Load() }

// Read returns the next run of samples, as Source.Read does.
func (r *Ring) Read(ctx context.Context) (Block, error) {
	for {
		if err := ctx.Err(); err != nil {
			return Block{}, err
		}
		end := r.end.Load() // before the slots: what was put first comes first
		if b, ok := r.take(); ok {
			return b, nil
		}
		if end != nil {
			return Block{}, *end
		}
		select {
		case <-r.wake:
		case <-ctx.Done():
			return Block{}, ctx.Err()
		}
	}
}

func (r *Ring) take() (Block, bool) {
	tail := r.tail.Load()
	if tail == r.head.Load() {
		return Block{}, false
	}
	s := &r.slots[tail%uint64(len(r.slots))]
	b := Block{
		Samples: clean(r.block[:], s.samples[:s.n]),
		First:   s.first,
		Lost:    s.first - r.expect,
	}
	r.expect = s.first + int64(s.n)
	r.tail.Store(tail + 1)
	return b, true
}
