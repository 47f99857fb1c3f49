package attribute

import "math"

// The first guess: what is left of every microphone's tracks, as spectra on
// one axis of cents. A chair's pitch is where its own microphone hears more,
// for its sensitivity, than the others do. The square root keeps one strong
// partial from deciding alone, the squared share lets nearness decide.
const (
	axisCents = 1.0 // step of the axis: a third of the width of a line of 1 s at 1 kHz
	axisReach = 50  // to either side, in steps: as far as nodes keep
	axisSize  = 2*axisReach + 1
	// startTop leaves out lines whose power the usual wobble smears over many
	// steps of the axis.
	startTop = 2200.0
	// apart is how far two candidates of one chair must lie from one another, in steps.
	apart = 3
	// peaks is how many peaks of the own spectrum are compared with the others.
	peaks = 10
)

// axis is a spectrum around a line.
type axis [axisSize]float64

// candidate is a possible pitch of a chair and how well it is supported.
type candidate struct {
	hz, score float64
}

// candidates returns up to count pitches of chair c, best first, from what is
// left over on the lines in use.
func (m *model) candidates(c, count int) []candidate {
	own := m.ownSpectra(c)
	var sum axis
	for _, a := range own {
		for x, v := range a {
			sum[x] += v
		}
	}
	var out []candidate
	for range peaks {
		x := highest(&sum)
		if x < 0 {
			break
		}
		at := float64(x-axisReach) + vertex(&sum, x)
		hz := float64(m.window.in.Chairs[c].Expected) * math.Exp2(at*axisCents/1200)
		out = append(out, candidate{hz, m.support(c, hz)})
		for i := max(0, x-apart+1); i < min(axisSize, x+apart); i++ {
			sum[i] = 0
		}
	}
	for i := range out {
		for j := i; j > 0 && out[j].score > out[j-1].score; j-- {
			out[j], out[j-1] = out[j-1], out[j]
		}
	}
	return out[:min(count, len(out))]
}

// ownSpectra is the square root of the normalised power at chair c's own
// microphone, line by line, on its own axis.
func (m *model) ownSpectra(c int) []axis {
	var out []axis
	expected := float64(m.window.in.Chairs[c].Expected)
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		if l.n[c] == 0 || l.mics[c].y == nil {
			continue
		}
		var a axis
		total := tiny
		for x := range a {
			a[x] = at(l, l.mics[c].r, float64(l.n[c])*expected*math.Exp2(float64(x-axisReach)*axisCents/1200))
			total += a[x]
		}
		for x := range a {
			a[x] = math.Sqrt(a[x] / total)
		}
		out = append(out, a)
	}
	return out
}

// support rates the pitch hz for chair c.
func (m *model) support(c int, hz float64) float64 {
	sum := 0.0
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		if l.n[c] == 0 || l.mics[c].y == nil {
			continue
		}
		f := float64(l.n[c]) * hz
		own := at(l, l.mics[c].r, f)
		all := tiny
		for o := range l.mics {
			if y := l.mics[o].r; y != nil {
				all += at(l, y, f) / m.gain[o]
			}
		}
		share := own / m.gain[c] / all
		sum += math.Sqrt(own/(l.mics[c].power+tiny)) * share * share
	}
	return sum
}

// at is the power of y at f Hz under a Hann taper.
func at(l *line, y []complex128, f float64) float64 {
	s, c := math.Sincos(-2 * math.Pi * (f - l.hz) * (l.t[1] - l.t[0]))
	zr, zi := 1.0, 0.0
	var re, im float64
	for i, v := range y {
		w := l.taper[i]
		vr, vi := real(v)*w, imag(v)*w
		re += vr*zr - vi*zi
		im += vr*zi + vi*zr
		zr, zi = zr*c-zi*s, zr*s+zi*c
	}
	return re*re + im*im
}

// highest returns the highest local maximum, -1 when nothing is left.
func highest(s *axis) int {
	best := -1
	for x, v := range s {
		if v > 0 && (best < 0 || v > s[best]) {
			best = x
		}
	}
	return best
}

// vertex is where the parabola through a maximum and its neighbours peaks.
func vertex(s *axis, x int) float64 {
	if x == 0 || x == axisSize-1 || s[x-1] == 0 || s[x+1] == 0 {
		return 0
	}
	a, b, c := s[x-1], s[x], s[x+1]
	if d := a - 2*b + c; d < 0 {
		return max(-0.5, min(0.5, (a-c)/(2*d)))
	}
	return 0
}
