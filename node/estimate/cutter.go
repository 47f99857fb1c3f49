package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// cutter takes bands out of a spectrum: flat in the middle, raised cosine at
// the edges, back to time at a rate that just holds them.
type cutter struct {
	binHz      float64
	flat, edge float64
	half, size int
	fft        *fourier.CmplxFFT
	in, out    []complex128
}

func newCutter(binHz, flat, edge float64) *cutter {
	half := int(edge / binHz)
	size := smooth(2*half + 2)
	return &cutter{
		binHz: binHz, flat: flat, edge: edge, half: half, size: size,
		fft: fourier.NewCmplxFFT(size), in: make([]complex128, size), out: make([]complex128, size),
	}
}

// place fills dst with the frames around centre Hz, the first of them extra
// steps before the stretch, moved to 0 Hz exactly.
func (c *cutter) place(dst, spectrum []complex128, centre float64, extra int, scale float64) {
	bin := int(math.Round(centre / c.binHz))
	raw := c.cut(spectrum, bin)
	turn := -2 * math.Pi * (centre - float64(bin)*c.binHz) / (c.binHz * float64(c.size))
	for m := range dst {
		dst[m] = raw[(m-extra+c.size)%c.size] * cmplx.Rect(scale, turn*float64(m-extra))
	}
}

// placeBox is place for the stretch's window itself.
func (c *cutter) placeBox(dst []complex128, box trapezoid, centre float64, extra int) {
	clear(c.in)
	for i := -c.half; i <= c.half; i++ {
		f := float64(i) * c.binHz
		v := box.spectrum(centre+f) * complex(c.binHz*taper(math.Abs(f), c.flat, c.edge), 0)
		c.in[(i+c.size)%c.size] = v
	}
	raw := c.fft.Sequence(c.out, c.in)
	for m := range dst {
		dst[m] = raw[(m-extra+c.size)%c.size]
	}
}

// trapezoid is the window of ramp as a function of time, from 0 to length.
type trapezoid struct{ length, ramp float64 }

// spectrum returns its Fourier transform at f Hz: a box as long as its half
// height, folded with a box as long as a ramp.
func (t trapezoid) spectrum(f float64) complex128 {
	w := t.length - t.ramp
	return cmplx.Rect(w*sinc(w*f)*sinc(t.ramp*f), -math.Pi*f*t.length)
}

// cut returns the band around bin centre as frames. Below 0 the spectrum of a
// real signal goes on as its conjugate. It is valid until the next cut.
func (c *cutter) cut(spectrum []complex128, centre int) []complex128 {
	clear(c.in)
	for i := -c.half; i <= c.half; i++ {
		j := centre + i
		if j >= len(spectrum) || -j >= len(spectrum) {
			continue
		}
		v := spectrum[max(j, -j)]
		if j < 0 {
			v = cmplx.Conj(v)
		}
		c.in[(i+c.size)%c.size] = v * complex(taper(math.Abs(float64(i))*c.binHz, c.flat, c.edge), 0)
	}
	return c.fft.Sequence(c.out, c.in)
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
