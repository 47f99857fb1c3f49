package tuneup

import (
	"math"
	"slices"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// A section is judged as one once enough of it was heard: at least
// roomChairs, and roomShare of those present unless the round is done; and
// only if roomAgree of those heard stand with the rest, within the outer band:
// two of three are no room.
const (
	roomChairs = 4
	roomShare  = 0.6
	roomAgree  = 0.8
)

// findRoom looks whether the whole section is off together. If so it takes the
// moves back, once, instead of sending everybody to the slides: the room, or
// the warm-up, is the cause. Next to an instrument of fixed pitch the slides
// have to follow all the same.
func (s *State) findRoom(run *hub.Round) {
	if asOne(run) || run.MovesAnyway || run.Call.Kind == hub.CallChord || bending(run) || s.section.FixedPitch {
		return
	}
	t := s.common(run)
	if !t.AsOne || math.Abs(float64(t.Offset)) <= float64(s.section.Good) {
		return
	}
	if s.standingWith(run, t.Offset) < roomAgree*float64(t.Chairs) || s.byWorth(run) && s.speaksAgainst(run, t.Offset) {
		return
	}
	if !s.heardOnce(run) && (t.Chairs < roomChairs || float64(t.Chairs) < roomShare*float64(s.present())) {
		return
	}
	run.AsOne = &t.Offset
	s.withdraw(run.ID)
	for _, r := range slices.Clone(s.readings) {
		if r.Round != run.ID || !r.Counted || !s.ofNow(r.Chair, r.ID) {
			continue
		}
		leave(run, r.Chair) // nothing was moved that would have to be heard
		if r.Answer != nil && r.Answer.Kind == slide.Move {
			s.answerAnew(s.revise(r), s.leaveForNow(run, r), nil)
		}
	}
}

// asOne reports whether the leader was told that the section is off as one.
func asOne(r *hub.Round) bool { return r.AsOne != nil || r.Room != "" }

// withheld reports whether moves are held back because the section is off as one.
func withheld(r *hub.Round) bool { return asOne(r) && !r.MovesAnyway }

// common is what the last tuning notes have in common, as they were heard: those
// of the running round, or of the whole tune-up when none runs. Chord tones hang
// from one another and say nothing of it, nor does what was judged at another
// reference.
func (s *State) common(run *hub.Round) intonation.Together {
	return s.inCommon(func(st *seat) *hub.Reading {
		if last := st.last(); last != nil && (run == nil || last.Round == run.ID) && !s.outdated(last) {
			return last
		}
		return nil
	})
}

// commonNow is common without whoever has moved a slide since.
func (s *State) commonNow(run *hub.Round) intonation.Together {
	return s.inCommon(func(st *seat) *hub.Reading { return s.holds(st, run) })
}

func (s *State) inCommon(of func(*seat) *hub.Reading) intonation.Together {
	var os []intonation.Offset
	for _, c := range s.chairs {
		if r := of(s.seats[c.ID]); r != nil && !c.Absent && !s.ofChord(r) {
			os = append(os, intonation.Offset{Cents: s.clear(r), CI95: r.CI95()})
		}
	}
	return intonation.Common(os, s.section.Good)
}

// present counts the chairs that are not absent.
func (s *State) present() int {
	n := 0
	for _, c := range s.chairs {
		if !c.Absent {
			n++
		}
	}
	return n
}

// heardOnce reports whether all who are here have been heard in the round, be
// it that some wait to be heard again.
func (s *State) heardOnce(run *hub.Round) bool {
	return !slices.ContainsFunc(run.Queue, func(id hub.ChairID) bool {
		if !s.awaited(id, s.at) {
			return false
		}
		last := s.seats[id].last()
		return last == nil || last.Round != run.ID
	})
}

// mayBeRoom reports whether everybody heard in the round so far, and by r, is
// off the same way, so that the room may be the cause. Whoever is to move a
// slide is then heard again after the others and not at once.
func (s *State) mayBeRoom(run *hub.Round, r *hub.Reading) bool {
	if asOne(run) || run.MovesAnyway || s.section.FixedPitch || s.present() < intonation.MinCommon {
		return false
	}
	return !s.against(run, r, s.clear(r)) && !s.speaksAgainst(run, s.clear(r))
}

// against reports whether a reading of a round stands in the band, or on the
// other side than common.
func (s *State) against(run *hub.Round, r *hub.Reading, common pitch.Cents) bool {
	cents := s.clear(r)
	return r.Round == run.ID && r.Counted && s.ofNow(r.Chair, r.ID) && (math.Abs(float64(cents)) <= float64(s.section.Good) || (cents > 0) != (common > 0))
}

// speaksAgainst reports whether any reading of a round does. Where moves are not
// heard at once, the last readings of many chairs are those before their moves,
// and that these lie together by chance is no room.
func (s *State) speaksAgainst(run *hub.Round, common pitch.Cents) bool {
	return slices.ContainsFunc(s.readings, func(r *hub.Reading) bool { return s.against(run, r, common) })
}

// standingWith counts the chairs of the running round within the outer band of
// a common offset.
func (s *State) standingWith(run *hub.Round, common pitch.Cents) float64 {
	n := 0.0
	for _, c := range s.chairs {
		r := s.seats[c.ID].last()
		if r != nil && !c.Absent && r.Round == run.ID && math.Abs(float64(s.clear(r)-common)) <= float64(s.section.Near) {
			n++
		}
	}
	return n
}

// movesAnyway gives the moves that were held back.
func (s *State) movesAnyway(run *hub.Round) error {
	if !asOne(run) {
		return refuse("refusal.no-moves")
	}
	run.MovesAnyway = true
	for _, r := range slices.Clone(s.readings) {
		if r.Round != run.ID || !r.Counted {
			continue
		}
		st := s.seats[r.Chair]
		if st == nil || st.last() != r || s.movedSince(r) {
			continue
		}
		in, ok := s.inquiry(st, r, st.chair.Settings)
		if !ok {
			continue
		}
		a := st.memory.Review(in)
		if a.Kind != slide.Move {
			continue
		}
		s.adviseAnew(r, a)
	}
	s.hearAgain(run)
	return nil
}
