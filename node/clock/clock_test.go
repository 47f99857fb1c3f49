package clock

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// network makes exchanges with a hub whose clock is offset ahead.
type network struct {
	rng      *rand.Rand
	offset   float64
	up, down func(*rand.Rand) float64 // one-way delays, seconds
	ppm      float64                  // hub clock over node clock
}

func (n network) exchange(sent float64) Exchange {
	up, down := n.up(n.rng), n.down(n.rng)
	hub := func(t float64) float64 { return t*(1+n.ppm*1e-6) + n.offset }
	return Exchange{Sent: sent, At: hub(sent + up), Received: sent + up + down}
}

func fixed(ms float64) func(*rand.Rand) float64 {
	return func(*rand.Rand) float64 { return ms / 1000 }
}

func jitter(ms, mean float64) func(*rand.Rand) float64 {
	return func(r *rand.Rand) float64 { return (ms + mean*r.ExpFloat64()) / 1000 }
}

// quiet is what the project asks of a quiet network: 5 ms.
const quiet = 0.005

func TestOffset(t *testing.T) {
	for name, tt := range map[string]struct {
		up, down func(*rand.Rand) float64
		ppm      float64
		within   float64 // of the true offset, in the median
		stated   float64 // largest error that may be stated, in the median
	}{
		"loopback":         {fixed(0.05), fixed(0.05), 0, 0.0001, 0.0002},
		"quiet network":    {jitter(1, 0.5), jitter(1, 0.5), 0, 0.0005, quiet},
		"busy radio":       {jitter(3, 10), jitter(3, 10), 0, 0.002, 0.01},
		"slow up":          {jitter(3, 30), jitter(3, 3), 0, 0.003, 0.01},
		"hidden asymmetry": {fixed(20), fixed(4), 0, 0.0081, 0.0121},
		"drifting clocks":  {jitter(1, 0.5), jitter(1, 0.5), 100, 0.001, quiet},
	} {
		t.Run(name, func(t *testing.T) {
			var off, stated []float64
			for seed := range uint64(200) {
				n := network{rand.New(rand.NewPCG(seed, 1)), 1234.5, tt.up, tt.down, tt.ppm}
				var c Clock
				now := 10.0
				for range Kept {
					e := n.exchange(now)
					if !c.Add(e) {
						t.Fatal("a good exchange was refused")
					}
					now = e.Received + Burst
				}
				got := c.Estimate(now)
				truth := 1234.5 + now*tt.ppm*1e-6
				d := math.Abs(got.Offset - truth)
				if !got.OK || d > got.Error+1e-9 {
					t.Fatalf("seed %d: offset is off by %.4f s, stated %.4f s", seed, d, got.Error)
				}
				if got.Error > got.RTT/2+DriftPPM*1e-6*(now-10)+1e-9 {
					t.Errorf("seed %d: stated %.4f s is more than half the lowest round trip %.4f s", seed, got.Error, got.RTT)
				}
				off, stated = append(off, d), append(stated, got.Error)
			}
			slices.Sort(off)
			slices.Sort(stated)
			if m := off[100]; m > tt.within {
				t.Errorf("median offset error %.5f s, want at most %.5f", m, tt.within)
			}
			if m := stated[100]; m > tt.stated {
				t.Errorf("median stated error %.5f s, want at most %.5f", m, tt.stated)
			}
		})
	}
}

func TestErrorGrowsWithAge(t *testing.T) {
	var c Clock
	c.Add(Exchange{Sent: 0, At: 5.001, Received: 0.002})
	young, old := c.Estimate(0.002), c.Estimate(600)
	if grown := old.Error - young.Error; math.Abs(grown-DriftPPM*1e-6*600) > 1e-4 {
		t.Errorf("error grew by %.4f s in ten minutes, want %.4f", grown, DriftPPM*1e-6*600)
	}
}

func TestClockStep(t *testing.T) {
	n := network{rand.New(rand.NewPCG(1, 1)), 7, jitter(1, 1), jitter(1, 1), 0}
	var c Clock
	for i := range 20 {
		c.Add(n.exchange(float64(i)))
	}
	n.offset = 3607 // the laptop slept
	c.Add(n.exchange(21))
	if got := c.Estimate(21.01); math.Abs(got.Offset-3607) > got.Error || got.Count != 1 || c.Steps() != 1 {
		t.Errorf("after a step: %+v, steps %d; want the new offset from one exchange", got, c.Steps())
	}
}

func TestRefusals(t *testing.T) {
	var c Clock
	if got := c.Estimate(1); got.OK || got.Error != 0 {
		t.Errorf("nothing known, yet %+v", got)
	}
	for name, e := range map[string]Exchange{
		"NaN":      {math.NaN(), 1, 2},
		"infinite": {1, math.Inf(1), 2},
		"backward": {2, 1, 1},
	} {
		if c.Add(e) {
			t.Errorf("%s exchange was taken", name)
		}
	}
	if c.Estimate(1).OK {
		t.Error("refused exchanges must leave nothing")
	}
}

func TestDue(t *testing.T) {
	var c Clock
	if !c.Due(1, 1-2*Burst) || c.Due(1, 1) {
		t.Error("while filling, a ping is due every Burst")
	}
	for i := range Kept {
		c.Add(Exchange{float64(i), float64(i), float64(i)})
	}
	if c.Due(20, 19) || !c.Due(20+Every, 20) {
		t.Error("once filled, a ping is due every Every seconds")
	}
}
