package attribute

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Fitter solves windows one after another. The zero value is ready. One
// goroutine at a time.
type Fitter struct{}

// Fit solves one stretch, in two ways. The vote of the partials (pool) copes
// with rooms and with pitches that wander; the model of steady tones (model) is
// finer where it explains nearly all that is heard, as in a dry room. Where both
// answer and differ there is no reading.
func (f *Fitter) Fit(in Input) Result {
	p := pool(&in)
	r := p.verdicts(&in)
	exact := in
	exact.End = min(in.End, in.Start+longestModel)
	m := newModel(gather(&exact))
	if !m.solve() {
		return r
	}
	fine := m.judge()
	r.Sweeps = fine.Sweeps
	for c := range r.Chairs {
		r.Chairs[c] = p.agreed(c, r.Chairs[c], fine.Chairs[c])
	}
	for _, pair := range fine.Pairs {
		if !slices.Contains(r.Pairs, pair) {
			r.Pairs = append(r.Pairs, pair)
		}
	}
	return r
}

// Where the model of steady tones is asked.
const (
	longestModel = 1.5 // seconds: what is steady for longer is seldom
	// bothCents is how near both answers must be.
	bothCents = 2.0
	// hopeless is how much of what the microphones hear may be left over after the
	// first stages, dB: the model refuses what is not explained to clearDB.
	hopeless = -6.0
)

// supports reports whether the vote's best pitch for chair c is this one, and
// likelier than not.
func (p *pooled) supports(c int, hz pitch.Hertz) bool {
	if len(p.chairs[c]) == 0 {
		return false
	}
	best := p.chairs[c][0]
	return best.score > 0 && math.Abs(1200*math.Log2(float64(hz)/best.top.hz)) <= bothCents
}

// agreed is what the vote and the model say of chair c together.
func (p *pooled) agreed(c int, vote, fine ChairResult) ChairResult {
	fine.Over = vote.Over
	voted, modelled := vote.Verdict == Sounding, fine.Verdict == Sounding
	if modelled && !voted && !p.supports(c, fine.Hz) {
		fine.Verdict, fine.Hz, fine.CI95, fine.Spread, fine.Drift = Unclear, 0, 0, 0, 0
		return fine
	}
	near := voted && math.Abs(float64(pitch.Between(vote.Hz, fine.Hz))) <= bothCents
	switch {
	case voted && modelled && !near:
		vote.Verdict, vote.Hz, vote.CI95, vote.Spread, vote.Drift = Unclear, 0, 0, 0, 0
		return vote
	case modelled:
		return fine
	case voted:
		return vote
	}
	return fine
}

// Stages are the limits of the lines in use, Hz, from coarse to fine: low
// partials first, because their phase cannot slip. Each is at most twice the
// one before, so that what one leaves is less than a turn in the next.
var (
	firstStages = []float64{350, 700, 1400, startTop}
	lastStages  = []float64{2800, 1e9}
)

const (
	// firstSweeps are many, as neighbours close together on low lines part
	// slowly, and cheap, as the lines are few.
	firstSweeps    = 14
	sweepsPerStage = 6
	lastSweeps     = 6
	reseats        = 3
)

// solve fits all chairs with tracks; false when these are no steady tones.
func (m *model) solve() bool {
	m.begin()
	m.anchored = true
	for _, top := range firstStages {
		m.upTo(top)
		m.refine(firstSweeps)
		if m.unexplained() > hopeless {
			return false
		}
	}
	m.balanceMics()
	for range reseats {
		if m.reseat(true) == 0 {
			break
		}
		m.refine(sweepsPerStage)
		m.balanceMics()
	}
	m.retire()
	for _, top := range lastStages {
		m.upTo(top)
		m.refine(sweepsPerStage)
		m.balanceMics()
	}
	m.reseat(false)
	m.anchored = false
	m.refine(lastSweeps)
	return true
}

// unexplained is how much of what all microphones hear on the lines in use is
// left over, in dB.
func (m *model) unexplained() float64 {
	all, left := tiny, tiny
	for i := range m.lines[:m.use] {
		for c := range m.lines[i].mics {
			if h := &m.lines[i].mics[c]; h.y != nil {
				all += h.power / m.gain[c]
				left += h.noise / m.gain[c]
			}
		}
	}
	return db(left / all)
}

// retire takes chairs out of play whose microphone only overhears: what is
// fitted there is a remnant of the others, and would disturb them.
func (m *model) retire() {
	for c := range m.paths {
		if !m.in[c] {
			continue
		}
		t := m.trust(c)
		baseline := float64(m.window.in.Chairs[c].Baseline)
		if t.own-t.all < absentDB || baseline != 0 && t.own-baseline < softDB+absentDB-faintDB {
			m.in[c] = false
			for i := range m.lines {
				for o := range m.lines[i].mics {
					if g := m.lines[i].mics[o].g; g != nil {
						g[c] = 0
					}
				}
			}
		}
	}
}

// begin puts every chair with tracks in play at its first guess.
func (m *model) begin() {
	copy(m.in, m.tracks)
	for c := range m.paths {
		m.place(c, float64(m.window.in.Chairs[c].Expected))
	}
	m.upTo(startTop)
	for c := range m.paths {
		if g := m.candidates(c, 1); m.in[c] && len(g) > 0 {
			m.place(c, g[0].hz)
		}
	}
}
