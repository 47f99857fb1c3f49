package player

import (
	"bytes"
	"encoding/json"
	"net/http"
	"time"

	"bellrow/proto/page/feed"
)

// feedEvery: an answer must not wait behind the end of the note, which is told
// a few milliseconds before it; both go into one frame of the screen.
const feedEvery = 2 * time.Millisecond

// watch pushes the sheet whenever it reads differently, at most once each
// feedEvery, always the latest.
func (s *Server) watch(w http.ResponseWriter, r *http.Request) {
	feed.Serve(w, r, func() (feed.Feed, func()) {
		changed := make(chan struct{}, 1)
		changed <- struct{}{}
		s.mu.Lock()
		if s.closed {
			close(changed)
		} else {
			s.viewers[changed] = struct{}{}
		}
		s.mu.Unlock()
		var last []byte
		next := func() ([]byte, error) {
			data, err := json.Marshal(s.sheet())
			if err != nil {
				s.log.Error("page cannot be written", "err", err)
				return nil, err
			}
			if bytes.Equal(data, last) {
				return nil, nil
			}
			last = data
			return data, nil
		}
		return feed.Feed{Every: feedEvery, Changed: changed, Next: next}, func() {
			s.mu.Lock()
			delete(s.viewers, changed)
			s.mu.Unlock()
		}
	})
}
