package slide

import (
	"cmp"
	"slices"

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
	small   *openMove // the last move, when it was too small to be judged
	made    []Made
	pinches bool
	// reference is how far targets lie from equal temperament at A4 = 440 Hz.
	reference pitch.Cents
}

// noteMemory is what is kept of one note.
type noteMemory struct {
	path    instrument.Path
	belief  Belief
	warmup  Warmup
	earlier []Reading
	counted Reading // the last one that was believed
}

// openMove is a move that no reading has been judged by yet, or whose pitch
// was held so far.
type openMove struct {
	Made
	note    pitch.Note
	attacks int  // after it
	second  bool // the second of two small ones that are judged together
}

// with is the next move of a note, together with a small one before it that
// went the same way: the two can be judged where each alone could not.
func (o *openMove) with(note pitch.Note, next Made) *openMove {
	if o != nil && o.note == note && (o.Expected > 0) == (next.Expected > 0) {
		next.Expected += o.Expected
		next.Before = o.Before
		return &openMove{note: note, Made: next, second: true}
	}
	return &openMove{note: note, Made: next}
}

// judge is the verdict on the move as heard so far. A second small move was
// advised because the first seemed to do little, which chance does too: one
// attack after it accuses nobody.
func (o *openMove) judge() Follow {
	f := FollowThrough(o.Made)
	if f.Verdict == Held && o.second && o.attacks == 1 {
		f.Verdict = Unsure
		f.Words = f.words()
	}
	return f
}

// Answer answers a reading like Advise, and remembers it. Prior, Others, Earlier,
// Warmup, Pinches and Learned of in are filled in; a Learned with moves of earlier
// days is kept. After a move the follow-through comes first: as long as the
// pitch is held there is no further move. The Follow is nil when no move was
// judged by this reading. A muted note is answered and not remembered.
func (m *Memory) Answer(in Input) (Advice, *Follow) {
	in = in.clean()
	if in.Mute != Open {
		return Advise(in), nil
	}
	n := m.note(in)
	m.retune(in.tempered())
	in.Prior, in.Earlier, in.Pinches, in.Warmup = n.belief, n.earlier, m.pinches, n.warmup
	in.Others = m.Known()
	if in.Learned.Moves == 0 {
		in.Learned = m.Learned()
	}
	a := Advise(in)
	usable := in.Reading.usable() && !in.Reading.Overheard
	if usable && a.Kind != Note {
		n.earlier = append(n.earlier, in.Reading)
	}
	switch {
	case a.Code == "pinched":
		m.pinches = true
		n.belief = Belief{} // what was heard before may have been pinched too
		return a, nil
	case usable && (a.Code == "cold" || a.Code == "wide"):
		n.read(in, a.Offset) // says too little by itself, and something with the next
		return a, nil
	case a.Kind == Again || a.Kind == Note:
		return a, nil
	}
	f, rest, held := m.follow(in)
	if held {
		n.belief = Belief{}
		rest.Offset, rest.Facts.CI95, rest.Facts.Pitched = a.Offset, a.Facts.CI95, true
		return rest, f
	}
	n.read(in, a.Offset)
	if a.Facts.Anew {
		for _, o := range m.notes {
			if o != n {
				o.belief = Belief{}
			}
		}
	}
	n.counted, m.last = in.Reading, in.Note
	a.Doubt = a.Kind == Stay && !a.Facts.Own.sure(in.good()) && oneMoreTells[a.Code]
	return a, f
}

// Review answers a reading that was remembered before, once more: the other notes
// count as they are known now, and nothing is remembered. For moves that were held
// back and are given after all.
func (m *Memory) Review(in Input) Advice {
	if in.Mute == Open {
		in.Others = m.Known()
	}
	if in.Learned.Moves == 0 {
		in.Learned = m.Learned()
	}
	return Advise(in)
}

// oneMoreTells holds the codes of answers that one more note may change.
var oneMoreTells = map[string]bool{"in-band": true, "in-doubt": true, "under-a-millimetre": true, "warming": true, "at-end": true}

// read takes a believed reading into what is known of the note.
func (n *noteMemory) read(in Input, offset pitch.Cents) {
	r := in.Reading.straight()
	offset += pitch.Between(in.Reading.Hz, r.Hz)
	if !in.warmingUp() {
		n.belief = n.belief.Read(offset, r)
		return
	}
	n.warmup = n.warmup.read(in.Played, float64(offset), r.sd())
	n.belief = n.warmup.belief()
}

// retune follows a change of the reference: everything known stands as many
// cents lower as the reference rose.
func (m *Memory) retune(reference pitch.Cents) {
	d := m.reference - reference
	m.reference = reference
	for _, n := range m.notes {
		if d != 0 && n.belief.SD > 0 {
			n.belief.Offset += d
			n.warmup = n.warmup.moved(float64(d), 0)
		}
	}
}

// Known lists what is known of each note, with the slides where they stand now:
// for Input.Others, or as Problem.Heard of a Solve in the middle of a round.
func (m *Memory) Known() []Known {
	var all []Known
	for note, n := range m.notes {
		if n.belief.SD > 0 {
			all = append(all, Known{note, n.path, n.belief})
		}
	}
	slices.SortFunc(all, func(a, b Known) int { return cmp.Compare(a.Note, b.Note) })
	return all
}

// Heard is what is known of a note as one reading, for Solve, at a reference.
func (k Known) Heard(r pitch.Reference) Heard {
	target := r.Frequency(k.Note)
	return Heard{Note: k.Note, Path: k.Path, Target: target,
		Reading: Reading{Hz: target.Shift(k.Offset), CI95: pitch.IntervalOf(k.SD), Settled: true}}
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
// attacks the move is closed even so. A pitch that went part of the way and
// comes out there again in a fresh attack is not held: that is how this
// instrument takes its slide.
func (m *Memory) follow(in Input) (f *Follow, rest Advice, held bool) {
	if m.open == nil || m.open.note != in.Note {
		return nil, Advice{}, false
	}
	m.open.attacks++
	m.open.Common = in.CommonChange
	if in.warmingUp() { // warming air is no embouchure
		m.open.Common += m.notes[in.Note].warmup.rise(m.open.Before.Played, in.Played)
	}
	m.open.Made = m.open.Again(in.Reading)
	verdict := m.open.judge()
	rest, first := verdict.Answer()
	held = first && verdict.Verdict != TooFar && !(verdict.Verdict == Partly && m.open.Repeats > 0)
	if !held {
		m.made = append(m.made, m.open.Made)
	}
	m.small = nil
	if verdict.Verdict == Small {
		m.small = m.open
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
		n.warmup = n.warmup.moved(float64(change), moveDoubt(change, toMM-fromMM, learned))
		n.earlier = nil
		if note == m.last && n.counted.Hz.Valid() {
			m.open = m.small.with(note, Made{
				Expected: Expect(in, n.path, settings, id, fromMM, toMM, Learned{}), Before: n.counted,
			})
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

// Pinched reports whether this player has pinched a note in this tune-up.
func (m *Memory) Pinched() bool { return m.pinches }
