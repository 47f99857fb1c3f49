package attribute

import "math"

// grid is a row of times that lines of one frame rate share.
type grid struct {
	step  float64
	t     []float64 // seconds from the middle of the window
	taper []float64 // Hann, of unit sum
}

// gridOf returns the grid of count times that lie step seconds apart.
func (w *window) gridOf(count int, step float64) *grid {
	for _, g := range w.grids {
		if len(g.t) == count && g.step == step {
			return g
		}
	}
	g := &grid{step: step, t: make([]float64, count)}
	for i := range g.t {
		g.t[i] = (float64(i) - float64(count-1)/2) * step
	}
	g.hann()
	w.grids = append(w.grids, g)
	return g
}

// hann fills the taper, of unit sum.
func (g *grid) hann() {
	n := float64(len(g.t))
	g.taper = make([]float64, len(g.t))
	for i := range g.taper {
		g.taper[i] = (1 + math.Cos(2*math.Pi*(float64(i)+0.5-n/2)/n)) / n
	}
}

// turn is e to the 2πi times cycles, to 1e-7: the eighth of the angle by its
// series, squared three times.
func turn(cycles float64) complex128 {
	x := 2 * math.Pi / 8 * (cycles - math.Floor(cycles+0.5))
	y := x * x
	re := 1 - y/2*(1-y/12*(1-y/30*(1-y/56)))
	im := x * (1 - y/6*(1-y/20*(1-y/42)))
	for range 3 {
		re, im = re*re-im*im, 2*re*im
	}
	return complex(re, im)
}
