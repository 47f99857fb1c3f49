package attribute

import "math"

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
	// breath and the lip, and vibrato, whose unfollowed sidebands would hide
	// the neighbours (4 to 7 Hz: Sundberg 1987, The Science of the Singing
	// Voice, from memory; common practice for brass).
	moveHz = 7.0
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

// trace is what a path sounds like on a grid: its fundamental, and its
// envelope times the power of the fundamental reached last.
type trace struct {
	z, power []complex128
	sum      []float64
	n        int
	known    bool
}

// trace computes the fundamental and starts its powers at 0.
func (p *path) trace(g *grid) {
	tr := &g.trace
	if tr.z == nil {
		tr.z, tr.power = make([]complex128, len(g.t)), make([]complex128, len(g.t))
		tr.sum = make([]float64, len(g.t))
	}
	tr.n, tr.known = 0, true
	g.amp.sum(tr.sum, p.a)
	for i, level := range tr.sum {
		tr.power[i] = complex(grown(level), 0)
	}
	g.phi.sum(tr.sum, p.q)
	for i, cycles := range tr.sum {
		tr.z[i] = turn(p.f0 * (g.t[i] + cycles))
	}
}

// partial fills b with partial n, not less than the last one, turned by the
// rotor of its line.
func (tr *trace) partial(n int, rotor, b []complex128) {
	for ; tr.n < n; tr.n++ {
		for i, z := range tr.z {
			tr.power[i] *= z
		}
	}
	for i, z := range tr.power {
		b[i] = z * rotor[i]
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
