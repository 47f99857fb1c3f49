package settle

import (
	"math"
	"math/rand/v2"
	"testing"
)

const hops = 100 // per second

// track feeds seconds of a pitch path to a new rule.
func track(seconds float64, cents func(t float64) float64) *Rule {
	r := NewRule(hops, 10)
	r.Reset()
	for i := range int(seconds * hops) {
		r.Add(Point{Cents: cents(float64(i) / hops), Level: -20})
	}
	return r
}

func TestRest(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	tests := []struct {
		name       string
		cents      func(float64) float64
		rested     bool
		start, end float64 // seconds, at most this early and this late
	}{
		{"still", func(float64) float64 { return 3 }, true, 0.12, 3},
		{"noise within the spread", func(float64) float64 { return 1.5 * random.NormFloat64() }, true, 0.12, 3},
		{"noise beyond the spread", func(float64) float64 { return 4 * random.NormFloat64() }, false, 0, 0},
		{"a drift below the limit", func(t float64) float64 { return 1.5 * t }, true, 0.12, 3},
		// The last 5 of the 12 cents of its move count as rest: from 0.975 s on.
		{"a pause, then a longer rest", func(t float64) float64 { return -40 * (max(0, 0.2-t) + min(0.3, max(0, t-0.8))) }, true, 0.97, 3},
		{"a drift beyond the limit", func(t float64) float64 { return 9 * t }, false, 0, 0},
		// e^(-0.55/0.15) of 200 cents are 5 cents: from there on it is within the spread.
		{"a scoop, then still", func(t float64) float64 { return -200 * math.Exp(-t/0.15) }, true, 0.55, 3},
		{"still, then a fall", func(t float64) float64 { return -300 * max(0, t-2) }, true, 0.12, 2.05},
		{"vibrato", func(t float64) float64 { return 12 * math.Sin(2*math.Pi*5*t) }, false, 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := track(3, tt.cents)
			start, end, rested := r.Rest()
			if rested != tt.rested {
				t.Fatalf("rested %v, want %v", rested, tt.rested)
			}
			if !rested {
				return
			}
			if s := float64(start) / hops; s < tt.start-0.02 || s > tt.start+0.3 {
				t.Errorf("rest starts at %.2f s, want %.2f or soon after", s, tt.start)
			}
			if e := float64(end) / hops; e > tt.end+0.03 || e < tt.end-0.35 {
				t.Errorf("rest ends at %.2f s, want %.2f or little before", e, tt.end)
			}
		})
	}
}

func TestPassing(t *testing.T) {
	pause := func(long float64) func(float64) float64 {
		return func(x float64) float64 { return -80 * (min(x, 0.4) + max(0, x-0.4-long)) }
	}
	for _, tt := range []struct {
		name    string
		seconds float64
		cents   func(float64) float64
		want    bool
	}{
		{"a glide that pauses", 2.2, pause(0.6), true},
		{"a glide that rests", 2.2, pause(1.2), false},
		{"a rest to the end", 2.2, pause(9), false},
		{"a glide that stops before the end", 2.2, func(x float64) float64 { return -20 * min(x, 1.6) }, true},
		{"a scoop before a short rest", 0.9, func(x float64) float64 { return 100 * min(x, 0.2) }, false},
	} {
		r := track(tt.seconds, tt.cents)
		if _, _, rested := r.Rest(); !rested {
			t.Fatalf("%s: no rest", tt.name)
		}
		if got := r.Passing(r.Len()); got != tt.want {
			t.Errorf("%s: passing %v, want %v", tt.name, got, tt.want)
		}
	}
}

// A quiet tail is no part of the rest, however steady.
func TestRestNeedsLevel(t *testing.T) {
	r := NewRule(hops, 10)
	r.Reset()
	for i := range 200 {
		level := -20.0
		if i > 30 {
			level = -50
		}
		r.Add(Point{Level: level})
	}
	if _, _, rested := r.Rest(); rested {
		t.Error("a tail 30 dB below the note's peak rested")
	}
}

func TestSlope(t *testing.T) {
	r := track(1, func(t float64) float64 { return 7 * t })
	if got := r.Slope(0, 100); math.Abs(got-7) > 1e-9 {
		t.Errorf("slope %.6f cents/s, want 7", got)
	}
	// Robust: a fifth of wild hops does not move it, as Sen (1968) shows of the
	// full estimator up to 29 %.
	r = track(1, func(t float64) float64 {
		if int(t*hops)%10 == 3 {
			return 500
		}
		return 7 * t
	})
	if got := r.Slope(0, 100); math.Abs(got-7) > 0.5 {
		t.Errorf("slope with wild hops %.3f cents/s, want 7", got)
	}
}

func TestSpreadOfGaussian(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	r := track(10, func(float64) float64 { return random.NormFloat64() })
	// The 10 % point of the normal distribution lies at -1.2816 (Abramowitz and
	// Stegun 1964, table 26.5).
	if got := r.Spread(0, r.Len()); math.Abs(got-2*1.2816) > 0.2 {
		t.Errorf("spread %.3f, want 2.563", got)
	}
}

func TestVibrato(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	sine := func(hz, extent, drift, noise float64) func(float64) float64 {
		return func(t float64) float64 {
			return extent/2*math.Sin(2*math.Pi*hz*t+1) + drift*t + noise*random.NormFloat64()
		}
	}
	tests := []struct {
		name       string
		cents      func(float64) float64
		hz, extent float64 // 0 for none
	}{
		{"slow", sine(3.3, 20, 0, 0.5), 3.3, 20},
		{"as measured on a trombone", sine(4.6, 57, 3, 1), 4.6, 57},
		{"quick", sine(7.8, 30, 0, 1), 7.8, 30},
		{"too small to matter", sine(5, 5, 0, 0.5), 0, 0},
		{"too slow to be vibrato", sine(1.2, 30, 0, 0.5), 0, 0},
		{"noise", sine(5, 0, 0, 8), 0, 0},
		{"a glide", sine(5, 0, 60, 0.5), 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := track(2, tt.cents)
			v, ok := r.Vibrato(12, r.Len())
			if ok != (tt.hz > 0) {
				t.Fatalf("found %v (%+v), want %v", ok, v, tt.hz > 0)
			}
			if !ok {
				return
			}
			if math.Abs(v.RateHz-tt.hz) > 0.15 || math.Abs(v.Extent-tt.extent) > 0.1*tt.extent {
				t.Errorf("%.2f Hz, %.1f cents; want %.2f, %.1f", v.RateHz, v.Extent, tt.hz, tt.extent)
			}
			whole := float64(v.Cycles) / hops * v.RateHz
			if math.Abs(whole-math.Round(whole)) > 0.05 {
				t.Errorf("%d hops hold %.3f cycles, want a whole number", v.Cycles, whole)
			}
		})
	}
}

func TestAddDoesNotAllocate(t *testing.T) {
	r := NewRule(hops, 60)
	r.Reset()
	if n := testing.AllocsPerRun(500, func() { r.Add(Point{Cents: 1, Level: -20}) }); n > 0 {
		t.Errorf("%.1f allocations per hop", n)
	}
}
