package tuneup

import (
	"maps"
	"slices"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A thorough call sets the main slide of each from several notes. Single notes of an
// instrument have something of their own, which one note alone puts into the slide.

// mostSeveral are the notes of one player: people first.
const mostSeveral = 3

// usualNotes are called beside the section's own tuning notes: B flat, F and E flat
// (common practice, no source).
var usualNotes = []pitch.Note{58, 53, 51}

// giveSeveral chooses the notes of a thorough call for everybody in the queue whose
// main slide more than one note tells of, and has none yet.
func (s *State) giveSeveral(r *hub.Round) {
	if !r.Call.Thorough {
		return
	}
	if r.Call.Several == nil {
		r.Call.Several = map[hub.ChairID][]pitch.Note{}
	}
	for _, id := range r.Queue {
		in := s.seats[id].instrument()
		if _, has := r.Call.Several[id]; has || in == nil {
			continue
		}
		if notes := s.severalOf(in, r.Call.Tones[id]); len(notes) > 1 {
			r.Call.Several[id] = notes
			give(r, id, notes[0], s.asTuned(in, notes[0]))
		}
	}
}

// severalOf is a note and those of the section's tuning notes that tell of the same
// main slide in another partial: only they have something else of their own.
func (s *State) severalOf(in *instrument.Instrument, first pitch.Note) []pitch.Note {
	var notes []pitch.Note
	var ways []instrument.Path
	add := func(note pitch.Note, as string) {
		w := s.wayTo(in, played{in.ID, note, as})
		known := slices.ContainsFunc(ways, func(p instrument.Path) bool { return p.Partial == w.path.Partial || p.Side != w.path.Side })
		if w.tells && !known && len(notes) < mostSeveral {
			notes, ways = append(notes, note), append(ways, w.path)
		}
	}
	if add(first, s.asTuned(in, first)); len(notes) == 0 {
		return nil
	}
	for _, called := range slices.Concat(s.section.TuningNotes, usualNotes) {
		if note, as := s.tuningWay(in, called); as == "" || s.section.HornOrder == slide.FSideFirst { // nobody learns a fingering for it
			add(note, as)
		}
	}
	return notes
}

// asTuned is how a note of several is played, "" for the usual way.
func (s *State) asTuned(in *instrument.Instrument, note pitch.Note) string {
	if n, way := s.tuningWay(in, note); n == note {
		return way
	}
	return ""
}

// playedBy is how a chair of a round plays one of its notes.
func (s *State) playedBy(run *hub.Round, id hub.ChairID, in *instrument.Instrument, note pitch.Note) played {
	if note == run.Call.Tones[id] {
		return played{in.ID, note, run.Call.Fingerings[id]}
	}
	return played{in.ID, note, s.asTuned(in, note)}
}

// asks reports whether a chair of a round plays a note, be it not the next one.
func asks(run *hub.Round, id hub.ChairID, note pitch.Note) bool {
	tone, plays := run.Call.Tones[id]
	return plays && tone == note || slices.Contains(run.Call.Several[id], note)
}

// firstTones are the notes of a round as it was called.
func firstTones(run *hub.Round) map[hub.ChairID]pitch.Note {
	if len(run.Call.Several) == 0 {
		return run.Call.Tones
	}
	tones := maps.Clone(run.Call.Tones)
	for id, notes := range run.Call.Several {
		tones[id] = notes[0]
	}
	return tones
}

// nextNotes has everybody who waits play that of several notes which tells most.
func (s *State) nextNotes(run *hub.Round, b *belief.Section) {
	for _, id := range run.Queue {
		notes := run.Call.Several[id]
		if i := b.Note(int64(id)); !s.isAsked(id) && i < len(notes) && notes[i] != run.Call.Tones[id] {
			give(run, id, notes[i], s.asTuned(s.seats[id].instrument(), notes[i]))
		}
	}
}

// otherNext reports whether a chair's next note is another one than r was of.
func (s *State) otherNext(run *hub.Round, b *belief.Section, r *hub.Reading) bool {
	notes := run.Call.Several[r.Chair]
	i := b.Note(int64(r.Chair))
	return i < len(notes) && notes[i] != r.Note
}
