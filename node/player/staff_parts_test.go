package player

import (
	"testing"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// TestStaffFollowsThePart: every instrument's tuning note, as its part writes it,
// has a place on a staff in the part's clef, and the same sounding note lies as many
// steps apart under two clefs as their lines do: written C4 is the first ledger
// line below the treble staff, above the bass staff, the middle line of the
// alto staff and the fourth line of the tenor staff.
func TestStaffFollowsThePart(t *testing.T) {
	for _, in := range instrument.Band() {
		n, _, _ := in.TuningWay(58)
		written := pitch.Written(pitch.Usual(n), in.Transposition).Display()
		s := newStaff(written, clefOf(proto.View{}, in.ID), nil, phrase.Tongue{})
		if s == nil || s.Clef != in.Clef || s.Step < -8 || s.Step > 16 {
			t.Errorf("%s: %s stands at %+v", in.ID, written, s)
		}
	}
	for c, step := range map[string]int{"treble": -2, "bass": 10, "alto": 4, "tenor": 6} {
		if s := newStaff("C4", c, nil, phrase.Tongue{}); s == nil || s.Step != step {
			t.Errorf("C4 in the %s clef stands at %+v, want step %d", c, s, step)
		}
	}
}
