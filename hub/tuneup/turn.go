package tuneup

import (
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/ensemble"
	"bellrow/proto"
)

const (
	// awayGrace is how long a chair whose connection broke off is waited for
	// before a round is done without it: a laptop that changes its access point
	// is back within a few seconds.
	awayGrace = 15 * time.Second
	// ringFor is how long the next player waits at most for a note that was
	// answered while it still sounded: the rest of a breath.
	ringFor = 2 * time.Second
	// allRingFor is the same where many have played: whoever began last holds the
	// note for a long breath, and nobody is to be heard in it.
	allRingFor = 5 * time.Second
	// slideTakes is the least time from an answer to the next reading where a
	// slide is to be moved between the two: read it, set the slide, breathe, and
	// play until the pitch has rested.
	slideTakes = 4 * time.Second
)

// playedStep is how many seconds of sound make an instrument warmer by enough to
// look at the order of turns again.
const playedStep = 30

// quiet is proto.State's word for silence.
const quiet = "quiet"

// silent reports whether a laptop hears nothing, or is not to.
func silent(sound proto.State) bool {
	return sound.State == "" || sound.State == quiet || sound.State == proto.Paused
}

// here reports whether a chair can play now.
func (s *State) here(id hub.ChairID) bool {
	st := s.seats[id]
	return st != nil && !st.chair.Absent && !st.away() && st.sound.State != proto.Paused
}

// ready reports whether a chair can take its turn now: it is here, and not
// playing its cold instrument warm.
func (s *State) ready(id hub.ChairID) bool { return s.here(id) && !s.seats[id].warming() }

// expected reports whether a chair can play now or may be back in a moment.
func (s *State) expected(id hub.ChairID, at time.Time) bool {
	if s.here(id) {
		return true
	}
	st := s.seats[id]
	return st != nil && !st.chair.Absent && !st.left.IsZero() && at.Sub(st.left) < awayGrace
}

// awaited reports whether the round waits for a chair. Nobody waits for a cold
// instrument: it is heard as soon as it is warm, in this round or the next.
func (s *State) awaited(id hub.ChairID, at time.Time) bool {
	return s.expected(id, at) && !s.seats[id].warming()
}

// done reports whether all who are here have been heard.
func (s *State) done(r *hub.Round, at time.Time) bool {
	return !slices.ContainsFunc(r.Queue, func(id hub.ChairID) bool { return s.awaited(id, at) })
}

// nextTurn finds whose turn it is: the first in the queue who is here and has
// rested, with whoever can be heard at the same time; nobody when none is or when
// all play at once. Whoever has the turn keeps it, even if somebody before them
// comes back. The next one begins once the notes before have ended.
func (s *State) nextTurn() {
	run := s.running()
	if run == nil {
		return
	}
	if allAtOnce(run) {
		s.silenceFirst()
		return
	}
	s.asked = slices.DeleteFunc(slices.Clone(s.asked), func(id hub.ChairID) bool { return !slices.Contains(run.Queue, id) || !s.here(id) })
	if i := slices.IndexFunc(s.asked, func(id hub.ChairID) bool { return id != s.asked[0] && !s.mayJoin(run, id) }); i > 0 {
		s.asked = s.asked[:i] // the order or the seating has changed; the rest play later
		s.group = s.asked
	}
	if len(s.asked) == 0 {
		if len(s.group) > 0 {
			s.rings = s.group
		}
		if s.group = nil; !s.resuming(run) {
			s.group = s.groupOf(run, run.Queue, s.at)
		}
		if len(s.group) > 0 {
			s.asked, s.askedAt = s.group, s.at
		}
	}
	s.silenceFirst()
}

// silenceFirst lets who is asked begin once the notes before have ended.
func (s *State) silenceFirst() {
	if (len(s.rings) > 0 || s.allRing) && s.ringing(s.at).IsZero() {
		if s.allRing {
			s.apart = s.at
		}
		s.rings, s.allRing, s.askedAt = nil, false, s.at
	}
}

// resuming reports whether a hub that has just started waits for the laptop of
// whose turn it was: it may not be the first that is back.
func (s *State) resuming(run *hub.Round) bool {
	if s.resumed.IsZero() {
		return false
	}
	if len(run.Queue) == 0 || s.here(run.Queue[0]) || !s.awaited(run.Queue[0], s.at) || s.at.Sub(s.resumed) >= awayGrace {
		s.resumed = time.Time{}
	}
	return !s.resumed.IsZero()
}

// noTurn takes the turn from whoever has it.
func (s *State) noTurn() { s.asked, s.group, s.resumed = nil, nil, time.Time{} }

// isAsked reports whether it is a chair's turn.
func (s *State) isAsked(id hub.ChairID) bool { return slices.Contains(s.asked, id) }

// sameTurn reports whether the turn is as it was in another moment.
func (m moment) sameTurn(o moment) bool {
	return slices.Equal(m.asked, o.asked) && slices.Equal(m.rings, o.rings) && m.allRing == o.allRing
}

// ringing returns until when the turn waits for the note before to end, and
// zero when it need not. A player who starts into a neighbour's note is not
// told from it by one microphone.
func (s *State) ringing(at time.Time) time.Time {
	sounds, hushed := s.stillSounds()
	until := s.askedAt.Add(ringFor)
	if s.allRing {
		until = s.askedAt.Add(allRingFor)
		if !sounds && hushed.Add(hush).Before(until) {
			until = hushed.Add(hush)
		}
	}
	if !sounds && !s.allRing || !at.Before(until) {
		return time.Time{}
	}
	return until
}

