package estimate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// The range of synthetic tones: the pedal B flat of a BBb tuba to two octaves
// above the middle of a trumpet.
const (
	lowestTone  = 29.0
	highestTone = 1000.0
)

// toneLevel leaves room for noise below full scale.
const toneLevel = -20

// steadyTones makes n tones of exactly constant pitch, log-spaced with random
// spacing, all voices in turn, in white noise snrDB below them. Infinite snrDB
// is none.
func steadyTones(n int, seconds, snrDB float64, seed uint64) []segment {
	random := rand.New(rand.NewPCG(seed, 1))
	out := make([]segment, n)
	for i := range out {
		hz := lowestTone * math.Pow(highestTone/lowestTone, (float64(i)+random.Float64())/float64(n))
		c := tone.Config{
			Rate: rate, F0: pitch.Hertz(hz), Level: toneLevel, Seed: seed*1000 + uint64(i),
			Voice:      tone.Voice(1 + i%5),
			Brightness: 2*random.Float64() - 1,
		}
		t := mustTone(c)
		x := make([]float64, int(seconds*rate))
		t.Read(x)
		noise := math.Pow(10, (toneLevel-snrDB)/20) / math.Sqrt2
		if noise > 0 {
			for j := range x {
				x[j] += noise * random.NormFloat64()
			}
		}
		out[i] = segment{
			name: fmt.Sprintf("%.1f Hz, voice %d", hz, c.Voice), samples: x, truth: c.F0,
			bound: bound(t.Amplitudes(), noise, len(x), hz),
		}
	}
	return out
}

// mustTone makes a tone whose configuration this package wrote.
func mustTone(c tone.Config) *tone.Tone {
	t, err := tone.New(c)
	if err != nil {
		panic("accuracy: " + err.Error())
	}
	return t
}

// bound is the Cramér–Rao bound on the standard deviation of the pitch of a
// harmonic tone with partial amplitudes a in white noise of standard deviation
// s, in cents: var ω = 24 s² / (n (n² - 1) Σ k² a_k²), the harmonic form of
// Rife and Boorstyn (1974), eq. 17.
func bound(a []float64, s float64, n int, hz float64) float64 {
	sum := 0.0
	for i, v := range a {
		k := float64(i + 1)
		sum += k * k * v * v
	}
	m := float64(n)
	omega := math.Sqrt(24 * s * s / (m * (m*m - 1) * sum))
	return 1200 / math.Ln2 * omega * rate / (2 * math.Pi) / hz
}

func (r *run) clean(ctx context.Context) error {
	_, err := r.measure(ctx, "steady tone, clean, 1 s", "worst 0.001", steadyTones(r.n, 1, math.Inf(1), 1))
	return err
}

func (r *run) noise(ctx context.Context) error {
	cases := []struct {
		seconds, snr float64
		target       string
	}{
		{1, 20, "95 % 0.003, rms 1.3 x bound"},
		{0.5, 20, "95 % 0.010, rms 1.3 x bound"},
		{1, 10, "95 % 0.010, rms 1.3 x bound"},
		{0.5, 10, "-"},
		{1, 0, "-"},
	}
	var c coverage
	for i, k := range cases {
		segments := steadyTones(r.n, k.seconds, k.snr, uint64(10+i))
		what := fmt.Sprintf("steady tone, %g dB SNR, %g s", k.snr, k.seconds)
		own, err := r.measure(ctx, what, k.target, segments)
		if err != nil {
			return err
		}
		c.add(own)
		r.table.figure("  bound on the 95th percentile, this case", cents(boundQuantile(segments)), "-")
	}
	r.table.figure("interval holds the truth, noise", fmt.Sprintf("%.1f %% of %d", 100*c.share(), c.stated), "93-98 %")
	return nil
}

// boundQuantile is the 95th percentile of the error of an estimator that
// reaches the bound in each segment.
func boundQuantile(segments []segment) float64 {
	random := rand.New(rand.NewPCG(1, 1))
	var errors []float64
	for range 100 {
		for _, s := range segments {
			errors = append(errors, math.Abs(s.bound*random.NormFloat64()))
		}
	}
	return quantile(errors, 0.95)
}
