package estimate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"

	"bellrow/node/capture"
)

// What else sounds in a rehearsal room.

// company is a kind of other sound, at a level relative to the note's.
type company struct {
	name    string
	levelDB float64
	make    func(c *crowd, n int, target *practice, random *rand.Rand) []float64
}

var companies = []company{
	{"speech -12 dB", -12, (*crowd).speech},
	{"snare -6 dB", -6, (*crowd).snare},
	{"piano -12 dB", -12, (*crowd).piano},
	{"warm-up, seven at -20 dB", -20, (*crowd).warmUp},
}

// crowd is what companies are made of: prepared once.
type crowd struct {
	notes      []practice
	voices     [][]float64 // minutes of speech
	keys       []float64   // a minute of piano
	substitute []string    // what is imitated because a program is missing
}

var sentences = []string{
	"Could everybody please turn to the second page, we begin at the repeat.",
	"No, the other one. Has anyone seen my mute? It was on this chair a minute ago.",
	"Let us hear the low brass alone, and then the horns join at letter C.",
	"I think we should take it a little slower there, and breathe together.",
}

// newCrowd prepares speech with espeak-ng, or from the WAV files of a folder,
// and a piano with fluidsynth; where one is missing it is imitated, and
// substitute says so.
func newCrowd(ctx context.Context, notes []practice, speech string) (*crowd, error) {
	c := &crowd{notes: notes}
	if speech != "" {
		if err := c.recorded(ctx, speech); err != nil {
			return nil, err
		}
	}
	dir, err := os.MkdirTemp("", "bellrow-company-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	if program, err := exec.LookPath("espeak-ng"); err == nil && len(c.voices) == 0 {
		for i, s := range sentences {
			file := filepath.Join(dir, "speech.wav")
			voice := [...]string{"en-gb", "en-us+f3", "en-gb+m5", "en-us+f2"}[i%4]
			if out, err := exec.CommandContext(ctx, program, "-v", voice, "-s", fmt.Sprint(150+10*i), "-w", file, s).CombinedOutput(); err != nil {
				return nil, fmt.Errorf("accuracy: espeak-ng: %w: %s", err, out)
			}
			x, err := readSound(ctx, file)
			if err != nil {
				return nil, err
			}
			c.voices = append(c.voices, atRate(x, 22050)) // espeak-ng's only rate
		}
	} else if len(c.voices) == 0 {
		c.substitute = append(c.substitute, "speech is imitated by formants: espeak-ng is not installed")
		for i := range uint64(4) {
			c.voices = append(c.voices, formants(6*rate, rand.New(rand.NewPCG(i, 3))))
		}
	}
	synth, err := exec.LookPath("fluidsynth")
	if _, missing := os.Stat(fonts[0].path); err == nil && missing == nil {
		var keys []byte
		random := rand.New(rand.NewPCG(7, 7))
		for range 15 {
			keys = append(keys, byte(45+random.IntN(36)))
		}
		if c.keys, err = play(ctx, synth, fonts[0].path, dir, 0, keys); err != nil {
			return nil, err
		}
	} else {
		c.substitute = append(c.substitute, "the piano is imitated by struck strings: fluidsynth or its soundfont is not installed")
	}
	return c, nil
}

// mostSpeech bounds what is read of recorded speech, in files.
const mostSpeech = 60

// recorded takes the longer files of a folder as voices.
func (c *crowd) recorded(ctx context.Context, folder string) error {
	files, err := filepath.Glob(filepath.Join(folder, "*.wav"))
	if err != nil {
		return err
	}
	for _, f := range files {
		src, err := capture.Open(f)
		if err != nil {
			return err
		}
		hz := src.Info().Rate
		src.Close()
		x, err := readSound(ctx, f)
		if err != nil {
			return err
		}
		if len(x) > int(hz) && len(c.voices) < mostSpeech {
			c.voices = append(c.voices, atRate(x, hz))
		}
	}
	if len(c.voices) == 0 {
		return fmt.Errorf("accuracy: %s: no WAV file of a second or more", folder)
	}
	return nil
}

// atRate resamples x from another rate.
func atRate(x []float64, from float64) []float64 {
	return resampled(append(append(make([]float64, resampleSide), x...), make([]float64, resampleSide)...), from/rate)
}

