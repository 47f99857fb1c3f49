package estimate

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// partialsAt are partials that lie steadily so many cents above the reference, of the
// given powers.
func partialsAt(cents, powers []float64) []partialTrack {
	const frames = 100
	var ps []partialTrack
	for i := range cents {
		p := partialTrack{k: i + 1, z: make([]complex128, frames), cents: make([]float64, frames-1)}
		for m := range p.z {
			p.z[m] = complex(math.Sqrt(powers[i]), 0)
		}
		for m := range p.cents {
			p.cents[m] = cents[i]
		}
		ps = append(ps, p)
	}
	return ps
}

// The centre is the mean of the partial at which half the power is reached from below, and apart
// the way from it to those at 30 and 70 %: counted by hand.
func TestCentreIsTheMedianByPower(t *testing.T) {
	for _, c := range []struct{ cents, powers, want []float64 }{
		{[]float64{7}, []float64{1}, []float64{7, 0}},
		{[]float64{0, 5}, []float64{2, 1}, []float64{0, 5}},
		{[]float64{0, 5}, []float64{8, 1}, []float64{0, 0}},
		{[]float64{5, 0, -4}, []float64{1, 4, 1}, []float64{0, 0}},
		{[]float64{5, 0, -4}, []float64{3, 3, 4}, []float64{0, 4}},
		{[]float64{1, 2, 3, 4, 5}, []float64{1, 1, 1, 1, 1}, []float64{3, 1}},
	} {
		for _, shift := range []float64{0, -20} {
			for _, gain := range []float64{1, 1e-6} {
				cents, powers := slices.Clone(c.cents), slices.Clone(c.powers)
				for i := range cents {
					cents[i] += shift
					powers[i] *= gain
				}
				got, ok := new(reading).pool(partialsAt(cents, powers), 10, 90)
				if !ok || math.Abs(got.centre-shift-c.want[0]) > 1e-9 || math.Abs(got.apart-c.want[1]) > 1e-9 {
					t.Errorf("%v of powers %v: centre %g apart %g (%v), want %v", cents, powers, got.centre, got.apart, ok, c.want)
				}
			}
		}
	}
	if _, ok := new(reading).pool(nil, 10, 90); ok {
		t.Error("a centre of nothing")
	}
}

// The doubt between partials is in proportion to how far they part, goes with the root of their
// number up to four, and is none where they agree; weights are none more than all the others, and alike where all is.
func TestDoubtBetweenPartials(t *testing.T) {
	doubt := func(scale float64, cents ...float64) float64 {
		powers := make([]float64, len(cents))
		for i := range cents {
			cents[i] *= scale
			powers[i] = 1
		}
		got, _ := new(reading).pool(partialsAt(cents, powers), 10, 90)
		return got.separation
	}
	if got := doubt(1, 3, 3, 3); got != 0 {
		t.Errorf("of partials that agree %g", got)
	}
	// Two halves either side by one cent: the median distance is 1, times 1.4826 for a normal distribution.
	for n, want := range map[int]float64{2: 1.4826 / math.Sqrt2, 4: 1.4826 / 2, 8: 1.4826 / 2} {
		cents := make([]float64, n)
		for i := range cents {
			cents[i] = float64(2*(i%2) - 1)
		}
		for _, scale := range []float64{1, 10} {
			if got := doubt(scale, slices.Clone(cents)...); math.Abs(got-scale*want) > 0.02*scale {
				t.Errorf("%d partials, %g cents either side: %g, want %g", n, scale, got, scale*want)
			}
		}
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 200 {
		n := 2 + r.IntN(6)
		means, powers, squares := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range n {
			means[i], powers[i], squares[i] = 10*r.NormFloat64(), math.Exp(4*r.NormFloat64()), r.ExpFloat64()
		}
		weights, mean, _ := weigh(means, powers, squares, means[0])
		all := 0.0
		for _, w := range weights {
			all += w
		}
		if most := slices.Max(weights); most > all/2*(1+1e-12) || slices.Min(weights) <= 0 {
			t.Errorf("weights %v", weights)
		}
		if math.Abs(mean-stat.Mean(means, weights)) > 1e-9 {
			t.Errorf("mean %g is not of its weights", mean)
		}
	}
	if weights, mean, sigma := weigh([]float64{4}, []float64{2}, []float64{1}, 4); !(weights[0] > 0) || mean != 4 || sigma != 0 {
		t.Errorf("one partial: weight %v mean %g spread %g", weights, mean, sigma)
	}
}

// The pitch of a partial is what its phase turns, whole turns of high partials included.
func TestPitchOfAPartial(t *testing.T) {
	const f, frames = 116.5, 200
	s := &sound{tick: 1 / frameRate, frames: frames}
	for _, cents := range []float64{-80, -3, 0, 0.01, 25, 80} {
		var ps []partialTrack
		for _, k := range []int{1, 2, 7, 16} {
			p := partialTrack{k: k, z: make([]complex128, frames)}
			for m := range p.z {
				p.z[m] = cmplx.Rect(1, 2*math.Pi*float64(k)*f*(math.Exp2(cents/1200)-1)*float64(m)*s.tick)
			}
			ps = append(ps, p)
		}
		s.follow(ps, f)
		// Cents are 1200/ln 2 times the share, exact for small ones only.
		want := 1200 / math.Ln2 * (math.Exp2(cents/1200) - 1)
		for _, p := range ps {
			if got := stat.Mean(p.cents, nil); math.Abs(got-want) > 1e-6 {
				t.Errorf("partial %d of %g cents: %g, want %g", p.k, cents, got, want)
			}
		}
	}
}

// What partials stand out: those that are there, no others, the strongest first; none of noise alone.
func TestPartialsStandOut(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for _, hz := range []float64{58.3, 116.5, 233.1, 466.2} {
		x := make([]float64, testRate)
		levels := map[int]float64{1: 0.1, 2: 0.3, 3: 0.05, 5: 0.2}
		for k, a := range levels {
			for i := range x {
				x[i] += a * math.Sin(2*math.Pi*float64(k)*hz*float64(i)/testRate+float64(k))
			}
		}
		for i := range x {
			x[i] += 1e-3 * r.NormFloat64()
		}
		s := newSound(x, testRate)
		var got []int
		for _, p := range s.standingOut(hz, 20, s.frames-20) {
			got = append(got, p.k)
		}
		if !slices.Equal(got, []int{2, 5, 1, 3}) {
			t.Errorf("%g Hz: partials %v stand out, want 2 5 1 3", hz, got)
		}
		for i := range x {
			x[i] = r.NormFloat64()
		}
		s = newSound(x, testRate)
		if got := s.standingOut(hz, 20, s.frames-20); len(got) > 1 {
			t.Errorf("%g Hz: %d partials of noise stand out", hz, len(got))
		}
	}
}

// What a track shows: of a line its slope, 80 % of its range and the RMS of a uniform
// distribution, range/√12.
func TestDescribeALine(t *testing.T) {
	const tick, points = 0.005, 600
	track := make([]float64, points)
	for i := range track {
		track[i] = 40 + 4*float64(i)*tick // 4 cents a second for 3 s
	}
	var e Estimate
	e.describe(track, tick)
	if math.Abs(e.Drift-4) > 1e-9 || math.Abs(float64(e.Spread)-0.8*12) > 0.2 || math.Abs(float64(e.Wander)-12/math.Sqrt(12)) > 0.05 {
		t.Errorf("slope %g, spread %g, wander %g", e.Drift, float64(e.Spread), float64(e.Wander))
	}
}
