package hub

import "time"

// ringFor is how long the next player waits at most for a note that was
// answered while it still sounded: the rest of a breath.
const ringFor = 2 * time.Second

// slideTakes is the least time from an answer to the next reading where a slide
// is to be moved between the two: read it, set the slide, breathe, and play
// until the pitch has rested.
const slideTakes = 4 * time.Second

// ringing returns until when the turn waits for the note before to end, and
// zero when it need not. A player who starts into a neighbour's note is not
// told from it by one microphone.
func (h *Hub) ringing() time.Time {
	s := h.seats[h.rings]
	if s == nil || s.away() || s.sound.State == "" || s.sound.State == stateQuiet {
		return time.Time{}
	}
	until := h.turnAt.Add(ringFor)
	if !h.now().Before(until) {
		return time.Time{}
	}
	return until
}

// hush lets the next player begin once the note before has ended.
func (h *Hub) hush() {
	if h.rings == 0 || !h.ringing().IsZero() {
		return
	}
	h.rings, h.turnAt = 0, h.now()
	h.touch()
}

// stateQuiet is proto.State's word for silence.
const stateQuiet = "quiet"
