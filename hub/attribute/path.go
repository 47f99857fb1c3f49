package attribute

import (
	"math"
	"slices"
)

// path is one chair's pitch over the window: frequency
//
//	f(t) = f0 (1 + q[0] + Σ q[j] cos(jπu)),  u from 0 to 1 over the window
//
// so that f0 (1 + q[0]) is its mean, and its envelope exp(Σ a[j] cos(jπu)).
type path struct {
	f0 float64
	q  []float64
	a  []float64
}

// Figures of the path.
const (
	// moveHz is how quick a movement of the pitch is followed: wobble of the
	// breath and the lip lies below 4 Hz; vibrato above it is averaged.
	moveHz = 4.0
	// swellHz is the same for the envelope.
	swellHz = 2.0
	// wanderCents is the usual size of the slowest movement, falling as 1/f
	// like the wander of held notes, but no further than leastCents.
	wanderCents = 8.0
	leastCents  = 1.0
	// swell is the usual size of the slowest change of the log envelope.
	swell = 0.3
)

const perCent = math.Ln2 / 1200 // relative frequency per cent

// terms returns how many terms follow movement up to hz over seconds.
func terms(hz, seconds float64) int { return 1 + int(math.Ceil(2*hz*seconds)) }

// prior returns the standard deviation of q[j].
func prior(j int) float64 {
	if j == 0 {
		return 40 * perCent
	}
	return max(leastCents, wanderCents/float64(j)) * perCent
}

// bases tabulates the phase and envelope terms of a line. Phase terms have no
// mean, as a constant phase belongs to the gains.
func (w *window) bases(l *line, nq, na int) {
	l.phi = table(nq, len(l.t))
	l.amp = table(na, len(l.t))
	for i, t := range l.t {
		u := (t + w.half) / (2 * w.half)
		l.phi[0][i] = t
		for j := 1; j < nq; j++ {
			x := float64(j) * math.Pi
			l.phi[j][i] = math.Sin(x*u) / x * 2 * w.half
		}
		for j := 1; j < na; j++ {
			l.amp[j][i] = math.Cos(float64(j) * math.Pi * u)
		}
	}
	for _, row := range l.phi {
		centre(row)
	}
	for _, row := range l.amp {
		centre(row)
	}
	l.phiSquares, l.ampSquares = squares(l.phi), squares(l.amp)
}

// squares is the matrix of sums of products of rows.
func squares(rows [][]float64) []float64 {
	var out []float64
	for _, p := range rows {
		for _, q := range rows {
			sum := 0.0
			for i, v := range p {
				sum += v * q[i]
			}
			out = append(out, sum)
		}
	}
	return out
}

func table(rows, columns int) [][]float64 {
	t := make([][]float64, rows)
	for i := range t {
		t[i] = make([]float64, columns)
	}
	return t
}

func centre(row []float64) {
	sum := 0.0
	for _, v := range row {
		sum += v
	}
	for i := range row {
		row[i] -= sum / float64(len(row))
	}
}

// shape fills b with the chair's partial n on the line, seen around the
// line's own frequency.
func (p *path) shape(l *line, n int, b []complex128) {
	swells := slices.ContainsFunc(p.a, func(a float64) bool { return a != 0 })
	for i, t := range l.t {
		cycles := 0.0
		for j, q := range p.q {
			cycles += q * l.phi[j][i]
		}
		turn := float64(n)*p.f0*(t+cycles) - l.hz*t
		s, c := math.Sincos(2 * math.Pi * (turn - math.Floor(turn)))
		e := 1.0
		if swells {
			level := 0.0
			for j, a := range p.a {
				level += a * l.amp[j][i]
			}
			e = math.Exp(level)
		}
		b[i] = complex(e*c, e*s)
	}
}

// mean is the mean frequency.
func (p *path) mean() float64 { return p.f0 * (1 + p.q[0]) }

// cents fills dst with the pitch path relative to its mean at even times.
func (p *path) cents(dst []float64) {
	for i := range dst {
		u := (float64(i) + 0.5) / float64(len(dst))
		d := 0.0
		for j := 1; j < len(p.q); j++ {
			d += p.q[j] * math.Cos(float64(j)*math.Pi*u)
		}
		dst[i] = d / perCent
	}
}
