package web

import (
	"errors"
	"net/http"

	"bellrow/hub"
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
	why     error // says the sentence in place of the code's own
}

// Error makes a Problem an error.
func (p *Problem) Error() string {
	if p.why != nil {
		return "web: " + p.Code + ": " + p.why.Error()
	}
	return "web: " + p.Code
}

// problem is one that proto/phrase has the words for.
func problem(code string, status int) *Problem { return &Problem{Code: code, status: status} }

// The problems this package raises itself.
var (
	errNotLeader  = problem("not-leader", http.StatusForbidden)
	errNotFound   = problem("not-found", http.StatusNotFound)
	errTooBig     = problem("too-big", http.StatusRequestEntityTooLarge)
	errBadCommand = problem("bad-command", http.StatusBadRequest)
	errNotWaiting = problem("not-waiting", http.StatusNotFound)
	errNoDate     = problem("bad-date", http.StatusBadRequest)
	errNoRoom     = problem("no-room", http.StatusBadRequest)
)

// in is a problem in a tongue.
func (p *Problem) in(t phrase.Tongue) *Problem {
	q, key := *p, "problem."+p.Code
	q.Message, _, q.Hint = t.Parts(key)
	if p.why == nil {
		return &q
	}
	said := false
	if q.Message, said = t.Why(p.why); !said && t.Language() == "" {
		q.Message = plainSentence(p.why.Error()) // no page is meant to come here
	} else if !said {
		q.Message = t.Say("player.refused.other")
	}
	return &q
}

// problemOf turns any error into a Problem. Detail that does not help a leader
// stays out of it; the caller logs it.
func problemOf(err error) *Problem {
	var p *Problem
	switch {
	case errors.As(err, &p):
		return p
	case errors.Is(err, hub.ErrNotFound):
		return problem("unknown", http.StatusNotFound)
	case errors.Is(err, hub.ErrMoved):
		return problem("data-moved", http.StatusInsufficientStorage)
	case errors.Is(err, hub.ErrReadOnly):
		return problem("read-only", http.StatusInsufficientStorage)
	case errors.Is(err, hub.ErrFull):
		return problem("disk-full", http.StatusInsufficientStorage)
	case errors.Is(err, hub.ErrDamaged):
		return problem("data-damaged", http.StatusInsufficientStorage)
	}
	return &Problem{Code: "refused", status: http.StatusUnprocessableEntity, why: err}
}

func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	p := problemOf(err)
	s.log.Info("request refused", "path", r.URL.Path, "code", p.Code, "err", err)
	page.JSON(w, p.status, map[string]*Problem{"error": p.in(s.tongue())})
}
