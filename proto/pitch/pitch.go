// Package pitch holds the quantities every other package speaks in: frequency,
// interval, level and note, the reference A, and frequency ratios.
//
// Conventions, stated once and used everywhere:
//
//   - Hertz is the sounding pitch. A written pitch is always called written.
//   - Positive Cents are sharp.
//   - A Note is the equal-tempered sounding note by its MIDI number (A4 = 69).
//     Octave numbers follow scientific pitch notation: middle C is C4.
//   - A Spelled is a note by its name: F sharp and G flat are one Note and two
//     Spelled. Style names notes in other languages.
//   - A Level is in dBFS; 0 dBFS is the RMS level of a full-scale sine.
//   - The interval of a reading is of where its note goes on: see Cents.CentreSD.
//   - The reference A is a value that is passed along, never a hidden 440.
//
// The package imports only the standard library and holds no state; every
// function may be called concurrently.
package pitch

import (
	"fmt"
	"math"
)

// Hertz is a sounding frequency in cycles per second.
type Hertz float64

// Cents is an interval: 1200 to the octave, positive when sharp.
type Cents float64

// Size says how large c is in whole cents, as people are told it: "0 cents",
// "1 cent", "12 cents".
func (c Cents) Size() string {
	n := math.Round(math.Abs(float64(c)))
	if n == 1 {
		return "1 cent"
	}
	return fmt.Sprintf("%.0f cents", n)
}

// Way is "flat" below 0 and "sharp" elsewhere.
func (c Cents) Way() string {
	if c < 0 {
		return "flat"
	}
	return "sharp"
}

// Off says an offset in whole cents: "12 cents sharp", "1 cent flat", "in tune".
func (c Cents) Off() string {
	if math.Round(float64(c)) == 0 {
		return "in tune"
	}
	return c.Size() + " " + c.Way()
}

// Level is a sound level in dBFS, with 0 at the RMS of a full-scale sine.
type Level float64

// Silence is the level reported for a window with no energy at all. It is
// finite so that it can be compared, stored and sent as JSON.
const Silence Level = -200

// Quietest is the level below which a note is too quiet to be believed the
// player's own: 30 dB below what a laptop hears of one who sits beside it.
const Quietest Level = -60

// Octave is the interval of a doubled frequency.
const Octave Cents = 1200

// Between returns the interval from a to b, positive when b is sharper. The
// octave is exact. It returns 0 unless both are positive and finite, so that
// no NaN can pass through it; callers that must tell check Valid first.
func Between(a, b Hertz) Cents {
	if !a.Valid() || !b.Valid() {
		return 0
	}
	return Cents(1200 * math.Log2(float64(b)/float64(a)))
}

// Valid reports whether h is a positive, finite frequency.
func (h Hertz) Valid() bool {
	return h > 0 && !math.IsInf(float64(h), 0)
}

// Shift returns h moved by c.
func (h Hertz) Shift(c Cents) Hertz {
	return h * Hertz(math.Exp2(float64(c)/1200))
}

// LevelOf converts an RMS amplitude, where a full-scale sine has 1/√2.
func LevelOf(rms float64) Level {
	if !(rms > 0) {
		return Silence
	}
	l := Level(20 * math.Log10(rms*math.Sqrt2))
	return max(l, Silence)
}

// Reference is the tuning standard: the frequency of A4. The zero value means
// the standard pitch of ISO 16:1975, 440 Hz.
type Reference struct {
	A4 Hertz `json:"a4"`
}

// StandardA4 is the standard tuning frequency of ISO 16:1975.
const StandardA4 Hertz = 440

// MinA4 and MaxA4 bound the reference a leader may choose. Modern ensembles
// lie between 438 and 446 Hz (common practice, no source); the bound is wider
// so that historical pitches can still be read from files.
const (
	MinA4 Hertz = 390
	MaxA4 Hertz = 480
)

// NewReference checks that a4 lies between MinA4 and MaxA4.
func NewReference(a4 Hertz) (Reference, error) {
	if !(a4 >= MinA4 && a4 <= MaxA4) {
		return Reference{}, fmt.Errorf("pitch: A4 of %g Hz, need %g to %g", float64(a4), float64(MinA4), float64(MaxA4))
	}
	return Reference{A4: a4}, nil
}

func (r Reference) a4() Hertz {
	if r.A4 == 0 {
		return StandardA4
	}
	return r.A4
}

// Frequency returns the equal-tempered frequency of n.
func (r Reference) Frequency(n Note) Hertz {
	return r.a4() * Hertz(math.Exp2(float64(n-A4)/12))
}

// Nearest returns the equal-tempered note closest to h and how far h lies
// from it, in [-50, +50] cents. h must be Valid; otherwise it returns 0, 0.
func (r Reference) Nearest(h Hertz) (Note, Cents) {
	if !h.Valid() {
		return 0, 0
	}
	n := A4 + Note(math.Round(12*math.Log2(float64(h/r.a4()))))
	return n, Between(r.Frequency(n), h)
}

// Offset returns how far h lies from the equal-tempered note n.
func (r Reference) Offset(n Note, h Hertz) Cents {
	return Between(r.Frequency(n), h)
}
