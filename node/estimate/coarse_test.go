package estimate

import (
	"math"
	"testing"
)

// The parabola through three points has its peak where arithmetic says, and none where it opens
// upwards or is a line.
func TestPeakOfAParabola(t *testing.T) {
	for _, top := range []float64{-0.5, -0.2, 0, 0.3, 0.5} {
		for _, bend := range []float64{1e-6, 0.3, 40} {
			at := func(x float64) float64 { return 7 - bend*(x-top)*(x-top) }
			if got := peakOffset(at(-1), at(0), at(1)); math.Abs(got-top) > 1e-6 {
				t.Errorf("bend %g, peak at %g: found %g", bend, top, got)
			}
		}
	}
	for _, y := range [][3]float64{{1, 1, 1}, {1, 2, 3}, {2, 1, 2}, {3, 0, 1}} {
		if got := peakOffset(y[0], y[1], y[2]); got != 0 {
			t.Errorf("%v: peak at %g", y, got)
		}
	}
}

// A sine of any pitch in range, up to two fifths of the rate, is found within a few cents, whatever its phase
// and level; what is beyond either end is not.
func TestCoarseFindsSines(t *testing.T) {
	for _, rate := range []float64{8000, 12000, 14700} {
		c := newCoarse(rate)
		x := make([]float64, c.window)
		sine := func(hz, phase, level float64) (float64, float64, bool) {
			for i := range x {
				x[i] = 0.2 + level*math.Sin(2*math.Pi*hz*float64(i)/rate+phase)
			}
			return c.find(x)
		}
		for hz := MinHz * 1.02; hz < math.Min(MaxHz, 0.4*rate); hz *= 1.07 {
			for phase := 0.0; phase < 6; phase++ {
				got, clarity, ok := sine(hz, phase, math.Pow(10, -phase))
				if off := 1200 * math.Log2(got/hz); !ok || math.Abs(off) > 25 || clarity < 0.95 {
					t.Errorf("%g Hz of %g, phase %g: off by %.1f cents, clarity %.3f (%v)", hz, rate, phase, off, clarity, ok)
				}
			}
		}
		for _, hz := range []float64{3, 12, 20} {
			if got, clarity, ok := sine(hz, 1, 1); ok && clarity > leastClarity {
				t.Errorf("%g Hz of %g: found %g, clarity %.2f", hz, rate, got, clarity)
			}
		}
		if hz, _, ok := sine(0, 0, 0); ok || hz != 0 {
			t.Errorf("of a constant %g Hz", hz)
		}
	}
}

// The normalised difference of a periodic sound stands as high at each whole number of
// periods as at one, and low half a period off.
func TestPeriodsExplainASound(t *testing.T) {
	const rate, hz = 12000.0, 233.1
	c := newCoarse(rate)
	x := make([]float64, c.window)
	for i := range x {
		for k := 1.0; k <= 5; k++ {
			x[i] += math.Sin(2*math.Pi*k*hz*float64(i)/rate+k) / k
		}
	}
	_, clarity, ok := c.find(x)
	for n := 1.0; n <= 5; n++ {
		if got := c.at(hz / n); !ok || got < 0.98*clarity {
			t.Errorf("%g periods: %g, at one %g", n, got, clarity)
		}
		if got := c.at(hz / (n + 0.5)); got > 0.5 {
			t.Errorf("%g periods: %g", n+0.5, got)
		}
	}
}

// The smooth number is even, has no prime factor above 5, is not less, and there is none between.
func TestSmooth(t *testing.T) {
	isSmooth := func(n int) bool {
		for _, p := range []int{2, 3, 5} {
			for n%p == 0 {
				n /= p
			}
		}
		return n == 1
	}
	for n := 1; n < 3000; n++ {
		got := smooth(n)
		if got < n || got%2 != 0 || !isSmooth(got) {
			t.Fatalf("%d: %d", n, got)
		}
		for between := n + n%2; between < got; between += 2 {
			if isSmooth(between) {
				t.Fatalf("%d: %d, though %d is smooth", n, got, between)
			}
		}
	}
}

// The decimator passes what is below 4 kHz as it is, a constant exactly, and nothing that would fold
// back below that: -50 dB.
func TestDecimatorPasses(t *testing.T) {
	for _, rate := range []float64{8000, 16000, 44100, 48000, 96000, 192000} {
		d := NewDecimator(rate)
		low := rate / float64(d.Factor())
		if low >= 24000 || low < math.Min(rate, 12000) {
			t.Fatalf("%g Hz: lowered to %g", rate, low)
		}
		gain := func(hz float64) float64 {
			d.Reset()
			sum, n := 0.0, 0
			for i := range int(rate / 4) {
				if y, ok := d.Write(math.Cos(2 * math.Pi * hz * float64(i) / rate)); ok && i > int(rate/50) {
					sum, n = sum+y*y, n+1
				}
			}
			return 10 * math.Log10(sum/float64(n)+1e-30)
		}
		if got := gain(0); math.Abs(got) > 1e-9 {
			t.Errorf("%g Hz: a constant by %g dB", rate, got)
		}
		for hz := 50.0; hz < 0.33*low; hz *= 1.3 {
			if got := gain(hz) + 10*math.Log10(2); math.Abs(got) > 0.3 {
				t.Errorf("%g Hz: %g Hz by %.2f dB", rate, hz, got)
			}
		}
		for hz := 0.67 * low; hz < rate/2; hz *= 1.2 {
			if got := gain(hz) + 10*math.Log10(2); got > -50 {
				t.Errorf("%g Hz: %g Hz by %.1f dB", rate, hz, got)
			}
		}
	}
}
