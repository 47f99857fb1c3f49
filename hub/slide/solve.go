package slide

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"

	"gonum.org/v1/gonum/mat"
)

// What the mixed model of several notes expects, as standard deviations in
// cents (from memory; the main slide carries most of what is wrong). How far
// partials and fingerings depart from theory, instrument.Theory says.
const (
	mainPrior  = 25 // a slide that carries the whole instrument or a whole side
	valvePrior = 12 // a valve slide
	// huber is Huber's constant: residuals within 1.345 standard deviations
	// count in full (95 % efficiency).
	huber = 1.345
	// robustRounds of reweighting are enough for a dozen notes.
	robustRounds = 8
	// maxMoves is the most slides one answer names: more cannot be done
	// between two notes.
	maxMoves = 3
)

// HornOrder says which side of a double horn the main slide is set on. The
// literature goes both ways: B flat side first (hornstuff.com; E. Matlick; J.
// Ericson) and F side first (P. Farkas). The leader chooses.
type HornOrder string

// Orders of the horn's sides. The zero value is BbSideFirst.
const (
	BbSideFirst HornOrder = ""
	FSideFirst  HornOrder = "f-first"
)

// Heard is one of several notes.
type Heard struct {
	Note    pitch.Note
	Path    instrument.Path // as in Input
	Target  pitch.Hertz     // 0 = equal temperament at A4 = 440 Hz
	Reading Reading
}

// Problem is a set of notes of one player with the slides where they stand.
type Problem struct {
	Instrument *instrument.Instrument
	Settings   instrument.Settings
	Travel     instrument.Settings
	Heard      []Heard
	Good       pitch.Cents // tolerance; 0 means DefaultGood
	Learned    Learned
	HornOrder  HornOrder
	// Usual is the offset that this player's recent days lead to expect at
	// these settings, with its doubt; nil when there are none. It tells the
	// player on the day from the main slide.
	Usual *Estimate
}

// Share is what belongs to one cause.
type Share struct {
	// Slide is set for a slide, Partial for a partial, Way for a fingering;
	// none for the day.
	Slide   instrument.SlideID `json:"slide,omitempty"`
	Partial int                `json:"partial,omitempty"`
	Way     string             `json:"way,omitempty"`
	Name    string             `json:"name"` // "main slide", "partial 5", "the player on the day"
	Estimate
	// MM is the estimate as travel that would take it away, for slides.
	MM     float64 `json:"mm,omitempty"`
	MMCI95 float64 `json:"mm_ci95,omitempty"`
	// Theory is what theory says of the partial or the fingering, shown beside.
	Theory pitch.Cents `json:"theory_cents,omitempty"`
}

// Fit is one note before and after the moves.
type Fit struct {
	Note   pitch.Note      `json:"note"`
	Path   instrument.Path `json:"path"`
	Offset pitch.Cents     `json:"offset_cents"`
	// After is where the note is expected once the moves are made.
	After pitch.Cents `json:"after_cents"`
	// Weight is how far the note was believed about slides, 0 to 1.
	Weight float64 `json:"weight"`
	// Theory is the whole tendency of the path by theory, shown beside.
	Theory pitch.Cents `json:"theory_cents"`
}

// Solution says what belongs to which slide and the fewest moves that help.
type Solution struct {
	Advice
	Shares []Share `json:"shares"`
	Notes  []Fit   `json:"notes"`
}

// Errors of Solve.
var (
	ErrNoNotes = errors.New("slide: no settled note within reach of a slide, need at least one")
	ErrByEar   = errors.New("slide: no note in closed first position, need at least one")
)

// Solve divides the errors of several notes between slides, partials and the
// day, and finds the fewest moves that bring the notes within tolerance.
//
// Each note is modelled as
//
//	offset = Σ slides serving it: error of the slide × share felt on the path
//	       + theory + departures of its partial and its fingering from theory + doubt
//
// with normal priors on slides and departures, Huber weights on the notes, and
// bounds from each slide's limits; the equations are solved by Cholesky
// decomposition (gonum). Unsettled readings, notes beyond MaxMove and those that
// the ear places with a hand slide are left out; notes none of which tells where
// the main slide belongs move nothing.
func Solve(p Problem) (Solution, error) {
	s, err := newSystem(p)
	if err != nil {
		return Solution{}, err
	}
	out := Solution{Shares: s.shares()}
	none := s.try(nil)
	best := none
	if !none.inside && s.tells() {
		best = s.fewest(none)
	}
	out.Notes = best.fits
	out.Advice = s.advise(best)
	return out, nil
}

// system is the linear model of one problem.
type system struct {
	Problem
	offsets []float64 // of each used note
	clear   []float64 // the same without theory
	sd      []float64
	paths   []instrument.Path
	used    []Heard
	byEar   bool               // notes were left out that the ear places
	slides  []instrument.Slide // columns first
	natures []nature           // then what instruments make of their own nature
	a       *mat.Dense         // notes × (slides + natures), in cents per cent
	perMM   [][]float64        // cents per mm of each slide on each note
	priors  []float64          // standard deviation of each unknown
	weight  []float64          // of each note
	tail    []float64          // of each unknown's prior: partials may lie far out
	wrong   []int              // slides that may be moved
	targets []float64          // what slides should take away from each note
	mean    []float64
	cov     *mat.SymDense
}

