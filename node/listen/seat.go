package listen

import (
	"math"

	"bellrow/proto/pitch"
)

// What is not the player's try is no reading: neither counted nor spoken of.
const (
	// shortestTry is the least length, in seconds, of a try.
	shortestTry = 0.5
	// farBelow is how far below the seat's own level a sound is somebody else's.
	farBelow = 15.0
	// quieter is how far below it a note is somebody else's that is not the one
	// called, and offCall how far off that is, in cents.
	quieter, offCall = 6.0, 70.0
	// seatRises and seatFalls are how much of the difference the seat's level
	// follows a louder and a quieter note.
	seatRises, seatFalls = 0.5, 0.1
)

// seat is what earlier notes have taught of the player at this microphone.
type seat struct {
	level float64 // dBFS
	notes int
}

// hear learns from a note of the given level. The loudest at a microphone is
// the one who sits there.
func (s *seat) hear(level float64, settled bool) {
	switch {
	case s.notes == 0:
		s.level = level
	case level > s.level:
		s.level += seatRises * (level - s.level)
	case settled:
		s.level += seatFalls * (level - s.level)
	}
	s.notes++
}

// doubt lets the level fall where the called note is heard from afar: the level
// may be a neighbour's, or the player sits farther away now or plays softly, and
// whoever plays the called note time and again is heard in the end.
func (s *seat) doubt(level float64, called bool) {
	if called {
		s.level += seatRises * (level - s.level)
	}
}

// strange reports whether r is not the player's try.
func (l *Listener) strange(r *Reading) bool {
	if l.seat.notes == 0 {
		return false
	}
	below := l.seat.level - float64(r.Level)
	if below > farBelow {
		return true
	}
	return l.note.call > 0 && r.Hz > 0 && below > quieter && !called(l.note.call, r.Hz)
}

// called reports whether a pitch is the called one, or near it.
func called(call, hz pitch.Hertz) bool {
	return call > 0 && hz > 0 && math.Abs(float64(pitch.Between(call, hz))) <= offCall
}
