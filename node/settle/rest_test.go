package settle

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"
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

// flicker is a noise whose density falls with the frequency: first-order noises of
// equal power, their time constants an octave apart (van der Ziel, Physica 16
// (1950), 359).
func flicker(r *rand.Rand) func(float64) float64 {
	var parts []func(float64) float64
	for tau := 0.02; tau < 40; tau *= 2 {
		parts = append(parts, wander(r, 1, tau))
	}
	return func(t float64) float64 {
		sum := 0.0
		for _, p := range parts {
			sum += p(t)
		}
		return sum
	}
}

// walk is a random walk by two cents in a second.
func walk(r *rand.Rand) func(float64) float64 {
	at := 0.0
	return func(t float64) float64 {
		at += 2 * math.Sqrt(tick) * r.NormFloat64()
		return at
	}
}

// One stretch of a note says where the centre of the next lies in 95 of 100 of
// players of whom one in three walks, and not by being wide beyond need; of what
// lies between white and a walk it says it in nearly nine of ten.
func TestStretchPredictsTheNext(t *testing.T) {
	white := func(r *rand.Rand) func(float64) float64 { return wander(r, 2.4, 0.03+0.03*r.Float64()) }
	for _, tt := range []struct {
		name    string
		least   int // of 999
		players [3]func(r *rand.Rand) func(float64) float64
	}{
		// Three standard deviations of a share of 0.95 in 1000 are 0.02.
		{"all sorts", 910, [3]func(r *rand.Rand) func(float64) float64{white, white, walk}},
		{"flicker", 850, [3]func(r *rand.Rand) func(float64) float64{flicker, flicker, flicker}},
	} {
		for _, seconds := range []float64{0.6, 1.5, 3} {
			random := rand.New(rand.NewPCG(7, 9))
			held, square, width := 0, 0.0, 0.0
			const trials = 999
			for i := range trials {
				x := track(2*seconds, tt.players[i%3](random))
				n := len(x) / 2
				r := Of(x, 0, n, tick)
				step := stat.Mean(x[n:], nil) - stat.Mean(x[:n], nil)
				square += step * step / trials
				width += r.Half / trials
				if math.Abs(step) <= r.Half {
					held++
				}
			}
			if held < tt.least {
				t.Errorf("%s, %g s: holds %d of %d", tt.name, seconds, held, trials)
			}
			if want := 1.96 * math.Sqrt(square); width > 2*want {
				t.Errorf("%s, %g s: half width %.2f cents, %.2f would do", tt.name, seconds, width, want)
			}
		}
	}
}

// What is measured does not know the reference. Movement scales with the wander; the
// interval does where that is small, and as its root where it is large: much of what is
// far from what players do is chance.
func TestLaws(t *testing.T) {
	x := track(2, wander(rand.New(rand.NewPCG(3, 3)), 2, 0.05))
	scaled := func(by float64) Rest {
		y := make([]float64, len(x))
		for i := range x {
			y[i] = 40 - by*x[i]
		}
		return Of(y, 0, len(y), tick)
	}
	a, b := Of(x, 0, len(x), tick), scaled(3)
	if math.Abs(b.Moved-3*a.Moved) > 0.05*b.Moved {
		t.Errorf("movement %.3f becomes %.3f, want three times as much", a.Moved, b.Moved)
	}
	for _, tt := range []struct{ from, to, power float64 }{{0.01, 0.02, 1}, {30, 120, 0.5}} {
		low, high := scaled(tt.from).Half, scaled(tt.to).Half
		if want := math.Pow(tt.to/tt.from, tt.power); math.Abs(high/low/want-1) > 0.08 {
			t.Errorf("interval %.4f becomes %.4f, want %.2f times as much", low, high, want)
		}
	}
	before := 0.0
	for by := 0.01; by < 50; by *= 1.3 {
		if r := scaled(by); !r.Sways() {
			if r.Half <= before {
				t.Errorf("interval %.4f after %.4f of a steadier note", r.Half, before)
			}
			before = r.Half
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
