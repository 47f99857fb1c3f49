package web

import (
	"context"
	"errors"
	"io"
	"net/http"

	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/page"
)

// Pieces is what the page of the piece needs of the hub.
type Pieces interface {
	// LoadPiece reads a MusicXML score and opens it.
	LoadPiece(ctx context.Context, r io.Reader) error
	// Piece returns the open piece; false when there is none.
	Piece() (piece.View, bool)
	// PiecePlan works the main slides out; it may take a second.
	PiecePlan() (piece.Plan, error)
}

// pieceRoutes adds what the page of the piece asks for.
func (s *Server) pieceRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/piece", s.leaderOnly(s.getPiece))
	mux.HandleFunc("POST /api/piece", s.leaderOnly(s.postPiece))
	mux.HandleFunc("GET /api/piece/plan", s.leaderOnly(s.getPlan))
}

func (s *Server) getPiece(w http.ResponseWriter, _ *http.Request) {
	answer := struct {
		Piece *piece.View `json:"piece"`
	}{}
	if p, ok := s.hub.Piece(); ok {
		answer.Piece = &p
	}
	page.JSON(w, http.StatusOK, answer)
}

func (s *Server) getPlan(w http.ResponseWriter, r *http.Request) {
	plan, err := s.hub.PiecePlan()
	if err != nil {
		s.fail(w, r, err)
		return
	}
	page.JSON(w, http.StatusOK, plan)
}

// postPiece reads a score, one at a time: a large one takes memory.
func (s *Server) postPiece(w http.ResponseWriter, r *http.Request) {
	if !s.reading.TryLock() {
		s.fail(w, r, problem("busy", http.StatusConflict))
		return
	}
	defer s.reading.Unlock()
	body := http.MaxBytesReader(w, r.Body, score.MaxXMLBytes)
	if err := s.hub.LoadPiece(r.Context(), body); err != nil {
		s.fail(w, r, scoreProblem(err))
		return
	}
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// scoreProblem says what is wrong with a score and what to do.
func scoreProblem(err error) error {
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long), errors.Is(err, score.ErrTooBig):
		return problem("score-too-big", http.StatusRequestEntityTooLarge)
	case errors.Is(err, piece.ErrNothingHeld): // for score.Held, a quarter note
		return problem("nothing-held", http.StatusUnprocessableEntity)
	case errors.Is(err, score.ErrForbidden):
		return problem("score-refused", http.StatusBadRequest)
	case errors.Is(err, score.ErrNotMusicXML), errors.Is(err, io.ErrUnexpectedEOF):
		return problem("no-score", http.StatusBadRequest)
	}
	return err
}
