package tuneup

import (
	"testing"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// TestABeginningHasItsSignWhenBelieved: a note that begins sharp starts above its rest, by as much as the laptop says,
// and one that begins flat below; what the room heard of a row tells no beginning.
func TestABeginningHasItsSignWhenBelieved(t *testing.T) {
	for _, early := range []float64{-12, -0.5, 0, 3, 25} {
		r := &hub.Reading{At: evening, Wire: proto.Reading{Early: pitch.Cents(early), Drift: -early / 4, Start: 1, End: 3, CI95: 1}}
		if b := asBelieved(r, 2); b.Start != early || b.StartHalf < startHalf || b.Drift != -early/4 || b.Cents != 2 {
			t.Errorf("begins %+g cents off: %+v", early, b)
		}
		r.Heard = &hub.Heard{}
		if b := asBelieved(r, 2); b.Start != 0 || b.StartHalf != 0 || b.Cents != 2 {
			t.Errorf("heard in a row: %+v", b)
		}
	}
}
