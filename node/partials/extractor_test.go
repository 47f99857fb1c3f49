package partials

import (
	"encoding/json"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

const (
	rate = 48000.0
	ref  = pitch.Hertz(116.541)
)

// tone is a sum of partials of f with amplitudes 1/n, peak 0.1.
func tone(f float64, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		for n := 1; float64(n)*f < 5000; n++ {
			x[i] += 0.1 / float64(n) * math.Cos(2*math.Pi*float64(n)*f*float64(i)/rate)
		}
	}
	return x
}

func extract(t *testing.T, x []float64, block int) []track.Chunk {
	t.Helper()
	e, err := New(Config{Rate: rate, Reference: ref})
	if err != nil {
		t.Fatal(err)
	}
	return run(t, e, x, block)
}

// run copies the chunks, as they are only valid until the next Write.
func run(t *testing.T, e *Extractor, x []float64, block int) []track.Chunk {
	t.Helper()
	var out []track.Chunk
	for len(x) > 0 {
		n := min(block, len(x))
		for _, c := range e.Write(x[:n]) {
			if err := c.Validate(); err != nil {
				t.Fatalf("own chunk is invalid: %v", err)
			}
			b, err := json.Marshal(c)
			if err != nil {
				t.Fatal(err)
			}
			var d track.Chunk
			if err := json.Unmarshal(b, &d); err != nil {
				t.Fatal(err)
			}
			out = append(out, d)
		}
		x = x[n:]
	}
	return out
}

// frames joins the frames of one partial over unbroken chunks.
func frames(t *testing.T, cs []track.Chunk, k int) (z []complex128, step int) {
	t.Helper()
	for i := range cs {
		if i > 0 && cs[i].First != cs[i-1].First+cs[i-1].Samples() {
			t.Fatalf("chunk %d begins at %d, want %d", i, cs[i].First, cs[i-1].First+cs[i-1].Samples())
		}
		p := cs[i].Find(k)
		if p == nil {
			t.Fatalf("chunk %d lacks partial %d", i, k)
		}
		z, step = p.Unpack(z), p.Step
	}
	return z, step
}

// codingCents is what rounding two frames by half a step each, at the reduced
// amplitude off the centre, does to a frequency over the given seconds.
func codingCents(hz, seconds float64) float64 {
	return 1200 / math.Ln2 * (2 / 127.0) / (2 * math.Pi * hz * seconds)
}

func TestFrequencyAndAmplitude(t *testing.T) {
	for _, cents := range []float64{-30, 0, 12.5} {
		f := float64(ref.Shift(pitch.Cents(cents)))
		cs := extract(t, tone(f, 2.5), 480)
		if len(cs) < 7 {
			t.Fatalf("%d chunks of 2.5 s, want at least 7", len(cs))
		}
		cs = cs[1 : len(cs)-1]
		for _, k := range []int{1, 4, 9} {
			z, step := frames(t, cs, k)
			turn := 0.0
			for i := 1; i < len(z); i++ {
				turn += cmplx.Phase(z[i] / z[i-1])
			}
			got := float64(ref)*float64(k) + turn/(2*math.Pi)*rate/float64(step*(len(z)-1))
			tolerance := codingCents(got, float64(step*(len(z)-1))/rate)
			if d := 1200 * math.Log2(got/(f*float64(k))); math.Abs(d) > tolerance {
				t.Errorf("%+g cents, partial %d: frequency off by %.4f cents", cents, k, d)
			}
			// The Hann window loses 4 dB at two thirds of the band (Harris 1978).
			if a := cmplx.Abs(z[len(z)/2]) * float64(k) / 0.1; a > 1.02 || a < 0.6 {
				t.Errorf("%+g cents, partial %d: amplitude %.3f of the true one", cents, k, a)
			}
		}
	}
}

// The phase is counted from sample 0, whatever the chunk.
func TestAbsolutePhase(t *testing.T) {
	cs := extract(t, tone(float64(ref), 2), 1000)
	z, _ := frames(t, cs, 2)
	for i, v := range z[4 : len(z)-4] {
		if a := math.Abs(cmplx.Phase(v)); a > 0.02 {
			t.Fatalf("frame %d has phase %.3f, want 0: the tone is a cosine at sample 0", i, a)
		}
	}
}

