package tuneup

import (
	"encoding/json"

	"bellrow/hub"
	"bellrow/hub/slide"
)

// Record is all of a state that a restart has to find again, in JSON.
func (s *State) Record() string {
	type seat struct {
		Chair   hub.ChairID
		InRound int64
		Notes   int
		Turn    slide.Turn
		Counted []int64
		Moves   []int64
	}
	var seats []seat
	for _, c := range s.chairs {
		st := s.seats[c.ID]
		d := seat{Chair: c.ID, Notes: st.notes, Turn: st.turn}
		if st.inRound != nil {
			d.InRound = st.inRound.ID
		}
		for _, r := range st.counted {
			d.Counted = append(d.Counted, r.ID)
		}
		for _, m := range st.moves {
			d.Moves = append(d.Moves, m.ID)
		}
		seats = append(seats, d)
	}
	piece := ""
	if s.piece != nil {
		piece, _ = s.piece.State()
	}
	text, err := json.MarshalIndent(struct {
		Section  *hub.Section
		Rounds   []*hub.Round
		Readings []*hub.Reading
		Moves    []*hub.MoveRecord
		Settings []hub.SettingRecord
		Begun    string
		Watching bool
		Piece    string
		Seats    []seat
	}{s.whole(), none(s.rounds), none(s.readings), none(s.moves), none(s.settings), s.begun.String(), !s.watching.IsZero(), piece, seats}, "", " ")
	if err != nil {
		panic(err)
	}
	return string(text)
}

// none makes an empty list nil.
func none[T any](xs []T) []T { return append([]T(nil), xs...) }

// Memories is what each chair's answers rest on.
func (s *State) Memories() map[hub.ChairID]slide.Memory {
	out := map[hub.ChairID]slide.Memory{}
	for id, st := range s.seats {
		out[id] = st.memory
	}
	return out
}

// Moment is what a restart may forget, without what follows from the facts.
func (s *State) Moment() any {
	m := s.moment
	m.judgement = nil
	return m
}

// Deal is deal.
var Deal = deal
