package track

import (
	"errors"
	"fmt"
	"math"

	"bellrow/proto/pitch"
)

// The frames of a Partial are pairs of signed bytes, real part first, each
// times Scale. A byte holds 127 steps on either side, so rounding lies 53 dB
// below the loudest frame of the chunk: far below what a room leaves between
// two players, at half the traffic of 16 bits.

// Limits on what a peer may send. They bound memory and time at the hub; what
// a node sends lies well inside them.
const (
	// MaxPartials is twice the number of partials a node picks.
	MaxPartials = 32
	// MaxFrames is the number of frames in one partial: half a second at the
	// quickest useful frame rate, 500 a second.
	MaxFrames = 256
	// MaxK is the highest multiple of the reference: 8 kHz over 20 Hz.
	MaxK = 400
	// MinReference and MaxReference bound the demodulated fundamental: below
	// the lowest tuba note, above the tuning note of any brass instrument.
	MinReference pitch.Hertz = 10
	MaxReference pitch.Hertz = 1200
	// MinRate and MaxRate bound sample rates.
	MinRate = 8000
	MaxRate = 192000
	// MaxSeconds is the longest stretch in one chunk.
	MaxSeconds = 2.0
	// MaxFirst bounds sample counts to what float64 holds exactly.
	MaxFirst = int64(1) << 52
	// MaxScale bounds the value of one coding step: samples lie in [-1, 1].
	MaxScale = 16.0
)

// Pack codes frames and appends the bytes to dst. The returned scale is the
// smallest of four significant digits that holds every frame, so that it is
// short as JSON; it is 1 when all frames are zero. Frames must be finite.
func Pack(dst []byte, frames []complex128) (bytes []byte, scale float64) {
	peak := 0.0
	for _, z := range frames {
		peak = max(peak, math.Abs(real(z)), math.Abs(imag(z)))
	}
	scale = roundUp(peak / 127)
	for _, z := range frames {
		dst = append(dst, step(real(z)/scale), step(imag(z)/scale))
	}
	return dst, scale
}

func step(v float64) byte { return byte(int8(math.Round(v))) }

// roundUp returns v rounded up to four significant digits, and 1 for 0.
func roundUp(v float64) float64 {
	if !(v > 0) {
		return 1
	}
	unit := math.Pow(10, math.Floor(math.Log10(v))-3)
	return math.Ceil(v/unit) * unit
}

// Len returns the number of frames.
func (p *Partial) Len() int { return len(p.Frames) / 2 }

// Unpack appends the frames to dst.
func (p *Partial) Unpack(dst []complex128) []complex128 {
	for i := 0; i+1 < len(p.Frames); i += 2 {
		re, im := float64(int8(p.Frames[i])), float64(int8(p.Frames[i+1]))
		dst = append(dst, complex(re*p.Scale, im*p.Scale))
	}
	return dst
}

// Samples returns how many samples the chunk covers: the next chunk of an
// unbroken sound starts at First + Samples. It is 0 without partials.
func (c *Chunk) Samples() int64 {
	if len(c.Partials) == 0 {
		return 0
	}
	p := &c.Partials[0]
	return int64(p.Step) * int64(p.Len())
}

// Find returns the partial at multiple k, or nil.
func (c *Chunk) Find(k int) *Partial {
	for i := range c.Partials {
		if c.Partials[i].K == k {
			return &c.Partials[i]
		}
	}
	return nil
}

// Sentinels wrapped by Validate, for peers that count kinds of bad message.
var (
	ErrLimit = errors.New("outside its limits")
	ErrShape = errors.New("inconsistent")
)

// Validate checks a chunk from a peer against every limit above. Partials
// must be in ascending order of K, each with at least one frame, and all must
// cover the same number of samples.
func (c *Chunk) Validate() error {
	switch {
	case !(c.Reference >= MinReference && c.Reference <= MaxReference):
		return fmt.Errorf("track: reference %g Hz, need %g to %g: %w", float64(c.Reference), float64(MinReference), float64(MaxReference), ErrLimit)
	case !(c.Rate >= MinRate && c.Rate <= MaxRate):
		return fmt.Errorf("track: rate %g Hz, need %d to %d: %w", c.Rate, MinRate, MaxRate, ErrLimit)
	case c.First < 0 || c.First > MaxFirst:
		return fmt.Errorf("track: first sample %d: %w", c.First, ErrLimit)
	case !levelOK(c.Floor) || !levelOK(c.Level):
		return fmt.Errorf("track: level %g over floor %g dBFS: %w", float64(c.Level), float64(c.Floor), ErrLimit)
	case len(c.Partials) > MaxPartials:
		return fmt.Errorf("track: %d partials, need at most %d: %w", len(c.Partials), MaxPartials, ErrLimit)
	}
	before := 0
	for i := range c.Partials {
		p := &c.Partials[i]
		if err := p.validate(c); err != nil {
			return err
		}
		if p.K <= before {
			return fmt.Errorf("track: partial %d after %d: %w", p.K, before, ErrShape)
		}
		before = p.K
		if n := int64(p.Step) * int64(p.Len()); n != c.Samples() {
			return fmt.Errorf("track: partial %d covers %d samples, the first one %d: %w", p.K, n, c.Samples(), ErrShape)
		}
	}
	if s := float64(c.Samples()); s > MaxSeconds*c.Rate {
		return fmt.Errorf("track: %g samples in one chunk, need at most %g s: %w", s, MaxSeconds, ErrLimit)
	}
	return nil
}

func (p *Partial) validate(c *Chunk) error {
	switch {
	case p.K < 1 || p.K > MaxK || float64(p.K)*float64(c.Reference) >= c.Rate/2:
		return fmt.Errorf("track: multiple %d of %g Hz at rate %g: %w", p.K, float64(c.Reference), c.Rate, ErrLimit)
	case p.Step < 1 || float64(p.Step) > MaxSeconds*c.Rate:
		return fmt.Errorf("track: step of %d samples: %w", p.Step, ErrLimit)
	case !(p.Scale > 0 && p.Scale <= MaxScale):
		return fmt.Errorf("track: scale %g, need above 0 and at most %g: %w", p.Scale, MaxScale, ErrLimit)
	case len(p.Frames)%2 != 0 || p.Len() < 1 || p.Len() > MaxFrames:
		return fmt.Errorf("track: partial %d of %d bytes, need pairs, 1 to %d: %w", p.K, len(p.Frames), MaxFrames, ErrLimit)
	}
	return nil
}

// levelOK accepts what a node can measure: silence up to a little over full scale.
func levelOK(l pitch.Level) bool { return l >= pitch.Silence && l <= 20 }
