package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"bellrow/proto/pitch"
)

// A neighbour in the same microphone pulls a one-source fit by up to its whole
// distance, and a bright one takes it over, because the upper partials tell
// most of the pitch. So a second source is tried whenever one leaves something
// to explain, and afterwards the sources are told apart by their total power,
// never by the upper partials.

const (
	// secondReach is how far from the first the second source is sought, in
	// cents: players in one section tuning the same note are nearer.
	secondReach = 50.0
	// secondStep is the grid of that search, in cents; the fit does the rest.
	secondStep = 0.5
	// secondNearest is how near the second source may lie, in cents: what is
	// nearer beats slower than a stretch can tell from the player's own wander.
	secondNearest = 1.0
	// secondStarts is how many peaks of that search are followed from each
	// first pitch: all for glanceRounds Gauss–Newton steps, the screenKept best
	// for screenRounds more, on screenBands partials and a wander of screenHz;
	// then all but one are dropped. The search itself looks at searchBands.
	secondStarts = 3
	glanceRounds = 2
	screenKept   = 3
	screenRounds = 4
	screenBands  = 12
	searchBands  = 8
	screenHz     = 7.0
	// remainderShare is how much must be left over for its phase to be worth
	// tracing: a neighbour at -10 dB leaves a tenth.
	remainderShare = 0.02
	// stillCents is the RMS wander below which a source is as good as steady.
	stillCents = 0.3
	// secondRounds bounds the steps of the fit that is left, and secondHz its
	// wander: two vibratos at once are nobody's tuning note.
	secondRounds = 10
	secondHz     = 7.0
	// secondShare is how much of what one source leaves a steady second one
	// must explain to be followed: a neighbour explains most of it, breath and
	// unsteady partials next to nothing.
	secondShare = 0.15
	// secondFaintest is the share of the energy that must be left over for a
	// second source to be worth looking for: -37 dB pulls by less than a tenth
	// of a cent.
	secondFaintest = 2e-4
	// secondOverNoise is how far what is left over must stand above the noise.
	secondOverNoise = 1.5
	// secondGain is how much more evidence two sources need than one, in
	// nepers: a player's own unsteadiness never fits the model exactly, and
	// what is left over must not become a ghost.
	secondGain = 20.0
)

// withSecond returns the better of the one-source fit m and a two-source fit.
func (m *model) withSecond(e *normal) (*model, *normal) {
	if !m.unexplained() {
		return m, e
	}
	first := m.screen()
	if first == nil {
		return m, e
	}
	two := newModel(m.frames.clone(), secondHz)
	two.setSources(first.sources[0].c, first.sources[1].c)
	for i := range two.sources {
		two.sources[i].sigma = first.sources[i].sigma
	}
	n := two.fit(secondRounds)
	apart := math.Abs(two.sources[0].c[0] - two.sources[1].c[0])
	if apart < secondNearest || apart > 2*secondReach || two.score(n) < m.score(e)+secondGain {
		return m, e
	}
	return two, n
}

// unexplainedShare is the share of the energy that the fit leaves over.
func (m *model) unexplainedShare() float64 {
	left, all := 0.0, 0.0
	for b := range m.bands {
		left += m.left(b)
		all += m.bands[b].power
	}
	return left / max(all, 1e-300)
}

// unexplained reports whether one source leaves more than noise and more than
// a neighbour too weak to matter.
func (m *model) unexplained() bool {
	left, all, noise := 0.0, 0.0, 0.0
	for b := range m.bands {
		band := &m.bands[b]
		left += m.left(b)
		all += band.power
		noise += band.floor * band.dof
	}
	return left > secondFaintest*all && left > secondOverNoise*noise
}

// screen follows all starts a little way on a lighter model and returns the
// best, or nil when there is nothing to start from or one source, as lightly
// fitted, does better.
func (m *model) screen() *model {
	starts := m.starts()
	if len(starts) == 0 {
		return nil
	}
	fits := make([]light, 0, len(starts))
	for _, s := range starts {
		fits = append(fits, m.light(glanceRounds, s.first, s.second))
	}
	slices.SortStableFunc(fits, func(a, b light) int { return cmp.Compare(b.score, a.score) })
	best := light{score: m.light(screenRounds, m.sources[0].c).score + secondGain/2}
	for _, f := range fits[:min(len(fits), screenKept)] {
		if f.score = f.model.score(f.model.fit(screenRounds)); f.score > best.score {
			best = f
		}
	}
	return best.model
}

// light is a fit on fewer partials.
type light struct {
	model *model
	score float64
}

// light fits sources lightly.
func (m *model) light(rounds int, pitches ...[]float64) light {
	l := newModel(m.frames.lighter(screenBands), screenHz)
	l.setSources(pitches...)
	return light{l, l.score(l.fit(rounds))}
}

// start is where two sources might be.
type start struct {
	first, second []float64
}

// starts proposes the first source as fitted, without its wander and, where it
// explains little, at the best steady pitch; and the second where the residual
// has its peaks.
func (m *model) starts() []start {
	var out []start
	firsts := [][]float64{m.sources[0].c}
	if m.wander(0) > stillCents {
		firsts = append(firsts, m.sources[0].c[:1])
	}
	if m.unexplainedShare() > poorShare {
		firsts = append(firsts, []float64{m.bestSteady()})
	}
	for _, first := range firsts {
		probe := newModel(m.frames.lighter(searchBands), wanderHz)
		probe.setSources(first)
		probe.evaluate()
		probe.reweigh()
		probe.evaluateBands()
		// The other player wanders too: a start that follows what is left.
		if left := probe.remainder(); left != nil {
			out = append(out, start{first: first, second: left})
		}
		for _, p := range probe.peaks() {
			if p.gain > secondShare*probe.cost {
				out = append(out, start{first: first, second: []float64{p.cents}})
			}
		}
	}
	return out
}

