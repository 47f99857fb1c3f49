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
	binHz    float64
	tick     float64 // seconds between frames of a cut
	frames   int     // frames that lie within x
	back     *fourier.CmplxFFT
	cuts     map[[3]float64][]partialTrack // those made, by fundamental and frames
}

const (
	// frameRate is about how many frames a second of a cut has: twice the widest
	// band.
	frameRate = 200.0
	// padSeconds of silence keep the end of a note from running into its
	// beginning.
	padSeconds = 0.12
	// widest and narrowest are the half widths of a partial's band, in Hz, and
	// bandShare what it is of the partial's frequency in between: 35 cents either
	// way. bandPeriods of the fundamental keep the partials next door out.
	narrowest, widestBand = 45.0, 0.48 * frameRate
	bandShare             = 0.02
	bandPeriods           = 0.9
	// loudest is the largest sample, far beyond full scale, that is not taken for 0.
	loudest = 1e6
)

// newSound lowers the rate of x.
func newSound(x []float64, rate float64) *sound {
	d := NewDecimator(rate)
	s := &sound{rate: rate / float64(d.Factor()), cuts: map[[3]float64][]partialTrack{}}
	for _, v := range x {
		if !(math.Abs(v) < loudest) {
			v = 0
		}
		if y, ok := d.Write(v); ok {
			s.x = append(s.x, y)
		}
	}
	padded := make([]float64, smooth(len(s.x)+int(padSeconds*s.rate)))
	copy(padded, s.x)
	floats.AddConst(-floats.Sum(s.x)/float64(max(1, len(s.x))), padded[:len(s.x)])
	s.spectrum = fourier.NewFFT(len(padded)).Coefficients(nil, padded)
	s.binHz = s.rate / float64(len(padded))
	n := smooth(int(frameRate / s.binHz))
	s.tick = 1 / (s.binHz * float64(n))
	s.frames = min(n, int(float64(len(s.x))/s.rate/s.tick))
	s.back = fourier.NewCmplxFFT(n)
	return s
}

// cut returns the frames around centre Hz, moved to 0 Hz, through a band whose
// gain is a raised cosine that ends width Hz from the centre.
func (s *sound) cut(centre, width float64) []complex128 {
	n, bin := s.back.Len(), int(math.Round(centre/s.binHz))
	off := centre/s.binHz - float64(bin)
	reach := min(n/2-1, int(width/s.binHz))
	z := make([]complex128, n)
	for i := max(-reach, -bin); i <= min(reach, len(s.spectrum)-1-bin); i++ {
		gain := 1 + math.Cos(math.Pi*(float64(i)-off)*s.binHz/width)
		z[(i+n)%n] = s.spectrum[bin+i] * complex(gain, 0)
	}
	s.back.Sequence(z, z)
	for m := range z {
		z[m] *= cmplx.Rect(1, -2*math.Pi*off*float64(m)/float64(n))
	}
	return z[:s.frames]
}

// bandOf is the half width of the band around hz for the fundamental f.
func bandOf(hz, f float64) float64 {
	return min(bandPeriods*f, widestBand, max(narrowest, bandShare*hz))
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }
