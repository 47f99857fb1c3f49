package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// MaxPartials and topHz bound the partials used: above either there is
	// little energy left that is not breath.
	MaxPartials = 24
	topHz       = 9000
	// searchCents is how far around the coarse fundamental the likelihood is
	// looked at.
	searchCents = 12
	// bandCents is the half width of a partial's band: neighbours within
	// 40 cents must pass.
	bandCents = 45
	// minPeriods is the shortest stretch that can be measured.
	minPeriods = 4
)

// band is a partial's neighbourhood, moved to 0 Hz and sampled at a low rate.
type band struct {
	k      int
	centre float64 // Hz that became 0
	step   float64 // seconds between frames
	frames []complex128
	weight float64 // 1/noise power
	noise  float64 // power per bin of the transform
}

// stretch is a run of samples prepared for the likelihood.
type stretch struct {
	rate    float64
	seconds float64
	samples int
	bands   []band
}

// newStretch transforms x and cuts out the bands of the multiples of hz.
func newStretch(x []float64, rate, hz float64) (*stretch, bool) {
	periods := math.Floor(float64(len(x)) * hz / rate)
	if periods < minPeriods {
		return nil, false
	}
	// A whole number of periods puts each partial on the nulls of the others.
	n := int(math.Round(periods * rate / hz))
	n = min(n, len(x))
	size := smooth(n + n/4)
	padded := make([]float64, size)
	mean := 0.0
	for _, v := range x[:n] {
		mean += v
	}
	mean /= float64(n)
	for i, v := range x[:n] {
		padded[i] = v - mean
	}
	fft := fourier.NewFFT(size)
	spectrum := fft.Coefficients(nil, padded)
	for _, v := range spectrum {
		if cmplx.IsNaN(v) || cmplx.IsInf(v) {
			return nil, false
		}
	}
	s := &stretch{rate: rate, seconds: float64(n) / rate, samples: n}
	binHz := rate / float64(size)
	for k := 1; k <= MaxPartials; k++ {
		f := float64(k) * hz
		if k > 1 && f > min(topHz, 0.45*rate) {
			break
		}
		s.bands = append(s.bands, cut(spectrum, k, hz, binHz, s.seconds))
	}
	s.weigh(spectrum, hz, binHz)
	return s, len(s.bands) > 0
}

// cut takes the band of partial k out of the spectrum: flat in the middle,
// raised cosine at its edges, back to time at a rate that just holds it.
func cut(spectrum []complex128, k int, hz, binHz, seconds float64) band {
	f := float64(k) * hz
	flat := min(0.6*hz, f*(math.Exp2(bandCents/1200.0)-1)+6/seconds)
	edge := min(1.5*flat, 0.9*hz)
	centre := int(math.Round(f / binHz))
	half := max(2, int(edge/binHz))
	size := smooth(2*half + 2)
	coefficients := make([]complex128, size)
	for i := -half; i <= half; i++ {
		if centre+i < 0 || centre+i >= len(spectrum) {
			continue
		}
		at := (i + size) % size
		coefficients[at] = spectrum[centre+i] * complex(taper(math.Abs(float64(i))*binHz, flat, edge), 0)
	}
	frames := fourier.NewCmplxFFT(size).Sequence(nil, coefficients)
	return band{k: k, centre: float64(centre) * binHz, step: 1 / (binHz * float64(size)), frames: frames}
}

func taper(f, flat, edge float64) float64 {
	switch {
	case f <= flat:
		return 1
	case f >= edge:
		return 0
	}
	return 0.5 + 0.5*math.Cos(math.Pi*(f-flat)/(edge-flat))
}

// quietest is the noise floor assumed at best, as a share of the strongest
// bin's power: 16-bit sound and rounding are not better.
const quietest = 1e-10

// weigh sets each band's weight from the noise half way to its neighbours.
func (s *stretch) weigh(spectrum []complex128, hz, binHz float64) {
	strongest := 0.0
	for _, v := range spectrum {
		strongest = max(strongest, power(v))
	}
	for i := range s.bands {
		b := &s.bands[i]
		sum, n := 0.0, 0
		for _, half := range [...]float64{-0.5, 0.5} {
			from := int((float64(b.k) + half - 0.15) * hz / binHz)
			to := int((float64(b.k)+half+0.15)*hz/binHz) + 1
			for j := max(0, from); j <= min(to, len(spectrum)-1); j++ {
				sum += power(spectrum[j])
				n++
			}
		}
		if n > 0 {
			sum /= float64(n)
		}
		b.noise = max(sum, quietest*strongest)
		b.weight = 1 / max(b.noise, 1e-300)
	}
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }

// at returns the spectrum of band b at f Hz from the frames [from, to).
func (b *band) at(f float64, from, to int) complex128 {
	turn := cmplx.Rect(1, -2*math.Pi*(f-b.centre)*b.step)
	spin := cmplx.Rect(1, -2*math.Pi*(f-b.centre)*b.step*float64(from))
	sum := complex(0, 0)
	for _, v := range b.frames[from:to] {
		sum += v * spin
		spin *= turn
	}
	return sum / complex(float64(len(b.frames)), 0)
}