// speech is a speaker in full flow, from anywhere in a sentence.
func (c *crowd) speech(n int, _ *practice, random *rand.Rand) []float64 {
	var x []float64
	for i := random.IntN(len(c.voices)); len(x) < 2*n; i++ {
		x = append(x, c.voices[i%len(c.voices)]...)
	}
	from := random.IntN(n)
	return x[from : from+n]
}

// formants is a pulse train whose pitch glides as sentences do, through two
// formants, in syllables.
func formants(n int, random *rand.Rand) []float64 {
	x := make([]float64, n)
	for at := 0; at < n; {
		long := int((0.12 + 0.12*random.Float64()) * rate)
		from, to := 110*math.Exp2(0.4*random.NormFloat64()), 110*math.Exp2(0.4*random.NormFloat64())
		at1, at2 := 300+500*random.Float64(), 900+1300*random.Float64()
		phase := 0.0
		for i := 0; i < long && at+i < n; i++ {
			u := float64(i) / float64(long)
			f := from * math.Pow(to/from, u)
			phase += f / rate
			for k := 1.0; k*f < 4000; k++ {
				gain := 1/(1+math.Pow((k*f-at1)/80, 2)) + 1/(1+math.Pow((k*f-at2)/80, 2))
				x[at+i] += gain * math.Sin(math.Pi*u) * math.Sin(2*math.Pi*k*phase)
			}
		}
		at += long + int((0.04+0.1*random.Float64())*rate)
	}
	return x
}

// snare is a drum played in semiquavers with gaps: two modes of the head and
// the rattle of the wires (Fletcher and Rossing 1998, section 18.11, for the
// modes; the decay times are common practice, no source).
func (c *crowd) snare(n int, _ *practice, random *rand.Rand) []float64 {
	x := make([]float64, n)
	beat := rate * 60 / (80 + 60*random.Float64()) / 4
	for at := 0.0; int(at) < n; at += beat {
		if random.IntN(4) == 0 {
			continue
		}
		hit := math.Pow(10, -10*random.Float64()/20)
		low := 0.0
		for i := 0; i < rate/3 && int(at)+i < n; i++ {
			t := float64(i) / rate
			wires := random.NormFloat64()
			low += 0.1 * (wires - low)
			x[int(at)+i] += hit * (0.8*(wires-low)*math.Exp(-t/0.06) +
				math.Sin(2*math.Pi*182*t)*math.Exp(-t/0.05) + 0.6*math.Sin(2*math.Pi*330*t)*math.Exp(-t/0.04))
		}
	}
	return x
}

// piano is someone trying notes: three overlapping lines.
func (c *crowd) piano(n int, _ *practice, random *rand.Rand) []float64 {
	x := make([]float64, n)
	if c.keys == nil {
		for at := 0; at < n; at += rate / 2 {
			f := 440 * math.Exp2(float64(random.IntN(36)-24)/12)
			for i := range x[at:] {
				t := float64(i) / rate
				for k := 1.0; k <= 10; k++ {
					x[at+i] += math.Exp(-t*(0.8+0.25*k)) / k * math.Sin(2*math.Pi*k*f*math.Sqrt(1+4e-4*k*k)*t)
				}
			}
		}
		return x
	}
	for range 3 {
		from := random.IntN(len(c.keys) - n)
		for i := range x {
			x[i] += c.keys[from+i]
		}
	}
	return x
}

// warmUp is seven other players who try notes of their own, each as loud as
// the others, on and off. The sum is scaled so that each one is at the level.
func (c *crowd) warmUp(n int, target *practice, random *rand.Rand) []float64 {
	x := make([]float64, n)
	for range 7 {
		p := c.other(target, random)
		part := resampled(p.samples, math.Exp2(float64(random.IntN(15)-7)/12+0.02*random.NormFloat64()))
		gain := 1 / rms(part)
		for at := random.IntN(2*rate) - rate; at < n; at += len(part) + rate/4 + random.IntN(rate) {
			for i, v := range part {
				if j := at + i; j >= 0 && j < n {
					x[j] += gain * v
				}
			}
		}
	}
	return x
}

// other is any note but the target.
func (c *crowd) other(target *practice, random *rand.Rand) *practice {
	for {
		if p := &c.notes[random.IntN(len(c.notes))]; p.name != target.name || len(c.notes) == 1 {
			return p
		}
	}
}
