package check

import (
	"math"
	"math/rand/v2"
	"testing"
)

const rate = 48000

// scene is what happens in front of a microphone: quiet, a held note, quiet.
type scene struct {
	noise   float64 // RMS of the room
	note    float64 // amplitude of the fundamental
	hum     float64 // amplitude of each mains line
	mains   float64
	process func(x []float64) // what a system does to the sound
}

// samples renders a scene with the timing of Steps: 3 s, 4 s, 3 s; the note
// takes 3 s of its 4.
func (s scene) samples() []float64 {
	rng := rand.New(rand.NewPCG(7, 11))
	x := make([]float64, 10*rate)
	for i := range x {
		t := float64(i) / rate
		x[i] = s.noise * rng.NormFloat64()
		if s.hum > 0 {
			for k := 1.0; k <= 3; k++ {
				x[i] += s.hum / k * math.Sin(2*math.Pi*k*s.mains*t)
			}
		}
		if t > 3.5 && t < 6.5 {
			ramp := min(1, (t-3.5)/0.05, (6.5-t)/0.1)
			for k := 1.0; k <= 6; k++ {
				x[i] += ramp * s.note / k * math.Sin(2*math.Pi*k*233*t)
			}
		}
	}
	if s.process != nil {
		s.process(x)
	}
	return x
}

// suppress takes away what lasts: the note fades by 19 dB within a second, as
// was measured with a browser's noise suppression, and the room falls silent.
func suppress(x []float64) {
	for i := range x {
		t := float64(i) / rate
		switch {
		case t < 3.4 || t > 6.6:
			x[i] *= 0.03
		case t > 3.5:
			x[i] *= math.Pow(10, -19.0/20*min(1, (t-3.5)/1.5))
		}
	}
}

// gate puts zeros where nobody plays.
func gate(x []float64) {
	for i := range x {
		if t := float64(i) / rate; t < 3.4 || t > 6.6 {
			x[i] = 0
		}
	}
}

// level is an automatic gain: it goes down with the note and comes back after
// it, a few decibels a second.
func level(x []float64) {
	for i := range x {
		if t := float64(i) / rate; t > 6.5 {
			x[i] *= math.Pow(10, (-15+5*(t-6.5))/20)
		} else if t > 3.5 {
			x[i] *= math.Pow(10, -15.0/20)
		}
	}
}

func clip(x []float64) {
	for i := range x {
		x[i] = min(max(x[i], -1), 1)
	}
}

// TestSound: each scene has the one fault that its name says, and the check
// names that line and no other.
func TestSound(t *testing.T) {
	for _, tt := range []struct {
		name  string
		scene scene
		want  []string // the lines that ask for something
	}{
		{"a good place", scene{noise: 0.0005, note: 0.2}, nil},
		{"no note", scene{noise: 0.0005}, []string{"level"}},
		{"muted", scene{}, []string{"microphone"}},
		{"far away", scene{noise: 0.00001, note: 0.0015}, []string{"level"}},
		{"in the bell", scene{noise: 0.0005, note: 3, process: clip}, []string{"level", "clipping"}},
		{"a loud room", scene{noise: 0.02, note: 0.4}, []string{"noise"}},
		{"hum of 50 Hz", scene{noise: 0.0005, note: 0.2, hum: 0.004, mains: 50}, []string{"hum"}},
		{"hum of 60 Hz", scene{noise: 0.0005, note: 0.2, hum: 0.004, mains: 60}, []string{"hum"}},
		{"noise suppression", scene{noise: 0.0005, note: 0.2, process: suppress}, []string{"processing"}},
		{"noise gate", scene{noise: 0.0005, note: 0.2, process: gate}, []string{"processing"}},
		{"automatic level", scene{noise: 0.003, note: 0.3, process: level}, []string{"processing"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := NewSound(rate)
			x := tt.scene.samples()
			for len(x) > 0 { // odd blocks, so that frames straddle them
				n := min(1021, len(x))
				s.Write(x[:n], 0)
				x = x[n:]
			}
			var got []string
			for _, l := range s.Lines() {
				if l.State == Act {
					got = append(got, l.Check)
					if l.Do == "" {
						t.Errorf("%s asks for nothing to be done: %+v", l.Check, l)
					}
				}
			}
			if len(got) != len(tt.want) || len(got) > 0 && !equal(got, tt.want) {
				t.Errorf("asks about %q, want %q\n%+v", got, tt.want, s.Lines())
			}
		})
	}
}

func equal(a, b []string) bool {
	for i := range a {
		if a[i] != b[i] {
			return false
		}
	}
	return true
}

// TestHumTellsTheMains: 50 and 60 Hz are told apart, and a tone at neither is
// neither.
func TestHumTellsTheMains(t *testing.T) {
	for _, mains := range []float64{50, 60} {
		x := scene{noise: 0.0005, hum: 0.01, mains: mains}.samples()[:2*rate]
		// Three lines of amplitude 0.01, 0.005 and 0.0033: 20 log10 of the root
		// of the sum of squares is -38.7 dB re full scale.
		if got := float64(hum(x, rate, mains)); math.Abs(got+38.7) > 0.3 {
			t.Errorf("%g Hz hum at %.1f dBFS, want -38.7", mains, got)
		}
		if got := hum(x, rate, 110-mains); got > humLoud {
			t.Errorf("%g Hz hum found at %.1f dBFS where the mains is %g Hz", 110-mains, got, mains)
		}
	}
}

func TestLostSamplesAreSaid(t *testing.T) {
	s := NewSound(rate)
	s.Write(scene{noise: 0.0005, note: 0.2}.samples(), 480)
	if Well(s.Lines()) {
		t.Error("480 lost samples pass")
	}
}
