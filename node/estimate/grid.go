package estimate

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// grid is what the bands of a stretch have in common: the time of the frames
// and what the band filter makes of the stretch's own window. Models of the
// same stretch share it.
type grid struct {
	hz      float64   // the reference: the k-th band is centred on k·hz
	seconds float64   // T, the length of the stretch
	tick    float64   // seconds between frames
	time    []float64 // of each frame, from the beginning of the stretch
	edge    []float64 // what the band filter makes of the stretch's window
	energy  float64   // Σ edge²
	bases   map[int]*basis

	lineFFT         *fourier.CmplxFFT // of linesOf, and room for it
	lineIn, lineOut []complex128
	own             lines
}

// newGrid lays the time grid for a stretch and returns how many frames there
// are before it begins.
func newGrid(c *cutter, hz, seconds float64) (g *grid, extra int) {
	g = &grid{hz: hz, seconds: seconds, tick: 1 / (c.binHz * float64(c.size)), bases: map[int]*basis{}}
	inside := int(seconds/g.tick) + 1
	extra = max(0, min(int(2/c.flat/g.tick), (c.size-inside)/2))
	total := inside + 2*extra
	g.time, g.edge = make([]float64, total), make([]float64, total)
	for m := range g.time {
		g.time[m] = float64(m-extra) * g.tick
	}
	box := trapezoid{length: seconds, ramp: 1 / hz}
	edge := make([]complex128, total)
	c.placeBox(edge, box, 0, extra)
	for m, v := range edge {
		g.edge[m] = real(v)
		g.energy += g.edge[m] * g.edge[m]
	}
	return g, extra
}

// perCent is how far one cent moves the phase of the fundamental in a second.
func (g *grid) perCent() float64 { return 2 * math.Pi * g.hz * math.Ln2 / 1200 }
