package score

import (
	"cmp"
	"fmt"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// Sonority is what sounds together from one change of notes to the next,
// within one bar.
type Sonority struct {
	Bar    int // index in Score.Bars
	Offset Ticks
	Length Ticks
	// Tones are by part, low to high.
	Tones []PartNote
	// Chords are the names it can have, the likeliest first, with roots named as
	// the score spells them; empty where nothing known fits.
	Chords []intonation.Chord
}

// PartNote is one sounding note of a part.
type PartNote struct {
	Part int // index in Score.Parts
	Note pitch.Note
	// Sounding names Note as the score spells it, Written the note in the part.
	Sounding, Written pitch.Spelled
}

// same reports one note of one part, however it is spelled.
func (p PartNote) same(q PartNote) bool { return p.Part == q.Part && p.Note == q.Note }

// Held is the least length of a sonority that an ensemble can be asked to
// tune: a quarter note. Shorter ones pass before a beat is heard.
const Held Ticks = TicksPerQuarter

// Bounds on listing sonorities: a score within the limits of reading can still
// be so dense that all its sonorities would fill a laptop. A full orchestra of
// 1000 bars builds about 20 million tones and lists far fewer.
const (
	maxBuilt  = 50000000
	maxListed = 4000000
)

// Sonorities lists what sounds together, bar by bar in order, that lasts at
// least as long as shortest. A chord repeated within a bar without a rest counts
// as one; one that goes on over a bar line is listed in each bar. The error
// wraps ErrTooBig for a score that is denser than any ensemble's.
func (s *Score) Sonorities(shortest Ticks) ([]Sonority, error) {
	l := listing{s: s, shortest: shortest, next: make([]int, len(s.Parts))}
	for bar := range s.Bars {
		if err := l.bar(bar); err != nil {
			return nil, err
		}
	}
	return l.out, nil
}

// listing is the state of Sonorities.
type listing struct {
	s        *Score
	shortest Ticks
	next     []int // first note of each part not yet begun
	sounding []sound
	built    int // tones looked at, and listed
	listed   int
	out      []Sonority
}

type sound struct {
	PartNote
	start, end Ticks
}

func (l *listing) bar(bar int) error {
	from, to := l.s.Bars[bar].Start, l.s.Bars[bar].Start+l.s.Bars[bar].Length
	l.sounding = slices.DeleteFunc(l.sounding, func(x sound) bool { return x.end <= from+snap })
	for p, part := range l.s.Parts {
		for ; l.next[p] < len(part.Notes) && part.Notes[l.next[p]].Start < to-snap; l.next[p]++ {
			n := part.Notes[l.next[p]]
			l.sounding = append(l.sounding, sound{PartNote{p, n.Pitch, n.Sounding(), n.Spelled}, n.Start, n.End()})
		}
	}
	found, err := l.sweep(bar, from, to)
	if err != nil {
		return err
	}
	for _, x := range found {
		if x.Length < l.shortest-snap {
			continue
		}
		if l.listed += len(x.Tones); l.listed > maxListed {
			return fmt.Errorf("%w: more than %d tones in held chords", ErrTooBig, maxListed)
		}
		x.Chords = intonation.Naming(x.notes())
		l.out = append(l.out, x)
	}
	return nil
}

// sweep cuts one bar at every change of notes and joins equal neighbours.
func (l *listing) sweep(bar int, from, to Ticks) ([]Sonority, error) {
	cuts := []Ticks{from, to}
	for _, x := range l.sounding {
		cuts = append(cuts, min(max(x.start, from), to), min(max(x.end, from), to))
	}
	slices.Sort(cuts)
	waiting := slices.Clone(l.sounding)
	slices.SortStableFunc(waiting, func(x, y sound) int { return cmp.Compare(x.start, y.start) })
	var active []sound // low to high
	var out []Sonority
	for i := 1; i < len(cuts); i++ {
		a, b := cuts[i-1], cuts[i]
		if b-a < snap {
			cuts[i] = a
			continue
		}
		for len(waiting) > 0 && waiting[0].start <= a+snap {
			at, _ := slices.BinarySearchFunc(active, waiting[0], lowFirst)
			active, waiting = slices.Insert(active, at, waiting[0]), waiting[1:]
		}
		active = slices.DeleteFunc(active, func(x sound) bool { return x.end < b-snap })
		if l.built += len(active); l.built > maxBuilt {
			return nil, fmt.Errorf("%w: more than %d tones in all its chords", ErrTooBig, maxBuilt)
		}
		out = join(out, Sonority{Bar: bar, Offset: a - from, Length: b - a, Tones: tonesOf(active)})
	}
	return out, nil
}

// join adds a sonority, or lengthens the last one when it goes on.
func join(out []Sonority, x Sonority) []Sonority {
	if len(x.Tones) == 0 {
		return out
	}
	if len(out) > 0 {
		last := &out[len(out)-1]
		if end := last.Offset + last.Length; end >= x.Offset-snap && slices.EqualFunc(last.Tones, x.Tones, PartNote.same) {
			last.Length = x.Offset + x.Length - last.Offset
			return out
		}
	}
	return append(out, x)
}

func lowFirst(x, y sound) int {
	return cmp.Or(cmp.Compare(x.Note, y.Note), cmp.Compare(x.Part, y.Part))
}

// tonesOf drops the doublings within a part of what sounds.
func tonesOf(active []sound) []PartNote {
	tones := make([]PartNote, len(active))
	for i, x := range active {
		tones[i] = x.PartNote
	}
	return slices.CompactFunc(tones, PartNote.same)
}

func (x Sonority) notes() []pitch.Spelled {
	notes := make([]pitch.Spelled, len(x.Tones))
	for i, t := range x.Tones {
		notes[i] = t.Sounding
	}
	return notes
}

// Names returns the names of a part's note: as it sounds, and as it is written
// for an instrument that adds transposition semitones. The score's own spelling is
// kept where the part transposes so; else the chord's root, or the interval
// alone, names the written note.
func (x Sonority) Names(part int, n pitch.Note, transposition int) (sounding, written pitch.Spelled) {
	sounding = pitch.Usual(n)
	for _, t := range x.Tones {
		if t.Part != part || t.Note != n {
			continue
		}
		if sounding = t.Sounding; t.Written.Valid() && t.Written.Note()+pitch.Note(transposition) == n {
			return sounding, t.Written
		}
	}
	if len(x.Chords) > 0 {
		if _, in := x.Chords[0].Tone(n); in {
			return sounding, x.Chords[0].SpellWritten(n, transposition)
		}
	}
	return sounding, pitch.Written(sounding, transposition)
}

// ByPart returns the notes that each part sounds, low to high: what a leader
// calls for, with more than one where a part is divided.
func (x Sonority) ByPart() map[int][]pitch.Note {
	m := map[int][]pitch.Note{}
	for _, t := range x.Tones {
		m[t.Part] = append(m[t.Part], t.Note)
	}
	return m
}
