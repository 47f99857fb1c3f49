package estimate

import (
	"math"

	"bellrow/proto/pitch"
)

// Estimate is the pitch of one stretch.
type Estimate struct {
	Hz pitch.Hertz
	// CI95 is the half width of the 95 % interval, in cents.
	CI95 pitch.Cents
	// Second is a second source that the fit found and took out; nil without.
	Second *Second
}

// Second is a second source in the stretch.
type Second struct {
	Offset  pitch.Cents // from the reading
	LevelDB float64     // relative to it, at most 0
}

// jackknifeBlocks is how many time blocks the interval comes from.
const jackknifeBlocks = 4

// Refine measures the pitch of x near the coarse fundamental hz. clockPPM is
// the uncertainty of the sample clock (one standard deviation).
func Refine(x []float64, rate, hz, clockPPM float64) (Estimate, bool) {
	if !(hz >= MinHz/2 && hz < rate/2) {
		return Estimate{}, false
	}
	s, ok := newStretch(x, rate, hz)
	if !ok {
		return Estimate{}, false
	}
	f := s.peak(hz)
	se := s.jackknife(f)
	clock := 1200 / math.Ln2 * clockPPM * 1e-6
	ci := 1.96 * math.Hypot(se, clock)
	if !(f > 0) || math.IsNaN(ci) || math.IsInf(ci, 0) {
		return Estimate{}, false
	}
	return Estimate{Hz: pitch.Hertz(f), CI95: pitch.Cents(ci)}, true
}

// Whole treats all of x as one settled stretch.
func Whole(x []float64, rate, clockPPM float64) (Estimate, bool) {
	hz, ok := CoarseOf(x, rate)
	if !ok {
		return Estimate{}, false
	}
	return Refine(x, rate, hz, clockPPM)
}

// CoarseOf returns the median coarse fundamental of x.
func CoarseOf(x []float64, rate float64) (float64, bool) {
	d := NewDecimator(rate)
	low := make([]float64, 0, len(x)/d.Factor()+1)
	for _, v := range x {
		if y, ok := d.Write(v); ok {
			low = append(low, y)
		}
	}
	c := NewCoarse(rate / float64(d.Factor()))
	var found []float64
	step := max(c.Window()/2, (len(low)-c.Window())/40)
	for at := 0; at+c.Window() <= len(low); at += max(1, step) {
		if hz, clarity, ok := c.Find(low[at : at+c.Window()]); ok && clarity > 0.5 {
			found = append(found, hz)
		}
	}
	if len(found) == 0 {
		return 0, false
	}
	return median(found), true
}

// score is the joint log likelihood Σ w_k |P_k(k f)|², blocks skipped left out.
func (s *stretch) score(f float64, skip int) float64 {
	sum := 0.0
	for i := range s.bands {
		b := &s.bands[i]
		n := len(b.frames)
		p := complex(0, 0)
		if skip < 0 {
			p = b.at(float64(b.k)*f, 0, n)
		} else {
			used := int(s.seconds / b.step)
			from, to := skip*used/jackknifeBlocks, (skip+1)*used/jackknifeBlocks
			p = b.at(float64(b.k)*f, 0, from) + b.at(float64(b.k)*f, to, n)
		}
		sum += b.weight * power(p)
	}
	return sum
}

// lobe is a step well inside the likelihood's main lobe, as a ratio.
func (s *stretch) lobe(f float64) float64 {
	top := float64(s.bands[len(s.bands)-1].k)
	return 0.2 / (top * f * s.seconds)
}

// peak returns the maximum of the likelihood near hz.
func (s *stretch) peak(hz float64) float64 {
	step := s.lobe(hz)
	span := int(math.Ceil((math.Exp2(searchCents/1200.0) - 1) / step))
	best, at := -1.0, hz
	for i := -span; i <= span; i++ {
		f := hz * (1 + float64(i)*step)
		if v := s.score(f, -1); v > best {
			best, at = v, f
		}
	}
	return s.climb(at, -1)
}

// climb refines a maximum by parabolas.
func (s *stretch) climb(f float64, skip int) float64 {
	step := s.lobe(f) * f
	for range 4 {
		a, b, c := s.score(f-step, skip), s.score(f, skip), s.score(f+step, skip)
		d := a - 2*b + c
		if d >= 0 {
			break
		}
		f += step * max(-1, min(1, (a-c)/(2*d)))
		step *= 0.5
	}
	return f
}

// jackknife returns the standard error in cents over time blocks (Efron and
// Tibshirani, An Introduction to the Bootstrap, 1993, chapter 11).
func (s *stretch) jackknife(f float64) float64 {
	var cents [jackknifeBlocks]float64
	mean := 0.0
	for b := range cents {
		cents[b] = float64(pitch.Between(pitch.Hertz(f), pitch.Hertz(s.climb(f, b))))
		mean += cents[b] / jackknifeBlocks
	}
	sum := 0.0
	for _, c := range cents {
		sum += (c - mean) * (c - mean)
	}
	return math.Sqrt(sum * (jackknifeBlocks - 1) / jackknifeBlocks)
}
