package estimate

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"
)

// ahead is a note of some partials that jumps ahead by so many turns at some frames; by each
// partial's own where apart is set.
func ahead(partials int, hz, turns float64, apart bool, at ...int) *reading {
	const frames, tick = 300, 1 / frameRate
	n := &reading{sound: &sound{frames: frames, tick: tick}, hz: hz, from: 0, to: frames}
	r := rand.New(rand.NewPCG(uint64(partials), 3))
	for k := 1; k <= partials; k++ {
		p := partialTrack{k: k, z: make([]complex128, frames), cents: make([]float64, frames-1)}
		own, shift, next := 2*math.Pi*r.Float64(), 0.0, 0
		for m := range p.z {
			if next < len(at) && m == at[next] {
				next++
				if shift += float64(k) * turns; apart {
					shift += r.Float64()
				}
			}
			p.z[m] = cmplx.Rect(1/float64(k), own+2*math.Pi*shift) // about its own frequency
		}
		n.partials = append(n.partials, p)
	}
	// The sound itself, in which the partials jump together.
	n.rate, n.track = 12000, make([]float64, frames-1)
	n.x = make([]float64, int(frames*tick*n.rate))
	for i := range n.x {
		s := float64(i) / n.rate
		cycles := hz * s
		for _, m := range at {
			if s >= (float64(m)-0.5)*tick {
				cycles += turns
			}
		}
		for k := 1; k <= partials; k++ {
			n.x[i] += math.Cos(2*math.Pi*float64(k)*cycles) / float64(k)
		}
	}
	return n
}

// TestAJumpIsALoss: of all partials together, ahead or behind by more than the pitch may be in doubt;
// not by less, not of one partial alone, and not each by its own.
func TestAJumpIsALoss(t *testing.T) {
	const at = 150
	for _, hz := range []float64{58.3, 116.5, 233.1} {
		doubt := lostTurns + hz*2*lossAside/frameRate*lossDoubt*math.Ln2/1200
		for turns := -0.48; turns <= 0.481; turns += 0.04 {
			far := math.Abs(turns)
			if math.Abs(far-doubt) < 0.011 || far > 0.46 { // too near to either bound to say
				continue
			}
			for _, partials := range []int{3, 6} {
				n := ahead(partials, hz, turns, false, at)
				want := far > doubt
				if got := n.jumps(at); got != want {
					t.Errorf("%g Hz, %d partials, %.2f turns: a loss %v, want %v", hz, partials, turns, got, want)
				}
				if n.jumps(at-3*lossAside) || n.jumps(at+3*lossAside) {
					t.Errorf("%g Hz, %.2f turns: a loss beside it", hz, turns)
				}
			}
		}
		if ahead(1, hz, 0.3, false, at).jumps(at) {
			t.Errorf("%g Hz: of one partial a loss", hz)
		}
		if ahead(6, hz, 0, true, at).jumps(at) {
			t.Errorf("%g Hz: each partial its own way, and a loss", hz)
		}
	}
}

// TestLossesAreCounted: each once, those at least so far apart that they can be told.
func TestLossesAreCounted(t *testing.T) {
	for _, at := range [][]int{nil, {150}, {60, 120, 180, 240}, {40, 80, 120, 160, 200, 240}} {
		if got := ahead(6, 116.5, 0.3, false, at...).losses(); got != len(at) {
			t.Errorf("jumps at %v: %d losses", at, got)
		}
	}
	n := ahead(6, 116.5, 0.3, false, 60, 240)
	for _, c := range []struct{ from, to, want int }{{0, 300, 2}, {100, 300, 1}, {0, 200, 1}, {100, 200, 0}} {
		n.from, n.to = c.from, c.to
		if got := n.losses(); got != c.want {
			t.Errorf("in frames %d to %d: %d losses, want %d", c.from, c.to, got, c.want)
		}
	}
}

// TestTheSoundingPart: the longest run within activeDB of what is loud, however loud that is; what
// is softer parts it; of silence there is none.
func TestTheSoundingPart(t *testing.T) {
	const rate = 8000
	of := func(gain float64, parts ...[2]float64) (from, to float64) { // seconds and dB
		s := &sound{rate: rate}
		for _, p := range parts {
			for range int(p[0]*rate + 0.5) {
				s.x = append(s.x, gain*math.Pow(10, p[1]/20))
			}
		}
		return s.active()
	}
	for _, c := range []struct {
		parts    [][2]float64
		from, to float64
	}{
		{[][2]float64{{1, 0}}, 0, 1},
		{[][2]float64{{0.5, -80}, {1, 0}, {0.5, -80}}, 0.5, 1.5},
		{[][2]float64{{0.5, -19}, {1, 0}, {0.5, -21}}, 0, 1.5},
		{[][2]float64{{0.6, 0}, {0.1, -40}, {0.9, 0}}, 0.7, 1.6},
		{[][2]float64{{0.9, 0}, {0.1, -40}, {0.6, 0}}, 0, 0.9},
		{[][2]float64{{1, -10}, {0.05, 0}, {1, -10}}, 0, 2.05}, // one loud moment is not the loud part
		{[][2]float64{{0.5, 0}, {0.1, -40}, {0.5, 0}}, 0, 0.5}, // of two the first
	} {
		for _, gain := range []float64{1, 1e-3, 30} {
			from, to := of(gain, c.parts...)
			if math.Abs(from-c.from) > 1e-9 || math.Abs(to-c.to) > 1e-9 {
				t.Errorf("%v times %g: from %g to %g, want %g to %g", c.parts, gain, from, to, c.from, c.to)
			}
		}
	}
	if from, to := of(1); from != 0 || to != 0 {
		t.Errorf("of nothing %g to %g", from, to)
	}
	if from, to := of(0, [2]float64{1, 0}); from != 0 || to != 0 {
		t.Errorf("of silence %g to %g", from, to)
	}
}
