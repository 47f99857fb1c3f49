package check

import (
	"math"

	"bellrow/proto/pitch"
)

// humSeconds is the shortest quiet stretch in which hum is looked for: the
// lobes of a Hann window are then 4 Hz wide, which keeps 50 and 60 Hz apart.
const humSeconds = 1.0

// humAbove is how far a line stands out of its neighbourhood to be hum, dB.
const humAbove = 10.0

// humLine looks for mains hum in the quiet room: the lines of 50 or 60 Hz. The
// common multiple 300 Hz is left out, it belongs to both.
func (s *Sound) humLine(floor pitch.Level) Line {
	const name = "hum"
	quiet := s.longest(func(l pitch.Level) bool { return l < floor+toneAbove/2 })
	if quiet.seconds() < humSeconds {
		return skipped(name, "needs a second of quiet")
	}
	from := min(quiet.from*s.frame, len(s.samples))
	to := min(quiet.to*s.frame, len(s.samples), from+int(4*s.rate))
	x := s.samples[from:to]
	if float64(len(x)) < humSeconds*s.rate {
		return skipped(name, "needs a second of quiet")
	}
	mains, level := 50.0, hum(x, s.rate, 50)
	if l := hum(x, s.rate, 60); l > level {
		mains, level = 60, l
	}
	if level > humLoud {
		return told(name, "check.hum.mains", whole(mains), whole(float64(level)))
	}
	return ok(name, "no mains hum to speak of")
}

// hum is the level of the lines of a mains frequency that stand out.
func hum(x []float64, rate, mains float64) pitch.Level {
	power := 0.0
	for f := mains; f < 5.5*mains && f < 290; f += mains {
		line := strength(x, rate, f)
		beside := math.Max(strength(x, rate, f-7), strength(x, rate, f+7))
		if 20*math.Log10(line/math.Max(beside, 1e-12)) > humAbove {
			power += line * line / 2
		}
	}
	return pitch.LevelOf(math.Sqrt(power))
}

// strength is the amplitude of the sine of frequency f in x, by the Fourier
// sum under a Hann window, whose mean is 1/2.
func strength(x []float64, rate, f float64) float64 {
	var re, im float64
	n := float64(len(x))
	for i, v := range x {
		w := v * (0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/n))
		sin, cos := math.Sincos(2 * math.Pi * f * float64(i) / rate)
		re += w * cos
		im += w * sin
	}
	return 4 * math.Hypot(re, im) / n
}
