package hub

import (
	"slices"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/track"
)

// seat is what the hub knows of a chair at this moment. Everything about
// rounds in it is derived from the stored records by rebuild, so that a
// restart and an undo need nothing of their own.
type seat struct {
	id     ChairID
	node   string    // "" = away
	as     string    // the name that node joined under
	left   time.Time // when it went away; zero = never was here
	boot   string
	device string
	tracks bool
	sound  proto.State
	clock  clock
	chunks []track.Chunk // of the running together round

	inRound *Reading      // the last reading of the running round
	asked   int           // notes played for the row in this tune-up
	turn    slide.Turn    // of this asking in the running round
	counted []*Reading    // of this tune-up, oldest first
	memory  slide.Memory  // what answers rest on; see recall
	moves   []*MoveRecord // of this tune-up, oldest first

	view  proto.View
	feeds map[*ViewFeed]struct{}
}

func newSeat(id ChairID) *seat {
	return &seat{id: id, feeds: map[*ViewFeed]struct{}{}}
}

// warming reports whether the instrument was found cold in the running round
// and has not been played warm since, as far as its node tells.
func (s *seat) warming() bool {
	return s.inRound != nil && s.inRound.Why == codeCold && s.sound.Played > 0 && s.sound.Played < slide.ColdSeconds
}

func (s *seat) away() bool { return s.node == "" }

// last returns the last counted reading of this tune-up, nil when none.
func (s *seat) last() *Reading {
	if len(s.counted) == 0 {
		return nil
	}
	return s.counted[len(s.counted)-1]
}

// take enters a reading into what is derived.
func (s *seat) take(r *Reading, running *Round) {
	s.asked++
	if r.Counted {
		s.counted = append(s.counted, r)
	}
	if running == nil || r.Round != running.ID || r.Answer == nil && r.Why != whyGathering {
		return
	}
	if was := s.inRound; was != nil && was.Why == whyGathering && r.Why == whyGathering && was.Wire.Settled && !r.Wire.Settled {
		return // of two notes in one window the better one
	}
	s.inRound = r
	if r.Answer != nil && r.ID > running.After[r.Chair] && !blameless[r.Why] {
		s.turn.Take(slide.Advice{Kind: slide.Kind(r.Answer.Kind)})
	}
}

// askedAfter is the answer to the chair's last note of its turn, after which it is
// asked for another; nil when its turn has not begun.
func (s *seat) askedAfter() *proto.Answer {
	if s.turn.Notes == 0 || s.inRound == nil {
		return nil
	}
	return s.inRound.Answer
}

// blameless are the reasons for which a note of a together round does not
// count that are no try of the player's.
var blameless = map[Reason]bool{
	WhyTogether: true, WhyOverheard: true, WhySilent: true, WhyUnclear: true,
	WhyListen: true,
}

// rebuild derives every seat from the records.
func (h *Hub) rebuild() {
	running := h.running()
	for _, s := range h.seats {
		s.inRound, s.asked, s.counted, s.moves = nil, 0, nil, nil
		s.turn, s.memory = slide.Turn{}, slide.Memory{}
	}
	for _, r := range h.readings {
		if s := h.seats[r.Chair]; s != nil {
			s.take(r, running)
		}
	}
	for _, m := range h.moves {
		if s := h.seats[m.Chair]; s != nil {
			s.moves = append(s.moves, m)
		}
	}
	h.recall()
}

// addMove enters a new move.
func (h *Hub) addMove(m MoveRecord) *MoveRecord {
	h.moves = append(h.moves, &m)
	if s := h.seats[m.Chair]; s != nil {
		s.moves = append(s.moves, &m)
	}
	return &m
}

// chair returns the open section's chair, nil if there is none.
func (h *Hub) chair(id ChairID) *Chair {
	chairs := h.section.Chairs
	if i, ok := h.index[id]; ok && i < len(chairs) && chairs[i].ID == id {
		return &chairs[i]
	}
	h.index = make(map[ChairID]int, len(chairs))
	for i := range chairs {
		h.index[chairs[i].ID] = i
	}
	if i, ok := h.index[id]; ok {
		return &chairs[i]
	}
	return nil
}

// moved reports whether a slide was moved because of the last reading, which
// says nothing any more of where the chair stands.
func (s *seat) moved() bool {
	last := s.last()
	return last != nil && slices.ContainsFunc(s.moves, func(m *MoveRecord) bool {
		return m.Reading == last.ID && !m.Done.IsZero()
	})
}
