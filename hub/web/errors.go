package web

import (
	"errors"
	"net/http"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

// Problem is an error as pages and programs see it: a stable code, one plain
// sentence, and the next action.
type Problem struct {
	Code    string `json:"code"`
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
	status  int
}

// Error makes a Problem an error.
func (p *Problem) Error() string { return "web: " + p.Code + ": " + p.Message }

// The problems this package raises itself.
var (
	errNotLeader = &Problem{"not-leader", "Only the leader can do that.",
		"Open the leader's link that the hub printed when it started.", http.StatusForbidden}
	errNotFound = &Problem{"not-found", "There is nothing here.",
		"Go back to the row.", http.StatusNotFound}
	errTooBig = &Problem{"too-big", "That is more than this hub reads at once.",
		"A section file holds a few hundred chairs at most.", http.StatusRequestEntityTooLarge}
)

func badRequest(code, message, hint string) *Problem {
	return &Problem{code, message, hint, http.StatusBadRequest}
}

// in is a problem in a tongue, where proto/phrase has its code.
func (p *Problem) in(t phrase.Tongue) *Problem {
	key := "problem." + p.Code
	if !t.Has(key) {
		return p
	}
	q := *p
	q.Message, _, q.Hint = t.Parts(key)
	return &q
}

// problemOf turns any error into a Problem, a refusal in a tongue. Detail that does not help a
// leader stays out of it; the caller logs it.
func problemOf(err error, t phrase.Tongue) *Problem {
	var p *Problem
	switch {
	case errors.As(err, &p):
		return p
	case errors.Is(err, hub.ErrNotFound):
		return &Problem{"unknown", "That is no longer in this section.", "Load the page again.", http.StatusNotFound}
	case errors.Is(err, hub.ErrMoved):
		return &Problem{"data-moved", "The data folder was taken away or replaced under the hub.", "Stop the hub, put the data right, and start it again.", http.StatusInsufficientStorage}
	case errors.Is(err, hub.ErrReadOnly):
		return &Problem{"read-only", "The hub cannot write to its data folder.", "The tune-up goes on; today's readings will not be kept.", http.StatusInsufficientStorage}
	case errors.Is(err, hub.ErrFull):
		return &Problem{"disk-full", "The disk is full.", "The tune-up goes on; free some space to keep today's readings.", http.StatusInsufficientStorage}
	}
	if sentence, ok := show.Refused(err, t); ok {
		return &Problem{"refused", sentence, "", http.StatusUnprocessableEntity}
	}
	return &Problem{"refused", plainSentence(err.Error()), "", http.StatusUnprocessableEntity}
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	t := s.tongue()
	p := problemOf(err, t).in(t)
	s.log.Info("request refused", "path", r.URL.Path, "code", p.Code, "err", err)
	page.JSON(w, p.status, map[string]*Problem{"error": p})
}
