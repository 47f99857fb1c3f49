package attribute

import "math"

// grid is a row of times that lines of one frame rate share, with what the
// paths' terms are there.
type grid struct {
	step  float64
	t     []float64 // seconds from the middle of the window
	phi   basis     // of the phase
	amp   basis     // of the envelope
	taper []float64 // Hann, of unit sum

	trace trace // of the chair whose shapes are being computed
	pull  pull  // on the chair whose path is being moved
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
	g.bases(terms(moveHz, 2*w.half), terms(swellHz, 2*w.half), w.half)
	g.hann()
	w.grids = append(w.grids, g)
	return g
}

// bases tabulates the phase and envelope terms (see path). No term has a mean,
// as a constant phase or level belongs to the gains.
func (g *grid) bases(nq, na int, half float64) {
	g.phi.add(g.t, 1, func(t float64) float64 { return t })
	for j := 1; j < nq; j++ {
		x := float64(j) * math.Pi
		g.phi.add(g.t, 1-j%2, func(t float64) float64 { return math.Sin(x*(t+half)/(2*half)) / x * 2 * half })
	}
	for j := range na {
		x := float64(j) * math.Pi
		g.amp.add(g.t, j%2, func(t float64) float64 { return math.Cos(x * (t + half) / (2 * half)) })
	}
	g.phi.square()
	g.amp.square()
}

// hann fills the taper, of unit sum.
func (g *grid) hann() {
	n := float64(len(g.t))
	g.taper = make([]float64, len(g.t))
	for i := range g.taper {
		g.taper[i] = (1 + math.Cos(2*math.Pi*(float64(i)+0.5-n/2)/n)) / n
	}
}

// rotorOf turns hz to 0 at the times of the grid.
func (g *grid) rotorOf(hz float64) []complex128 {
	r := make([]complex128, len(g.t))
	for i, t := range g.t {
		r[i] = turn(-hz * t)
	}
	return r
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

// grown is e to the level, to 1e-6 for levels within ±3: the sixteenth by its
// series, squared four times.
func grown(level float64) float64 {
	x := level / 16
	e := 1 + x*(1+x/2*(1+x/3*(1+x/4*(1+x/5))))
	e *= e
	e *= e
	e *= e
	return e * e
}