// hush is how long all must be silent after a row has sounded: a laptop that loses the
// pitch of all, as most of them stop, is so for a moment, while somebody holds on.
const hush = 500 * time.Millisecond

// stillSounds reports whether whoever played last is still heard: one laptop
// after a turn, any of them after the row has played together; and when the last of
// them fell silent.
func (s *State) stillSounds() (sounds bool, hushed time.Time) {
	for id, st := range s.seats {
		if (s.allRing || slices.Contains(s.rings, id)) && !st.away() {
			sounds = sounds || !silent(st.sound)
			if st.hushed.After(hushed) {
				hushed = st.hushed
			}
		}
	}
	return sounds, hushed
}

// deafAfter is how long an asked player's laptop may hear nothing before its
// microphone is doubted: time to look up, breathe and begin, twice over.
const deafAfter = 8 * time.Second

// findDeaf marks the asked chair whose laptop hears nothing while others do:
// its system has given it another microphone, or none.
func (s *State) findDeaf() {
	for id, st := range s.seats {
		st.deaf = s.isAsked(id) && !s.askedAt.IsZero() && s.at.Sub(s.askedAt) >= deafAfter &&
			st.sounded.Before(s.askedAt) && s.othersSounded(id)
	}
}

// othersSounded reports whether another laptop has heard something since the
// chair was asked.
func (s *State) othersSounded(id hub.ChairID) bool {
	for other, st := range s.seats {
		if other != id && st.sounded.After(s.askedAt) {
			return true
		}
	}
	return false
}

// deaf is the chair that findDeaf has marked, 0 for none.
func (s *State) deaf() hub.ChairID {
	for _, id := range s.asked {
		if st := s.seats[id]; st != nil && st.deaf {
			return id
		}
	}
	return 0
}

// allAtOnce reports whether the queue plays together now.
func allAtOnce(r *hub.Round) bool { return r.Call.Together && !r.InTurn }

// inTurns reports whether the round is one of tuning notes that the chairs play
// one after the other, so that each can be asked again in its turn.
func inTurns(r *hub.Round) bool { return r.Call.Kind == hub.CallNote && !allAtOnce(r) }

// leave takes a chair out of the queue.
func leave(r *hub.Round, id hub.ChairID) {
	r.Queue = slices.DeleteFunc(r.Queue, func(q hub.ChairID) bool { return q == id })
}

// pass takes a chair out of the queue for good, unless the leader asks for it again.
func pass(r *hub.Round, id hub.ChairID) {
	leave(r, id)
	r.Passed = append(r.Passed, id)
}

// behind sends a chair to the end of the queue. Whoever is next waits until its
// note has ended.
func (s *State) behind(run *hub.Round, id hub.ChairID) {
	leave(run, id)
	run.Queue = append(run.Queue, id)
	s.asked = slices.DeleteFunc(slices.Clone(s.asked), func(a hub.ChairID) bool { return a == id })
}

// askAnew lets a chair's turn in this round begin anew after a reading.
func askAnew(r *hub.Round, id hub.ChairID, reading int64) {
	if r.After == nil {
		r.After = map[hub.ChairID]int64{}
	}
	r.After[id] = reading
}

// step notes what a chair's listener hears: the note before may have ended, or
// an instrument become warm.
func (e Sound) step(s *State) error {
	st := s.seats[e.Chair]
	s.out.Seen = Nobody
	if st == nil || st.sound == e.State {
		return nil
	}
	shown := st.sound.State != e.State.State || st.sound.Trouble != e.State.Trouble
	renamed := st.sound.Names != e.State.Names || st.sound.Language != e.State.Language
	cold, turn, here, deaf := st.warming(), s.moment, s.here(e.Chair), s.deaf()
	if math.Floor(st.sound.Played/playedStep) != math.Floor(e.State.Played/playedStep) {
		s.believed.stale = true
	}
	if !silent(st.sound) && silent(e.State) {
		st.hushed = s.at
	}
	if st.sound = e.State; !silent(e.State) {
		st.sounded = s.at
	}
	s.settle()
	switch {
	case renamed, s.out.Fit != nil, cold != st.warming(), !s.moment.sameTurn(turn), here != s.here(e.Chair), deaf != s.deaf():
		s.out.Seen = Everyone
	case shown: // a level alone is not
		s.out.Seen = Leader
	}
	return nil
}

// stepQuietly keeps a stretch of tracks; nobody sees a difference.
func (e Track) stepQuietly(s *State) {
	st, run := s.seats[e.Chair], s.running()
	if st == nil || run == nil || !allAtOnce(run) || s.allRing { // the end of what was held before
		return
	}
	s.trackedAt = s.at
	if st.chunks = append(st.chunks, e.Chunk); len(st.chunks) == fewChunks {
		s.openWindow(run)
	}
	st.chunks = slices.Delete(st.chunks, 0, max(0, len(st.chunks)-ensemble.MaxChunks))
	s.hurryWindow(run)
}

func (Track) step(*State) error { return nil }

// stepQuietly notes a node's clock; nobody sees a difference.
func (e Ping) stepQuietly(s *State) {
	if st := s.seats[e.Chair]; st != nil {
		st.clock.Take(e.Ping)
	}
}

func (Ping) step(*State) error { return nil }
