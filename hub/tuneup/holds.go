package tuneup

import (
	"math"
	"slices"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// A verdict belongs to a reading, a note and a reference, and to the slides as
// they stood: when one of them changes, it goes until the note is heard again.

// holds is the reading whose verdict still holds for a chair, nil for none. In
// a round that the chair plays in it is one of that round; otherwise the last
// of a tuning note, since a chord says nothing of where slides stand.
func (s *State) holds(st *seat, run *hub.Round) *hub.Reading {
	if run != nil {
		if _, plays := run.Call.Tones[st.id()]; plays {
			if r := st.last(); r != nil && r.Round == run.ID && s.stands(r) {
				return r
			}
			return nil
		}
	}
	for _, r := range slices.Backward(st.counted) {
		if !s.ofChord(r) {
			if s.stands(r) {
				return r
			}
			return nil
		}
	}
	return nil
}

// stands reports whether a reading was taken at the section's reference and no
// slide of its chair has been moved since.
func (s *State) stands(r *hub.Reading) bool {
	return (s.ofChord(r) || s.atReference(r)) && s.asThen(r)
}

// asThen reports whether the chair's slides stand where they stood at a
// reading: a move that was taken back is none.
func (s *State) asThen(r *hub.Reading) bool {
	const least = 0.25 // mm; half of the least that is set by hand
	if s.seats[r.Chair].handMoved(r) {
		return false
	}
	if !s.movedSince(r) {
		return true
	}
	c := s.seats[r.Chair].chair
	then := s.settingsAt(c, r)
	for id, mm := range c.Settings {
		if was, known := then[id]; known && math.Abs(was-mm) > least {
			return false
		}
	}
	return true
}

// atReference reports whether a tuning note was judged at the present reference.
func (s *State) atReference(r *hub.Reading) bool {
	const rounding = 0.01 // cents; of a target that was written down and read back
	want := s.section.Reference.Frequency(r.Note)
	return r.Target.Valid() && math.Abs(float64(pitch.Between(want, r.Target))) < rounding
}

// outdated reports whether what a tuning note was answered was worked out for
// another reference.
func (s *State) outdated(r *hub.Reading) bool {
	return r != nil && r.Counted && !s.ofChord(r) && !s.atReference(r)
}

// isSet reports whether the chair is set and nothing has changed since.
func (s *State) isSet(st *seat, run *hub.Round) bool {
	r := s.holds(st, run)
	return r != nil && r.Verdict == intonation.Set
}

// before lists the chair's counted readings of a note and a target, oldest first:
// what can be compared.
func (h *heard) before(note pitch.Note, target pitch.Hertz) []*hub.Reading {
	var out []*hub.Reading
	for _, r := range h.counted {
		if r.Note == note && r.Target == target {
			out = append(out, r)
		}
	}
	return out
}
