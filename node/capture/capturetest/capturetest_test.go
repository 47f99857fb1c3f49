package capturetest

import (
	"context"
	"errors"
	"io"
	"math"
	"testing"

	"bellrow/node/capture"
)

// broken is a good source with one fault, for proving that the suite sees it.
type broken struct {
	capture.Source
	read func(ctx context.Context, s capture.Source) (capture.Block, error)
	info func(n int) capture.Info
	asks int
}

func (b *broken) Read(ctx context.Context) (capture.Block, error) {
	if b.read == nil {
		return b.Source.Read(ctx)
	}
	return b.read(ctx, b.Source)
}

func (b *broken) Info() capture.Info {
	if b.info == nil {
		return b.Source.Info()
	}
	b.asks++
	return b.info(b.asks)
}

// alter returns a Read that changes each block it hands on.
func alter(change func(b *capture.Block, err *error)) func(context.Context, capture.Source) (capture.Block, error) {
	return func(ctx context.Context, s capture.Source) (capture.Block, error) {
		b, err := s.Read(ctx)
		change(&b, &err)
		return b, err
	}
}

func TestSuiteSeesEachFault(t *testing.T) {
	samples := make([]float64, 3000)
	for _, tt := range []struct {
		name  string
		check string
		fault broken
	}{
		{"rate unknown", "info", broken{info: func(int) capture.Info { return capture.Info{Name: "x"} }}},
		{"no name", "info", broken{info: func(int) capture.Info { return capture.Info{Rate: 48000} }}},
		{"changing rate", "info", broken{info: func(n int) capture.Info {
			return capture.Info{Rate: 48000 - 3900*float64(n), Name: "x"}
		}}},
		{"empty block", "blocks", broken{read: alter(func(b *capture.Block, _ *error) { b.Samples = nil })}},
		{"index stands still", "blocks", broken{read: alter(func(b *capture.Block, _ *error) { b.First = 0 })}},
		{"loss not counted", "blocks", broken{read: alter(func(b *capture.Block, _ *error) { b.Lost = 5 })}},
		{"not a number", "blocks", broken{read: alter(func(b *capture.Block, err *error) {
			if *err == nil {
				b.Samples[0] = math.NaN()
			}
		})}},
		{"beyond full scale", "blocks", broken{read: alter(func(b *capture.Block, err *error) {
			if *err == nil {
				b.Samples[0] = 1.01
			}
		})}},
		{"wrong sample", "blocks", broken{read: alter(func(b *capture.Block, err *error) {
			if *err == nil {
				b.Samples[7] = 0.5
			}
		})}},
		{"block with the error", "blocks", broken{read: alter(func(b *capture.Block, err *error) {
			if *err != nil {
				b.Samples = samples[:1]
			}
		})}},
		{"another end", "blocks", broken{read: alter(func(_ *capture.Block, err *error) {
			if *err == io.EOF {
				*err = io.ErrUnexpectedEOF
			}
		})}},
		{"deaf to its context", "cancelled", broken{read: func(_ context.Context, s capture.Source) (capture.Block, error) {
			return s.Read(context.Background())
		}}},
		{"open when closed", "closed", broken{read: func(context.Context, capture.Source) (capture.Block, error) {
			return capture.Block{Samples: samples[:1]}, nil
		}}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			tt.fault.Source = capture.Slice(samples, 48000)
			subject := Subject{Want: samples}
			for _, c := range checks {
				if c.name == tt.check && c.run(t.Context(), subject, &tt.fault) == nil {
					t.Errorf("check %q lets it pass", c.name)
				}
			}
		})
	}
}

func TestSuiteSeesLostTail(t *testing.T) {
	src := capture.Slice(make([]float64, 2000), 48000)
	if err := checkBlocks(t.Context(), Subject{Want: make([]float64, 2001)}, src); err == nil {
		t.Error("a missing sample passes")
	}
}

func TestSuiteSeesEndThatDoesNotHold(t *testing.T) {
	ends := 0
	src := &broken{Source: capture.Slice(make([]float64, 10), 48000), read: alter(func(_ *capture.Block, err *error) {
		if *err != nil {
			if ends++; ends > 1 {
				*err = errors.New("something else")
			}
		}
	})}
	if err := checkBlocks(t.Context(), Subject{}, src); err == nil {
		t.Error("an end that changes passes")
	}
}
