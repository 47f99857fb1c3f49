package hub

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"reflect"
	"slices"
	"strconv"

	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// What the pages are shown of a piece; see hub/piece.
type (
	Piece     = piece.View
	PiecePlan = piece.Plan
	RowPiece  = piece.Row
)

// A piece is kept among the store's small values: the score under one key, and
// what changes while it is played through under another.
const (
	keyPiece      = "piece/"       // + section ID
	keyPieceState = "piece-state/" // + section ID
)

// doPiece names the import of a piece for Undo; it is no Command.
const doPiece = "piece"

var errNoPiece = errors.New("hub: there is no piece; open one first")

// LoadPiece reads a MusicXML score for the open section; it replaces the one
// before. The errors of hub/score are passed on.
func (h *Hub) LoadPiece(ctx context.Context, r io.Reader) error {
	p, err := piece.Read(r)
	if err != nil {
		return err
	}
	h.takePiece(p)
	h.flushLogged(ctx)
	return nil
}

func (h *Hub) takePiece(p *piece.Piece) {
	h.mu.Lock()
	defer h.mu.Unlock()
	step := h.snapshot(Command{Do: doPiece})
	h.setPiece(p.Guess(h.section.pieceChairs()))
	step.name = "the new piece"
	h.keep(step)
	h.touchRow()
}

// Piece returns the open piece; false when there is none.
func (h *Hub) Piece() (Piece, bool) {
	h.mu.Lock()
	p, chairs := h.piece, h.section.pieceChairs()
	h.mu.Unlock()
	if p == nil {
		return Piece{}, false
	}
	return p.View(chairs), true
}

// rowPiece is what the row says of the piece, nil when there is none.
func (h *Hub) rowPiece() *RowPiece {
	if h.piece == nil {
		return nil
	}
	r := h.piece.Row()
	return &r
}

func (s Section) pieceChairs() []piece.Chair {
	var out []piece.Chair
	for _, c := range s.seated() {
		out = append(out, piece.Chair{ID: int64(c.ID), Label: c.Label, Name: c.Name, Part: c.Part, Instrument: c.Instrument, Absent: c.Absent})
	}
	return out
}

// actOnPiece carries out the commands about the piece; ok is false for others.
func (h *Hub) actOnPiece(c Command) (name string, ok bool, err error) {
	switch c.Do {
	case DoPart, DoSonority, DoNextSonority, DoDropPiece:
	default:
		return "", false, nil
	}
	if h.piece == nil {
		return "", true, errNoPiece
	}
	switch c.Do {
	case DoPart:
		name, err = h.givePart(c.Chair, c.Part)
	case DoSonority:
		name, err = "the call", h.callSonority(c.Index, c.Name)
	case DoNextSonority:
		name, err = "the call", h.callSonority(h.piece.Next(), "")
	case DoDropPiece:
		h.setPiece(nil)
		name = "closing the piece"
	}
	return name, true, err
}

// givePart lets a chair play a part, or none for a negative one.
func (h *Hub) givePart(id ChairID, part int) (name string, err error) {
	if h.chair(id) == nil {
		return "", fmt.Errorf("hub: part for chair %d: %w", id, ErrNotFound)
	}
	p, err := h.piece.Seat(int64(id), part)
	if err != nil {
		return "", err
	}
	h.setPiece(p)
	return "the part of " + h.called(id), nil
}

// callSonority calls one held chord of the piece: those who play in it get
// their notes, the others rest. name chooses among the chord's names.
func (h *Hub) callSonority(k int, name string) error {
	asked, p, err := h.piece.Call(k, name, h.section.pieceChairs())
	if err != nil {
		return err
	}
	c := Call{Kind: CallChord, Chord: asked.Chord, Tones: map[ChairID]pitch.Note{}, Only: true, Together: true, Where: asked.Where}
	if c.Chord == "" {
		c.Kind, c.Note = CallNote, asked.Note
	}
	for id, n := range asked.Tones {
		c.Tones[ChairID(id)] = n
	}
	if err := h.call(c, nil); err != nil {
		return err
	}
	h.setPiece(p)
	return nil
}

// setPiece takes a piece in the place of the one before, nil for none, and
// queues it to be stored.
func (h *Hub) setPiece(p *piece.Piece) {
	if p == h.piece {
		return
	}
	same := p.SameScore(h.piece)
	h.piece = p
	packed, state := "", "{}"
	if p != nil {
		var err error
		packed = p.Packed()
		if state, err = p.State(); err != nil {
			h.log.Error("hub: the piece's state cannot be written", "err", err)
			return
		}
	}
	if !same {
		h.saveValue(h.pieceKey(keyPiece), packed)
	}
	h.saveValue(h.pieceKey(keyPieceState), state)
}

