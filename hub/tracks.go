package hub

import (
	"math"
	"slices"

	"bellrow/hub/attribute"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Microphones that hear everybody are told apart by partial tracks around the
// multiples of one frequency, common to all nodes. In a called round it follows
// from the call. In a listening round nobody knows the notes: there it is so low
// that the tracks hold whatever is played.

const (
	// lowestTracks keeps neighbouring multiples far enough apart for a player
	// to be a third of a semitone out at the tenth, in Hz.
	lowestTracks pitch.Hertz = 25
	// nearCalled is more than a just tone differs from a tempered one, and
	// leaves a player room within the 45 cents that a node keeps of a multiple.
	nearCalled pitch.Cents = 20
	// topOctave puts a root above all that brass plays.
	topOctave pitch.Note = 96
	// grid is the reference for notes that nobody called or that have no other in
	// common, in Hz: the lowest that nodes take, with room, so that what they keep
	// around its multiples leaves no gaps.
	grid pitch.Hertz = 10.5
)

// tracksReference is the frequency whose multiples all microphones of a
// together round follow.
func (h *Hub) tracksReference(r *Round) pitch.Hertz {
	if r.listening() {
		return grid
	}
	var tones []pitch.Hertz
	for _, n := range r.Call.Tones {
		tones = append(tones, h.section.Reference.Frequency(n))
	}
	chord, err := chordOf(r)
	if r.Call.Kind != CallChord || err != nil {
		return commonReference(tones, 0)
	}
	return commonReference(tones, h.section.Reference.Frequency(pitch.Note(chord.Root)+topOctave))
}

// traceable reports whether a chair's laptop can send tracks that can be laid
// beside those of others.
func (s *seat) traceable() bool { return !s.away() && s.tracks && s.clock.known }

// commonReference is the highest frequency near whose multiples all tones lie:
// the lowest tone, or a root, given in any octave or 0, at or below it. Where
// there is none, as with the third of a minor chord, it is the grid.
func commonReference(tones []pitch.Hertz, root pitch.Hertz) pitch.Hertz {
	if len(tones) == 0 {
		return 0
	}
	low := slices.Min(tones)
	if nearMultiples(tones, low) {
		return low
	}
	for ; root >= lowestTracks; root /= 2 {
		if root <= low.Shift(nearCalled) && nearMultiples(tones, root) {
			return root
		}
	}
	return grid
}

// nearMultiples: only tones near a multiple have all their partials in the tracks.
func nearMultiples(tones []pitch.Hertz, reference pitch.Hertz) bool {
	return !slices.ContainsFunc(tones, func(f pitch.Hertz) bool {
		k := max(1, math.Round(float64(f/reference)))
		return math.Abs(float64(pitch.Between(reference*pitch.Hertz(k), f))) > float64(nearCalled)
	})
}

// ranges is what the chairs of a window can sound.
func (h *Hub) ranges(in attribute.Input) []attribute.Range {
	out := make([]attribute.Range, len(in.Chairs))
	for i, c := range in.Chairs {
		ch := h.chair(ChairID(c.ID))
		if ch == nil {
			continue
		}
		if inst, err := instrument.Find(ch.Instrument); err == nil {
			out[i] = attribute.Range{Low: h.section.Reference.Frequency(inst.Low), High: h.section.Reference.Frequency(inst.High)}
		}
	}
	return out
}

// expectHeard fills in what the chairs of a listening round are taken to hold:
// what all microphones together say, or the chair's own laptop alone.
func expectHeard(in *attribute.Input, ranges []attribute.Range) {
	first := *in
	first.End = min(in.Start+windowLength, in.End)
	for i, hz := range attribute.Notes(first, ranges) {
		in.Chairs[i].Expected = hz
		if hz == 0 {
			in.Chairs[i].Expected = in.Chairs[i].Own.Hz
		}
	}
}