// remainder traces what the first source leaves over.
func (m *model) remainder() []float64 {
	if m.unexplainedShare() < remainderShare {
		return nil
	}
	f := m.frames.clone()
	n := len(m.time)
	for b := range f.bands {
		band := &f.bands[b]
		band.z, band.power = m.rest[b*n:(b+1)*n], m.left(b)
	}
	return newModel(f, screenHz).trace()
}

// peak is a pitch at which a second source would explain gain of the cost.
type peak struct{ cents, gain float64 }

// peaks returns the steady second pitches that would explain most of the
// residual, best first.
func (m *model) peaks() []peak {
	span := int(secondReach / secondStep)
	gain := make([]float64, 2*span+1)
	for i := range gain {
		gain[i] = m.gainOf(m.sources[0].c[0] + float64(i-span)*secondStep)
	}
	var peaks []peak
	for range secondStarts {
		at, most := -1, 0.0
		for i := 1; i+1 < len(gain); i++ {
			if gain[i] > most && gain[i] >= gain[i-1] && gain[i] >= gain[i+1] {
				at, most = i, gain[i]
			}
		}
		if at < 0 {
			break
		}
		peaks = append(peaks, peak{m.sources[0].c[0] + float64(at-span)*secondStep, most})
		for i := max(0, at-3); i <= min(len(gain)-1, at+3); i++ {
			gain[i] = 0
		}
	}
	return peaks
}

// bestSteady returns the steady pitch that alone explains most.
func (m *model) bestSteady() float64 {
	best, most := 0.0, 0.0
	for c := -secondReach / 2; c <= secondReach/2; c += secondStep {
		sum := 0.0
		for b := range m.bands {
			y := m.steady(b, c, m.bands[b].z)
			sum += m.bands[b].weight * power(y)
		}
		if sum > most {
			best, most = c, sum
		}
	}
	return best
}

// steady is the product of band b's frames x with a steady pitch of c cents.
func (m *model) steady(b int, c float64, x []complex128) complex128 {
	k := float64(m.bands[b].k)
	turn := cmplx.Rect(1, -k*c*(m.basis[0][1]-m.basis[0][0]))
	z := cmplx.Rect(1, -k*c*m.basis[0][0])
	sum := complex(0, 0)
	for f, v := range x {
		sum += v * z * complex(m.edge[f], 0)
		z *= turn
	}
	return sum
}

// gainOf is how much of the weighted residual a steady source at c cents takes
// away, amplitudes of both refitted.
func (m *model) gainOf(c float64) float64 {
	n := len(m.time)
	sum := 0.0
	for b := range m.bands {
		band := &m.bands[b]
		k := float64(band.k)
		turn := cmplx.Rect(1, k*c*(m.basis[0][1]-m.basis[0][0]))
		z := cmplx.Rect(1, k*c*m.basis[0][0])
		var y, o complex128
		for f := range n {
			t := z * complex(m.edge[f], 0)
			y += m.rest[b*n+f] * cmplx.Conj(t)
			o += cmplx.Conj(m.turned[0][b*n+f]) * t * complex(m.edge[f], 0)
			z *= turn
		}
		free := m.energy - power(o)/m.energy + m.ridge(b)
		sum += band.weight * power(y) / free
	}
	return sum
}

// score is the log evidence of a fit, with the noise of each band unknown: the
// likelihood with each noise at its best, what the pitches' prior costs, and
// what the amplitudes' does.
func (m *model) score(e *normal) float64 {
	sum := -m.penalty()
	for b := range m.bands {
		band := &m.bands[b]
		sum -= band.dof * math.Log(max(m.left(b), band.least*band.dof))
		q := 1 / (1 + band.weight*band.power)
		if len(m.sources) == 1 {
			sum -= math.Log((1 + q) / q)
		} else {
			rho := power(m.overlap[b]) / (m.energy * m.energy)
			sum -= math.Log(((1+q)*(1+q) - rho) / (q * q))
		}
	}
	a := newSymmetric(m.params())
	prior := m.withPrior(e, a)
	logDet, ok := a.factorize()
	if !ok {
		return math.Inf(-1)
	}
	return sum + 0.5*(prior-logDet)
}

// loudness is the total power of source i.
func (m *model) loudness(i int) float64 {
	sum := 0.0
	for _, a := range m.sources[i].a {
		sum += power(a)
	}
	return sum
}

// louder returns which source is the louder.
func (m *model) louder() int {
	if len(m.sources) == 2 && m.loudness(1) > m.loudness(0) {
		return 1
	}
	return 0
}

// second describes the source that is not the reading's.
func (m *model) second() *Second {
	if len(m.sources) < 2 {
		return nil
	}
	i := m.louder()
	own, other := m.sources[i], m.sources[1-i]
	ratio := m.loudness(1-i) / max(m.loudness(i), 1e-300)
	return &Second{
		Offset:  pitch.Between(m.hertz(own), m.hertz(other)),
		LevelDB: 10 * math.Log10(max(ratio, 1e-12)),
	}
}

// hertz is the mean pitch of s; the model is linear in frequency.
func (m *model) hertz(s source) pitch.Hertz {
	return pitch.Hertz(m.hz * (1 + s.c[0]*math.Ln2/1200))
}