func (h *Hub) pieceKey(kind string) string { return kind + strconv.FormatInt(h.section.ID, 10) }

func (h *Hub) saveValue(key, value string) {
	h.journal.put(&write{key: key, do: func(ctx context.Context, s Store) error { return s.SetValue(ctx, key, value) }})
}

// loadPiece reads the section's piece from the store, nil when there is none.
// One that cannot be read is no reason not to start.
func (h *Hub) loadPiece(ctx context.Context, section int64) (*piece.Piece, error) {
	id := strconv.FormatInt(section, 10)
	packed, err := h.value(ctx, keyPiece+id)
	if err != nil || packed == "" {
		return nil, err
	}
	state, err := h.value(ctx, keyPieceState+id)
	if err != nil {
		return nil, err
	}
	p, err := piece.Unpack(packed, state)
	if err != nil {
		h.log.Error("hub: the stored piece cannot be read", "err", err)
	}
	return p, nil
}

// value reads one of the store's small values, "" when it was never set.
func (h *Hub) value(ctx context.Context, key string) (string, error) {
	v, err := h.store.Value(ctx, key)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return "", fmt.Errorf("hub: loading %s: %w", key, err)
	}
	return v, nil
}

// plannedFor is what a plan was made for.
type plannedFor struct {
	piece    *piece.Piece
	question piece.Question
}

// PiecePlan works the main-slide compromise out, with what the tuning notes
// of today say about each player. It may take a second for a long piece.
func (h *Hub) PiecePlan() (PiecePlan, error) {
	h.mu.Lock()
	in := plannedFor{h.piece, h.pieceQuestion()}
	h.mu.Unlock()
	if in.piece == nil {
		return PiecePlan{}, errNoPiece
	}
	h.planning.Lock()
	defer h.planning.Unlock()
	if h.planned == nil || !in.piece.SameScore(h.plannedFor.piece) || !reflect.DeepEqual(h.plannedFor.question, in.question) {
		plan, err := in.piece.Plan(in.question)
		if err != nil {
			return PiecePlan{}, err
		}
		h.plannedFor, h.planned = in, &plan
	}
	return *h.planned, nil
}

func (h *Hub) pieceQuestion() piece.Question {
	q := piece.Question{Good: h.section.Good, Tuning: h.section.chordTuning(), Note: pitch.A4 + 1}
	if h.piece == nil {
		return q
	}
	if len(h.section.TuningNotes) > 0 {
		q.Note = h.section.TuningNotes[0]
	}
	for _, c := range h.section.seated() {
		part, plays := h.piece.Part(int64(c.ID))
		in, err := instrument.Find(c.Instrument)
		if !plays || c.Absent || err != nil {
			continue
		}
		if _, main := in.Slide(instrument.Main); !main {
			continue
		}
		q.Players = append(q.Players, piece.Player{Chair: int64(c.ID), Part: part, Measured: h.lastTuningNote(c.ID) != nil, Player: intonation.Player{
			Name: h.called(c.ID), Instrument: in, Settings: maps.Clone(c.Settings), Travel: maps.Clone(c.Travel),
			Offset: h.ownOffset(c, in), OneNote: in.TuningNote(q.Note), Learned: h.learned(h.seats[c.ID]),
		}})
	}
	return q
}

// ownOffset is how far a player's last tuning note stands from the theory of
// the instrument, counted from the section's pitch.
func (h *Hub) ownOffset(c Chair, in *instrument.Instrument) pitch.Cents {
	atA4 := pitch.Between(h.section.Reference.Frequency(pitch.A4), pitch.Reference{}.Frequency(pitch.A4))
	r := h.lastTuningNote(c.ID)
	if r == nil {
		return atA4
	}
	paths := in.Paths(r.Note)
	if len(paths) == 0 {
		return atA4
	}
	theory := in.WithTravel(c.Travel).Pitch(paths[0], h.settingsAt(c, r), instrument.DefaultAir)
	return pitch.Between(theory, r.hz()) + atA4
}

// lastTuningNote is the last note that tells where a chair's slides stand: a
// chord tone is balanced while it sounds.
func (h *Hub) lastTuningNote(id ChairID) *Reading {
	for _, r := range slices.Backward(h.seats[id].counted) {
		if !h.inChord(r) {
			return r
		}
	}
	return nil
}

// settingsAt is where a chair's slides stood when a reading was taken.
func (h *Hub) settingsAt(c Chair, r *Reading) instrument.Settings {
	set := instrument.Settings{}
	maps.Copy(set, c.Settings)
	for _, rec := range slices.Backward(h.settings) {
		if rec.Chair == c.ID && !rec.precedes(r) {
			set[rec.Slide] = rec.From
		}
	}
	return set
}
