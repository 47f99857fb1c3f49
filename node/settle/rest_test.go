package settle

import (
	"math"
	"math/rand/v2"
	"testing"
)

const tick = 0.01 // seconds

// track is seconds of a pitch path.
func track(seconds float64, cents func(t float64) float64) []float64 {
	x := make([]float64, int(seconds/tick))
	for i := range x {
		x[i] = cents(float64(i) * tick)
	}
	return x
}

// wander is a Gaussian wander of standard deviation sd and time constant tau.
func wander(r *rand.Rand, sd, tau float64) func(float64) float64 {
	keep := math.Exp(-tick / tau)
	v := sd * r.NormFloat64()
	return func(float64) float64 {
		v = keep*v + sd*math.Sqrt(1-keep*keep)*r.NormFloat64()
		return v
	}
}

func TestFind(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	quick := wander(random, 2.4, 0.04)
	for _, tt := range []struct {
		name       string
		cents      func(float64) float64
		rests      bool
		start, end float64 // seconds, at most this early and this late
	}{
		{"still", func(float64) float64 { return 3 }, true, 0, 3},
		{"the wander of real notes", quick, true, 0, 3},
		{"a drift of a cent a second", func(t float64) float64 { return t + quick(t) }, true, 0, 3},
		{"a scoop, then still", func(t float64) float64 { return -200 * math.Exp(-t/0.15) }, true, 0.4, 3},
		{"still, then a fall", func(t float64) float64 { return -300 * max(0, t-2) }, true, 0, 2.1},
		{"a drift of 8 cents a second", func(t float64) float64 { return 8 * t }, false, 0, 0},
		{"stairs of 6 cents, two a second", func(t float64) float64 { return 6 * math.Floor(2*t) }, false, 0, 0},
		{"vibrato", func(t float64) float64 { return 12 * math.Sin(2*math.Pi*5*t) }, true, 0, 3},
	} {
		r, ok := Find(track(3, tt.cents), 0, int(3/tick), tick)
		if ok != tt.rests {
			t.Errorf("%s: rests %v (%+v), want %v", tt.name, ok, r, tt.rests)
		}
		if from, to := float64(r.From)*tick, float64(r.To)*tick; ok && (from < tt.start || to > tt.end+tick) {
			t.Errorf("%s: rests from %.2f to %.2f s, want within %.2f and %.2f", tt.name, from, to, tt.start, tt.end)
		}
	}
}

// The interval of the mean holds the centre of the wander, whatever its time
// constant among those measured, in 95 of 100 stretches.
func TestIntervalHoldsTheCentre(t *testing.T) {
	for _, tau := range []float64{0.03, 0.05, 0.1} {
		for _, seconds := range []float64{1, 3} {
			random := rand.New(rand.NewPCG(7, uint64(1000*tau)))
			held, width := 0, 0.0
			const trials = 1000
			for range trials {
				x := track(seconds, wander(random, 2.4, tau))
				mean := 0.0
				for _, v := range x {
					mean += v / float64(len(x))
				}
				r := Of(x, 0, len(x), tick)
				half := quantile(r.Freedom) * r.Error
				if r.Half() < half {
					t.Fatalf("the interval of the continued note, %.2f, is narrower than that of the mean, %.2f", r.Half(), half)
				}
				width += half / trials
				if math.Abs(mean) <= half {
					held++
				}
			}
			// Three standard deviations of a share of 0.95 in 1000 are 0.02; a wander
			// of 0.1 s is not flat up to a hertz.
			if held < 930 && tau < 0.1 || held < 880 || held > 975 {
				t.Errorf("time constant %g s, %g s: holds %d of %d", tau, seconds, held, trials)
			}
			// The mean of T seconds has the variance 2 s² τ/T (τ small against T).
			if want := 1.96 * 2.4 * math.Sqrt(2*tau/seconds); width < 0.9*want || width > 1.6*want {
				t.Errorf("time constant %g s, %g s: half width %.2f cents, want little more than %.2f", tau, seconds, width, want)
			}
		}
	}
}

// What is measured does not know the reference, and scales with the wander.
func TestLaws(t *testing.T) {
	x := track(2, wander(rand.New(rand.NewPCG(3, 3)), 2, 0.05))
	a := Of(x, 0, len(x), tick)
	for i := range x {
		x[i] = 40 - 3*x[i]
	}
	b := Of(x, 0, len(x), tick)
	if math.Abs(b.Error-3*a.Error) > 1e-9 || math.Abs(b.Moved-3*a.Moved) > 0.05*b.Moved {
		t.Errorf("error %.4f and movement %.3f become %.4f and %.3f, want three times as much", a.Error, a.Moved, b.Error, b.Moved)
	}
}

// The 97.5 % points of Student's t: Abramowitz and Stegun (1964), table 26.10.
func TestQuantile(t *testing.T) {
	for freedom, want := range map[int]float64{4: 2.776, 6: 2.447, 10: 2.228, 14: 2.145, 1000: 1.962} {
		if got := quantile(freedom); math.Abs(got-want) > 0.003*want {
			t.Errorf("%d degrees of freedom: %.4f, want %.3f", freedom, got, want)
		}
	}
}

func TestVibrato(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	sine := func(hz, extent, drift, noise float64) func(float64) float64 {
		return func(t float64) float64 {
			return extent/2*math.Sin(2*math.Pi*hz*t+1) + drift*t + noise*random.NormFloat64()
		}
	}
	for _, tt := range []struct {
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
	} {
		v, ok := VibratoOf(track(2, tt.cents), tick)
		if ok != (tt.hz > 0) {
			t.Errorf("%s: found %v (%+v), want %v", tt.name, ok, v, tt.hz > 0)
		}
		if ok && (math.Abs(v.RateHz-tt.hz) > 0.15 || math.Abs(v.Extent-tt.extent) > 0.1*tt.extent) {
			t.Errorf("%s: %.2f Hz, %.1f cents; want %.2f, %.1f", tt.name, v.RateHz, v.Extent, tt.hz, tt.extent)
		}
	}
}

func TestNowDoesNotAllocate(t *testing.T) {
	x := track(4, func(t float64) float64 { return math.Sin(t) })
	if n := testing.AllocsPerRun(20, func() { Now(x, 0, tick) }); n > 0 {
		t.Errorf("%.1f allocations", n)
	}
}
