package capture

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"
)

// blockFrames is the length of the blocks a file delivers: about 21 ms at
// 48 kHz, close to what a device delivers, so that both take the same path.
const blockFrames = 1024

// A WAV is a Source over a RIFF/WAVE stream: 8, 16, 24 and 32 bit integer and
// 32 and 64 bit float samples, plain or WAVE_FORMAT_EXTENSIBLE, at any rate
// from MinRate to MaxRate. Several channels become one (downmix). It reads as
// it goes: memory does not depend on the length of the file.
//
// Format: Microsoft and IBM, "Multimedia Programming Interface and Data
// Specifications 1.0" (1991), and Microsoft, "Multiple Channel Audio Data and
// WAVE Files" (2001) for the extensible form.
type WAV struct {
	r      *bufio.Reader
	close  func() error
	info   Info
	format wavFormat
	left   uint64 // bytes of the data chunk not yet read
	open   bool   // the header does not tell the length: read to the end
	next   int64
	raw    []byte
	mix    downmix
	mono   []float64
	err    error // sticky
	closed atomic.Bool
}

// OpenWAV opens a WAV file. The error is one sentence that names the file.
func OpenWAV(path string) (*WAV, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, err)
	}
	w, err := NewWAV(f, filepath.Base(path))
	if err != nil {
		f.Close()
		return nil, err
	}
	w.close = f.Close
	return w, nil
}

// openError says in one sentence why a file could not be opened.
func openError(path string, err error) error {
	var pe *os.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	return fmt.Errorf("capture: %s: %w", path, err)
}

// NewWAV reads the header from r and returns a source of the samples behind
// it. The name is for messages. Closing the source does not close r.
func NewWAV(r io.Reader, name string) (*WAV, error) {
	br := bufio.NewReaderSize(r, 1<<16)
	h, err := readWAVHeader(br)
	if err != nil {
		return nil, fmt.Errorf("capture: %s: %w", name, err)
	}
	return &WAV{
		r:      br,
		info:   Info{Rate: float64(h.format.rate), Name: name},
		format: h.format,
		left:   h.bytes,
		open:   h.open,
		raw:    make([]byte, blockFrames*h.format.frameBytes()),
		mono:   make([]float64, blockFrames),
	}, nil
}

// Info implements Source.
func (w *WAV) Info() Info { return w.info }

// Read implements Source.
func (w *WAV) Read(ctx context.Context) (Block, error) {
	if w.closed.Load() {
		return Block{}, ErrClosed
	}
	if err := ctx.Err(); err != nil {
		return Block{}, err
	}
	if w.err != nil {
		return Block{}, w.err
	}
	frames := w.fill()
	if frames == 0 {
		if w.closed.Load() {
			return Block{}, ErrClosed
		}
		return Block{}, w.err
	}
	b := Block{Samples: w.mono[:frames], First: w.next}
	w.next += int64(frames)
	return b, nil
}

// fill decodes up to one block and returns its length in frames. What stops
// it early goes to w.err and is reported by the Read that finds no frames.
func (w *WAV) fill() int {
	size := w.format.frameBytes()
	want := uint64(len(w.raw))
	if !w.open {
		want = min(want, w.left-w.left%uint64(size))
		if want == 0 {
			w.err = io.EOF
			return 0
		}
	}
	n, err := io.ReadFull(w.r, w.raw[:want])
	w.left -= min(w.left, uint64(n))
	switch {
	case err == nil:
	case !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF):
		w.err = fmt.Errorf("capture: %s: after %.1f s: %w", w.info.Name, w.at(0), err)
	case w.open:
		w.err = io.EOF
	default:
		w.err = fmt.Errorf("capture: %s: %w: the header promises %.1f s more after %.1f s",
			w.info.Name, ErrTruncated, float64(w.left)/float64(size)/w.info.Rate, w.at(n/size))
	}
	frames, ok := w.format.decode(&w.mix, w.mono, w.raw[:n-n%size])
	if !ok {
		w.err = fmt.Errorf("capture: %s: %w, at %.3f s", w.info.Name, ErrBadSample, w.at(frames))
	}
	return frames
}

// at is the time in seconds of the frame so many frames ahead.
func (w *WAV) at(frames int) float64 {
	return float64(w.next+int64(frames)) / w.info.Rate
}

// Close implements Source.
func (w *WAV) Close() error {
	if w.closed.Swap(true) || w.close == nil {
		return nil
	}
	return w.close()
}
