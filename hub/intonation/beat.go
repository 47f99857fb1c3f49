package intonation

import "bellrow/proto/pitch"

// Beat is a pair of chairs whose nearest shared partials beat.
type Beat struct {
	Low, High Chair
	// Ratio is the just ratio of the pair, upper over lower, octaves included:
	// partial Num of the lower tone lies beside partial Den of the upper.
	Ratio pitch.Ratio
	// PerSecond is how often they beat: |Num·f_low − Den·f_high|.
	PerSecond float64
	// Code says how that sounds, Words as a leader would.
	Code  BeatCode
	Words string
}

// maxBeatPartial is the highest partial that is asked to meet another. Above
// the tenth, brass partials lie too close together and too soft for one pair
// to be heard out (from experience, no source).
const maxBeatPartial = 10

// generic is the simple ratio of each tempered interval within the octave, for
// tones that are not in the chord. Seconds, sevenths and the tritone have
// several; they are left out (zero).
var generic = [12]pitch.Ratio{
	0: {Num: 1, Den: 1}, 3: {Num: 6, Den: 5}, 4: {Num: 5, Den: 4}, 5: {Num: 4, Den: 3},
	7: {Num: 3, Den: 2}, 8: {Num: 8, Den: 5}, 9: {Num: 5, Den: 3},
}

// Between returns the just ratio of two tones of the chord, octaves included:
// 5/2 for a root and the third in the next octave. It reports false when no
// shared partial up to the tenth is to be heard, as with a tempered seventh.
func (c Chord) Between(low, high pitch.Note) (pitch.Ratio, bool) {
	if high < low {
		low, high = high, low
	}
	a, okA := c.Tone(low)
	b, okB := c.Tone(high)
	r := pitch.Ratio{Num: b.Ratio.Num * a.Ratio.Den, Den: b.Ratio.Den * a.Ratio.Num}
	semitones := b.Semitones - a.Semitones
	if !okA || !okB {
		semitones = int(high-low) % 12
		r = generic[semitones]
	}
	if r.Num == 0 || r.Den == 0 {
		return pitch.Ratio{}, false
	}
	for range (int(high-low) - semitones) / 12 { // octaves; never fewer than none
		r.Num *= 2
	}
	r = reduce(r)
	return r, r.Num <= maxBeatPartial
}

func reduce(r pitch.Ratio) pitch.Ratio {
	a, b := r.Num, r.Den
	for b != 0 {
		a, b = b, a%b
	}
	return pitch.Ratio{Num: r.Num / a, Den: r.Den / a}
}

// Rates that change how a beat sounds (common practice, no source).
const (
	stillRate = 0.3 // slower is heard as ringing within one held chord
	slowRate  = 1.2
	countRate = 4.0
	roughRate = 12.0
)

// BeatCode says how a rate sounds.
type BeatCode string

// The codes.
const (
	BeatStill   BeatCode = "still"
	BeatSlow    BeatCode = "slow"
	BeatCounted BeatCode = "counted"
	BeatFast    BeatCode = "fast"
	BeatRough   BeatCode = "rough"
)

func beatCode(perSecond float64) BeatCode {
	switch {
	case perSecond < stillRate:
		return BeatStill
	case perSecond < slowRate:
		return BeatSlow
	case perSecond < countRate:
		return BeatCounted
	case perSecond < roughRate:
		return BeatFast
	}
	return BeatRough
}
