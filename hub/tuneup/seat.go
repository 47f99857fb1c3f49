package tuneup

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/ensemble"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// device is the laptop at a seat, as far as it has told.
type device struct {
	node   string // "" = away
	boot   string
	name   string    // that its player gave
	left   time.Time // when it went away; zero = never was here
	tracks bool      // it sends partial tracks
	sound  proto.State
	// sounded is when it last heard anything; deaf is set while it hears nothing
	// although its player is asked and other laptops hear something.
	sounded time.Time
	hushed  time.Time // when it last fell silent
	deaf    bool
	clock   ensemble.Clock
	chunks  []track.Chunk // of the running together round
}

func (d *device) away() bool { return d.node == "" }

// heard is what the records say of a chair. derive makes it from them.
type heard struct {
	inRound *hub.Reading   // the last reading of the running round
	notes   int            // played for the row in this tune-up
	ended   time.Time      // the last of them
	turn    slide.Turn     // of this asking in the running round
	counted []*hub.Reading // of this tune-up, oldest first
	memory  slide.Memory   // what answers rest on
	moves   []*hub.MoveRecord
}

// warming reports whether the instrument was found cold in the running round
// and has not been played warm since, as far as its node tells.
func (s *seat) warming() bool {
	return s.inRound != nil && s.inRound.Why == hub.WhyCold && s.sound.Played > 0 && s.sound.Played < slide.ColdSeconds
}

// gathered reports whether the chair's note waits for those of the others.
func (h *heard) gathered() bool { return h.inRound != nil && h.inRound.Why == hub.WhyGathering }

// heardAlone reports whether the chair's own note of a together round is in: one
// that did not settle was mostly a neighbour's, and a better one may come.
func (h *heard) heardAlone() bool { return h.gathered() && h.inRound.Wire.Settled }

// held reports whether the chair's note of a listening round was heard.
func (h *heard) held() bool { return h.inRound != nil && h.inRound.Why == hub.WhyListen }

// open is the last counted reading whose moves still wait to be made, nil when
// there is none: a chord that was played since has not made them.
func (h *heard) open() *hub.Reading {
	for _, r := range slices.Backward(h.counted) {
		if slices.ContainsFunc(h.moves, func(m *hub.MoveRecord) bool { return m.Reading == r.ID && isOpen(m) }) {
			return r
		}
	}
	return nil
}

// toMove reports whether the player is to move a slide before playing once more
// in the same turn.
func (h *heard) toMove() bool {
	return h.turn.Notes > 0 && h.inRound != nil && h.inRound.Counted && h.inRound == h.open()
}

// handMoved reports whether the hand slide was moved because of a reading. It is
// noted where a position had it, and may be noted there already.
func (h *heard) handMoved(r *hub.Reading) bool {
	return slices.ContainsFunc(h.moves, func(m *hub.MoveRecord) bool {
		return m.Reading == r.ID && m.Slide == instrument.Hand && !m.Done.IsZero()
	})
}

// lastMade is the last move that was made, nil when there is none.
func (h *heard) lastMade() *hub.MoveRecord {
	for _, m := range slices.Backward(h.moves) {
		if !m.Done.IsZero() && !m.Withdrawn {
			return m
		}
	}
	return nil
}

// minBaseline is how many counted readings make a usual level.
const minBaseline = 2

// baseline is the chair's usual level at its own microphone: the median of the
// counted readings of this tune-up, of two the louder; 0 while unknown.
func (h *heard) baseline() pitch.Level {
	if len(h.counted) < minBaseline {
		return 0
	}
	ls := make([]pitch.Level, len(h.counted))
	for i, r := range h.counted {
		ls[i] = r.Wire.Level
	}
	return middle(ls)
}

// middle is the middle value, of an even number the upper of the two.
func middle[T cmp.Ordered](xs []T) T {
	slices.Sort(xs)
	return xs[len(xs)/2]
}