func newSystem(p Problem) (*system, error) {
	p.Instrument = p.Instrument.WithTravel(p.Travel)
	if p.Good <= 0 {
		p.Good = DefaultGood
	}
	s := &system{Problem: p}
	for _, h := range p.Heard {
		s.take(h)
	}
	switch {
	case len(s.used) > 0:
	case s.byEar:
		return nil, ErrByEar
	default:
		return nil, ErrNoNotes
	}
	s.columns()
	s.fit()
	return s, nil
}

// take keeps a note that can say something about slides.
func (s *system) take(h Heard) {
	if !h.Target.Valid() {
		h.Target = pitch.Reference{}.Frequency(h.Note)
	}
	x := float64(pitch.Between(h.Target, h.Reading.Hz))
	p := usualPath(s.Instrument, h.Path, h.Note)
	theory := float64(s.Instrument.Tendency(p))
	if !h.Reading.Settled || h.Reading.Overheard || !h.Reading.Hz.Valid() || math.Min(math.Abs(x), math.Abs(x-theory)) > float64(MaxMove) || h.Reading.CI95 > MaxCI {
		return
	}
	if s.Instrument.HandSlide && p.Position != 1 {
		s.byEar = true
		return
	}
	s.used = append(s.used, h)
	s.offsets = append(s.offsets, x)
	s.clear = append(s.clear, x-theory)
	s.sd = append(s.sd, math.Hypot(h.Reading.CI95.CentreSD(), repeatCents))
	s.paths = append(s.paths, p)
}

// columns builds the matrix. A slide's unknown is its error in cents on the
// path where it is felt most; others feel their share of it.
func (s *system) columns() {
	for _, sl := range s.Instrument.Slides {
		if sl.Legs == 0 || sl.ID == instrument.Hand || !s.servesAny(sl.ID) || s.fixedSide(sl.ID) {
			continue
		}
		s.slides = append(s.slides, sl)
	}
	for i, p := range s.paths {
		s.nature(i, nature{partial: p.Partial, theory: s.Instrument.Theory(p).Partial, doubt: s.Instrument.Theory(p).PartialDoubt()})
		if doubt := s.Instrument.ValveDoubt(p); doubt >= 1 { // cents; an open tube has none but for rounding
			s.nature(i, nature{way: p.String(), theory: s.Instrument.Theory(p).Valves, doubt: doubt})
		}
	}
	slices.SortFunc(s.natures, func(a, b nature) int {
		return cmp.Or(cmp.Compare(a.way, b.way), cmp.Compare(a.partial, b.partial))
	})
	n, m := len(s.used), len(s.slides)+len(s.natures)
	s.a = mat.NewDense(n, m, nil)
	s.perMM = make([][]float64, len(s.slides))
	for j, sl := range s.slides {
		s.perMM[j] = make([]float64, n)
		most := 0.0
		for i, p := range s.paths {
			s.perMM[j][i] = float64(LeverOf(s.Instrument, p, sl.ID, s.Settings, s.Learned).PerMM())
			most = math.Max(most, math.Abs(s.perMM[j][i]))
		}
		for i := range s.paths {
			s.a.Set(i, j, -s.perMM[j][i]/most)
		}
	}
	for k, nat := range s.natures {
		for _, i := range nat.notes {
			s.a.Set(i, len(s.slides)+k, 1)
		}
	}
}

// nature is one partial or one fingering: what theory says of it, and how far
// real instruments depart from that, as a standard deviation in cents.
type nature struct {
	partial int    // or
	way     string // the fingering as players say it
	theory  pitch.Cents
	doubt   float64
	notes   []int // the notes played so
}

// nature notes that a note is played so.
func (s *system) nature(note int, n nature) {
	for k := range s.natures {
		if s.natures[k].partial == n.partial && s.natures[k].way == n.way {
			s.natures[k].notes = append(s.natures[k].notes, note)
			return
		}
	}
	n.notes = []int{note}
	s.natures = append(s.natures, n)
}

// tells reports whether the notes say where the main slide belongs.
func (s *system) tells() bool {
	if slices.ContainsFunc(s.paths, s.Instrument.Tells) {
		return true
	}
	var notes []Known
	for i, h := range s.used {
		notes = append(notes, Known{h.Note, s.paths[i], Belief{pitch.Cents(s.offsets[i]), s.sd[i]}})
	}
	return pool(s.Instrument, s.Settings, s.paths[0], notes).tells
}

func (s *system) servesAny(id instrument.SlideID) bool {
	return slices.ContainsFunc(s.paths, func(p instrument.Path) bool { return s.Instrument.Serves(id, p) })
}

// fixedSide leaves out the slide of the horn side that the main slide is set
// on: the main slide and both side slides together would have no one answer.
func (s *system) fixedSide(id instrument.SlideID) bool {
	if !s.Instrument.Double || !s.servesAny(instrument.FMain) || !s.servesAny(instrument.BbMain) {
		// With one side heard only, its own slide cannot be told from the main.
		return s.Instrument.Double && (id == instrument.FMain || id == instrument.BbMain)
	}
	if s.HornOrder == FSideFirst {
		return id == instrument.FMain
	}
	return id == instrument.BbMain
}