func TestBlockSizeDoesNotMatter(t *testing.T) {
	x := tone(230, 1.5)
	a, b := extract(t, x, 480), extract(t, x, 7001)
	if len(a) != len(b) || len(a) == 0 {
		t.Fatalf("%d and %d chunks", len(a), len(b))
	}
	for i := range a {
		ja, _ := json.Marshal(a[i])
		jb, _ := json.Marshal(b[i])
		if string(ja) != string(jb) {
			t.Fatalf("chunk %d differs between block sizes", i)
		}
	}
}

func TestQuietSendsNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	noise := make([]float64, int(4*rate))
	for i := range noise {
		noise[i] = 2e-4 * rng.NormFloat64()
	}
	if cs := extract(t, noise, 480); len(cs) != 0 {
		t.Errorf("%d chunks of a quiet room, want none", len(cs))
	}
	e, err := New(Config{Rate: rate, Reference: ref})
	if err != nil {
		t.Fatal(err)
	}
	run(t, e, noise, 480)
	if cs := run(t, e, tone(float64(ref), 1), 480); len(cs) < 2 {
		t.Errorf("%d chunks of a note after the quiet, want some", len(cs))
	}
}

// wireLimit is the traffic asked of a node, bytes a second.
const wireLimit = 10000

func TestTraffic(t *testing.T) {
	for _, r := range []pitch.Hertz{29.135, 58.27, 116.541, 233.08, 466.16} {
		for _, sampleRate := range []float64{16000, 44100, 48000, 96000} {
			e, err := New(Config{Rate: sampleRate, Reference: r})
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, int(0.9*sampleRate))
			for i := range x {
				for n := 1; n < 40 && float64(n)*float64(r) < 0.4*sampleRate; n++ {
					x[i] += 0.02 * math.Sin(2*math.Pi*float64(n)*float64(r)*1.003*float64(i)/sampleRate)
				}
			}
			for _, c := range e.Write(x) {
				b, err := json.Marshal(c)
				if err != nil {
					t.Fatal(err)
				}
				if bytes := float64(len(b)) / (float64(c.Samples()) / sampleRate); bytes > wireLimit {
					t.Errorf("reference %g Hz at rate %g: %.0f bytes a second", float64(r), sampleRate, bytes)
				}
			}
		}
	}
}

func TestGap(t *testing.T) {
	e, err := New(Config{Rate: rate, Reference: ref})
	if err != nil {
		t.Fatal(err)
	}
	x := tone(float64(ref), 4)
	before := run(t, e, x[:72000], 480)
	const lost = 5000
	e.Gap(lost)
	after := run(t, e, x[72000+lost:], 480)
	if len(before) == 0 || len(after) == 0 {
		t.Fatalf("%d chunks before, %d after the gap", len(before), len(after))
	}
	if last := before[len(before)-1]; last.First+last.Samples() > 72000 {
		t.Errorf("a chunk reaches to %d, into the gap at 72000", last.First+last.Samples())
	}
	if after[0].First < 72000+lost {
		t.Errorf("a chunk begins at %d, inside the gap", after[0].First)
	}
	// The tone went on through the gap; so must its phase.
	z, _ := frames(t, after, 2)
	if a := math.Abs(cmplx.Phase(z[3])); a > 0.02 {
		t.Errorf("phase after the gap is %.3f, want 0", a)
	}
}

func TestConfig(t *testing.T) {
	for name, c := range map[string]Config{
		"rate":           {Rate: 1000, Reference: ref},
		"rate NaN":       {Rate: math.NaN(), Reference: ref},
		"reference":      {Rate: rate, Reference: 2},
		"reference high": {Rate: rate, Reference: 5000},
	} {
		if _, err := New(c); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// BenchmarkWrite is one second of sound: time as a share of a second.
func BenchmarkWrite(b *testing.B) {
	e, err := New(Config{Rate: rate, Reference: 58.27})
	if err != nil {
		b.Fatal(err)
	}
	x := tone(116.9, 1)
	b.ReportAllocs()
	for b.Loop() {
		for i := 0; i+480 <= len(x); i += 480 {
			e.Write(x[i : i+480])
		}
	}
}
