package tuneup

import (
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/proto/pitch"
)

// Figures of what counts as overheard.
const (
	// lingering is how long after a reading its player may still sound: a long
	// breath.
	lingering = 5 * time.Second
	// sameCents is how closely two microphones agree on one sound, with room
	// for their clocks and for the sound's own wander.
	sameCents = 5
	// farCents from the called note is no tuning error, so that the same pitch
	// at a neighbour is no coincidence.
	farCents = 60
	// reaction is the quickest that a player answers a page that asks to play:
	// simple visual reaction takes about a fifth of a second, without a breath.
	reaction = 200 * time.Millisecond
	// softerDB is by how much a neighbour's sound is softer here than at the
	// neighbour's own laptop, at least.
	softerDB = 3
)

// overheard reports whether a reading in turns is the end of somebody else's
// note: the pitch that another chair was just read at, and two of these: nowhere
// near the called note, softer than there, begun before the turn. A second player
// may play the same wrong note afresh. What a chair plays without being asked, in or
// out of tune, is that chair's wherever it is softer.
func (s *State) overheard(r *hub.Reading) bool {
	if !r.Wire.Hz.Valid() {
		return false
	}
	early := begun(r).Before(s.askedAt.Add(reaction))
	for _, o := range slices.Backward(s.readings) {
		if r.At.Sub(o.At) > lingering {
			break
		}
		if !alikeNotes(o, r) {
			continue
		}
		far, softer := math.Abs(float64(r.Cents)) > farCents, r.Wire.Level <= o.Wire.Level-softerDB
		if far && (early || softer) || early && softer {
			return true
		}
	}
	return slices.ContainsFunc(s.strays, func(o *hub.Reading) bool {
		return alikeNotes(o, r) && begun(r).Before(o.At) && r.Wire.Level <= o.Wire.Level-softerDB
	})
}

// alikeNotes reports whether two chairs' laptops may have heard one sound.
func alikeNotes(o, r *hub.Reading) bool {
	return o.Chair != r.Chair && o.Wire.Hz.Valid() && math.Abs(float64(pitch.Between(o.Wire.Hz, r.Wire.Hz))) <= sameCents
}

// strayed keeps a note that nobody asked for while it may be heard elsewhere.
func (s *State) strayed(r *hub.Reading) {
	s.strays = slices.DeleteFunc(slices.Clone(s.strays), func(o *hub.Reading) bool { return r.At.Sub(o.At) > lingering })
	if r.Why == hub.WhyNotAsked && s.running() != nil {
		s.strays = append(s.strays, r)
	}
}

// begun is when the note of a reading began.
func begun(r *hub.Reading) time.Time { return r.At.Add(-seconds(r.Wire.End - r.Wire.Onset)) }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
