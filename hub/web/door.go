package web

import (
	"encoding/json"
	"net/http"

	"bellrow/hub/access"
	"bellrow/proto/page"
)

// Door is where the leader says who may come in; *access.Guard is one.
type Door interface {
	JoinCode() string
	OlderCode() string
	NewCode() (string, error)
	Rules() access.Rules
	SetRules(access.Rules) error
	Waiting() []access.Ask
	Admit(node string) bool
}

// doorPage is what the leader sees of the door.
type doorPage struct {
	access.Rules
	// OlderCode is what laptops of an older version type, while they may.
	OlderCode string       `json:"olderCode,omitempty"`
	Waiting   []access.Ask `json:"waiting"`
}

func (s *Server) doorRoutes(mux *http.ServeMux) {
	if s.door == nil {
		return
	}
	mux.HandleFunc("GET /api/door", s.leaderOnly(s.getDoor))
	mux.HandleFunc("POST /api/door", s.leaderOnly(s.postDoor))
}

func (s *Server) getDoor(w http.ResponseWriter, _ *http.Request) {
	d := doorPage{Rules: s.door.Rules(), Waiting: s.door.Waiting()}
	if d.Older {
		d.OlderCode = spaced(s.door.OlderCode())
	}
	if d.Waiting == nil {
		d.Waiting = []access.Ask{}
	}
	page.JSON(w, http.StatusOK, d)
}

// postDoor does one thing at the door and answers with how it stands then.
func (s *Server) postDoor(w http.ResponseWriter, r *http.Request) {
	var c struct {
		Do   string `json:"do"` // lock, older, code, admit
		On   bool   `json:"on"`
		Node string `json:"node"`
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<10)).Decode(&c); err != nil {
		s.fail(w, r, errBadCommand)
		return
	}
	rules := s.door.Rules()
	var err error
	switch c.Do {
	case "lock":
		rules.Locked = c.On
		err = s.door.SetRules(rules)
	case "older":
		rules.Older = c.On
		err = s.door.SetRules(rules)
	case "code":
		_, err = s.door.NewCode()
	case "admit":
		if !s.door.Admit(c.Node) {
			err = errNotWaiting
		}
	default:
		err = errBadCommand
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	s.getDoor(w, r)
}
