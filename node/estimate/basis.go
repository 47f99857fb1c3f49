package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// basis is the functions s_0 … s_J that a phase is made of, at the frames of a
// grid, and their products, which all fits share.
type basis struct {
	rows  [][]float64 // s_j at [j]
	tilt  []float64   // Σ e² s_j
	gram  symmetric   // Σ e² s_j s_q
	bound symmetric   // gram less what a free amplitude and phase can follow
}

// polynomials is how many of the s_j come before the cosines.
const polynomials = 2

// basisTo returns the basis for a wander of the pitch up to topHz.
func (g *grid) basisTo(topHz float64) *basis {
	// The grid must hold the wander, and the stretch its half periods.
	top := min(topHz, 0.25/g.tick)
	count := 1 + polynomials + max(2, int(2*top*g.seconds))
	if b, ok := g.bases[count]; ok {
		return b
	}
	b := &basis{rows: make([][]float64, count), tilt: make([]float64, count)}
	weighted, weights := make([]float64, len(g.time)), make([]float64, len(g.time))
	floats.MulTo(weights, g.edge, g.edge)
	b.gram, b.bound = newSymmetric(count), newSymmetric(count)
	for j := range b.rows {
		b.rows[j] = make([]float64, len(g.time))
		for i, t := range g.time {
			b.rows[j][i] = g.perCent() * phaseOf(j, t, g.seconds)
		}
		floats.MulTo(weighted, weights, b.rows[j])
		b.tilt[j] = floats.Sum(weighted)
		for q, row := range b.rows[:j+1] {
			v := floats.Dot(weighted, row)
			b.gram.add(j, q, v)
			b.bound.add(j, q, v-b.tilt[j]*b.tilt[q]/g.energy)
		}
	}
	g.bases[count] = b
	return b
}

// phaseOf is s_j(t)/g over a stretch of the given length.
func phaseOf(j int, t, length float64) float64 {
	if j == 0 {
		return t - length/2
	}
	if t <= 0 || t >= length {
		return 0
	}
	x := t / length
	switch j {
	case 1: // ∫ P₁(2x - 1)
		return length * x * (x - 1)
	case 2: // ∫ P₂(2x - 1)
		return length * x * (x - 1) * (2*x - 1)
	}
	w := math.Pi * float64(j-polynomials)
	return length / w * math.Sin(w*x)
}

// order is the j of the prior of c_j, j ≥ 1: that of its slowest kin.
func order(j int) float64 { return float64(max(1, j-polynomials)) }

// phase writes Σ c_j s_j to dst.
func (b *basis) phase(dst, c []float64) {
	clear(dst)
	for j, v := range c {
		if v != 0 {
			floats.AddScaled(dst, v, b.rows[j])
		}
	}
}
