package clock

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestOffsetHasItsSign: hub time is node time and the offset, whichever of the two is ahead, and
// the truth lies within the error whatever the two ways took.
func TestOffsetHasItsSign(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, truth := range []float64{-3600, -0.25, 0, 0.25, 86400} {
		var c Clock
		now := 100.0
		quickest := math.Inf(1)
		for range 40 {
			there, back := 0.001+0.05*r.ExpFloat64(), 0.001+0.05*r.ExpFloat64()
			e := Exchange{Sent: now, At: now + there + truth, Received: now + there + back}
			if !c.Add(e) {
				t.Fatalf("%+v is not usable", e)
			}
			now = e.Received + 0.1
			if got := c.Estimate(now); !got.OK || math.Abs(got.Offset-truth) > got.Error {
				t.Fatalf("offset %g is said to be %g ± %g", truth, got.Offset, got.Error)
			}
			quickest = min(quickest, e.RTT())
		}
		got := c.Estimate(now)
		// Of the quickest round trip only that among the last Kept is known.
		if quickest > got.RTT || got.RTT <= 0 || math.IsInf(got.RTT, 0) {
			t.Errorf("the quickest round trip is said to take %g s, of all it was %g", got.RTT, quickest)
		}
		if got.Count != Kept || got.Error > got.RTT/2+DriftPPM*1e-6*20 || c.Steps() != 0 {
			t.Errorf("offset %g: %+v after %d steps; the error is at most half the quickest round trip", truth, got, c.Steps())
		}
	}
}

// TestQuickest is the quickest of the exchanges that are kept, wherever it stands among them.
func TestQuickest(t *testing.T) {
	for place := range 3 {
		var c Clock
		for i := range 3 {
			took := 0.05
			if i == place {
				took = 0.01
			}
			c.Add(Exchange{Sent: float64(i), At: float64(i) + took/2, Received: float64(i) + took})
		}
		if got := c.Estimate(3); math.Abs(got.RTT-0.01) > 1e-12 || math.Abs(got.Error-0.005-DriftPPM*1e-6*(3-float64(place))) > 1e-3 {
			t.Errorf("the quickest is number %d: %+v", place, got)
		}
	}
}

// TestErrorGrowsByDrift: without news the interval grows by DriftPPM on each side, as much for
// a moment before as after.
func TestErrorGrowsByDrift(t *testing.T) {
	var c Clock
	c.Add(Exchange{Sent: 10, At: 15, Received: 10.02})
	at := func(now float64) float64 { return c.Estimate(now).Error }
	if math.Abs(at(10.02)-0.01) > 1e-12 {
		t.Errorf("at once ± %g, want half of 20 ms", at(10.02))
	}
	for _, after := range []float64{30, 600, -30} {
		if want := 0.01 + DriftPPM*1e-6*math.Abs(after); math.Abs(at(10.02+after)-want) > 1e-12 {
			t.Errorf("%g s later ± %g, want %g", after, at(10.02+after), want)
		}
	}
}

// TestDueToTheMoment: a burst until enough are in, then now and then, at the moment and not before.
func TestDueToTheMoment(t *testing.T) {
	var c Clock
	for i := range Kept {
		if c.Due(0, 1e-6-Burst) || !c.Due(0, -Burst) {
			t.Errorf("after %d exchanges it is not due at %g s", i, Burst)
		}
		c.Add(Exchange{Sent: float64(i), At: float64(i), Received: float64(i) + 0.01})
	}
	if c.Due(0, 1e-6-Every) || !c.Due(0, -Every) {
		t.Errorf("aligned, it is not due at %g s", Every)
	}
}

// TestAStepBeginsAnew: what contradicts all that came before drops it, on either side; what lies
// just within the bounds does not.
func TestAStepBeginsAnew(t *testing.T) {
	for _, jump := range []float64{-2, -0.0101, 0.0101, 2} {
		var c Clock
		c.Add(Exchange{Sent: 1, At: 1.005, Received: 1.01})
		c.Add(Exchange{Sent: 1.01, At: 1.015 + jump, Received: 1.02})
		if got := c.Estimate(1.02); c.Steps() != 1 || got.Count != 1 || math.Abs(got.Offset-jump) > 0.006 {
			t.Errorf("a step of %g: %+v, %d steps", jump, got, c.Steps())
		}
	}
	for _, jump := range []float64{-0.009, 0.009} {
		var c Clock
		c.Add(Exchange{Sent: 1, At: 1.005, Received: 1.01})
		c.Add(Exchange{Sent: 1.01, At: 1.015 + jump, Received: 1.02})
		if got := c.Estimate(1.02); c.Steps() != 0 || got.Count != 2 {
			t.Errorf("a difference of %g is taken for a step: %+v", jump, got)
		}
	}
}

// TestWhatIsNoExchange is not taken.
func TestWhatIsNoExchange(t *testing.T) {
	var c Clock
	for _, e := range []Exchange{{math.NaN(), 1, 2}, {1, math.Inf(1), 2}, {1, math.Inf(-1), 2}, {math.Inf(-1), 1, 2}, {1, 1, math.NaN()}, {2, 1, 1}} {
		if c.Add(e) {
			t.Errorf("%+v is taken", e)
		}
	}
	if !c.Add(Exchange{1, 1, 1}) {
		t.Error("an exchange that took no time is not taken")
	}
	if got := c.Estimate(math.NaN()); got.OK || got != (Estimate{}) {
		t.Errorf("at no moment: %+v", got)
	}
	if got := new(Clock).Estimate(1); got.OK {
		t.Errorf("nothing known: %+v", got)
	}
}
