package player

import (
	"net/http"
	"slices"
	"strings"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

func (s *Server) getInstruments(w http.ResponseWriter, _ *http.Request) {
	t := s.tongue()
	type line struct {
		ID     instrument.ID `json:"id"`
		Name   string        `json:"name"`
		Family string        `json:"family"`
	}
	lines := []line{}
	for _, in := range instrument.Band() {
		lines = append(lines, line{in.ID, t.Instrument(in.Name), in.Name + " " + in.Family})
	}
	page.JSON(w, http.StatusOK, lines)
}

func (s *Server) postJoin(w http.ResponseWriter, r *http.Request) {
	var wish Wish
	if !s.read(w, r, &wish) {
		return
	}
	wish.Name, wish.Part = strings.TrimSpace(wish.Name), strings.TrimSpace(wish.Part)
	wish.Hub, wish.Code = strings.TrimSpace(wish.Hub), strings.TrimSpace(wish.Code)
	wish.linked()
	switch _, err := instrument.Find(wish.Instrument); {
	case err != nil:
		s.refuse(w, http.StatusBadRequest, "no-instrument")
		return
	case wish.Name == "":
		s.refuse(w, http.StatusBadRequest, "no-name")
		return
	}
	if err := s.node.Join(r.Context(), wish); err != nil {
		s.log.Info("join refused", "err", err)
		what, _, _ := s.tongue().Parts("player.refused.join-refused")
		foreign(w, http.StatusUnprocessableEntity, "join-refused", what, s.why(err, "player.refused.other"))
		return
	}
	s.update(func(st *state) { st.wish, st.joining = wish, true })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// linked takes the players' link from whichever field it was pasted into.
func (w *Wish) linked() {
	for _, field := range []*string{&w.Code, &w.Name, &w.Part} {
		if !strings.Contains(*field, "://") {
			continue
		}
		if _, err := proto.ParseLink(*field); err == nil {
			w.Hub, *field = *field, ""
		}
	}
}

// maxMM bounds a slide: a trombone's hand slide is some 600 mm long.
const maxMM = 1000

// postSetting says where a slide stands, and its travel if it was measured.
func (s *Server) postSetting(w http.ResponseWriter, r *http.Request) {
	var set proto.Setting
	if !s.read(w, r, &set) {
		return
	}
	if set.Slide == "" || !(set.MM >= 0 && set.MM <= maxMM) || !(set.TravelMM >= 0 && set.TravelMM <= maxMM) {
		s.refuse(w, http.StatusBadRequest, "bad-length")
		return
	}
	if set.TravelMM > 0 && set.MM > set.TravelMM {
		s.refuse(w, http.StatusBadRequest, "beyond-travel")
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
		s.refuse(w, http.StatusConflict, "no-move")
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
			s.refuse(w, http.StatusServiceUnavailable, "not-sent")
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
	if !s.read(w, r, &m) {
		return
	}
	s.mu.Lock()
	offered := mutes(s.state.wish.Instrument)
	s.mu.Unlock()
	if !slices.ContainsFunc(offered, func(o MuteChoice) bool { return o.Mute == m.Mute }) {
		s.refuse(w, http.StatusBadRequest, "no-mute")
		return
	}
	s.node.SetMute(m.Mute)
	s.update(func(st *state) { st.mute = m.Mute })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// getNames lists the ways of naming notes, told by how they name a few.
func (s *Server) getNames(w http.ResponseWriter, _ *http.Request) {
	page.JSON(w, http.StatusOK, s.tongue().Namings())
}

// getWords hands the page its own words in a language.
func getWords(w http.ResponseWriter, r *http.Request) {
	page.JSON(w, http.StatusOK, phrase.Player.In(r.FormValue("language"), pitch.Style{}).Texts("player"))
}

// reads takes what the browser reads for the language of a page for which none was
// chosen.
func (s *Server) reads(accept string) {
	tag := phrase.Player.Match(accept)
	s.mu.Lock()
	chosen := s.state.wish.Language
	s.mu.Unlock()
	s.update(func(st *state) { st.browser = tag })
	if chosen == "" {
		s.node.SetLanguage(tag, false)
	}
}

// postLanguage changes the language of this page; none means as the browser reads.
func (s *Server) postLanguage(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Language string `json:"language"`
	}
	if !s.read(w, r, &p) {
		return
	}
	if p.Language != "" && !slices.ContainsFunc(phrase.Player.Offered(), func(l phrase.Language) bool { return l.Tag == p.Language }) {
		s.refuse(w, http.StatusBadRequest, "no-language")
		return
	}
	s.update(func(st *state) { st.wish.Language = p.Language })
	s.mu.Lock()
	tag := s.state.language()
	s.mu.Unlock()
	s.node.SetLanguage(tag, p.Language != "")
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

// postNames changes how notes are named on this page alone.
func (s *Server) postNames(w http.ResponseWriter, r *http.Request) {
	var p struct {
		Names string `json:"names"`
	}
	if !s.read(w, r, &p) {
		return
	}
	if _, err := pitch.ParseStyle(p.Names); p.Names != "" && err != nil {
		s.refuse(w, http.StatusBadRequest, "no-names")
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
	if !s.read(w, r, &p) {
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
		s.refuse(w, http.StatusConflict, "no-refusal")
		return
	}
	path, err := s.keep()
	if err != nil {
		s.log.Info("sound not kept", "err", err)
		t := s.tongue()
		foreign(w, http.StatusInsufficientStorage, "not-kept", s.why(err, "player.refused.not-kept"), t.Say("player.refused.not-kept.next"))
		return
	}
	s.update(func(st *state) { st.kept = kept{a.ID, path} })
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}
