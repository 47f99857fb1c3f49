package hub

import (
	"fmt"

	"bellrow/proto/instrument"
)

// way is how a chair plays its note of the round: as the leader said, or the
// usual way. ok is false where the instrument cannot play the note.
func (r *Round) way(id ChairID, in *instrument.Instrument) (p instrument.Path, ok bool) {
	note := r.Call.Tones[id]
	if said, err := instrument.ParsePath(r.Call.Ways[id]); err == nil {
		if p, err := in.Resolve(said, note); err == nil {
			return p, true
		}
	}
	if usual := in.Paths(note); len(usual) > 0 {
		return usual[0], true
	}
	return instrument.Path{}, false
}

// waysOf lists how a chair plays its chord tone and how else it could.
func (r *Round) waysOf(id ChairID, in *instrument.Instrument) (now string, all []string) {
	if r.Call.Kind != CallChord {
		return "", nil
	}
	p, ok := r.way(id, in)
	if !ok {
		return "", nil
	}
	for _, w := range in.Paths(r.Call.Tones[id]) {
		all = append(all, w.String())
	}
	return p.String(), all
}

// setWay lets a chair play its chord tone in another way, and hears it anew.
func (h *Hub) setWay(run *Round, c *Chair, way string) error {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return err
	}
	note, plays := run.Call.Tones[c.ID]
	if run.Call.Kind != CallChord || !plays {
		return fmt.Errorf("hub: fingering for %s, who plays in no chord now", h.called(c.ID))
	}
	said, err := instrument.ParsePath(way)
	if err == nil {
		said, err = in.Resolve(said, note)
	}
	if err != nil {
		return err
	}
	if run.Call.Ways == nil {
		run.Call.Ways = map[ChairID]string{}
	}
	run.Call.Ways[c.ID] = said.String()
	h.reask(run, c.ID)
	return nil
}
