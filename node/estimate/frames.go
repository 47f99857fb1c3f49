package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// MaxPartials and topHz bound the partials used: above either there is
	// little energy left that is not breath.
	MaxPartials = 24
	topHz       = 9000
	// flatHz and edgeHz are the half widths of a partial's band where its
	// filter begins to fall and where it ends: wide enough for the wander of
	// the pitch and for a neighbour, narrow enough that what is left over
	// tells of the noise next to the line.
	flatHz = 45
	edgeHz = 65
	// flatPeriods and edgePeriods bound the same in multiples of the
	// fundamental, so that the partials next door stay out.
	flatPeriods = 0.5
	edgePeriods = 0.9
	// minPeriods is the shortest stretch that can be measured.
	minPeriods = 6
)

// band is the neighbourhood of one partial, moved to 0 Hz exactly and sampled
// at a low rate.
type band struct {
	k      int
	raw    []complex128
	z      []complex128 // raw less the leaks of the partials next door
	weight float64      // 1/noise power of a frame, in units that make the cost a log likelihood
	dof    float64      // independent complex values in the band
	floor  float64      // noise as seen half way to the neighbours, or their side lobes if those are stronger
	least  float64      // the noise assumed at least
	power  float64      // Σ |z|²
}

// frames is a stretch prepared for fitting: all bands on one time grid.
type frames struct {
	hz      float64   // the reference: the k-th band is centred on k·hz
	seconds float64   // T, the length of the stretch
	step    float64   // seconds between frames
	time    []float64 // of each frame, from the beginning of the stretch
	edge    []float64 // what the band filter makes of the stretch's rectangle
	bands   []band
	leaks   [2*leakReach + 1][]complex128 // of partial k-d into band k, at [d+leakReach]
}

// clone returns frames whose bands can be cleaned and weighed anew.
func (f *frames) clone() *frames {
	g := *f
	g.bands = append([]band(nil), f.bands...)
	for i := range g.bands {
		g.bands[i].z = append([]complex128(nil), f.bands[i].z...)
	}
	return &g
}

// lighter is clone with no more than count bands: those that tell most of the
// pitch, by k² times power.
func (f *frames) lighter(count int) *frames {
	g := f.clone()
	slices.SortFunc(g.bands, func(a, b band) int {
		return cmp.Compare(b.power*float64(b.k*b.k), a.power*float64(a.k*a.k))
	})
	g.bands = g.bands[:min(count, len(g.bands))]
	slices.SortFunc(g.bands, func(a, b band) int { return a.k - b.k })
	return g
}

// leakReach is how many partials away a leak is still taken out.
const leakReach = 3

// newFrames transforms x and cuts out the bands around the multiples of hz.
func newFrames(x []float64, rate, hz float64) (*frames, bool) {
	if float64(len(x)) < minPeriods*rate/hz {
		return nil, false
	}
	flat, edge := min(flatHz, flatPeriods*hz), min(edgeHz, edgePeriods*hz)
	spectrum, size := windowed(x, rate/hz, int(ringing/flat*rate))
	c := newCutter(rate/float64(size), flat, edge)
	f := &frames{hz: hz, seconds: float64(len(x)) / rate}
	extra := f.lay(c)
	for k := 1; k <= MaxPartials; k++ {
		centre := float64(k) * hz
		if k > 1 && centre > min(topHz, 0.47*rate) || centre+edge > rate/2 {
			break
		}
		f.bands = append(f.bands, f.newBand(c, spectrum, size, k, extra))
	}
	return f, f.weigh()
}

// ringing is how long the band filter rings at most, in periods of its flat
// half width; it needs that much room at both ends.
const ringing = 2.5

// windowed returns the spectrum of x under the window of ramp, without its
// mean, padded by tail samples at both ends, and the length transformed.
func windowed(x []float64, period float64, tail int) (spectrum []complex128, size int) {
	n := len(x)
	size = smooth(n + 2*tail)
	padded := make([]float64, size)
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(n)
	for i, v := range x {
		padded[i] = (v - mean) * ramp(i, n, period)
	}
	return fourier.NewFFT(size).Coefficients(nil, padded), size
}