// prior is the standard deviation of an unknown.
func (s *system) prior(j int) float64 {
	if j >= len(s.slides) {
		return s.natures[j-len(s.slides)].doubt
	}
	switch s.slides[j].ID {
	case instrument.Main, instrument.FMain, instrument.BbMain, instrument.GbMain:
		return mainPrior
	}
	return valvePrior
}

// fit solves the normal equations with Huber weights.
func (s *system) fit() {
	n, m := s.a.Dims()
	s.weight, s.tail, s.priors = ones(n), ones(m), make([]float64, m)
	for j := range s.priors {
		s.priors[j] = s.prior(j)
	}
	for range robustRounds {
		s.mean, s.cov = s.posterior(m)
		if !s.reweigh() {
			break
		}
	}
	s.wrong = s.findWrong()
	s.targets = make([]float64, n)
	for i := range s.targets {
		s.targets[i] = s.target(i)
	}
}

func ones(n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = 1
	}
	return x
}

// posterior returns mean and covariance of all unknowns under the weights.
func (s *system) posterior(m int) ([]float64, *mat.SymDense) {
	h := mat.NewSymDense(m, nil)
	b := mat.NewVecDense(m, nil)
	for j := range m {
		h.SetSym(j, j, s.tail[j]/(s.priors[j]*s.priors[j]))
	}
	for i, x := range s.clear {
		w := s.weight[i] / (s.sd[i] * s.sd[i])
		row := s.a.RawRowView(i)
		for j, aj := range row {
			b.SetVec(j, b.AtVec(j)+w*aj*x)
			for k := j; k < m; k++ {
				h.SetSym(j, k, h.At(j, k)+w*aj*row[k])
			}
		}
	}
	var c mat.Cholesky
	if !c.Factorize(h) {
		// The priors make h positive definite; only overflow gets here.
		return make([]float64, m), mat.NewSymDense(m, nil)
	}
	var x mat.VecDense
	cov := mat.NewSymDense(m, nil)
	if c.SolveVecTo(&x, b) != nil || c.InverseTo(cov) != nil {
		return make([]float64, m), cov
	}
	return x.RawVector().Data, cov
}

// reweigh sets Huber weights: of notes from their residuals, and of partials
// from how far out they lie, so that one cracked note does not turn the main
// slide. It reports whether they moved.
func (s *system) reweigh() bool {
	moved := false
	set := func(w *float64, r float64) {
		v := math.Min(1, huber/math.Max(math.Abs(r), 1e-9))
		moved = moved || math.Abs(v-*w) > 1e-2
		*w = v
	}
	for i := range s.offsets {
		set(&s.weight[i], s.residual(i)/s.sd[i])
	}
	for j := len(s.slides); j < len(s.tail); j++ {
		set(&s.tail[j], s.mean[j]/s.priors[j])
	}
	return moved
}

func (s *system) residual(i int) float64 {
	r := s.clear[i]
	for j, a := range s.a.RawRowView(i) {
		r -= a * s.mean[j]
	}
	return r
}

// shares turns the posterior into what belongs to whom.
func (s *system) shares() []Share {
	var out []Share
	for j := range s.mean {
		e := Estimate{pitch.Cents(s.mean[j]), pitch.Cents(1.96 * math.Sqrt(s.cov.At(j, j)))}
		if j >= len(s.slides) {
			n := s.natures[j-len(s.slides)]
			e.Cents += n.theory
			name := fmt.Sprintf("partial %d", n.partial)
			if n.way != "" {
				name = "fingering " + n.way
			}
			out = append(out, Share{Partial: n.partial, Way: n.way, Name: name, Estimate: e, Theory: n.theory})
			continue
		}
		per := slices.Min(s.perMM[j]) // negative: cents per mm where it is felt most
		out = append(out, Share{Slide: s.slides[j].ID, Name: s.slides[j].Name, Estimate: e,
			MM: float64(e.Cents) / -per, MMCI95: float64(e.CI95) / -per})
	}
	return s.day(out)
}

// day takes out of the main slide's share what recent days did not have: the
// player, the room or the instrument today. What recent days did have belongs
// to the slide. Both are normal, so each takes its part by precision.
func (s *system) day(shares []Share) []Share {
	if s.Usual == nil {
		return shares
	}
	for i, sh := range shares {
		if sh.Slide != instrument.Main {
			continue
		}
		d := Estimate{sh.Cents - s.Usual.Cents, pitch.Cents(math.Hypot(float64(sh.CI95), float64(s.Usual.CI95)))}
		shares[i].Estimate = *s.Usual
		per := float64(sh.Cents) / sh.MM
		if sh.MM != 0 {
			shares[i].MM, shares[i].MMCI95 = float64(s.Usual.Cents)/per, float64(s.Usual.CI95)/per
		}
		return append(shares, Share{Name: "the player on the day", Estimate: d})
	}
	return shares
}
