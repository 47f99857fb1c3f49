package attribute

import (
	"cmp"
	"math"
	"slices"
)

// A fit can start a chair on its neighbour's pitch: a bright neighbour owns
// the upper partials even at −10 dB. Then two chairs share one pitch and the
// true one stays unexplained. reseat looks for that: it takes a chair out,
// lets the others explain what they can, and looks for the chair in what is
// left over; a better explanation of the whole window wins.

const (
	// moveFrom is how far, in cents, a proposal must lie from where the chair
	// is to be tried.
	moveFrom = 0.7
	// worthTrying is how much support a proposal needs relative to that of
	// the chair's present pitch.
	worthTrying = 0.7
	// trials bounds the proposals per chair and round.
	trials = 3
	// shortTrial is how many sweeps refine a proposal before it is compared,
	// longTrial as many as it gets while it is within closeNats, and stoodCents
	// is when it has settled.
	shortTrial = 4
	longTrial  = 16
	stoodCents = 0.03
	closeNats  = 100.0
	// company is how many others settle with a chair on trial: those far away
	// hardly feel where it is.
	company = 5
	// gainNats is by how much the fitness must rise: the residuals of
	// neighbouring frames are alike, so small gains mean nothing.
	gainNats = 5.0
	// hopelessNats is how much worse a trial may be on the way: more than any
	// judgement asks of a rival.
	hopelessNats = 300.0
	// touches is within how many cents two chairs pull at one another.
	touches = 3.0
	// crowd is within how many cents two chairs may have begun on one line:
	// the width of a line at startTop in a window of 1 s.
	crowd = 2.0
)

// reseat tries every chair in play once and reports how many moved. With wide
// set it looks for pitches anywhere, but only for chairs around which something
// has changed since they were tried, otherwise only to either side.
func (m *model) reseat(wide bool) int {
	moved := 0
	for c := range m.paths {
		if !m.in[c] || wide && !m.stirred(c) {
			continue
		}
		if wide {
			m.rival[c] = math.Inf(1)
		}
		if m.reseatOne(c, wide) {
			moved++
		}
		m.tried[c] = m.means(m.tried[c])
	}
	m.gains()
	return moved
}

// stirred tells whether chair c or one close to it has moved since it was tried.
func (m *model) stirred(c int) bool {
	was := m.tried[c]
	for o := range was {
		if m.in[o] && m.close(o, was[c]) && math.Abs(1200*math.Log2(m.paths[o].mean()/was[o])) >= sameCents {
			return true
		}
	}
	return was == nil || math.Abs(1200*math.Log2(m.paths[c].mean()/was[c])) >= sameCents
}

// means lists the mean pitches of all chairs.
func (m *model) means(dst []float64) []float64 {
	dst = dst[:0]
	for c := range m.paths {
		dst = append(dst, m.paths[c].mean())
	}
	return dst
}

// reseatOne compares chair c's pitch with others that could be its own, at its
// microphone and those of the chairs close to either pitch. The best stays,
// and by how much it beats the best that lies elsewhere is kept as rival.
func (m *model) reseatOne(c int, wide bool) bool {
	before := m.paths[c].mean()
	tries := m.sidesteps(c)
	if wide {
		tries = append(tries, m.elsewhere(c)...)
	}
	won := false
	for _, f := range tries {
		now := m.paths[c].mean()
		near := m.around(c, now, f)
		kept := m.save(near)
		m.look(near, near)
		m.gains()
		best := m.fitness()
		v := m.trial(c, f, near, best)
		if m.back(c, now) {
			v = math.Inf(-1) // no rival
		}
		if v > best+gainNats {
			won = true
			m.rival[c] = min(m.rival[c], v-best)
		} else {
			m.rival[c] = min(m.rival[c], best-v)
			m.restore(kept)
			m.gains()
		}
		m.focus = focus{}
		if won {
			m.gains()
		}
	}
	return won && math.Abs(1200*math.Log2(m.paths[c].mean()/before)) >= sameCents
}

// trial puts chair c at f, lets it and those near settle, and returns the
// fitness. It gives up early on what is hopeless, and waits for what comes
// close until it stands or is back where it was.
func (m *model) trial(c int, f float64, near []bool, best float64) float64 {
	now := m.paths[c].mean()
	m.place(c, f)
	m.gains()
	v := 0.0
	for i := range longTrial {
		moved := 0.0
		for o := range m.paths {
			if m.in[o] && near[o] {
				moved = max(moved, m.step(o))
			}
		}
		m.gains()
		v = m.fitness()
		if v < best-hopelessNats || i >= shortTrial && v < best-closeNats || moved < stoodCents || m.back(c, now) {
			break
		}
	}
	return v
}

// back tells whether a trial has brought chair c back to where it was.
func (m *model) back(c int, was float64) bool {
	return math.Abs(1200*math.Log2(m.paths[c].mean()/was)) < sameCents
}

// sameCents is within how many cents two solutions are the same.
const sameCents = 0.3

