package estimate

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// partials makes a tone of partials from first on.
func partials(hz float64, first, last int) []float64 {
	x := make([]float64, testRate)
	for k := first; k <= last; k++ {
		for i := range x {
			x[i] += 0.1 * math.Sin(2*math.Pi*float64(k)*hz*float64(i)/testRate+float64(k*k))
		}
	}
	return x
}

func TestMissingFundamental(t *testing.T) {
	for _, tt := range []struct {
		hz          float64
		first, last int
	}{{58.3, 4, 12}, {116.5, 3, 9}, {174.6, 2, 7}, {233.1, 2, 6}, {43.7, 7, 16}} {
		e, ok := Whole(partials(tt.hz, tt.first, tt.last), testRate, Options{})
		if off := float64(pitch.Between(pitch.Hertz(tt.hz), e.Hz)); !ok || math.Abs(off) > 0.01 {
			t.Errorf("%g Hz from partial %d: read %.3f Hz (%v)", tt.hz, tt.first, float64(e.Hz), ok)
		}
	}
}

func TestStrongestPartialIsTheNinth(t *testing.T) {
	x := partials(65.4, 1, 12)
	for i := range x {
		x[i] += 0.8 * math.Sin(2*math.Pi*9*65.4*float64(i)/testRate)
	}
	e, ok := Whole(x, testRate, Options{})
	if off := float64(pitch.Between(65.4, e.Hz)); !ok || math.Abs(off) > 0.01 {
		t.Errorf("read %.3f Hz (%v), want 65.4", float64(e.Hz), ok)
	}
}

func TestStrings(t *testing.T) {
	for _, tt := range []struct {
		name string
		b    float64
		want bool
	}{{"lip-driven", 0, false}, {"a grand piano in the middle", 4e-4, true}, {"a low piano string", 1.2e-4, true}} {
		x := make([]float64, testRate)
		for k := 1.0; k <= 12; k++ {
			f := 196 * k * math.Sqrt(1+tt.b*k*k)
			for i := range x {
				s := float64(i) / testRate
				x[i] += 0.2 / k * math.Exp(-s*(0.5+0.2*k)) * math.Sin(2*math.Pi*f*s+k)
			}
		}
		if e, ok := Whole(x, testRate, Options{}); !ok || e.Stringy != tt.want {
			t.Errorf("%s: stringy %v (%v), want %v", tt.name, e.Stringy, ok, tt.want)
		}
	}
}

// The mean over whole cycles of a vibrato is its middle, not a weighted one.
func TestVibratoMean(t *testing.T) {
	tn, err := tone.New(tone.Config{Rate: testRate, F0: 220, Level: -20, Voice: tone.Horn, VibratoHz: 4, VibratoCents: 40})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, testRate)
	tn.Read(x)
	e, ok := Whole(x, testRate, Options{Call: 220.4})
	truth, _ := tn.Truth(int64(e.From*testRate), int64(e.To*testRate))
	if off := float64(pitch.Between(truth, e.Hz)); !ok || math.Abs(off) > 0.02 {
		t.Errorf("off by %.4f cents (%v)", off, ok)
	}
	if want := 20 / math.Sqrt2; math.Abs(float64(e.Wander)-want) > 1 {
		t.Errorf("wander %.2f cents rms, want %.2f", float64(e.Wander), want)
	}
}

// A quieter neighbour who owns the upper partials does not pull the pitch beyond the
// interval, nor by a third of the way.
func TestBrightNeighbour(t *testing.T) {
	make1 := func(hz pitch.Hertz, level pitch.Level, brightness float64, seed uint64) []float64 {
		tn, err := tone.New(tone.Config{Rate: testRate, F0: hz, Level: level, Voice: tone.Trombone, Brightness: brightness, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, 2*testRate)
		tn.Read(x)
		return x
	}
	for _, cents := range []float64{-15, -8, -3, 3, 8, 15} {
		const own = pitch.Hertz(174.6)
		x := make1(own, -20, -0.8, 1)
		for i, v := range make1(own.Shift(pitch.Cents(cents)), -28, 1, 2) {
			x[i] += v
		}
		e, ok := Whole(x, testRate, Options{})
		if off := math.Abs(float64(pitch.Between(own, e.Hz))); !ok || off > float64(e.CI95) || off > math.Abs(cents)/3 {
			t.Errorf("neighbour at %+g: off by %.4f cents ± %.4f (%v)", cents, off, float64(e.CI95), ok)
		}
	}
}

func TestClockWidensInterval(t *testing.T) {
	x := partials(220, 1, 8)
	e, ok := Whole(x, testRate, Options{ClockPPM: 100})
	// 100 ppm are 0.1731 cents: 1200 log2(1.0001).
	if want := 1.96 * 0.1731; !ok || math.Abs(float64(e.CI95)-want) > 0.002 {
		t.Errorf("interval %.4f, want %.4f", float64(e.CI95), want)
	}
}

func TestNoEstimate(t *testing.T) {
	for name, x := range map[string][]float64{
		"nothing": nil, "silence": make([]float64, testRate), "too short": partials(100, 1, 5)[:1000],
	} {
		if e, ok := Whole(x, testRate, Options{}); ok || e.Hz != 0 {
			t.Errorf("%s: %+v", name, e)
		}
	}
	if _, ok := Whole(make([]float64, testRate), testRate, Options{Call: pitch.Hertz(math.NaN())}); ok {
		t.Error("refined near NaN")
	}
}
