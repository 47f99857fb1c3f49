package slide

import (
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// mostFresh is how many fresh attacks are asked for after one move before its
// outcome is taken as it is: people first.
const mostFresh = 3

// Memory is what is kept of one player during one tune-up, so that every
// answer rests on all that was heard and moved: where each note is believed to
// stand, the readings since a slide last moved, the move whose outcome is
// still open, and what the moves have taught. The zero value is a new player.
// It belongs to one goroutine.
type Memory struct {
	notes   map[pitch.Note]*noteMemory
	last    pitch.Note // the note of the last counted reading
	open    *openMove
	made    []Made
	pinches bool
}

// noteMemory is what is kept of one note.
type noteMemory struct {
	path    instrument.Path
	belief  Belief
	earlier []Reading
	counted Reading // the last one that was believed
}

// openMove is a move that no reading has been judged by yet, or whose pitch
// was held so far.
type openMove struct {
	Made
	note    pitch.Note
	attacks int // after it
}

// Answer answers a reading like Advise, and remembers it. Prior, Earlier,
// Pinches and Learned of in are filled in; a Learned with moves of earlier
// days is kept. After a move the follow-through comes first: as long as the
// pitch is held there is no further move. The Follow is nil when no move was
// judged by this reading.
func (m *Memory) Answer(in Input) (Advice, *Follow) {
	n := m.note(in)
	in.Prior, in.Earlier, in.Pinches = n.belief, n.earlier, m.pinches
	if in.Learned.Moves == 0 {
		in.Learned = m.Learned()
	}
	a := Advise(in)
	if in.Reading.Settled && !in.Reading.Overheard && a.Kind != Note {
		n.earlier = append(n.earlier, in.Reading)
	}
	if a.Kind == Again || a.Kind == Note {
		m.pinches = m.pinches || a.Code == "pinched"
		return a, nil
	}
	f, rest, held := m.follow(in)
	if held {
		n.belief = Belief{}
		rest.Offset, rest.Small = a.Offset, a.Small
		return rest, f
	}
	n.belief = n.belief.Read(a.Offset, in.Reading)
	n.counted, m.last = in.Reading, in.Note
	return a, f
}

func (m *Memory) note(in Input) *noteMemory {
	if m.notes == nil {
		m.notes = map[pitch.Note]*noteMemory{}
	}
	n, ok := m.notes[in.Note]
	if !ok {
		n = &noteMemory{}
		m.notes[in.Note] = n
	}
	n.path = usualPath(in.Instrument, in.Path, in.Note)
	return n
}

// follow judges the open move by a believed reading of its note. held tells
// that the pitch must come to rest before any further move; after mostFresh
// attacks the move is closed even so.
func (m *Memory) follow(in Input) (f *Follow, rest Advice, held bool) {
	if m.open == nil || m.open.note != in.Note {
		return nil, Advice{}, false
	}
	m.open.attacks++
	m.open.Common = in.CommonChange
	m.open.Made = m.open.Again(in.Reading)
	verdict := FollowThrough(m.open.Made)
	rest, first := verdict.Answer()
	held = first && verdict.Verdict != TooFar
	if !held {
		m.made = append(m.made, m.open.Made)
	}
	if !held || m.open.attacks >= mostFresh {
		m.open = nil
	}
	return &verdict, rest, held
}

// Moved tells that a slide was moved, whoever advised it. settings are those
// before the move.
func (m *Memory) Moved(in *instrument.Instrument, settings instrument.Settings, id instrument.SlideID, fromMM, toMM float64) {
	learned := m.Learned()
	for note, n := range m.notes {
		change := Expect(in, n.path, settings, id, fromMM, toMM, learned)
		if change == 0 {
			continue
		}
		n.belief = n.belief.Moved(change, toMM-fromMM, learned)
		n.earlier = nil
		if note == m.last && n.counted.Hz.Valid() {
			m.open = &openMove{note: note, Made: Made{
				Expected: Expect(in, n.path, settings, id, fromMM, toMM, Learned{}), Before: n.counted,
			}}
		}
	}
}

// Learned is the player's own millimetres per cent, from the moves of this
// tune-up.
func (m *Memory) Learned() Learned { return Learn(m.made...) }

// Belief is where a note of this player is believed to stand.
func (m *Memory) Belief(n pitch.Note) Belief {
	if k, ok := m.notes[n]; ok {
		return k.belief
	}
	return Belief{}
}
