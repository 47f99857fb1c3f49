package attribute

// Fitter solves windows one after another. The zero value is ready. One
// goroutine at a time.
type Fitter struct{}

// Fit solves one window.
func (f *Fitter) Fit(in Input) Result {
	m := newModel(gather(&in))
	m.solve()
	return m.judge()
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

// solve fits all chairs with tracks.
func (m *model) solve() {
	m.begin()
	m.anchored = true
	for _, top := range firstStages {
		m.upTo(top)
		m.refine(firstSweeps)
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
