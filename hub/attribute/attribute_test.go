package attribute

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// The tests here build tracks straight from the model: sums of partials with
// known pitch paths and gains. Rooms, microphones and nodes are in accuracy.

const (
	testRef  = 116.54
	testRate = 48000.0
)

// voice is a player: frequency in Hz at time t.
type voice struct {
	f0     float64
	cents  func(t float64) float64
	bright float64 // amplitude of partial n is n^-bright
}

// cycles is the phase path in cycles, by fine summation from time 0.
func (v voice) cycles(t float64) float64 {
	if v.cents == nil {
		return v.f0 * t
	}
	const dt = 1e-3
	sum := 0.0
	for s := 0.0; s < t; s += dt {
		sum += v.f0 * math.Exp2(v.cents(s+dt/2)/1200) * math.Min(dt, t-s)
	}
	return sum
}

// chunks makes what a microphone sends of the voices at the given gains, for
// sounding seconds from 0, with the phases of a fixed seed.
func chunks(voices []voice, gains []float64, seconds float64, seed uint64) []track.Chunk {
	rng := rand.New(rand.NewPCG(seed, 9))
	const chunk = 12000
	var out []track.Chunk
	type key struct{ v, n int }
	phase := map[key]float64{}
	for first := 0; float64(first+chunk)/testRate <= seconds; first += chunk {
		c := track.Chunk{Reference: testRef, First: int64(first), Rate: testRate, Floor: -70, Level: -25}
		for k := 1; k <= 14; k++ {
			step := 1200
			if k > 5 {
				step = 400
			}
			var frames []complex128
			for j := range chunk / step {
				t := float64(first+j*step) / testRate
				var z complex128
				for i, v := range voices {
					n := int(math.Round(testRef * float64(k) / v.f0))
					if n < 1 || math.Abs(1200*math.Log2(float64(n)*v.f0/(testRef*float64(k)))) > 45 {
						continue
					}
					p, ok := phase[key{i, n}]
					if !ok {
						p = rng.Float64()
						phase[key{i, n}] = p
					}
					s, co := math.Sincos(2 * math.Pi * (p + float64(n)*v.cycles(t) - testRef*float64(k)*t))
					a := gains[i] * math.Pow(float64(n), -v.bright)
					z += complex(a*co, a*s)
				}
				frames = append(frames, z)
			}
			b, scale := track.Pack(nil, frames)
			c.Partials = append(c.Partials, track.Partial{K: k, Step: step, Scale: scale, Frames: b})
		}
		out = append(out, c)
	}
	return out
}

// row builds an input from voices and the gains at each microphone.
func row(voices []voice, expected []float64, gains [][]float64) Input {
	in := Input{Start: 0.3, End: 1.3}
	for m := range gains {
		in.Chairs = append(in.Chairs, Chair{
			ID: int64(m + 1), Expected: pitch.Hertz(expected[m]), Able: true,
			Chunks: chunks(voices, gains[m], 1.8, uint64(m+1)),
		})
	}
	return in
}

// fitCents is what byte coding and the finite path leave, a tenth of the
// smallest interval given.
const fitCents = 0.06

func TestSteadyChairs(t *testing.T) {
	voices := []voice{{f0: 233.5, bright: 1}, {f0: 232.4, bright: 0.7}, {f0: 467.7, bright: 1}}
	in := row(voices, []float64{233.08, 233.08, 466.16}, [][]float64{{0.1, 0.03, 0.02}, {0.02, 0.08, 0.03}, {0.02, 0.02, 0.09}})
	r := Fit(in)
	for c, got := range r.Chairs {
		d := pitch.Between(pitch.Hertz(voices[c].f0), got.Hz)
		if got.Verdict != Sounding || math.Abs(float64(d)) > fitCents {
			t.Errorf("chair %d: %s, off by %.4f cents", c, got.Verdict, float64(d))
		}
		if got.CI95 < 0.17 || got.CI95 > 0.75 {
			t.Errorf("chair %d: interval ±%.3f cents; 100 ppm alone are 0.173", c, float64(got.CI95))
		}
	}
	if len(r.Pairs) != 0 || r.Fallback {
		t.Errorf("pairs %v, fallback %v; want neither", r.Pairs, r.Fallback)
	}
}

// A wrong start of the answer must show: the same tolerance fails when two
// chairs' tracks are exchanged.
func TestExchangedMicrophonesAreNoticed(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 232.2, bright: 1}}
	in := row(voices, []float64{233.08, 233.08}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	in.Chairs[0].Chunks, in.Chairs[1].Chunks = in.Chairs[1].Chunks, in.Chairs[0].Chunks
	r := Fit(in)
	if d := pitch.Between(pitch.Hertz(voices[0].f0), r.Chairs[0].Hz); math.Abs(float64(d)) < 10 {
		t.Errorf("exchanged microphones still give chair 0 its own pitch (%.2f cents)", float64(d))
	}
}

