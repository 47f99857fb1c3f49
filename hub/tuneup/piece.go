package tuneup

import (
	"fmt"
	"maps"
	"slices"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// ErrNoPiece means that no piece is open.
var ErrNoPiece = refuse("refusal.no-piece")

// doOpenPiece names the opening of a piece for Undone; it is no command.
const doOpenPiece = "piece"

// step opens a piece in the place of the one before.
func (e Opened) step(s *State) error {
	step := s.undoable(hub.Command{Do: doOpenPiece})
	s.piece = e.Piece.Guess(s.pieceChairs())
	s.keep(step)
	s.out.Seen = Leader
	return nil
}

// pieceChairs are the chairs as a piece asks for them.
func (s *State) pieceChairs() []piece.Chair {
	var out []piece.Chair
	for _, c := range s.seated() {
		out = append(out, piece.Chair{ID: int64(c.ID), Label: c.Label, Name: c.Name, Part: c.Part, Instrument: c.Instrument, Absent: c.Absent})
	}
	return out
}

// actOnPiece carries out the commands about the piece.
func (s *State) actOnPiece(c hub.Command) error {
	if s.piece == nil {
		return ErrNoPiece
	}
	switch c.Do {
	case hub.DoPart:
		if s.seats[c.Chair] == nil {
			return fmt.Errorf("tuneup: part for chair %d: %w", c.Chair, hub.ErrNotFound)
		}
		p, err := s.piece.Seat(int64(c.Chair), c.Part)
		if err == nil {
			s.piece = p
		}
		return err
	case hub.DoPartFor:
		p, err := s.piece.For(c.Part, instrument.ID(c.Name), s.pieceChairs())
		if err == nil {
			s.piece = p
		}
		return err
	case hub.DoSonority:
		return s.callSonority(c.Index, c.Name)
	case hub.DoNextSonority:
		return s.callSonority(s.piece.Next(), "")
	}
	s.piece = nil
	return nil
}

// callSonority calls one held chord of the piece: those who play in it get
// their notes, the others rest. name chooses among the chord's names.
func (s *State) callSonority(k int, name string) error {
	asked, p, err := s.piece.Call(k, name, s.pieceChairs())
	if err != nil {
		return err
	}
	c := hub.Call{Kind: hub.CallChord, Chord: asked.Chord, Tones: map[hub.ChairID]pitch.Note{}, Only: true, Together: true, Where: asked.Where}
	if c.Chord == "" {
		c.Kind, c.Note, c.Spelled = hub.CallNote, asked.Note, asked.Name.String()
	}
	for id, n := range asked.Tones {
		c.Tones[hub.ChairID(id)] = n
	}
	c.Heads = map[hub.ChairID]hub.Head{}
	for id, h := range asked.Heads {
		c.Heads[hub.ChairID(id)] = hub.Head{Clef: h.Clef, Key: h.Key}
	}
	if err := s.call(c, nil); err != nil {
		return err
	}
	s.piece = p
	return nil
}

// Piece is the open piece with the chairs that play it; false when there is
// none.
func (s *State) Piece() (*piece.Piece, []piece.Chair, bool) {
	return s.piece, s.pieceChairs(), s.piece != nil
}

// PieceQuestion is what the main-slide compromise of the open piece depends on,
// with what the tuning notes of today say about each player.
func (s *State) PieceQuestion() (*piece.Piece, piece.Question, error) {
	if s.piece == nil {
		return nil, piece.Question{}, ErrNoPiece
	}
	q := piece.Question{Good: s.section.Good, Tuning: chordTuning(s.section), Note: pitch.A4 + 1, Notes: s.section.Notes, Language: s.section.Language}
	if len(s.section.TuningNotes) > 0 {
		q.Note = s.section.TuningNotes[0]
	}
	for _, c := range s.seated() {
		st := s.seats[c.ID]
		part, plays := s.piece.Part(int64(c.ID))
		in := st.instrument()
		if !plays || c.Absent || in == nil || !in.Tuned() {
			continue
		}
		if _, main := in.Slide(instrument.Main); !main {
			continue
		}
		r := s.lastTuningNote(st)
		q.Players = append(q.Players, piece.Player{Chair: int64(c.ID), Part: part, Measured: r != nil, Player: intonation.Player{
			Name: s.called(c.ID), Instrument: in, Settings: maps.Clone(c.Settings), Travel: maps.Clone(c.Travel),
			Offset: s.ownOffset(st, in, r), OneNote: in.TuningNote(q.Note), Learned: s.learned(st),
		}})
	}
	return s.piece, q, nil
}

// ownOffset is how far a player's last tuning note, nil for none, stands from
// the theory of the instrument, counted from the section's pitch.
func (s *State) ownOffset(st *seat, in *instrument.Instrument, r *hub.Reading) pitch.Cents {
	atA4 := pitch.Between(s.section.Reference.Frequency(pitch.A4), pitch.Reference{}.Frequency(pitch.A4))
	if r == nil {
		return atA4
	}
	paths := in.Paths(r.Note)
	if len(paths) == 0 {
		return atA4
	}
	theory := in.WithTravel(st.chair.Travel).Pitch(paths[0], s.settingsAt(st.chair, r), instrument.DefaultAir)
	return pitch.Between(theory, r.Hz()) + atA4
}

// lastTuningNote is the last note that tells where a chair's slides stand, nil
// for none.
func (s *State) lastTuningNote(st *seat) *hub.Reading {
	for _, r := range slices.Backward(st.counted) {
		if !s.ofChord(r) {
			return r
		}
	}
	return nil
}
