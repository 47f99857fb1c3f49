package intonation

import (
	"slices"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Place is where a chair's tone stands in its chord, and what is left to do
// where no slide serves.
type Place struct {
	Tone  string        `json:"tone,omitempty"` // its name; empty for a note that is none of the chord's
	Note  pitch.Spelled `json:"note"`
	Cents pitch.Cents   `json:"cents"` // from its target
	// Ways are other fingerings or positions of the note, where it is not set.
	Ways []instrument.Path `json:"ways,omitempty"`
	// Resort is the honest alternative, nil where there is none.
	Resort *Resort `json:"resort,omitempty"`
}

// Clone returns a copy that shares no memory.
func (p Place) Clone() Place {
	p.Ways = slices.Clone(p.Ways)
	if p.Resort != nil {
		r := *p.Resort
		r.Steps = slices.Clone(r.Steps)
		p.Resort = &r
	}
	return p
}
