package player

import (
	"net/http"
	"slices"
	"strings"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/pitch"
)

func (s *Server) getInstruments(w http.ResponseWriter, _ *http.Request) {
	type line struct {
		ID     instrument.ID `json:"id"`
		Name   string        `json:"name"`
		Family string        `json:"family"`
	}
	lines := []line{}
	for _, in := range instrument.Band() {
		lines = append(lines, line{in.ID, in.Name, in.Family})
	}
	page.JSON(w, http.StatusOK, lines)
}

func (s *Server) postJoin(w http.ResponseWriter, r *http.Request) {
	var wish Wish
	if !read(w, r, &wish) {
		return
	}
	wish.Name, wish.Part = strings.TrimSpace(wish.Name), strings.TrimSpace(wish.Part)
	wish.Hub, wish.Code = strings.TrimSpace(wish.Hub), strings.TrimSpace(wish.Code)
	switch _, err := instrument.Find(wish.Instrument); {
	case err != nil:
		refuse(w, http.StatusBadRequest, "no-instrument", "Choose your instrument first.", "Type a few letters of its name.")
		return
	case wish.Name == "":
		refuse(w, http.StatusBadRequest, "no-name", "Say who sits here.", "A first name or the chair's label will do.")
		return
	}
	if err := s.node.Join(r.Context(), wish); err != nil {
		s.log.Info("join refused", "err", err)
		refuse(w, http.StatusUnprocessableEntity, "join-refused", "The node could not ask for a seat.", err.Error())
		return
	}
	s.update(func(st *state) { st.wish, st.joining = wish, true })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// maxMM bounds a slide: a trombone's hand slide is some 600 mm long.
const maxMM = 1000

// postSetting says where a slide stands, and its travel if it was measured.
func (s *Server) postSetting(w http.ResponseWriter, r *http.Request) {
	var set proto.Setting
	if !read(w, r, &set) {
		return
	}
	if set.Slide == "" || !(set.MM >= 0 && set.MM <= maxMM) || !(set.TravelMM >= 0 && set.TravelMM <= maxMM) {
		refuse(w, http.StatusBadRequest, "bad-length", "A slide stands between 0 and 1000 mm out.", "Measure the bare tube with a ruler.")
		return
	}
	if set.TravelMM > 0 && set.MM > set.TravelMM {
		refuse(w, http.StatusBadRequest, "beyond-travel", "The slide cannot stand farther out than its whole travel.", "Check both numbers.")
		return
	}
	s.set(w, r, set)
}

// postMoved says that the moves of the answer on the page were made.
func (s *Server) postMoved(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	a := s.state.view.Answer
	s.mu.Unlock()
	if a == nil || len(a.Moves) == 0 {
		refuse(w, http.StatusConflict, "no-move", "There is no move to make just now.", "")
		return
	}
	var sets []proto.Setting
	for _, m := range a.Moves {
		sets = append(sets, proto.Setting{Slide: m.ID, MM: m.ToMM})
	}
	if s.set(w, r, sets...) {
		s.update(func(st *state) { st.moved = a.ID })
	}
}

// set tells the hub and answers; it reports whether the hub was told.
func (s *Server) set(w http.ResponseWriter, r *http.Request, sets ...proto.Setting) bool {
	for _, set := range sets {
		if err := s.node.SetSetting(r.Context(), set); err != nil {
			s.log.Info("setting not sent", "err", err)
			refuse(w, http.StatusServiceUnavailable, "not-sent", "The hub could not be told.", "Wait until the page says it is connected, then press again.")
			return false
		}
	}
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
	return true
}

// postMute notes what is in the bell from now on.
func (s *Server) postMute(w http.ResponseWriter, r *http.Request) {
	var m struct {
		Mute string `json:"mute"`
	}
	if !read(w, r, &m) {
		return
	}
	s.mu.Lock()
	offered := mutes(s.state.wish.Instrument)
	s.mu.Unlock()
	if !slices.ContainsFunc(offered, func(o MuteChoice) bool { return o.Mute == m.Mute }) {
		refuse(w, http.StatusBadRequest, "no-mute", "That is not played on this instrument.", "Choose one of the list.")
		return
	}
	s.node.SetMute(m.Mute)
	s.update(func(st *state) { st.mute = m.Mute })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// postNames changes how notes are named on this page alone.
func (s *Server) postNames(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Names string `json:"names"`
	}
	if !read(w, r, &p) {
		return
	}
	if _, err := pitch.ParseStyle(p.Names); p.Names != "" && err != nil {
		refuse(w, http.StatusBadRequest, "no-names", "This page does not know these names of notes.", "Choose one from the list.")
		return
	}
	s.node.SetNames(p.Names)
	s.update(func(st *state) { st.wish.Names = p.Names })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

func (s *Server) postPause(w http.ResponseWriter, r *http.Request) {
	var p struct {
		On bool `json:"on"`
	}
	if !read(w, r, &p) {
		return
	}
	s.node.Pause(p.On)
	s.update(func(st *state) { st.paused = p.On })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// postWarm takes the player's word that the instrument is warm.
func (s *Server) postWarm(w http.ResponseWriter, _ *http.Request) {
	s.node.Warm()
	s.update(func(st *state) { st.sound.Played = max(st.sound.Played, coldSeconds) })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// postKeep writes the note that was refused to this laptop. Its sound goes
// nowhere else; the page gets the name of the file.
func (s *Server) postKeep(w http.ResponseWriter, _ *http.Request) {
	s.mu.Lock()
	a := s.state.view.Answer
	s.mu.Unlock()
	if a == nil || !refuses(a.Kind) {
		refuse(w, http.StatusConflict, "no-refusal", "There is no refused note to keep just now.", "")
		return
	}
	path, err := s.keep()
	if err != nil {
		s.log.Info("sound not kept", "err", err)
		refuse(w, http.StatusInsufficientStorage, "not-kept", "The sound was not kept: "+err.Error()+".", "Everything else goes on as before.")
		return
	}
	s.update(func(st *state) { st.kept = kept{a.ID, path} })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}
