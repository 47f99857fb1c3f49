package web

import (
	"math"
	"net/http"

	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// EveningSheet is what a room promises: the sentence, and the A that goes with
// it, in whole hertz.
type EveningSheet struct {
	Words string  `json:"words"`
	A4    float64 `json:"a4"`
}

// getEvening answers for a room as it is typed: "21", "70 F".
func (s *Server) getEvening(w http.ResponseWriter, r *http.Request) {
	c, err := instrument.ParseRoom(r.FormValue("room"))
	if err != nil {
		s.fail(w, r, errNoRoom)
		return
	}
	e, err := instrument.EveningAt(c)
	if err != nil {
		s.fail(w, r, &phrase.Refusal{Key: "setup.room.wrong", Err: err})
		return
	}
	a, _, _ := e.A4(pitch.Reference{})
	page.JSON(w, http.StatusOK, EveningSheet{Words: s.tongue().Evening(e), A4: math.Round(float64(a))})
}
