package settle

import "math"

// Vibrato is a periodic modulation of a track.
type Vibrato struct {
	RateHz float64
	Extent float64 // cents, peak to peak
	Share  float64 // of the power of all that moves at such rates
}

// The rule: a line of so many hertz that holds a share of the power of all that
// moves at 1.5 to 14 Hz, and is as wide as that. Deliberate vibrato was measured
// at 3.3 to 4.6 Hz and 20 to 57 cents on brass; other players go up to 8 Hz. A
// natural tremor of the same rates is narrower and is there in many straight
// tones.
const (
	minVibratoHz, maxVibratoHz = 3.0, 8.5
	movesFrom, movesTo         = 1.5, 14.0
	// VibratoShare is the line's share, and lineReach how many half waves either
	// side of it are the line's: players do not keep time like a machine.
	VibratoShare = 0.7
	lineReach    = 2
	// MinVibrato is the extent, in cents, from which it is marked. Played on
	// purpose it is wider than wide, and even: it holds evenShare of that power,
	// where the tremor of straight trumpet tones, as wide at times, holds 0.7 to 0.8.
	MinVibrato, wide, evenShare = 9.5, 18.0, 0.87
	// vibratoCycles is how many cycles must be heard.
	vibratoCycles = 2.5
)

// Deliberate reports whether v is no straight tone.
func (v Vibrato) Deliberate() bool { return v.Extent > wide && v.Share > evenShare }

// VibratoOf looks for a vibrato in a track.
func VibratoOf(track []float64, tick float64) (Vibrato, bool) {
	seconds := float64(len(track)) * tick
	lo, hi := max(1, int(2*movesFrom*seconds)), int(2*movesTo*seconds)
	square := make([]float64, hi+1)
	total := 0.0
	for j := lo; j <= hi; j++ {
		a := HalfWave(track, j)
		square[j] = a * a
		total += square[j]
	}
	best, rate := 0.0, 0.0
	for j := int(math.Ceil(2 * max(minVibratoHz*seconds, vibratoCycles))); j <= int(2*maxVibratoHz*seconds); j++ {
		sum := 0.0
		for _, a := range square[j-lineReach : j+lineReach+1] {
			sum += a
		}
		if sum > best {
			best, rate = sum, float64(j)/2/seconds
		}
	}
	if best == 0 {
		return Vibrato{}, false // too short, or nothing moves
	}
	v := Vibrato{Share: best / total}
	for hz := rate - 1/seconds; hz <= rate+1/seconds; hz += 0.05 {
		if extent := 2 * amplitude(track, hz*tick); extent > v.Extent {
			v.RateHz, v.Extent = hz, extent
		}
	}
	return v, best > VibratoShare*total && v.Extent > MinVibrato
}

// amplitude is that of the sinusoid of so many cycles a point in y.
func amplitude(y []float64, cycles float64) float64 {
	mean := 0.0
	for _, v := range y {
		mean += v / float64(len(y))
	}
	re, im := 0.0, 0.0
	for i, v := range y {
		s, c := math.Sincos(2 * math.Pi * cycles * float64(i))
		re, im = re+(v-mean)*c, im+(v-mean)*s
	}
	return 2 * math.Hypot(re, im) / float64(len(y))
}