// lay makes the time grid, the window's own frames and the leaks, and returns
// how many frames there are before the stretch begins.
func (f *frames) lay(c *cutter) (extra int) {
	f.step = 1 / (c.binHz * float64(c.size))
	inside := int(f.seconds/f.step) + 1
	extra = max(0, min(int(2/c.flat/f.step), (c.size-inside)/2))
	total := inside + 2*extra
	f.time, f.edge = make([]float64, total), make([]float64, total)
	for m := range f.time {
		f.time[m] = float64(m-extra) * f.step
	}
	box := trapezoid{length: f.seconds, ramp: 1 / f.hz}
	for d := -leakReach; d <= leakReach; d++ {
		f.leaks[d+leakReach] = make([]complex128, total)
		c.placeBox(f.leaks[d+leakReach], box, float64(d)*f.hz, extra)
	}
	for m, v := range f.leaks[leakReach] {
		f.edge[m] = real(v)
	}
	return extra
}

// newBand cuts out partial k.
func (f *frames) newBand(c *cutter, spectrum []complex128, size, k, extra int) band {
	total := len(f.time)
	b := band{k: k, raw: make([]complex128, total), z: make([]complex128, total)}
	c.place(b.raw, spectrum, float64(k)*f.hz, extra, 2/float64(size))
	copy(b.z, b.raw)
	for _, v := range b.z {
		b.power += power(v)
	}
	// White noise of |X|² in each bin leaves this much energy, summed over the
	// frames, for each independent value; there are 1/(T·binHz) bins to one of
	// those.
	scale := 4 / float64(size) / float64(size) * float64(c.size)
	b.floor = scale * between(spectrum, k, f.hz, c.binHz) / (f.seconds * c.binHz)
	b.dof = 2 * (c.flat + taperShare*(c.edge-c.flat)) * f.seconds
	return b
}

// weigh gives the bands their first weights; ok is false for silence and for
// samples that no transform survives.
func (f *frames) weigh() (ok bool) {
	strongest := 0.0
	for i := range f.bands {
		strongest = max(strongest, f.bands[i].power)
	}
	for i := range f.bands {
		b := &f.bands[i]
		b.least = max(quietest*strongest, 1e-290)
		b.floor = max(b.floor, b.least)
		b.weight = 1 / b.floor
	}
	return strongest > 0 && !math.IsInf(strongest, 0) && !math.IsNaN(strongest)
}

// ramp is the window over the stretch: flat, with straight ramps one period
// long. Such a window has nulls at all multiples of the pitch, so that each
// partial leaves the others alone, and costs half a period at each end.
func ramp(i, n int, period float64) float64 {
	left, right := (float64(i)+0.5)/period, (float64(n-i)-0.5)/period
	return min(1, left, right)
}

// taperShare is how much of white noise a raised-cosine edge lets through.
const taperShare = 0.375

// quietest is the noise assumed at least, as a share of the strongest
// partial's energy: rounding and the filters' own leaks are not better.
const quietest = 1e-12

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

// between is the mean power of the bins half way to the partials next door:
// the noise, or the window's side lobes if they are stronger.
func between(spectrum []complex128, k int, hz, binHz float64) float64 {
	sum, n := 0.0, 0
	for _, half := range [...]float64{-0.5, 0.5} {
		from := int((float64(k) + half - 0.15) * hz / binHz)
		to := int((float64(k)+half+0.15)*hz/binHz) + 1
		for j := max(0, from); j <= min(to, len(spectrum)-1); j++ {
			sum += power(spectrum[j])
			n++
		}
	}
	return sum / float64(max(1, n))
}

func power(v complex128) float64 { return real(v)*real(v) + imag(v)*imag(v) }
