package web

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"bellrow/hub/access"
	"bellrow/hub/show"
	"bellrow/proto/page"
	"bellrow/proto/page/feed"
)

// DefaultFeedEvery spaces rows: ten a second is more than anybody reads.
const DefaultFeedEvery = 100 * time.Millisecond

// maxViewers is more screens than a building has. Anybody on the network may
// watch, and each viewer costs the hub a row, ten times a second. One more takes
// the place of another, of the address that has the most (see access.Pool). The
// leader, and this machine, always get in.
const maxViewers = 64

// getRow answers with the present board.
func (s *Server) getRow(w http.ResponseWriter, r *http.Request) {
	data, err := s.drawnRow(s.seesNames(r))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	page.JSON(w, http.StatusOK, json.RawMessage(data))
}

// seesNames reports whether this viewer may see players' names: the leader
// on the row always, everybody else as the leader chose.
func (s *Server) seesNames(r *http.Request) bool {
	leader := s.guard.IsLeader(r) && r.URL.Query().Get("for") != "wall"
	return leader || !s.hub.Section().HideNames
}

func (s *Server) board(row show.Row, names bool) Board {
	b := NewBoard(row, row.Setup) // of one moment
	if !names {
		b.HideNames()
	}
	return b
}

// watchRow is a viewer's socket: it sends the whole board whenever the row
// changes.
func (s *Server) watchRow(w http.ResponseWriter, r *http.Request) {
	if !s.guard.IsLeader(r) && !access.Local(r.RemoteAddr) {
		ctx, cancel := context.WithCancel(r.Context())
		defer cancel()
		r = r.WithContext(ctx)
		place := s.viewers.Enter(r.RemoteAddr, cancel)
		if place == nil {
			http.Error(w, "too many screens from this address; wait half a minute", http.StatusServiceUnavailable)
			return
		}
		defer place.Leave()
	}
	feed.Serve(w, r, func() (feed.Feed, func()) {
		rows := s.hub.FollowRow()
		return feed.Feed{
			Every: s.feedEvery, Changed: rows.C(), Over: s.over,
			Next: func() ([]byte, error) { return s.drawnRow(s.seesNames(r)) },
		}, rows.Close
	})
}

// drawn is a board as it is sent, kept for all viewers of the same version.
type drawn struct {
	version uint64
	data    []byte
}

// drawnRow returns the present board as JSON, laid out once for all viewers
// who see the same of it.
func (s *Server) drawnRow(names bool) ([]byte, error) {
	s.drawing.Lock()
	defer s.drawing.Unlock()
	row := s.hub.Row()
	if d := s.drawn[names]; d.data != nil && d.version == row.Version {
		return d.data, nil
	}
	data, err := json.Marshal(s.board(row, names))
	if err != nil {
		s.log.Error("row cannot be written", "err", err)
		return nil, err
	}
	s.drawn[names] = drawn{row.Version, data}
	return data, nil
}
