package room

import "math"

// resampler reads a signal at a slightly different rate: windowed sinc, 32
// taps from a table of 256 phases with linear interpolation between them, so
// that its own error lies below -90 dB up to 0.4 of the rate.
type resampler struct {
	buf  []float64
	base float64 // position of the next output, in samples of buf
	step float64
}

const (
	taps   = 32
	phases = 256
)

var sinc = makeSinc()

// makeSinc tabulates sinc with a Blackman window.
func makeSinc() [phases + 1][taps]float64 {
	var t [phases + 1][taps]float64
	for p := range t {
		sum := 0.0
		for i := range taps {
			x := float64(i-taps/2+1) - float64(p)/phases
			w := 0.42 + 0.5*math.Cos(2*math.Pi*x/taps) + 0.08*math.Cos(4*math.Pi*x/taps)
			v := w
			if x != 0 {
				v = w * math.Sin(math.Pi*x) / (math.Pi * x)
			}
			t[p][i] = v
			sum += v
		}
		for i := range taps {
			t[p][i] /= sum
		}
	}
	return t
}

// newResampler starts reading start samples in; a clock that runs ppm fast
// takes its samples closer together.
func newResampler(ppm, start float64) resampler {
	return resampler{buf: make([]float64, taps/2-1, 4*block), base: taps/2 - 1 + max(0, start), step: 1 / (1 + ppm*1e-6)}
}

func (r *resampler) push(v float64) { r.buf = append(r.buf, v) }

// pull fills dst as far as the samples reach.
func (r *resampler) pull(dst []float64) int {
	n := 0
	for n < len(dst) {
		i := int(r.base)
		if i+taps/2+1 > len(r.buf) {
			break
		}
		dst[n] = interpolate(r.buf[i-taps/2+1:i+taps/2+1], r.base-float64(i))
		r.base += r.step
		n++
	}
	if drop := min(int(r.base)-taps/2+1, len(r.buf)); drop > 2*block {
		r.buf = r.buf[:copy(r.buf, r.buf[drop:])]
		r.base -= float64(drop)
	}
	return n
}

// interpolate reads between the two middle samples of x.
func interpolate(x []float64, frac float64) float64 {
	if frac == 0 {
		return x[taps/2-1]
	}
	p := frac * phases
	i := int(p)
	a, b, w := &sinc[i], &sinc[i+1], p-float64(i)
	sum := 0.0
	for j, v := range x {
		sum += v * (a[j] + w*(b[j]-a[j]))
	}
	return sum
}
