package accuracy

import (
	"math"
	"math/rand/v2"

	"bellrow/proto/pitch"
)

// Two real timbres in one microphone: a target and, quieter, a neighbour a few
// cents away.

// mix is a stretch with a known mean pitch of its target.
type mix struct {
	name      string
	samples   []float64
	truth     pitch.Hertz
	neighbour pitch.Hertz
}

const (
	// steadyFrom is where in a rendered note the stretch may begin, in
	// seconds: the attack is over.
	steadyFrom = 0.8
	// settledDisagreement is how far the partials of a note may disagree about
	// its mean pitch, in cents, for it to have a known one. Some rendered horns
	// are two detuned players in one sample and are left out by it.
	settledDisagreement = 0.05
	// nearNote is how far apart, in semitones, the two notes may have been
	// recorded: what is resampled further sounds like no instrument.
	nearNote = 5
)

// solo is a note with a known mean pitch over a stretch.
type solo struct {
	note
	from, to int
	truth    pitch.Hertz
}

// solos returns the stretches of the given length whose mean pitch is known.
func solos(notes []note, seconds float64) []solo {
	var all []solo
	for _, n := range notes {
		if n.choir {
			continue
		}
		for _, start := range []float64{steadyFrom, steadyFrom + 0.9} {
			from := int(start * rate)
			to := from + int(seconds*rate)
			nominal := 440 * math.Exp2(float64(n.midi-69)/12)
			hz, disagreement, ok := meanPitch(n.samples, from, to, nominal)
			if ok && disagreement < settledDisagreement {
				all = append(all, solo{note: n, from: from, to: to, truth: pitch.Hertz(hz)})
			}
		}
	}
	return all
}

// mixes puts a random neighbour beside each solo, at each offset.
func mixes(solos []solo, levelDB float64, offsets []float64, seed uint64) []mix {
	random := rand.New(rand.NewPCG(seed, 7))
	var all []mix
	for i, s := range solos {
		for _, offset := range offsets {
			j := random.IntN(len(solos))
			for tries := 0; !fits(s, solos[j]) && tries < 1000; tries++ {
				j = random.IntN(len(solos))
			}
			if !fits(s, solos[j]) {
				continue
			}
			if random.IntN(2) == 0 {
				offset = -offset
			}
			if m, ok := mixed(solos[i], solos[j], offset, levelDB); ok {
				all = append(all, m)
			}
		}
	}
	return all
}

func fits(a, b solo) bool {
	return a.name != b.name && abs(a.midi-b.midi) <= nearNote
}

func abs(x int) int { return max(x, -x) }

// mixed adds b to a, resampled to lie offset cents from it.
func mixed(a, b solo, offset, levelDB float64) (mix, bool) {
	want := a.truth.Shift(pitch.Cents(offset))
	ratio := float64(want / b.truth)
	x := append([]float64(nil), a.samples[a.from:a.to]...)
	// The stretch of b whose mean pitch is known, played at another speed.
	end := b.from + int(float64(len(x))*ratio) + 2*resampleSide + 2
	if end > len(b.samples) {
		return mix{}, false
	}
	y := resampled(b.samples[b.from-resampleSide:end], ratio)
	if len(y) < len(x) {
		return mix{}, false
	}
	y = y[:len(x)]
	gain := rms(x) / rms(y) * math.Pow(10, levelDB/20)
	for i := range x {
		x[i] += gain * y[i]
	}
	return mix{name: a.name + "+" + b.name, samples: x, truth: a.truth, neighbour: want}, true
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}
