package attribute

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// TestAnotherNote: beside two who play the called note one plays another one, whose partials
// coincide with every m-th of the called note's where the two frequencies are as small numbers
// (Helmholtz, On the Sensations of Tone, part II chapter 10: octave 2:1, twelfth 3:1, fifth 3:2,
// fourth 4:3, sixth 5:3, third 5:4; natural seventh 7:4). He is not read as if he played the called note, however
// loud he is at his own laptop. The others are read, and so is he on the called note.
func TestAnotherNote(t *testing.T) {
	for name, ratio := range map[string]float64{
		"octave": 2, "two octaves": 4, "twelfth": 3, "fifth": 3.0 / 2, "fourth": 4.0 / 3, "sixth": 5.0 / 3, "third": 5.0 / 4, "seventh": 7.0 / 4,
		"right": 1,
	} {
		for _, cents := range []float64{-12, 3, 11} {
			for _, bleed := range []float64{0.01, 0.03} {
				f := testRef * math.Exp2(cents/1200)
				voices := []voice{{f0: f * ratio, bright: 0.5}, {f0: testRef * 1.0042, bright: 1}, {f0: testRef * 0.9969, bright: 1}}
				in := row(voices, []float64{testRef, testRef, testRef}, [][]float64{{0.1, bleed, bleed}, {bleed, 0.1, bleed}, {bleed, bleed, 0.1}})
				for c, got := range Fit(in).Chairs {
					right := c > 0 || ratio == 1
					if (got.Verdict == Sounding) != right {
						t.Errorf("%s, %+g cents, neighbours at %g: chair %d %s at %.2f Hz", name, cents, bleed, c, got.Verdict, float64(got.Hz))
					}
					if d := pitch.Between(pitch.Hertz(voices[c].f0), got.Hz); right && got.Verdict == Sounding && math.Abs(float64(d)) > 1 {
						t.Errorf("%s: chair %d off by %.2f cents", name, c, float64(d))
					}
				}
			}
		}
	}
}
