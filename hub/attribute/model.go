package attribute

import (
	"math"

	"gonum.org/v1/gonum/blas/cblas128"
)

// model is the state of one fit: the data, a path for each chair in play, a
// gain for each microphone, chair and line, and a clock for each microphone.
type model struct {
	*window
	paths    []path
	in       []bool    // chairs in play
	clock    []float64 // by microphone: relative deviation of its sample clock
	gain     []float64 // by microphone: sensitivity, relative power
	nq, na   int
	sweeps   int
	anchored bool        // paths follow their own microphones only
	focus    focus       // what a trial looks at
	rival    []float64   // by chair: by how much its best other pitch is worse, nats
	tried    [][]float64 // by chair: all mean pitches when it was last tried elsewhere
	use      int         // how many lines, from the lowest, take part at this stage
	work     solver
	old      []complex128
	hq, ha   matrix
}

// Figures of the gains.
const (
	// bleedPower is the usual power of a neighbour at a microphone relative to
	// its power at its own, reverberation included. It only steers what cannot
	// be told apart from the window itself.
	bleedPower = 0.25
	// noiseShare floors the noise of a line at −40 dB of what was heard: the
	// byte coding and shimmer leave as much.
	noiseShare = 1e-4
	// frameWorth is how much one frame counts: tracks are oversampled, and what
	// is left over is alike from frame to frame.
	frameWorth = 0.4
	// firstNoise is the noise assumed before there is a fit.
	firstNoise = 0.1
)

func newModel(w *window) *model {
	m := &model{window: w, paths: make([]path, len(w.tracks)), in: make([]bool, len(w.tracks)), clock: make([]float64, len(w.tracks))}
	m.rival = make([]float64, len(w.tracks))
	m.tried = make([][]float64, len(w.tracks))
	m.nq = terms(moveHz, 2*w.half)
	m.na = terms(swellHz, 2*w.half)
	for i := range w.lines {
		l := &w.lines[i]
		l.rotor = l.rotorOf(l.hz)
		l.b = make([][]complex128, len(w.tracks))
		for c := range l.b {
			if l.n[c] > 0 {
				l.b[c] = make([]complex128, len(l.t))
			}
		}
		for c := range l.mics {
			h := &l.mics[c]
			if h.y == nil {
				continue
			}
			h.r = append([]complex128(nil), h.y...)
			h.g = make([]complex128, len(w.tracks))
			h.power = meanPower(h.y)
			h.noise = firstNoise*h.power + tiny
		}
	}
	m.sensitivities()
	return m
}

// tiny keeps divisions finite; it is far below one coding step of silence.
const tiny = 1e-24

// sensitivities sets how loud each microphone's world is: its baseline when
// known, otherwise what it hears now.
func (m *model) sensitivities() {
	m.gain = make([]float64, len(m.tracks))
	for c := range m.gain {
		sum := tiny
		for i := range m.lines {
			sum += m.lines[i].mics[c].power
		}
		if b := m.window.in.Chairs[c].Baseline; b != 0 {
			sum = math.Pow(10, float64(b)/10)
		}
		m.gain[c] = sum
	}
}

func meanPower(y []complex128) float64 {
	sum := 0.0
	for _, z := range y {
		sum += real(z)*real(z) + imag(z)*imag(z)
	}
	return sum / float64(len(y))
}

// shape recomputes what chair c looks like on the lines in use.
func (m *model) shape(c int) {
	m.forget()
	for i := range m.lines[:m.use] {
		if l := &m.lines[i]; l.n[c] > 0 {
			m.shapeOn(l, c)
		}
	}
}

// shapeOn computes chair c's shape on a line. Between forget and the last line
// of the chair, lines come in ascending order.
func (m *model) shapeOn(l *line, c int) {
	if !l.trace.known {
		m.paths[c].trace(l.grid)
	}
	l.trace.partial(l.n[c], l.rotor, l.b[c])
}

// forget ends the traces of the chair before.
func (m *model) forget() {
	for _, g := range m.grids {
		g.trace.known = false
	}
}

// upTo brings the lines up to top Hz into use, but never fewer than two for
// any chair in play.
func (m *model) upTo(top float64) {
	m.use = 0
	for c := range m.paths {
		n := 0
		for i := range m.lines {
			l := &m.lines[i]
			if m.in[c] && l.n[c] > 0 && l.mics[c].y != nil && n < 2 {
				n++
				m.use = max(m.use, i+1)
			}
		}
	}
	for m.use < len(m.lines) && m.lines[m.use].hz <= top {
		m.use++
	}
	for c := range m.paths {
		if m.in[c] {
			m.shape(c)
		}
	}
}

// gains solves for all gains given the paths and leaves the residuals.
func (m *model) gains() {
	for i := range m.lines[:m.use] {
		m.lineGains(&m.lines[i])
	}
}

// lineGains is the linear part: for each microphone a ridge regression of
// what it heard on the chairs' shapes. The ridge says what size of gain is
// usual, so that chairs that coincide are split the way distance would.
func (m *model) lineGains(l *line) {
	s := &m.work
	m.prepare(l)
	for c := range l.mics {
		if h := &l.mics[c]; h.y != nil {
			h.own = power(h.g[c])
			if h.own == 0 {
				h.own = h.power
			}
		}
	}
	for c := range l.mics {
		h := &l.mics[c]
		if h.y == nil || !m.focus.hears(c) {
			continue
		}
		data := h.y
		if m.focus.on {
			data = h.base
		}
		m.factor(l, c)
		s.right(l, data)
		s.solve()
		for o := range h.g {
			if m.focus.solves(o) {
				h.g[o] = 0
			}
		}
		for i, o := range s.chairs {
			h.g[o] = s.x[i]
		}
		copy(h.r, data)
		for _, o := range s.chairs {
			subtract(h.r, l.b[o], h.g[o])
		}
		left := meanPower(h.r)
		h.noise = max(left, noiseShare*h.power) + tiny
	}
}

// prepare sets up the system of a line for the chairs looked at.
func (m *model) prepare(l *line) {
	s := &m.work
	s.chairs = s.chairs[:0]
	for c := range m.paths {
		if m.in[c] && l.n[c] > 0 && m.focus.solves(c) {
			s.chairs = append(s.chairs, c)
		}
	}
	s.gram(l)
}

// factor makes the system that of microphone c.
func (m *model) factor(l *line, c int) {
	s, h := &m.work, &l.mics[c]
	for i, o := range s.chairs {
		s.ridge[i] = h.noise / (frameWorth * float64(len(h.y)) * m.usual(l, c, o))
	}
	s.factor()
}

// usual is the expected power of chair o at microphone c on a line.
func (m *model) usual(l *line, c, o int) float64 {
	if c == o {
		return l.mics[c].power + tiny
	}
	own := l.mics[o].own
	if l.mics[o].y == nil {
		own = l.mics[c].power * m.gain[o] / m.gain[c]
	}
	return bleedPower*own*m.gain[c]/m.gain[o] + tiny
}

// subtract takes g b from r.
func subtract(r, b []complex128, g complex128) { add(r, b, -g) }

// add puts g b on top of r.
func add(r, b []complex128, g complex128) {
	cblas128.Axpy(g, vector(b), vector(r))
}

func vector(x []complex128) cblas128.Vector { return cblas128.Vector{N: len(x), Inc: 1, Data: x} }
