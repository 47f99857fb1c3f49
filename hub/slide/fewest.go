package slide

import (
	"math"
	"slices"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// moveCost is what naming one more slide must gain, in squared cents per note
// of mean squared error left: a move worth less than the dead band is noise.
const moveCost = float64(DeadBand * DeadBand)

// plan is one set of moves and what it leaves.
type plan struct {
	steps  []Step
	fits   []Fit
	inside bool    // every believed note is within tolerance
	cost   float64 // mean squared error left, and moveCost for each step
	short  float64 // mm that the main slide cannot give, without sign
	out    bool    // towards its outer end
}

// fewest finds the smallest set of slides whose best moves bring every
// believed note within tolerance; when none does, the set that leaves least,
// counting a cost for each slide named. Where the main slide does not reach, it
// goes as far as it can, and no valve slide makes up for it.
func (s *system) fewest(none plan) plan {
	if p, short := s.mainAtEnd(); short {
		return p
	}
	best := none
	for size := 1; size <= min(maxMoves, len(s.wrong)) && !best.inside; size++ {
		for _, of := range subsets(len(s.wrong), size) {
			set := make([]int, len(of))
			for i, k := range of {
				set[i] = s.wrong[k]
			}
			p := s.try(set)
			if p.inside && !best.inside || p.inside == best.inside && p.cost < best.cost {
				best = p
			}
		}
	}
	if none.left()-best.left() < leastGain {
		return none
	}
	return best
}

// sureOfSlide is by how many standard deviations a valve slide must be out to be
// moved: four times in five it then is.
const sureOfSlide = 1.28

// findWrong lists the slides that may be moved: those that carry a whole side, and
// valve slides that are out beyond their doubt.
func (s *system) findWrong() []int {
	var js []int
	for j := range s.slides {
		if s.priors[j] == mainPrior || math.Abs(s.mean[j]) > sureOfSlide*math.Sqrt(s.cov.At(j, j)) {
			js = append(js, j)
		}
	}
	return js
}

// mainAtEnd is the plan of the main slide alone, when the notes want it beyond
// its limits.
func (s *system) mainAtEnd() (plan, bool) {
	j := slices.IndexFunc(s.slides, func(sl instrument.Slide) bool { return sl.ID == instrument.Main })
	if j < 0 || s.Instrument.Double {
		return plan{}, false // a horn has its sides' slides
	}
	want := s.best(j, nil, nil)
	lo, hi := s.limits(j)
	if want >= lo-0.5 && want <= hi+0.5 {
		return plan{}, false
	}
	p := s.try([]int{j})
	p.short = math.Abs(want - s.clampWhole(j, want))
	p.out = want > 0
	return p, true
}

// left is the root mean square of the errors that a plan leaves, in cents.
func (p plan) left() float64 { return math.Sqrt(p.cost - moveCost*float64(len(p.steps))) }

// subsets lists the subsets of 0..n-1 of a size, in order.
func subsets(n, size int) [][]int {
	if size == 0 {
		return [][]int{nil}
	}
	var out [][]int
	for first := range n {
		for _, rest := range subsets(n-first-1, size-1) {
			set := []int{first}
			for _, r := range rest {
				set = append(set, first+1+r)
			}
			out = append(out, set)
		}
	}
	return out
}

// leastGain is what a plan must bring in cents of mean error: under a cent is
// none, and the slides stay.
const leastGain = 1.0

// target is what slides should take away from a note: what those that are wrong
// put it off by. Theory, and each instrument's departure from it, belong to none.
func (s *system) target(i int) float64 {
	x := 0.0
	for _, j := range s.wrong {
		x += s.a.At(i, j) * s.mean[j]
	}
	return x
}

// moves finds the best whole-millimetre moves of a set of slides within their
// limits: weighted least squares by coordinate descent with clamping, which
// for a convex quadratic over a box reaches the minimum.
func (s *system) moves(set []int) []float64 {
	mm := make([]float64, len(set))
	const sweeps = 60
	for range sweeps {
		change := 0.0
		for a, j := range set {
			v := s.clamp(j, s.best(j, set, mm))
			change = math.Max(change, math.Abs(v-mm[a]))
			mm[a] = v
		}
		if change < 0.01 {
			break
		}
	}
	for a, j := range set {
		mm[a] = s.clampWhole(j, mm[a])
	}
	return mm
}

// best is the travel of slide j that leaves least, the others of a set standing
// where they are.
func (s *system) best(j int, set []int, mm []float64) float64 {
	num, den := 0.0, 0.0
	for i := range s.offsets {
		w := s.weight[i] / (s.sd[i] * s.sd[i])
		r := s.targets[i]
		for b, k := range set {
			if k != j {
				r += s.perMM[k][i] * mm[b]
			}
		}
		num -= w * s.perMM[j][i] * r
		den += w * s.perMM[j][i] * s.perMM[j][i]
	}
	return num / den
}

func (s *system) limits(j int) (lo, hi float64) {
	return Lever{Slide: s.slides[j], At: s.Instrument.MM(s.Settings, s.slides[j].ID)}.Room()
}

func (s *system) clamp(j int, mm float64) float64 {
	lo, hi := s.limits(j)
	return math.Max(lo, math.Min(hi, mm))
}

func (s *system) clampWhole(j int, mm float64) float64 {
	lo, hi := s.limits(j)
	return math.Max(math.Ceil(lo), math.Min(math.Floor(hi), math.Round(mm)))
}

// steps names the slides that really move.
func (s *system) steps(set []int, mm []float64) []Step {
	var out []Step
	for a, j := range set {
		if mm[a] == 0 {
			continue
		}
		sl := s.slides[j]
		from := s.Instrument.MM(s.Settings, sl.ID)
		most := 0.0
		for _, c := range s.perMM[j] {
			if math.Abs(c) > math.Abs(most) {
				most = c
			}
		}
		out = append(out, Step{Slide: sl.ID, Name: sl.Name, FromMM: from, ToMM: from + mm[a], TravelMM: sl.TravelMM, Expected: pitch.Cents(most * mm[a])})
	}
	return out
}

// try tells where the notes end up with the best moves of a set of slides.
func (s *system) try(set []int) plan {
	mm := s.moves(set)
	p := plan{steps: s.steps(set, mm), inside: true}
	p.cost = moveCost * float64(len(p.steps))
	for i, h := range s.used {
		change := 0.0
		for a, j := range set {
			change += s.perMM[j][i] * mm[a]
		}
		left := s.targets[i] + change
		tolerance := math.Max(float64(max(DeadBand, s.Good)), float64(h.Reading.CI95))
		if math.Abs(left) > tolerance && s.weight[i] > believed {
			p.inside = false
		}
		p.cost += s.weight[i] * left * left / float64(len(s.used))
		p.fits = append(p.fits, Fit{Note: h.Note, Path: s.paths[i], Offset: pitch.Cents(s.offsets[i]), After: pitch.Cents(s.offsets[i] + change),
			Weight: s.belief(i), Theory: s.Instrument.Tendency(s.paths[i])})
	}
	return p
}

// belief is the least weight that a note or its partial was given.
func (s *system) belief(i int) float64 {
	w := s.weight[i]
	for j, a := range s.a.RawRowView(i)[len(s.slides):] {
		if a != 0 {
			w = math.Min(w, s.tail[len(s.slides)+j])
		}
	}
	return w
}

// believed is the Huber weight below which a note no longer decides whether
// the moves are enough.
const believed = 0.5

// advise makes an answer of the moves.
func (s *system) advise(p plan) Advice {
	a := Advice{Kind: Move, Code: "move", Steps: p.steps, Facts: Facts{
		Instrument: s.Instrument.ID, Transposition: s.Instrument.Transposition, Notes: len(s.used), Order: s.HornOrder,
	}}
	main, _ := s.Instrument.Slide(instrument.Main)
	a.Facts.Main = main.Name
	switch {
	case p.short > 0:
		s.atEnd(&a, p, main)
	case len(p.steps) == 0 && p.inside:
		a.Kind, a.Code = Stay, "all-in-band"
	case len(p.steps) == 0 && !s.tells():
		a.Kind, a.Code = Stay, "none-tells"
		a.Facts.Telling = s.telling()
	case len(p.steps) == 0:
		a.Kind, a.Code = Stay, "no-move-helps"
	}
	return a
}

// telling lists notes that would tell and were not heard.
func (s *system) telling() []pitch.Note {
	return slices.DeleteFunc(s.Instrument.Telling(), func(n pitch.Note) bool {
		return slices.ContainsFunc(s.used, func(h Heard) bool { return h.Note == n })
	})
}

// atEnd tells what a main slide needs that does not reach.
func (s *system) atEnd(a *Advice, p plan, main instrument.Slide) {
	a.Code = "limit"
	a.Facts.Telling = s.telling()
	a.Facts.Slide, a.Facts.Out, a.Facts.NeedMM = main, p.out, p.short
	a.Facts.Measured = s.Travel[instrument.Main] > 0
	_, a.Facts.Placed = s.Settings[instrument.Main]
	if len(p.steps) == 0 {
		a.Kind = Nothing
		return
	}
	st := &a.Steps[0]
	a.Facts.NeedMM += math.Abs(st.MM())
	st.ShortMM, st.ShortBy = p.short, pitch.Cents(float64(st.Expected)/st.MM()*math.Copysign(p.short, st.MM()))
}
