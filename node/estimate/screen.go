package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// Where a second source might be is found cheaply: starts from what the first
// leaves over, followed a little way on few partials.

const (
	// secondStep is the grid of the search for steady pitches, in cents; the
	// fit does the rest.
	secondStep = 0.5
	// secondShare is how much of what one source leaves a steady second one
	// must explain to be followed: a neighbour explains most of it, breath and
	// unsteady partials next to nothing.
	secondShare = 0.15
	// secondStarts is how many peaks of that search are followed from each
	// first pitch: all for glanceRounds Gauss–Newton steps on searchBands
	// partials and a wander of screenHz, the screenKept best that lie further
	// than samePlace cents apart for screenRounds more on screenBands;
	// then all but one are dropped.
	secondStarts = 3
	glanceRounds = 2
	searchBands  = 8
	screenKept   = 2
	samePlace    = 0.5
	screenRounds = 4
	screenBands  = 12
	screenHz     = 7.0
	// screenNearest is how near, in cents, the pitches may have come by then where
	// one source is not lost: these end within secondNearest.
	screenNearest = 0.5
	// playersWander is the prior scale of the wander, in cents, that these
	// steps take for granted.
	playersWander = 1.0
	// stillCents is the RMS wander below which a source is as good as steady.
	stillCents = 0.3
)

// screen follows all starts a little way on lighter models and returns the
// best, or nil when there is nothing to start from, one source, as lightly
// fitted, does better, or the best is one source split.
func (m *model) screen() *glance {
	starts := m.starts()
	if len(starts) == 0 {
		return nil
	}
	glances := make([]glance, 0, len(starts))
	few := newGlancer(m.frames, searchBands, screenHz, 2)
	for _, s := range starts {
		glances = append(glances, few.follow(glanceRounds, s.first, s.second))
	}
	slices.SortStableFunc(glances, func(a, b glance) int { return cmp.Compare(b.score, a.score) })
	one := newGlancer(m.frames, screenBands, wanderHz, 1).follow(screenRounds, m.sources[0].c)
	var best *glance
	most := one.score + secondGain/2
	more := newGlancer(m.frames, screenBands, screenHz, 2)
	for _, g := range distinct(glances) {
		if g = more.follow(screenRounds, g.pitches...); g.score > most {
			best, most = &g, g.score
		}
	}
	if best != nil && best.apart() < screenNearest && !m.lost() {
		return nil
	}
	return best
}

// distinct returns the screenKept best of glances, best first, that did not end
// up in the same place.
func distinct(glances []glance) []glance {
	var kept []glance
	for _, g := range glances {
		same := func(k glance) bool {
			return math.Abs(g.pitches[0][0]-k.pitches[0][0]) < samePlace && math.Abs(g.pitches[1][0]-k.pitches[1][0]) < samePlace
		}
		if len(kept) < screenKept && !slices.ContainsFunc(kept, same) {
			kept = append(kept, g)
		}
	}
	return kept
}

// glance is where a few steps on few partials led.
type glance struct {
	score   float64
	pitches [][]float64 // by source
}

// apart is how far the two sources' mean pitches lie apart, in cents.
func (g glance) apart() float64 { return math.Abs(g.pitches[0][0] - g.pitches[1][0]) }

// glancer follows starts on the partials that tell most, one after the other in
// the same room.
type glancer struct {
	*model
	weights []float64 // of the bands at first
}

func newGlancer(f *frames, bands int, topHz float64, sources int) *glancer {
	g := &glancer{model: newModel(f.lighter(bands), topHz, make([][]float64, sources)...)}
	for _, b := range g.bands {
		g.weights = append(g.weights, b.weight)
	}
	return g
}

// follow takes a few steps from the given pitch parameters on. The leaks stay
// as an earlier fit left them.
func (g *glancer) follow(rounds int, pitches ...[]float64) glance {
	for b, w := range g.weights {
		g.bands[b].weight = w
	}
	for i := range g.sources {
		s := &g.sources[i]
		clear(s.c[copy(s.c, pitches[i]):])
	}
	g.evaluate()
	for range rounds {
		g.equations()
		g.step()
		g.reweigh()
	}
	g.equations()
	out := glance{score: g.score()}
	for _, s := range g.sources {
		out.pitches = append(out.pitches, slices.Clone(s.c))
	}
	return out
}

// start is where two sources might be.
type start struct {
	first, second []float64
}

// starts proposes the first source as fitted, without its wander and, where it
// is lost, at the best steady pitch; and the second where the residual has its
// peaks.
func (m *model) starts() []start {
	var out []start
	firsts := [][]float64{m.sources[0].c}
	if m.wander(0) > stillCents {
		firsts = append(firsts, m.sources[0].c[:1])
	}
	if m.lost() {
		firsts = append(firsts, m.bestSteady())
	}
	for _, first := range firsts {
		probe := newModel(m.frames.lighter(searchBands), wanderHz, first)
		probe.evaluate()
		probe.reweigh()
		for _, p := range probe.peaks() {
			if p.gain > secondShare*probe.cost {
				out = append(out, start{first: first, second: []float64{p.cents}})
			}
		}
	}
	return out
}

// peak is a pitch at which a second source would explain gain of the cost.
type peak struct{ cents, gain float64 }

// peaks returns the steady second pitches that would explain most of the
// residual, best first.
func (m *model) peaks() []peak {
	span := int(secondReach / secondStep)
	at := func(i int) float64 { return m.sources[0].c[0] + float64(i-span)*secondStep }
	gain := make([]float64, 2*span+1)
	own := m.ownLines()
	for b := range m.bands {
		k, rest := float64(m.bands[b].k), m.linesOf(m.band(m.rest, b))
		for i := range gain {
			// What the first source, as if steady, takes back.
			free := m.energy - own.at(k*float64(i-span)*secondStep)/m.energy + m.ridge(b)
			gain[i] += m.bands[b].weight * rest.at(k*at(i)) / free
		}
	}
	var peaks []peak
	for range secondStarts {
		top, most := -1, 0.0
		for i := 1; i+1 < len(gain); i++ {
			if gain[i] > most && gain[i] >= gain[i-1] && gain[i] >= gain[i+1] {
				top, most = i, gain[i]
			}
		}
		if top < 0 {
			break
		}
		peaks = append(peaks, peak{at(top), most})
		clear(gain[max(0, top-3):min(len(gain), top+4)])
	}
	return peaks
}

// bestSteady returns the pitch parameters of the steady pitch that alone explains
// most.
func (f *frames) bestSteady() []float64 {
	gain := make([]float64, int(secondReach/secondStep)+1)
	at := func(i int) float64 { return float64(i)*secondStep - secondReach/2 }
	for _, band := range f.lighter(searchBands).bands {
		lines := f.linesOf(band.z)
		for i := range gain {
			gain[i] += band.weight * lines.at(float64(band.k)*at(i))
		}
	}
	return []float64{at(floats.MaxIdx(gain))}
}
