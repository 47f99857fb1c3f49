package listen

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

const testRate = 48000

// sound is a stretch of test sound.
type sound []float64

func silence(seconds float64) sound { return make(sound, int(seconds*testRate)) }

// hiss is the noise of a quiet room.
func hiss(seconds float64, level pitch.Level, seed uint64) sound {
	r := rand.New(rand.NewPCG(seed, 1))
	s := silence(seconds)
	for i := range s {
		s[i] = math.Pow(10, float64(level)/20) / math.Sqrt2 * r.NormFloat64()
	}
	return s
}

func played(tb testing.TB, c tone.Config) sound {
	tb.Helper()
	c.Rate = testRate
	if c.Level == 0 {
		c.Level = -24
	}
	tn, err := tone.New(tone.Natural(c))
	if err != nil {
		tb.Fatal(err)
	}
	s := silence(c.Duration)
	tn.Read(s)
	return s
}

func join(parts ...sound) sound {
	var all sound
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

// under adds b to a.
func under(a, b sound) sound {
	out := append(sound(nil), a...)
	for i := range out {
		if i < len(b) {
			out[i] += b[i]
		}
	}
	return out
}

// clap is a burst of noise that dies away in a room.
func clap(seed uint64) sound {
	s := hiss(0.3, -10, seed)
	for i := range s {
		s[i] *= math.Exp(-float64(i) / (0.03 * testRate))
	}
	return s
}

// mains is the hum of a supply at hz: its multiples, the odd ones stronger.
func mains(hz, seconds float64) sound {
	s := silence(seconds)
	for m, a := range []float64{1, 0.3, 0.5, 0.1, 0.25} {
		for i := range s {
			s[i] += 0.02 * a * math.Sin(2*math.Pi*hz*float64(m+1)*float64(i)/testRate)
		}
	}
	return s
}

// tick is a metronome's: a short damped knock at 1.8 kHz.
func tick() sound {
	s := silence(0.5)
	for i := range s {
		t := float64(i) / testRate
		s[i] = 0.4 * math.Sin(2*math.Pi*1800*t) * math.Exp(-t/0.008)
	}
	return s
}

// piano is a struck string: partials stretched by B, each dying away at its
// own rate (Fletcher and Rossing 1998, chapter 12, for the stretch).
func piano(hz, inharmonicity, seconds float64) sound {
	s := silence(seconds)
	for k := 1.0; k <= 14; k++ {
		f := k * hz * math.Sqrt(1+inharmonicity*k*k)
		for i := range s {
			t := float64(i) / testRate
			s[i] += 0.12 / k * math.Sin(2*math.Pi*f*t+k) * math.Exp(-t*(0.8+0.25*k))
		}
	}
	return s
}

// speech is a pulse train whose pitch glides as sentences do, through two
// moving formants, in syllables.
func speech(seconds float64, seed uint64) sound {
	r := rand.New(rand.NewPCG(seed, 3))
	s := silence(seconds)
	at := 0
	for at < len(s) {
		long := int((0.12 + 0.12*r.Float64()) * testRate)
		from, to := 110*math.Exp2(0.4*r.NormFloat64()), 110*math.Exp2(0.4*r.NormFloat64())
		formants := [2]float64{300 + 500*r.Float64(), 900 + 1300*r.Float64()}
		phase := 0.0
		for i := 0; i < long && at+i < len(s); i++ {
			x := float64(i) / float64(long)
			f := from * math.Pow(to/from, x)
			phase += f / testRate
			for k := 1.0; k*f < 4000; k++ {
				gain := 0.0
				for _, q := range formants {
					gain += 1 / (1 + math.Pow((k*f-q)/80, 2))
				}
				s[at+i] += 0.08 * gain * math.Sin(math.Pi*x) * math.Sin(2*math.Pi*k*phase)
			}
		}
		at += long + int((0.04+0.1*r.Float64())*testRate)
	}
	return s
}

// heard is what must come out of a sound.
type heard struct {
	settled bool
	reason  Reason
}

func TestSounds(t *testing.T) {
	note := func(c tone.Config) sound { return played(t, c) }
	long := tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: 1.8, Seed: 2}
	with := func(change func(*tone.Config)) sound {
		c := long
		change(&c)
		return note(c)
	}
	ok := heard{settled: true}
	why := func(r Reason) heard { return heard{reason: r} }
	tests := []struct {
		name string
		x    sound
		want []heard
	}{
		{"silence", silence(2), nil},
		{"the room alone", hiss(3, -50, 5), nil},
		{"a held note", note(long), []heard{ok}},
		{"a low pedal", with(func(c *tone.Config) { c.F0, c.Voice, c.Duration = 29.3, tone.Tuba, 2.5 }), []heard{ok}},
		{"a high note", with(func(c *tone.Config) { c.F0, c.Voice = 1046.5, tone.Trumpet }), []heard{ok}},
		{"a long note is read once", with(func(c *tone.Config) { c.Duration = 6 }), []heard{ok}},
		{"a short note", with(func(c *tone.Config) { c.Duration = 0.65 }), []heard{ok}},
		{"a blip is nobody's try", with(func(c *tone.Config) { c.Duration = 0.4 }), nil},
		{"a scoop that arrives", with(func(c *tone.Config) { c.Path, c.Duration = tone.Scoop(-120, 0.12), 2.2 }), []heard{ok}},
		{"a slow glide", with(func(c *tone.Config) { c.Path = tone.Fall(0, -30) }), []heard{why(ReasonMoving)}},
		{"a rest and then a fall", with(func(c *tone.Config) { c.Path = tone.Fall(1.2, -200) }), []heard{ok}},
		{"vibrato", with(func(c *tone.Config) { c.VibratoHz, c.VibratoCents = 4.6, 35 }), []heard{why(ReasonVibrato)}},
		{"slow vibrato", with(func(c *tone.Config) { c.VibratoHz, c.VibratoCents = 3.2, 20 }), []heard{why(ReasonVibrato)}},
		{"quick vibrato", with(func(c *tone.Config) { c.VibratoHz, c.VibratoCents = 7.5, 25 }), []heard{why(ReasonVibrato)}},
		{"two notes in one breath", with(func(c *tone.Config) { c.Path, c.Duration = slur(1.2, 200), 2.4 }), []heard{ok, ok}},
		{"a breath in the middle", join(note(long), hiss(0.3, -60, 1), note(long)), []heard{ok, ok}},
		{"a key click in a note", under(note(long), join(silence(0.9), tick()[:2400])), []heard{ok}},
		{"a key click", tick()[:2400], nil},
		{"a clap", clap(1), nil},
		{"a metronome", join(tick(), tick(), tick(), tick()), nil},
		{"a piano note", piano(261.6, 4e-4, 3), []heard{why(ReasonNoise)}},
		{"a lower piano note", piano(116.5, 2e-4, 3), []heard{why(ReasonNoise)}},
		{"mains hum", mains(49.98, 3), []heard{why(ReasonNoise)}},
		{"its other frequency", mains(60.02, 3), []heard{why(ReasonNoise)}},
		{"two equal players", under(note(long), with(func(c *tone.Config) { c.F0, c.Seed = 233.1*1.0087, 9 })), []heard{why(ReasonTwo)}},
		{"a quieter neighbour", under(note(long), with(func(c *tone.Config) { c.F0, c.Seed, c.Level = 233.1*1.0046, 9, -32 })), []heard{ok}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			x := under(join(silence(0.5), tt.x, silence(0.5)), hiss(8, -72, 11))
			rs := readings(hear(t, x, Config{Rate: testRate, ClockPPM: -1}))
			var got []heard
			for _, r := range rs {
				got = append(got, heard{r.Settled, r.Reason})
				t.Logf("%.2f–%.2f s: %v %q %.2f Hz ± %.3f, spread %.2f, drift %.2f, vibrato %+v",
					float64(r.Start)/testRate, float64(r.End)/testRate, r.Settled, r.Reason, float64(r.Hz), float64(r.CI95), float64(r.Spread), r.Drift, r.Vibrato)
			}
			if len(got) != len(tt.want) {
				t.Fatalf("readings %+v, want %+v", got, tt.want)
			}
			for i := range got {
				if got[i] != tt.want[i] {
					t.Errorf("reading %d: %+v, want %+v", i, got[i], tt.want[i])
				}
			}
		})
	}
}

// Speech may sound like short notes; none of it may be called settled.
func TestSpeechNeverSettles(t *testing.T) {
	for seed := range uint64(4) {
		for _, r := range readings(hear(t, join(silence(0.5), speech(4, seed), silence(0.5)), Config{Rate: testRate})) {
			if r.Settled || r.Reason != ReasonNoise && r.Reason != ReasonShort && r.Reason != ReasonMoving {
				t.Errorf("seed %d: %v %q at %d", seed, r.Settled, r.Reason, r.Onset)
			}
		}
	}
}

// slur moves by step cents at the given time, within 20 ms: the second note of
// a slur.
func slur(at float64, step pitch.Cents) func(float64) pitch.Cents {
	const takes = 0.02
	return func(t float64) pitch.Cents {
		x := math.Min(1, math.Max(0, (t-at)/takes))
		return step * pitch.Cents(x*x*(3-2*x))
	}
}
