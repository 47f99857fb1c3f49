package hub

import (
	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// Proposal is a chord that could be called, with a tone for each chair that
// is here and can play.
type Proposal struct {
	Chord intonation.Chord
	Tones map[ChairID]pitch.Note // sounding
}

// Propose hands the tones of a chord, by its name, out to the chairs as a call
// would. The error says what is wrong with the name.
func (h *Hub) Propose(chord string) (Proposal, error) {
	c, err := intonation.ParseChord(chord)
	if err != nil {
		return Proposal{}, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	var here []ChairID
	for _, ch := range h.section.Chairs {
		if !ch.Absent {
			here = append(here, ch.ID)
		}
	}
	return Proposal{c, h.spread(c, here)}, nil
}
