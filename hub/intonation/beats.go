package intonation

import (
	"cmp"
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// beats lists the pairs that beat otherwise than their targets would, those
// heard plainest first.
func (q Question) beats(aim Aim, readings map[Chair]Reading) []Beat {
	chairs := sorted(readings)
	slices.SortStableFunc(chairs, func(a, b Chair) int { return cmp.Compare(aim.Targets[a].Note, aim.Targets[b].Note) })
	var out []Beat
	for i, low := range chairs {
		for _, high := range chairs[i+1:] {
			if b, ok := q.beat(aim, readings, low, high); ok {
				out = append(out, b)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Beat) int { return cmp.Compare(b.plainness(), a.plainness()) })
	return out[:min(len(out), maxBeats)]
}

func (q Question) beat(aim Aim, readings map[Chair]Reading, low, high Chair) (Beat, bool) {
	a, b := aim.Targets[low], aim.Targets[high]
	ratio, ok := q.Chord.Between(a.Note, b.Note)
	if !ok || farOff(a.Hz, readings[low]) || farOff(b.Hz, readings[high]) {
		return Beat{}, false
	}
	rate := ratio.Beat(readings[low].Hz, readings[high].Hz)
	if math.Abs(rate-ratio.Beat(a.Hz, b.Hz)) < stillRate {
		return Beat{}, false
	}
	beat := Beat{Low: low, High: high, Ratio: ratio, PerSecond: rate, Code: beatCode(rate)}
	beat.Words = beat.words()
	return beat, true
}

// farOff: beyond a quarter tone another note is sounding and the pair's ratio
// means nothing.
func farOff(target pitch.Hertz, r Reading) bool {
	return math.Abs(float64(pitch.Between(target, r.Hz))) > 50
}

// plainness orders pairs: simple ratios have strong shared partials, and a
// beat stands out up to the rate of a fast vibrato (from experience, no source).
func (b Beat) plainness() float64 {
	const fast = 6.0
	return min(b.PerSecond, fast) / math.Sqrt(float64(b.Ratio.Num*b.Ratio.Den))
}
