package session

import (
	"context"
	"io"
	"reflect"
	"sync"

	"bellrow/hub/piece"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
)

// LoadPiece reads a MusicXML score for the open section; it replaces the one
// before. The errors of hub/score are passed on.
func (s *Session) LoadPiece(ctx context.Context, r io.Reader) error {
	p, err := piece.Read(r)
	if err != nil {
		return err
	}
	s.happened(tuneup.Opened{Piece: p})
	s.flush(ctx)
	return nil
}

// Piece returns the open piece; false when there is none.
func (s *Session) Piece() (piece.View, bool) {
	s.mu.Lock()
	p, chairs, ok := s.state.Piece()
	sec := s.state.Section()
	t := phrase.Leader.In(sec.Language, sec.Notes)
	s.mu.Unlock()
	if !ok {
		return piece.View{}, false
	}
	return p.ViewIn(chairs, t), true
}

// PiecePlan works the main-slide compromise out, with what the tuning notes of
// today say about each player. It may take a second for a long piece.
func (s *Session) PiecePlan() (piece.Plan, error) {
	s.mu.Lock()
	p, q, err := s.state.PieceQuestion()
	s.mu.Unlock()
	if err != nil {
		return piece.Plan{}, err
	}
	return s.plans.plan(p, q)
}

// planner remembers the last plan, which takes long to work out.
type planner struct {
	mu       sync.Mutex
	piece    *piece.Piece
	question piece.Question
	made     piece.Plan
}

func (pl *planner) plan(p *piece.Piece, q piece.Question) (piece.Plan, error) {
	pl.mu.Lock()
	defer pl.mu.Unlock()
	if p.SameScore(pl.piece) && reflect.DeepEqual(pl.question, q) {
		return pl.made, nil
	}
	plan, err := p.Plan(q)
	if err == nil {
		pl.piece, pl.question, pl.made = p, q, plan
	}
	return plan, err
}
