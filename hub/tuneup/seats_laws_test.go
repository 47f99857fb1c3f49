package tuneup

import (
	"math"
	"testing"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// Who sits beside whom does not depend on who is asked, and nobody sits beside another row.
func TestSideBySideIsMutual(t *testing.T) {
	s := &State{seats: map[hub.ChairID]*seat{}}
	for row := range 3 {
		for place := range 5 {
			id := hub.ChairID(10*row + place + 1)
			s.seats[id] = &seat{chair: &hub.Chair{ID: id, Row: row, Place: place}}
		}
	}
	for a, x := range s.seats {
		for b, y := range s.seats {
			want := x.chair.Row == y.chair.Row && math.Abs(float64(x.chair.Place-y.chair.Place)) <= 1
			if got := s.sideBySide(a, b); got != want {
				t.Errorf("row %d place %d and row %d place %d: side by side %v", x.chair.Row, x.chair.Place, y.chair.Row, y.chair.Place, got)
			}
		}
	}
}

// What is played is taken for the tone of the chord that lies nearest, within reach of it, at any A; far from all it is
// the nearest note.
func TestNearestTone(t *testing.T) {
	for _, name := range []string{"C major", "Eb7", "F# minor", "G diminished"} {
		chord, err := intonation.ParseChord(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, a4 := range []pitch.Hertz{440, 432} {
			ref := pitch.Reference{A4: a4}
			for n := pitch.Note(40); n < 76; n++ {
				for x := pitch.Cents(-49); x < 50; x += 3.5 {
					hz := ref.Frequency(n).Shift(x)
					want, distance := n, math.Inf(1)
					for o := n - 12; o <= n+12; o++ { // slowly: all of the chord's tones around
						tone, in := chord.Tone(o)
						if d := math.Abs(float64(pitch.Between(ref.Frequency(o).Shift(tone.Offset()), hz))); in && d < distance && d <= float64(reach) {
							want, distance = o, d
						}
					}
					if got := nearestTone(chord, ref, hz); got != want {
						t.Fatalf("%s, %v %+g: taken for %v, want %v", name, n, float64(x), got, want)
					}
				}
			}
		}
	}
}