// elsewhere lists pitches supported by what the others leave over.
func (m *model) elsewhere(c int) []float64 {
	var tries []float64
	if own := float64(m.window.in.Chairs[c].Own.Hz); own > 0 && m.apart(c, own) >= moveFrom && partialAt(float64(m.window.in.Chairs[c].Expected), own) == 1 {
		tries = append(tries, own)
	}
	for _, p := range m.propose(c) {
		if math.Abs(1200*math.Log2(p.hz/m.paths[c].mean())) >= moveFrom {
			tries = append(tries, p.hz)
		}
	}
	return tries
}

// around marks chair c and those close to either pitch, of many the loudest at
// its microphone.
func (m *model) around(c int, now, f float64) []bool {
	var close []int
	for o := range m.paths {
		if o != c && m.in[o] && (m.close(o, now) || m.close(o, f)) {
			close = append(close, o)
		}
	}
	if len(close) > company {
		slices.SortStableFunc(close, func(a, b int) int { return cmp.Compare(m.energy(b, c), m.energy(a, c)) })
		close = close[:company]
	}
	near := make([]bool, len(m.paths))
	near[c] = true
	for _, o := range close {
		near[o] = true
	}
	return near
}

// sidesteps proposes pitches to either side when a neighbour sits so close
// that the two may have begun on the same line.
func (m *model) sidesteps(c int) []float64 {
	now := m.paths[c].mean()
	for o := range m.paths {
		if o != c && m.in[o] && m.apart(o, now) < crowd {
			return []float64{now * cents(-2*crowd/3), now * cents(2*crowd/3)}
		}
	}
	return nil
}

func cents(c float64) float64 { return math.Exp2(c / 1200) }

// propose looks for chair c in what the others leave over.
func (m *model) propose(c int) []candidate {
	now := m.paths[c].mean()
	m.look(m.around(c, now, now), nil)
	m.in[c] = false
	m.gains()
	m.in[c] = true
	all := m.candidates(c, trials)
	least := worthTrying * m.support(c, now)
	m.gains()
	m.focus = focus{}
	for i, p := range all {
		if p.score < least {
			return all[:i]
		}
	}
	return all
}

// place puts chair c at a steady pitch.
func (m *model) place(c int, f float64) {
	m.paths[c] = path{f0: f, q: make([]float64, m.nq), a: make([]float64, m.na)}
	m.shape(c)
}

// close tells whether chair a and a chair at f pull at one another.
func (m *model) close(a int, f float64) bool { return m.apart(a, f) < touches }

// apart is the distance of chair a from f in cents, octaves apart: octaves
// share partials.
func (m *model) apart(a int, f float64) float64 {
	d := 1200 * math.Log2(m.paths[a].mean()/f)
	return math.Abs(d - 1200*math.Round(d/1200))
}

// fitness compares fits of the same window: how much of what was heard is
// explained, down to heardShare, below which lie movements that no path
// follows and that a misplaced chair could explain as well as a real one; less
// what speaks against nearness, as exchanging two chairs explains just as much:
// a chair faint at its own microphone, or louder at another.
func (m *model) fitness() float64 {
	sum := 0.0
	for i := range m.lines[:m.use] {
		for c := range m.lines[i].mics {
			if h := &m.lines[i].mics[c]; h.y != nil && m.focus.hears(c) {
				sum -= frameWorth * float64(len(h.y)) * math.Log(max(h.noise/(h.power+tiny), heardShare))
			}
		}
	}
	for c := range m.paths {
		if m.in[c] && m.focus.hears(c) {
			sum -= m.astray(c)
		}
	}
	return sum
}

const (
	heardShare = 1e-2
	// astrayNats is the penalty for each e-fold by which a chair's sound at
	// another microphone exceeds half of that at its own.
	astrayNats = 20.0
	// faintNats is the penalty for each e-fold by which a chair lies below
	// faintShare of what its own microphone heard.
	faintNats  = 40.0
	faintShare = 0.25
)

func (m *model) astray(c int) float64 {
	own, all := tiny, 0.0
	for i := range m.lines[:m.use] {
		if h := &m.lines[i].mics[c]; h.y != nil && m.lines[i].n[c] > 0 {
			own += power(h.g[c])
			all += h.power
		}
	}
	sum := 0.0
	if own < faintShare*all {
		sum = faintNats * math.Log(faintShare*all/own)
	}
	own = m.energy(c, c)
	for o := range m.paths {
		if o != c && m.tracks[o] && m.focus.hears(o) {
			if q := m.energy(c, o); q > own/2 {
				sum += astrayNats * math.Log(q/(own/2))
			}
		}
	}
	return sum
}

// energy is that of chair c's sound at microphone o, for its sensitivity.
func (m *model) energy(c, o int) float64 {
	sum := tiny
	for i := range m.lines[:m.use] {
		if h := &m.lines[i].mics[o]; h.y != nil {
			sum += power(h.g[c])
		}
	}
	return sum / m.gain[o]
}

// save copies the paths of the chairs marked in which.
func (m *model) save(which []bool) []path {
	out := make([]path, len(m.paths))
	for c, p := range m.paths {
		if which[c] {
			out[c] = p.clone()
		}
	}
	return out
}

// restore puts saved paths back.
func (m *model) restore(kept []path) {
	for c, p := range kept {
		if p.f0 != 0 {
			m.paths[c] = p.clone()
			m.shape(c)
		}
	}
}

func (p path) clone() path {
	return path{p.f0, append([]float64(nil), p.q...), append([]float64(nil), p.a...)}
}