// take enters a reading into what is derived.
func (s *seat) take(r *hub.Reading, running *hub.Round) {
	if r.Why != hub.WhyOverheard { // a neighbour's note wears nobody out
		s.notes++
		s.ended = r.At
	}
	if !s.ofNow(r.ID) {
		return
	}
	if r.Counted {
		s.counted = append(s.counted, r)
	}
	if running == nil || r.Round != running.ID || r.Answer == nil && r.Why != hub.WhyGathering {
		return
	}
	if s.gathered() && r.Why == hub.WhyGathering && s.inRound.Wire.Settled && !r.Wire.Settled {
		return // of two notes in one window the better one
	}
	s.inRound = r
	if r.Answer != nil && r.ID > running.After[r.Chair] && !r.Why.Blameless() {
		s.turn.Take(slide.Advice{Kind: r.Answer.Kind})
	}
}

// retake enters all readings anew, after the running round has changed.
func (s *State) retake() {
	for _, st := range s.seats {
		st.inRound, st.notes, st.ended, st.turn, st.counted = nil, 0, time.Time{}, slide.Turn{}, nil
	}
	running := s.running()
	for _, r := range s.readings {
		if st := s.seats[r.Chair]; st != nil {
			st.take(r, running)
		}
	}
}

// derive makes what is known of every seat from the facts, in the order in
// which it came about. It gives the same as living through it.
func (s *State) derive() {
	set := map[hub.ChairID]instrument.Settings{} // where the slides stood
	for id, st := range s.seats {
		st.heard = heard{}
		set[id] = s.settingsBefore(st.chair, s.settings)
	}
	next := 0
	move := func(rec hub.SettingRecord) {
		if st := s.seats[rec.Chair]; st != nil {
			set[rec.Chair][rec.Slide] = rec.From
			st.remember(set[rec.Chair], rec)
			set[rec.Chair][rec.Slide] = rec.MM
		}
	}
	running := s.running()
	for _, r := range s.readings {
		for ; next < len(s.settings) && precedes(s.settings[next], r); next++ {
			move(s.settings[next])
		}
		if st := s.seats[r.Chair]; st != nil {
			s.relive(st, r, set[r.Chair])
			st.take(r, running)
		}
	}
	for _, rec := range s.settings[next:] {
		move(rec)
	}
	for _, m := range s.moves {
		if st := s.seats[m.Chair]; st != nil && st.ofNow(m.ID) {
			st.moves = append(st.moves, m)
		}
	}
}

// ofNow reports whether a record of a number is of the instrument that the chair has now.
func (s *seat) ofNow(id int64) bool { return id >= s.chair.Since }

// ofNow reports it of a chair that may have gone.
func (s *State) ofNow(chair hub.ChairID, id int64) bool {
	st := s.seats[chair]
	return st != nil && st.ofNow(id)
}

// relive lets a chair's memory take a reading that was answered.
func (s *State) relive(st *seat, r *hub.Reading, set instrument.Settings) {
	if r.Answer == nil || !st.ofNow(r.ID) || r.Why.Blameless() || s.ofChord(r) {
		return
	}
	if in, ok := s.inquiry(st, r, set); ok {
		st.memory.Answer(in)
	}
}

// remember tells a chair's memory that a slide was moved. settings are those
// before.
func (s *seat) remember(settings instrument.Settings, rec hub.SettingRecord) {
	if in := s.instrument(); in != nil && rec.From != rec.MM {
		s.memory.Moved(in, settings, rec.Slide, rec.From, rec.MM)
	}
}

// precedes reports whether a slide was set before a reading. A move that was
// taken as made because of a reading bears its time.
func precedes(rec hub.SettingRecord, r *hub.Reading) bool {
	return rec.At.Before(r.At) || rec.At.Equal(r.At) && rec.Source == hub.SourceMove
}

// settingsBefore is where a chair's slides stood before the given of its
// settings, the last ones there are.
func (s *State) settingsBefore(c *hub.Chair, since []hub.SettingRecord) instrument.Settings {
	set := instrument.Settings{}
	maps.Copy(set, c.Settings)
	for _, rec := range slices.Backward(since) {
		if rec.Chair == c.ID {
			set[rec.Slide] = rec.From
		}
	}
	return set
}

// settingsAt is where a chair's slides stood when a reading was taken.
func (s *State) settingsAt(c *hub.Chair, r *hub.Reading) instrument.Settings {
	k := len(s.settings)
	for k > 0 && !precedes(s.settings[k-1], r) {
		k--
	}
	return s.settingsBefore(c, s.settings[k:])
}
