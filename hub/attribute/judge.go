package attribute

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Limits of belief. A chair that fails one gets no reading: an unread chair is
// asked again, a reading on the wrong chair would move the wrong slide. The
// figures separate readings within half a cent from all others in simulated
// rows (see accuracy).
const (
	// faintDB is how far the chair's own sound may lie below all that its
	// microphone heard, absentDB from where on it is taken for absent.
	faintDB, absentDB = -8.0, -14.0
	// nearDB is by how much its sound must be weaker at every other microphone.
	nearDB = -3.0
	// softDB is how far it may lie below its own mezzo-forte: bleed lies at
	// least 8 dB below, soft playing seldom more than 10 (common practice, no
	// source).
	softDB = -7.0
	// clearDB is by how much it must exceed what nothing explains.
	clearDB = 12.0
	// neededDB is by how much more must be left without the chair: neighbours'
	// sounds explain one another to within a few decibels when they are alike,
	// and a silent chair is made up of theirs. From plainDB on the chair is
	// plainly there; for each decibel that is lacking, its best other pitch
	// must explain less by rivalNats.
	neededDB, plainDB = 6.0, 14.0
	rivalNats         = 30.0
	// doubleAlike is from where on two chairs' sounds nearly coincide: a silent
	// chair is then a double of a loud neighbour, made up of what reverberation
	// and movement leave of it. needed must then exceed doubleDB and what the
	// chair lies below all that its microphone heard: of 14 doubles that the
	// other limits let pass in development, 13 stayed below 6 dB, one at 9.9.
	// Its sound must also be weaker elsewhere by doubleNearDB: 4 of the 14 lay
	// between that and nearDB, where one true reading in ten does.
	doubleAlike, doubleDB = 0.85, 11.0
	doubleNearDB          = -4.0
	// widest interval that is still a reading, cents.
	widest pitch.Cents = 1.5
)

// judge turns the fit into results.
func (m *model) judge() Result {
	r := Result{Chairs: make([]ChairResult, len(m.paths)), Sweeps: m.sweeps}
	missed := m.missed()
	for c := range m.paths {
		in := &m.window.in.Chairs[c]
		switch {
		case !m.tracks[c]:
			r.Chairs[c] = withoutTracks(in)
			r.Fallback = r.Fallback || r.Chairs[c].Verdict == NoTracks
		case !m.in[c]:
			r.Chairs[c] = ChairResult{ID: in.ID, Verdict: Overheard}
		default:
			var pair Pair
			r.Chairs[c], pair = m.chair(c, missed[c])
			if pair != (Pair{}) && !slices.Contains(r.Pairs, pair) {
				r.Pairs = append(r.Pairs, pair)
			}
		}
	}
	return r
}

// chair judges one chair in play, without which missed would be left.
func (m *model) chair(c int, missed float64) (ChairResult, Pair) {
	in := &m.window.in.Chairs[c]
	t := m.trust(c)
	t.needed = db(missed) - t.left
	told := m.told(c, &t)
	out := ChairResult{ID: in.ID, Level: pitch.Level(t.own)}
	if in.Baseline != 0 {
		out.Balance, out.BalanceKnown = t.own-float64(in.Baseline), true
	}
	ci := interval(&t, in)
	switch {
	case t.elsewhere > 0 || out.BalanceKnown && out.Balance < softDB+absentDB-faintDB:
		out.Verdict = Overheard
	case t.other >= 0 && !told:
		out.Verdict = Together
	case t.own-t.all < faintDB || t.elsewhere > nearDB || t.own-t.left < clearDB ||
		out.BalanceKnown && out.Balance < softDB || !told || ci > widest:
		out.Verdict = Unclear
	default:
		out.Verdict = Sounding
		out.Hz = pitch.Hertz(m.paths[c].mean() * (1 + in.PPM*1e-6))
		out.CI95 = ci
		out.From, out.To = m.window.in.Start, m.window.in.End
		out.Spread, out.Drift = m.movement(c)
	}
	if out.Verdict != Together {
		return out, Pair{}
	}
	other := m.window.in.Chairs[t.other].ID
	return out, Pair{min(in.ID, other), max(in.ID, other)}
}

// told tells whether chair c can be told from the others.
func (m *model) told(c int, t *trust) bool {
	if t.alike > doubleAlike && (t.needed+t.own-t.all < doubleDB || t.elsewhere > doubleNearDB) {
		return false
	}
	return t.needed > neededDB && m.rival[c] > rivalNats*(plainDB-t.needed)
}

// Parts of the interval.
const (
	// pathCents is the standard error left by movement that the path does not
	// follow and by reverberation, found in simulated rows.
	pathCents = 0.04
	// scatterWorth widens the scatter of the partials, which share their errors.
	scatterWorth = 2.0
)

// interval is the half width of the 95 % interval, the clock included.
func interval(t *trust, in *Chair) pitch.Cents {
	ppm := in.PPMError
	if ppm == 0 {
		ppm = DefaultPPM
	}
	clock := ppm * 1e-6 / perCent
	s := scatterWorth * t.scatter
	stat := 1.96 * math.Sqrt(pathCents*pathCents+s*s+t.formal*t.formal)
	return pitch.Cents(math.Hypot(stat, clock))
}

// pathPoints is how finely the path is read for its spread and drift.
const pathPoints = 64

// movement returns the 10 to 90 % spread and the drift of the pitch path.
func (m *model) movement(c int) (pitch.Cents, float64) {
	var p [pathPoints]float64
	m.paths[c].cents(p[:])
	var slopes []float64
	step := 2 * m.half / pathPoints
	for i := range p {
		for j := range i {
			slopes = append(slopes, (p[i]-p[j])/(float64(i-j)*step))
		}
	}
	slices.Sort(slopes)
	sorted := p
	slices.Sort(sorted[:])
	return pitch.Cents(sorted[pathPoints*9/10] - sorted[pathPoints/10]), slopes[len(slopes)/2]
}

// withoutTracks is the result of a chair without usable tracks: unclear if
// those it sent do not cover the window, silent if its node could have sent
// some, else whatever the node made of the window by itself.
func withoutTracks(c *Chair) ChairResult {
	out := ChairResult{ID: c.ID, Verdict: NoTracks}
	switch {
	case len(c.Chunks) > 0:
		out.Verdict = Unclear
		return out
	case !c.Own.Hz.Valid():
		if c.Able {
			out.Verdict = Silent
		}
		return out
	}
	out.Hz, out.CI95, out.Spread, out.Drift = c.Own.Hz, c.Own.CI95, c.Own.Spread, c.Own.Drift
	out.Level, out.OneMic = c.Own.Level, true
	if c.Baseline != 0 {
		out.Balance, out.BalanceKnown = float64(c.Own.Level-c.Baseline), true
	}
	return out
}
