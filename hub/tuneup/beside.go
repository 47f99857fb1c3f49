package tuneup

import (
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/proto/pitch"
)

// Where the leader wants it, some play at once whose laptops hear their own player
// loudest: their called notes lie in different octaves, and no two sit side by
// side. Of recorded notes beside another an octave away, 6 dB below them, all were
// read or refused rightly but six of 28 higher ones, taken for the octave, which is
// noticed and heard again alone (testdata/results/three-minutes.md).
const (
	// mostAtOnce is how many play at once.
	mostAtOnce = 2
	// octaveApart is the least distance of their called notes, in semitones: an
	// octave, less the fifth or so by which an instrument's note may differ.
	octaveApart = 10
)

// groupOf is who play next, of those who wait: the first who is here and has
// rested by then, and, in a round by worth, the next ones who can be heard at the
// same time. Nil where nobody can.
func (s *State) groupOf(run *hub.Round, waiting []hub.ChairID, by time.Time) (group []hub.ChairID) {
	worth := s.byWorth(run)
	for _, id := range waiting {
		switch {
		case !s.ready(id) || worth && s.restsUntil(id).After(by):
		case len(group) == 0:
			group = append(group, id)
			if !worth || s.mustBeAlone(run, id) {
				return group
			}
		case s.section.Order == hub.OrderTwoAtOnce && len(group) < mostAtOnce && !s.mustBeAlone(run, id) && s.apartFrom(run, group, id):
			group = append(group, id)
		}
	}
	return group
}

// mustBeAlone reports whether a chair is heard by itself: the leader asked for it
// again, it was not told from another before, its instrument is too cold to be
// asked yet, its first note is in, which a better one is to follow, or nothing is
// believed of its slide.
func (s *State) mustBeAlone(run *hub.Round, id hub.ChairID) bool {
	return slices.Contains(s.alone, id) || slices.Contains(s.believed.cold, id) || s.askedAnew(run, id) || s.heardIn(run, id) ||
		!slices.ContainsFunc(s.believed.seats, func(c sitting) bool { return c.id == id })
}

// mayJoin reports whether a chair that was asked with others may still be.
func (s *State) mayJoin(run *hub.Round, id hub.ChairID) bool {
	return s.byWorth(run) && s.apartFrom(run, s.asked[:1], id)
}

// apartFrom reports whether a chair's note can be told from those of a group.
func (s *State) apartFrom(run *hub.Round, group []hub.ChairID, id hub.ChairID) bool {
	return !slices.ContainsFunc(group, func(o hub.ChairID) bool {
		d := run.Call.Tones[id] - run.Call.Tones[o]
		return max(d, -d) < octaveApart || s.sideBySide(id, o)
	})
}

// sideBySide reports whether two chairs are next to each other in a row.
func (s *State) sideBySide(a, b hub.ChairID) bool {
	p, q := s.seats[a].chair, s.seats[b].chair
	d := p.Place - q.Place
	return p.Row == q.Row && max(d, -d) <= 1
}

// restsUntil is when a player has rested from the last note.
func (s *State) restsUntil(id hub.ChairID) time.Time {
	if st := s.seats[id]; st != nil && !st.ended.IsZero() {
		return st.ended.Add(belief.Rest)
	}
	return time.Time{}
}

// rested is when the first of those who wait has rested, while nobody is asked
// for that reason; zero otherwise.
func (s *State) rested() (at time.Time) {
	run := s.running()
	if run == nil || !s.byWorth(run) || len(s.asked) > 0 {
		return at
	}
	for _, id := range run.Queue {
		if t := s.restsUntil(id); s.ready(id) && t.After(s.at) && (at.IsZero() || t.Before(at)) {
			at = t
		}
	}
	return at
}

// besideAnother reports whether a reading may be of who plays at the same time:
// it lies nowhere near its called note, but at an octave of theirs or its own.
func (s *State) besideAnother(r *hub.Reading) bool {
	run := s.running()
	if len(s.group) < 2 || !slices.Contains(s.group, r.Chair) || !r.Wire.Hz.Valid() || math.Abs(float64(r.Cents)) <= farCents {
		return false
	}
	return slices.ContainsFunc(s.group, func(o hub.ChairID) bool {
		cents := float64(pitch.Between(s.section.Reference.Frequency(run.Call.Tones[o]), r.Wire.Hz))
		return math.Abs(math.Remainder(cents, 1200)) <= farCents
	})
}

// hearAlone has a player heard again with nobody else. It is no try of theirs.
func (s *State) hearAlone(r *hub.Reading) {
	r.Why, r.Answer = hub.WhyTogether, &hub.Answer{ID: r.ID, Advice: hearApart}
	s.keepAlone(r)
	s.behind(s.running(), r.Chair)
}

// keepAlone notes whether a chair is heard by itself next: if its note among
// others did not count, and not because it swayed.
func (s *State) keepAlone(r *hub.Reading) {
	others := slices.DeleteFunc(slices.Clone(s.alone), func(id hub.ChairID) bool { return id == r.Chair })
	if !r.Counted && len(s.group) > 1 && r.Wire.Reason != "vibrato" {
		others = append(others, r.Chair)
	}
	s.alone = others
}
