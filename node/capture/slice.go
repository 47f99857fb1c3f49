package capture

import (
	"context"
	"io"
	"sync/atomic"
)

// slice is a Source over samples in memory.
type slice struct {
	samples []float64
	info    Info
	next    int
	block   [blockFrames]float64
	closed  atomic.Bool
}

// Slice returns a source of the given samples at rate Hz, for tests and for
// sound that is already in memory. The samples are not changed and must not
// be changed while the source is read.
func Slice(samples []float64, rate float64) Source {
	return &slice{samples: samples, info: Info{Rate: rate, Name: "samples"}}
}

func (s *slice) Info() Info { return s.info }

func (s *slice) Read(ctx context.Context) (Block, error) {
	if s.closed.Load() {
		return Block{}, ErrClosed
	}
	if err := ctx.Err(); err != nil {
		return Block{}, err
	}
	if s.next == len(s.samples) {
		return Block{}, io.EOF
	}
	n := min(blockFrames, len(s.samples)-s.next)
	b := Block{
		Samples: clean(s.block[:], s.samples[s.next:s.next+n]),
		First:   int64(s.next),
	}
	s.next += n
	return b, nil
}

func (s *slice) Close() error {
	s.closed.Store(true)
	return nil
}
