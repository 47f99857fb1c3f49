package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
)

// sound is a note at the lowered rate, from which partials are cut.
type sound struct {
	x        []float64
	rate     float64
	spectrum []complex128 // of x, padded
	size     int          // points transformed
	binHz    float64

	tick   float64 // seconds between frames of a cut
	frames int     // frames that lie within x
	back   *fourier.CmplxFFT
	in     []complex128
	out    []complex128

	cuts           map[float64][]partialTrack // by fundamental, over the frames below
	cutFrom, cutTo int
	without        Stage
}

const (
	// frameRate is about how many frames a second of a cut has: twice the widest
	// band.
	frameRate = 200.0
	// padSeconds of silence keep the end of a note from running into its
	// beginning.
	padSeconds = 0.12
	// fadeSeconds at either end of the sound are faded.
	fadeSeconds = 0.03
	// widest and narrowest are the half widths of a partial's band, in Hz, and
	// bandShare what it is of the partial's frequency in between: 35 cents either
	// way. bandPeriods of the fundamental keep the partials next door out.
	narrowest, widestBand = 45.0, 0.48 * frameRate
	bandShare             = 0.02
	bandPeriods           = 0.9
)

func newSound(x []float64, rate float64) *sound {
	s := &sound{x: x, rate: rate, size: smooth(len(x) + int(padSeconds*rate))}
	padded := make([]float64, s.size)
	copy(padded, x)
	floats.AddConst(-floats.Sum(x)/float64(max(1, len(x))), padded[:len(x)])
	// Faded ends: a sudden one would show in every band.
	for i := range min(len(x)/4, int(fadeSeconds*rate)) {
		g := 0.5 - 0.5*math.Cos(math.Pi*(float64(i)+0.5)/(fadeSeconds*rate))
		padded[i] *= g
		padded[len(x)-1-i] *= g
	}
	s.spectrum = fourier.NewFFT(s.size).Coefficients(nil, padded)
	s.binHz = rate / float64(s.size)
	n := smooth(int(frameRate / s.binHz))
	s.tick = 1 / (s.binHz * float64(n))
	s.frames = min(n, int(float64(len(x))/rate/s.tick))
	s.back = fourier.NewCmplxFFT(n)
	s.in, s.out = make([]complex128, n), make([]complex128, n)
	return s
}

// cut returns the frames around centre Hz, moved to 0 Hz, through a band whose
// gain is a raised cosine that ends width Hz from the centre.
func (s *sound) cut(centre, width float64) []complex128 {
	clear(s.in)
	n, bin := len(s.in), int(math.Round(centre/s.binHz))
	off := centre/s.binHz - float64(bin)
	reach := min(n/2-1, int(width/s.binHz))
	for i := -reach; i <= reach; i++ {
		if j := bin + i; j >= 0 && j < len(s.spectrum) {
			gain := (1 + math.Cos(math.Pi*(float64(i)-off)*s.binHz/width)) / float64(s.size)
			s.in[(i+n)%n] = s.spectrum[j] * complex(gain, 0)
		}
	}
	s.back.Sequence(s.out, s.in)
	z := make([]complex128, s.frames)
	step := cmplx.Rect(1, -2*math.Pi*off/float64(n))
	turn := complex(1, 0)
	for m := range z {
		z[m] = s.out[m] * turn
		turn *= step
	}
	return z
}

// bandOf is the half width of the band around hz for the fundamental f.
func bandOf(hz, f float64) float64 {
	return min(bandPeriods*f, widestBand, max(narrowest, bandShare*hz))
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }
