package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
)

const (
	// MaxPartials and topHz bound the partials used: above either there is
	// little energy left that is not breath.
	MaxPartials = 20
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
	z      []complex128
	weight float64 // 1/noise power of a frame, in units that make the cost a log likelihood
	dof    float64 // independent complex values in the band
	floor  float64 // noise as seen half way to the neighbours, or their side lobes if those are stronger
	least  float64 // the noise assumed at least
	power  float64 // Σ |z|²
	below  float64 // the same of what lies half way to the partial below
}

// frames is a stretch prepared for fitting: all bands on one time grid.
type frames struct {
	*grid
	bands []band
}

// clone returns frames whose bands can be cleaned and weighed anew.
func (f *frames) clone() *frames { return f.with(slices.Clone(f.bands)) }

// with returns frames of the given bands, their values copied.
func (f *frames) with(bands []band) *frames {
	for i := range bands {
		bands[i].z = slices.Clone(bands[i].z)
	}
	return &frames{grid: f.grid, bands: bands}
}

// lighter is clone with no more than count bands: those that tell most of the
// pitch, by k² times power.
func (f *frames) lighter(count int) *frames {
	bands := slices.Clone(f.bands)
	slices.SortFunc(bands, func(a, b band) int {
		return cmp.Compare(b.power*float64(b.k*b.k), a.power*float64(a.k*a.k))
	})
	bands = bands[:min(count, len(bands))]
	slices.SortFunc(bands, func(a, b band) int { return a.k - b.k })
	return f.with(bands)
}

// newFrames transforms x and cuts out the bands around the multiples of hz.
func newFrames(x []float64, rate, hz float64) (*frames, bool) {
	if float64(len(x)) < minPeriods*rate/hz {
		return nil, false
	}
	flat, edge := min(flatHz, flatPeriods*hz), min(edgeHz, edgePeriods*hz)
	partials := countPartials(rate, hz, edge)
	padded := faded(x, rate/hz, int(2*ringing/flat*rate))
	size := len(padded)
	spectrum := fourier.NewFFT(size).Coefficients(nil, padded)
	c := newCutter(rate/float64(size), flat, edge)
	g, extra := newGrid(c, hz, float64(len(x))/rate)
	f := &frames{grid: g, bands: make([]band, partials)}
	for i := range f.bands {
		f.bands[i] = f.newBand(c, spectrum, size, i+1, extra)
	}
	return f, f.weigh()
}

// countPartials is how many partials of hz are used.
func countPartials(rate, hz, edge float64) int {
	n := 1
	for n < MaxPartials {
		centre := float64(n+1) * hz
		if centre > min(topHz, 0.47*rate) || centre+edge > rate/2 {
			break
		}
		n++
	}
	return n
}

// ringing is how long the band filter rings at most, in periods of its flat
// half width; it needs that much room at both ends.
const ringing = 2.5

// faded is x, padded, without its mean under a window that is flat, with straight ramps
// one period long. Such a window has nulls at all multiples of the pitch, so
// that each partial leaves the others alone, and costs half a period at each
// end.
func faded(x []float64, period float64, pad int) []float64 {
	n := len(x)
	out := make([]float64, smooth(n+pad))
	copy(out, x)
	floats.AddConst(-floats.Sum(x)/float64(n), out[:n])
	for i := range min(n, int(period)+1) {
		r := min(1, (float64(i)+0.5)/period)
		out[i] *= r
		out[n-1-i] *= r
	}
	return out
}

// newBand cuts out partial k.
func (f *frames) newBand(c *cutter, spectrum []complex128, size, k, extra int) band {
	total := len(f.time)
	b := band{k: k, z: make([]complex128, total)}
	c.place(b.z, spectrum, float64(k)*f.hz, extra, 2/float64(size))
	for _, v := range b.z {
		b.power += power(v)
	}
	// White noise of |X|² in each bin leaves this much energy, summed over the
	// frames, for each independent value; there are 1/(T·binHz) bins to one of
	// those.
	scale := 4 / float64(size) / float64(size) * float64(c.size)
	below, n := halfWay(spectrum, float64(k)-0.5, f.hz/c.binHz)
	above, o := halfWay(spectrum, float64(k)+0.5, f.hz/c.binHz)
	b.floor = scale * (below + above) / float64(max(1, n+o)) / (f.seconds * c.binHz)
	b.below = scale * below
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

// taperShare is how much of white noise a raised-cosine edge lets through.
const taperShare = 0.375

// quietest is the noise assumed at least, as a share of the strongest
// partial's energy: rounding and the filters' own leaks are not better.
const quietest = 1e-12

// halfWay sums the power around the given place, in partials, half way between
// two that lie apart by as many bins, and says how many bins there were: the
// noise, or the window's side lobes if they are stronger.
func halfWay(spectrum []complex128, place, apart float64) (sum float64, n int) {
	from, to := int((place-0.15)*apart), int((place+0.15)*apart)+1
	for j := max(0, from); j <= min(to, len(spectrum)-1); j++ {
		sum += power(spectrum[j])
		n++
	}
	return sum, n
}
