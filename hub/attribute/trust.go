package attribute

import "math"

// trust holds what tells a chair's own sound from a neighbour's at its own
// microphone, and how well its pitch is known.
type trust struct {
	own  float64 // level of the chair's sound at its microphone, dB
	all  float64 // level of everything heard there on its lines, dB
	left float64 // level of what the model does not explain there, dB
	// elsewhere is the chair's level at the microphone that hears it best
	// relative to its own, sensitivities counted, dB; positive is astray.
	elsewhere float64
	// alike is how nearly another chair's sound coincides with this one over
	// its lines, 0 to 1, and with whom.
	alike float64
	other int
	// needed is by how much more would be left there without the chair, the
	// others explaining what they can, dB.
	needed float64
	// formal is the standard error of the mean pitch from the curvature of the
	// fit, scatter from how the partials disagree; both in cents.
	formal, scatter float64
	lines           int
}

func (m *model) trust(c int) trust {
	t := trust{other: -1}
	var own, all, left float64
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		h := &l.mics[c]
		if l.n[c] == 0 || h.y == nil {
			continue
		}
		t.lines++
		own += power(h.g[c])
		all += h.power
		left += h.noise
	}
	t.own, t.all, t.left = db(own), db(all), db(left)
	most := tiny
	for o := range m.paths {
		if o != c && m.tracks[o] {
			most = max(most, m.energy(c, o))
		}
	}
	t.elsewhere = db(most / m.energy(c, c))
	m.alike(c, &t)
	m.errors(c, &t)
	return t
}

// missed is, by chair, what would be left at its own microphone on its lines if
// the chair were taken out and the others' gains solved anew.
func (m *model) missed() []float64 {
	out := make([]float64, len(m.paths))
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		m.prepare(l)
		for i, c := range m.work.chairs {
			if h := &l.mics[c]; h.y != nil {
				m.factor(l, c)
				out[c] += h.noise + power(h.g[c])/m.work.inverse(i)
			}
		}
	}
	return out
}

// alike finds the chair whose shape coincides most with c's.
func (m *model) alike(c int, t *trust) {
	for o := range m.paths {
		if o == c || !m.in[o] {
			continue
		}
		sum, weight := 0.0, tiny
		for i := range m.lines[:m.use] {
			l := &m.lines[i]
			if l.n[c] == 0 || l.n[o] == 0 || l.mics[c].y == nil {
				continue
			}
			w := power(l.mics[c].g[c])
			z := inner(l.b[c], l.b[o])
			sum += w * math.Sqrt(power(z)/(meanPower(l.b[c])*meanPower(l.b[o])))
			weight += w
		}
		// Lines that only c has tell it apart.
		for i := range m.lines[:m.use] {
			if l := &m.lines[i]; l.n[c] > 0 && l.n[o] == 0 && l.mics[c].y != nil {
				weight += power(l.mics[c].g[c])
			}
		}
		if a := sum / weight; a > t.alike {
			t.alike, t.other = a, o
		}
	}
}

// errors finds the standard errors of the mean pitch: each line alone says
// where its own microphone would move the mean.
func (m *model) errors(c int, t *trust) {
	var sum, weight, squares, weights2 float64
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		h := &l.mics[c]
		if l.n[c] == 0 || h.y == nil || h.g[c] == 0 {
			continue
		}
		d, w := m.wish(l, c)
		sum += w * d
		weight += w
		squares += w * d * d
		weights2 += w * w
	}
	if weight == 0 {
		t.formal, t.scatter = 99, 99
		return
	}
	mean := sum / weight
	t.formal = math.Sqrt(1/weight) / perCent
	spread := max(0, squares/weight-mean*mean)
	lines := weight * weight / weights2
	t.scatter = math.Sqrt(spread/max(0.5, lines-1)) / perCent
}

// wish is where line l alone, at the chair's own microphone, would move the
// chair's mean, as a relative frequency, and the weight of that.
func (m *model) wish(l *line, c int) (d, w float64) {
	h := &l.mics[c]
	g := h.g[c]
	rate := 2 * math.Pi * float64(l.n[c]) * m.paths[c].f0
	num, den := 0.0, 0.0
	for i, v := range l.b[c] {
		z := g * v
		r := h.r[i]
		p := l.t[i]
		num += p * (real(z)*imag(r) - imag(z)*real(r))
		den += p * p * (real(z)*real(z) + imag(z)*imag(z))
	}
	if den == 0 {
		return 0, 0
	}
	return num / (rate * den), frameWorth * rate * rate * den / h.noise
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

func db(p float64) float64 { return 10 * math.Log10(p+tiny) }