func TestMovingPitch(t *testing.T) {
	move := func(t float64) float64 { return 6*(t-0.8) + 3*math.Sin(2*math.Pi*1.3*t) }
	voices := []voice{{f0: 233.08, bright: 1, cents: move}, {f0: 232.2, bright: 1}}
	in := row(voices, []float64{233.08, 233.08}, [][]float64{{0.1, 0.03}, {0.03, 0.1}})
	r := Fit(in)
	mean := (voices[0].cycles(in.End) - voices[0].cycles(in.Start)) / (in.End - in.Start)
	got := r.Chairs[0]
	if d := pitch.Between(pitch.Hertz(mean), got.Hz); got.Verdict != Sounding || math.Abs(float64(d)) > 3*fitCents {
		t.Errorf("moving chair: %s, off by %.3f cents", got.Verdict, float64(d))
	}
	if got.Spread < 3 || got.Spread > 9 {
		t.Errorf("spread %.1f cents, want about 5", float64(got.Spread))
	}
	if r.Chairs[1].Spread > 0.5 {
		t.Errorf("steady chair has spread %.2f cents", float64(r.Chairs[1].Spread))
	}
}

// A silent chair in unison with others is never read, however much it overhears; who plays
// is read with the right balance, or asked in turn.
func TestSilentChairOnlyOverhears(t *testing.T) {
	read, playing := 0, 0
	for _, bleed := range []float64{0.015, 0.02, 0.03, 0.04} {
		voices := []voice{{f0: 233.5, bright: 1}, {f0: 232.4, bright: 1}, {f0: 348.7, bright: 1}}
		in := row(voices, []float64{233.08, 233.08, 233.08, 349.23}, [][]float64{{0.1, 0.03, 0.02}, {0.03, 0.1, 0.02}, {bleed, bleed, 0.03}, {0.02, 0.02, 0.1}})
		for c := range in.Chairs {
			in.Chairs[c].Baseline = pitch.LevelOf(0.1 * 1.2 / math.Sqrt2)
		}
		r := Fit(in)
		if v := r.Chairs[2].Verdict; v == Sounding || r.Chairs[2].Hz != 0 {
			t.Errorf("silent chair: %s at %g Hz", v, float64(r.Chairs[2].Hz))
		}
		for c, f := range []float64{233.5, 232.4} {
			got := r.Chairs[c]
			playing++
			if got.Verdict != Sounding {
				continue
			}
			read++
			if d := pitch.Between(pitch.Hertz(f), got.Hz); !got.BalanceKnown || math.Abs(got.Balance) > 2 || math.Abs(float64(d)) > float64(got.CI95) {
				t.Errorf("chair %d: %.2f cents off, balance %.1f dB", c, float64(d), got.Balance)
			}
		}
	}
	if read*2 < playing {
		t.Errorf("%d of %d are read, want half", read, playing)
	}
}

func TestCoincidingChairsAreHeardInTurn(t *testing.T) {
	voices := []voice{{f0: 233.3, bright: 1}, {f0: 233.3, bright: 1}}
	in := row(voices, []float64{233.08, 233.08}, [][]float64{{0.1, 0.04}, {0.04, 0.1}})
	r := Fit(in)
	for c, got := range r.Chairs {
		if got.Verdict == Sounding {
			t.Errorf("chair %d coincides with the other, yet gets a reading", c)
		}
	}
	if len(r.Pairs) != 1 || r.Pairs[0] != (Pair{1, 2}) {
		t.Errorf("pairs %v, want the two", r.Pairs)
	}
}

func TestClockIsCorrectedAndBounded(t *testing.T) {
	in := row([]voice{{f0: 233.5, bright: 1}}, []float64{233.08}, [][]float64{{0.1}})
	in.Chairs[0].PPM, in.Chairs[0].PPMError = 60, 10
	got := Fit(in).Chairs[0]
	// 60 ppm are 0.104 cents: a clock that runs fast makes everything seem low.
	if d := float64(pitch.Between(233.5, got.Hz)); math.Abs(d-0.1039) > fitCents {
		t.Errorf("correction for 60 ppm is %.4f cents, want 0.104", d)
	}
	in.Chairs[0].PPMError = 0
	if wide := Fit(in).Chairs[0].CI95; !(got.CI95 < wide) {
		t.Errorf("a clock known to 10 ppm leaves ±%.3f cents, an unknown one ±%.3f", float64(got.CI95), float64(wide))
	}
}

