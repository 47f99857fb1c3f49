package tone

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

const testRate = 48000

func make1(t *testing.T, c Config, seconds float64) (*Tone, []float64) {
	t.Helper()
	tn, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float64, int(seconds*c.Rate))
	for at := 0; at < len(out); { // odd blocks, so that no block size is special
		at += tn.Read(out[at:min(len(out), at+1013)])
	}
	return tn, out
}

// The level is defined by an identity: a tone of -20 dBFS has the RMS of a
// sine of -20 dBFS.
func TestLevel(t *testing.T) {
	for _, v := range []Voice{Plain, Trumpet, Horn, Trombone, Euphonium, Tuba} {
		_, x := make1(t, Config{Rate: testRate, F0: 200, Level: -20, Voice: v}, 1)
		sum := 0.0
		for _, s := range x {
			sum += s * s
		}
		got := pitch.LevelOf(math.Sqrt(sum / float64(len(x))))
		if math.Abs(float64(got)+20) > 0.01 {
			t.Errorf("voice %d: level %.3f, want -20", v, got)
		}
	}
}

// A steady tone repeats after a whole number of samples when its period is one.
func TestPeriodic(t *testing.T) {
	_, x := make1(t, Config{Rate: testRate, F0: 200, Level: -20, Voice: Horn}, 1)
	for i := 0; i+240 < len(x); i++ {
		if math.Abs(x[i]-x[i+240]) > 1e-9 {
			t.Fatalf("sample %d: %g, one period later %g", i, x[i], x[i+240])
		}
	}
}

func TestTruth(t *testing.T) {
	glide, _ := make1(t, Config{Rate: testRate, F0: 300, Level: -20, Path: Fall(0, 100)}, 2)
	// The mean of 300·2^(t/12) over [0, 1] is 300·12/ln 2·(2^(1/12) - 1).
	want := 300 * 12 / math.Ln2 * (math.Exp2(1.0/12) - 1)
	got, ok := glide.Truth(0, testRate)
	if !ok || math.Abs(float64(pitch.Between(pitch.Hertz(want), got))) > 0.001 {
		t.Errorf("glide: mean %.6f (%v), want %.6f", got, ok, want)
	}
	if _, ok := glide.Truth(0, 10*testRate); ok {
		t.Error("a stretch not read yet has a truth")
	}
	steady, _ := make1(t, Config{Rate: testRate, F0: 300, Level: -20}, 1)
	for _, span := range [][2]int64{{0, 7}, {13, 40007}, {47990, 48000}} {
		if got, ok := steady.Truth(span[0], span[1]); !ok || math.Abs(float64(got)-300) > 1e-6 {
			t.Errorf("steady %v: %.9f (%v), want 300", span, got, ok)
		}
	}
}

func TestSeeds(t *testing.T) {
	c := Natural(Config{Rate: testRate, F0: 233, Level: -20, Voice: Trumpet, Seed: 3, Room: &Room{Decay: 0.4, WetDB: -12}})
	_, a := make1(t, c, 0.3)
	_, b := make1(t, c, 0.3)
	c.Seed = 4
	_, other := make1(t, c, 0.3)
	same := 0
	for i := range a {
		if a[i] != b[i] {
			t.Fatalf("sample %d differs between two runs of one seed", i)
		}
		if a[i] == other[i] {
			same++
		}
	}
	if same > len(a)/10 {
		t.Error("another seed gives the same sound")
	}
}

// The wander is of unit RMS, so that Config.Wander is what it says.
func TestWanderRMS(t *testing.T) {
	sum, n := 0.0, 0
	for seed := range uint64(40) {
		tn, err := New(Config{Rate: testRate, F0: 200, Seed: seed, Wander: 1})
		if err != nil {
			t.Fatal(err)
		}
		for range 4000 {
			tn.wander.step(tn.random)
			sum += tn.wander.value * tn.wander.value
			n++
		}
	}
	// 40 runs of 5 s of a process slower than a second: a tenth of scatter.
	if rms := math.Sqrt(sum / float64(n)); math.Abs(rms-1) > 0.15 {
		t.Errorf("wander RMS %.3f, want 1", rms)
	}
}

func TestRejects(t *testing.T) {
	for _, c := range []Config{{Rate: 100, F0: 100}, {Rate: 48000}, {Rate: 48000, F0: 20000}} {
		if _, err := New(c); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}
