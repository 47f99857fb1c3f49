package belief

import (
	"testing"
	"time"
)

// TestTheLastNoteMovesMore: of players who were heard alike, who has been asked for a
// note more (it was refused, and says nothing) is moved wherever the others are, and on
// the last note somewhere where they are not: nothing will make that good.
func TestTheLastNoteMovesMore(t *testing.T) {
	moved := func(refused int, cents float64) bool {
		s := New(Config{})
		s.Sit(1, Slide{MM: 12, Max: 35, PerMM: 1.2}, Profile{})
		at := began
		for range refused {
			s.Heard(1, Reading{At: at, Refused: true})
			at = at.Add(20 * time.Second)
		}
		for range 2 {
			s.Heard(1, Reading{At: at, Cents: cents, Half: 2})
			at = at.Add(20 * time.Second)
		}
		return s.Best(1) != 0
	}
	for refused := 1; refused <= 2; refused++ {
		more := 0
		for cents := 0.0; cents < 9; cents += 0.25 {
			before, after := moved(refused-1, cents), moved(refused, cents)
			if before && !after {
				t.Errorf("%g cents, heard twice: moved after %d notes and not after %d", cents, refused+1, refused+2)
			}
			if after && !before {
				more++
			}
		}
		if more == 0 {
			t.Errorf("%d notes move no more than %d", refused+2, refused+1)
		}
	}
}