func TestOlderNodes(t *testing.T) {
	in := row([]voice{{f0: 233.5, bright: 1}}, []float64{233.08, 233.08, 233.08, 233.08}, [][]float64{{0.1}, {0}, {0}, {0.1}})
	own := OneMic{Hz: 233.2, CI95: 0.6, Spread: 2, Level: -20}
	in.Chairs[1] = Chair{ID: 2, Expected: 233.08, Own: own, Baseline: -22} // cannot send tracks
	in.Chairs[2] = Chair{ID: 3, Expected: 233.08, Able: true}              // could, but heard nothing
	in.Chairs[3].Chunks = in.Chairs[3].Chunks[:2]                          // does not cover the window
	in.Chairs[3].Own = own
	r := Fit(in)
	if got := r.Chairs[1]; got.Verdict != NoTracks || !got.OneMic || got.Hz != own.Hz || got.CI95 != own.CI95 || got.Balance != 2 {
		t.Errorf("older node: %+v, want its own reading passed on", got)
	}
	if !r.Fallback {
		t.Error("the hub must say that it fell back")
	}
	if got := r.Chairs[2]; got.Verdict != Silent || got.Hz != 0 {
		t.Errorf("quiet node: %+v, want silent", got)
	}
	if got := r.Chairs[3]; got.Verdict != Unclear || got.Hz != 0 {
		t.Errorf("tracks beside the window: %+v, want unclear", got)
	}
	if r.Chairs[0].Verdict != Sounding {
		t.Errorf("the chair that played: %s", r.Chairs[0].Verdict)
	}
}

func TestNothing(t *testing.T) {
	for name, in := range map[string]Input{
		"empty":       {},
		"no chairs":   {Start: 0, End: 1},
		"backward":    {Start: 1, End: 0, Chairs: []Chair{{ID: 1, Expected: 440}}},
		"NaN":         {Start: math.NaN(), End: 1, Chairs: []Chair{{ID: 1, Expected: 440}}},
		"no expected": {Start: 0.3, End: 1.3, Chairs: []Chair{{ID: 1, Chunks: chunks([]voice{{f0: 233}}, []float64{0.1}, 1.8, 1)}}},
	} {
		for _, c := range Fit(in).Chairs {
			if c.Verdict == Sounding || c.Hz != 0 {
				t.Errorf("%s: %+v", name, c)
			}
		}
	}
}

// Chord tones lie near multiples of a low reference, not on octaves of it.
func TestChord(t *testing.T) {
	third, fifth := testRef*5/2*math.Exp2(4.0/1200), testRef*3/2*math.Exp2(-3.0/1200)
	voices := []voice{{f0: testRef * 1.001, bright: 1}, {f0: third, bright: 1}, {f0: fifth, bright: 1}}
	in := row(voices, []float64{testRef, testRef * math.Exp2(16.0/12), testRef * math.Exp2(7.0/12)}, [][]float64{{0.1, 0.03, 0.03}, {0.03, 0.1, 0.02}, {0.03, 0.02, 0.1}})
	for c, got := range Fit(in).Chairs {
		if d := pitch.Between(pitch.Hertz(voices[c].f0), got.Hz); got.Verdict != Sounding || math.Abs(float64(d)) > fitCents {
			t.Errorf("chord chair %d: %s, off by %.3f cents", c, got.Verdict, float64(d))
		}
	}
}

// FuzzFit: whatever valid tracks arrive, nothing panics and no NaN leaves.
func FuzzFit(f *testing.F) {
	f.Add(uint64(1), 0.3, 1.3, 233.0, []byte("some bytes that are not a sound"))
	f.Add(uint64(2), 0.0, 0.9, 20.0, []byte{0, 0, 255, 128, 127, 1})
	f.Fuzz(func(t *testing.T, seed uint64, start, end, expected float64, data []byte) {
		rng := rand.New(rand.NewPCG(seed, 1))
		in := Input{Start: start, End: end}
		for c := range 3 {
			ch := Chair{ID: int64(c), Expected: pitch.Hertz(expected), Zero: rng.Float64()}
			for i := range 6 {
				k := track.Chunk{Reference: testRef, First: int64(i * 12000), Rate: testRate, Floor: -70, Level: -20}
				for n := range 3 {
					b := make([]byte, 20)
					for j := range b {
						if len(data) > 0 {
							b[j] = data[(i+j*(n+1)+c)%len(data)]
						}
					}
					k.Partials = append(k.Partials, track.Partial{K: 1 + n*(1+c), Step: 1200, Scale: 0.01, Frames: b})
				}
				if k.Validate() == nil {
					ch.Chunks = append(ch.Chunks, k)
				}
			}
			in.Chairs = append(in.Chairs, ch)
		}
		for _, c := range Fit(in).Chairs {
			for _, v := range []float64{float64(c.Hz), float64(c.CI95), float64(c.Spread), c.Drift, float64(c.Level), c.Balance} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", c)
				}
			}
		}
	})
}
