package ensemble

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Microphones that hear everybody are told apart by partial tracks around the
// multiples of one frequency, common to all nodes. In a called round it follows
// from the call. Where nobody knows the notes it is Grid: so low that the
// tracks hold whatever is played.

const (
	// lowest keeps neighbouring multiples far enough apart for a player to be a
	// third of a semitone out at the tenth, in Hz.
	lowest pitch.Hertz = 25
	// nearCalled is more than a just tone differs from a tempered one, and
	// leaves a player room within the 45 cents that a node keeps of a multiple.
	nearCalled pitch.Cents = 20
	// Grid is the reference for notes that nobody called or that have no other in
	// common, in Hz: the lowest that nodes take, with room, so that what they keep
	// around its multiples leaves no gaps.
	Grid pitch.Hertz = 10.5
)

// Reference is the highest frequency near whose multiples all tones lie: the
// lowest tone, or a root, given in any octave above the tones or 0, at or below
// it. Where there is none, as with the third of a minor chord, it is Grid; 0
// without tones.
func Reference(tones []pitch.Hertz, root pitch.Hertz) pitch.Hertz {
	if len(tones) == 0 {
		return 0
	}
	low := slices.Min(tones)
	if nearMultiples(tones, low) {
		return low
	}
	for ; root >= lowest; root /= 2 {
		if nearMultiples(tones, root) {
			return root
		}
	}
	return Grid
}

// nearMultiples: only tones near a multiple, none of them below the first, have all their
// partials in the tracks.
func nearMultiples(tones []pitch.Hertz, reference pitch.Hertz) bool {
	return !slices.ContainsFunc(tones, func(f pitch.Hertz) bool {
		k := max(1, math.Round(float64(f/reference)))
		return math.Abs(float64(pitch.Between(reference*pitch.Hertz(k), f))) > float64(nearCalled)
	})
}
