package capture

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"sync/atomic"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
)

// A FLAC is a Source over a FLAC stream. Several channels become one. It
// decodes frame by frame: memory does not depend on the length of the file.
type FLAC struct {
	stream *flac.Stream
	close  func() error
	info   Info
	scale  float64 // of one integer step
	total  uint64  // samples the header promises, 0 when it does not say
	next   int64
	mix    downmix
	mono   []float64
	err    error
	closed atomic.Bool
}

// OpenFLAC opens a FLAC file. The error is one sentence that names the file.
func OpenFLAC(path string) (*FLAC, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, err)
	}
	s, err := NewFLAC(f, filepath.Base(path))
	if err != nil {
		f.Close()
		return nil, err
	}
	s.close = f.Close
	return s, nil
}

// NewFLAC reads the header from r and returns a source of the samples behind
// it. The name is for messages. Closing the source does not close r.
func NewFLAC(r io.Reader, name string) (*FLAC, error) {
	stream, err := guard(func() (*flac.Stream, error) { return flac.New(bufio.NewReaderSize(r, 1<<16)) })
	if err != nil {
		return nil, fmt.Errorf("capture: %s: damaged FLAC header: %w", name, plainEOF(err))
	}
	h := stream.Info
	if h.SampleRate < MinRate || h.SampleRate > MaxRate {
		return nil, fmt.Errorf("capture: %s: sample rate %d Hz, need %d to %d", name, h.SampleRate, MinRate, MaxRate)
	}
	return &FLAC{
		stream: stream,
		info:   Info{Rate: float64(h.SampleRate), Name: name},
		scale:  math.Ldexp(1, 1-int(h.BitsPerSample)),
		total:  h.NSamples,
	}, nil
}

// guard turns a panic of the decoder, which a damaged file can provoke, into
// an error.
func guard[T any](decode func() (T, error)) (v T, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%v", p)
		}
	}()
	return decode()
}

// plainEOF keeps an end of file inside a structure from being taken for the
// end of the sound.
func plainEOF(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return ErrTruncated
	}
	return err
}

// Info implements Source.
func (s *FLAC) Info() Info { return s.info }

// Read implements Source.
func (s *FLAC) Read(ctx context.Context) (Block, error) {
	if s.closed.Load() {
		return Block{}, ErrClosed
	}
	if err := ctx.Err(); err != nil {
		return Block{}, err
	}
	for s.err == nil {
		f, err := guard(s.stream.ParseNext)
		if err == nil {
			err = s.fill(f)
		}
		if err != nil {
			s.err = s.ended(err)
			break
		}
		if len(s.mono) > 0 {
			b := Block{Samples: s.mono, First: s.next}
			s.next += int64(len(s.mono))
			return b, nil
		}
	}
	if s.closed.Load() {
		return Block{}, ErrClosed
	}
	return Block{}, s.err
}

// ended says why no frame follows.
func (s *FLAC) ended(err error) error {
	at := float64(s.next) / s.info.Rate
	switch {
	case errors.Is(err, io.EOF) && s.next == 0:
		return fmt.Errorf("capture: %s: %w", s.info.Name, ErrEmpty)
	case errors.Is(err, io.EOF) && uint64(s.next) >= s.total:
		return io.EOF
	case errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("capture: %s: %w: it ends after %.1f s", s.info.Name, ErrTruncated, at)
	default:
		return fmt.Errorf("capture: %s: damaged after %.1f s: %w", s.info.Name, at, err)
	}
}

// fill makes one channel of a frame in s.mono.
func (s *FLAC) fill(f *frame.Frame) error {
	if len(f.Subframes) != int(s.stream.Info.NChannels) {
		return fmt.Errorf("frame of %d channels, need %d", len(f.Subframes), s.stream.Info.NChannels)
	}
	n := len(f.Subframes[0].Samples)
	if cap(s.mono) < n {
		s.mono = make([]float64, n)
	}
	s.mono = s.mono[:n]
	for i := range s.mono {
		var sum, squares float64
		for _, sub := range f.Subframes {
			v := float64(sub.Samples[i]) * s.scale
			sum, squares = sum+v, squares+v*v
		}
		channels := float64(len(f.Subframes))
		first := float64(f.Subframes[0].Samples[i]) * s.scale
		s.mono[i] = min(max(s.mix.next(sum/channels, first, squares/channels), -1), 1)
	}
	return nil
}

// Close implements Source.
func (s *FLAC) Close() error {
	if s.closed.Swap(true) || s.close == nil {
		return nil
	}
	return s.close()
}
