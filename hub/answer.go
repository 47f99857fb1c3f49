package hub

import (
	"encoding/json"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
)

// Answer is what a player was told about a reading: what is meant, in codes and
// figures. hub/show has the words.
type Answer struct {
	ID int64 `json:"id"` // another one for each thing said, so that a page shows it anew
	slide.Advice
	// Chord is where the tone stood in its chord, nil outside of chords.
	Chord *intonation.Place `json:"chord,omitempty"`
	// Words hold the sentences of records that earlier versions stored.
	slide.Words
}

// UnmarshalJSON reads earlier versions' records as well: their moves are Steps.
func (a *Answer) UnmarshalJSON(data []byte) error {
	type answer Answer
	stored := struct {
		*answer
		Moves []proto.Slide `json:"moves"`
	}{answer: (*answer)(a)}
	if err := json.Unmarshal(data, &stored); err != nil {
		return err
	}
	for _, m := range stored.Moves {
		a.Steps = append(a.Steps, slide.Step{Slide: m.ID, Name: m.Name, FromMM: m.FromMM, ToMM: m.ToMM, TravelMM: m.TravelMM})
	}
	return nil
}

// Clone returns a copy that shares no memory.
func (a Answer) Clone() Answer {
	a.Steps, a.Facts.Telling = slices.Clone(a.Steps), slices.Clone(a.Facts.Telling)
	if a.Try != nil {
		p := *a.Try
		a.Try = &p
	}
	if a.Chord != nil {
		c := a.Chord.Clone()
		a.Chord = &c
	}
	return a
}
