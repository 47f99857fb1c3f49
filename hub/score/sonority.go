package score

import (
	"cmp"
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
	// Chords are the names it can have, the likeliest first; empty for a
	// single class of notes, or where nothing known fits.
	Chords []intonation.Chord
}

// PartNote is one sounding note of a part.
type PartNote struct {
	Part int // index in Score.Parts
	Note pitch.Note
}

// Held is the least length of a sonority that an ensemble can be asked to
// tune: a quarter note. Shorter ones pass before a beat is heard.
const Held Ticks = TicksPerQuarter

// Sonorities lists what sounds together, bar by bar in order, that lasts at
// least as long as shortest. A chord repeated within a bar without a rest counts
// as one; one that goes on over a bar line is listed in each bar.
func (s *Score) Sonorities(shortest Ticks) []Sonority {
	var out []Sonority
	next := make([]int, len(s.Parts)) // first note of each part not yet begun
	var sounding []sound
	for bar := range s.Bars {
		from, to := s.Bars[bar].Start, s.Bars[bar].Start+s.Bars[bar].Length
		sounding = slices.DeleteFunc(sounding, func(x sound) bool { return x.end <= from+snap })
		for p, part := range s.Parts {
			for ; next[p] < len(part.Notes) && part.Notes[next[p]].Start < to-snap; next[p]++ {
				n := part.Notes[next[p]]
				sounding = append(sounding, sound{PartNote{p, n.Pitch}, n.Start, n.End()})
			}
		}
		for _, x := range sweep(sounding, bar, from, to) {
			if x.Length >= shortest-snap {
				x.Chords = intonation.Naming(x.notes())
				out = append(out, x)
			}
		}
	}
	return out
}

type sound struct {
	PartNote
	start, end Ticks
}

// sweep cuts one bar at every change of notes and joins equal neighbours.
func sweep(sounding []sound, bar int, from, to Ticks) []Sonority {
	cuts := []Ticks{from, to}
	for _, x := range sounding {
		cuts = append(cuts, min(max(x.start, from), to), min(max(x.end, from), to))
	}
	slices.Sort(cuts)
	var out []Sonority
	for i := 1; i < len(cuts); i++ {
		a, b := cuts[i-1], cuts[i]
		if b-a < snap {
			cuts[i] = a
			continue
		}
		tones := sounds(sounding, a, b)
		switch last := len(out) - 1; {
		case len(tones) == 0:
		case last >= 0 && slices.Equal(out[last].Tones, tones) && out[last].Offset+out[last].Length >= a-from-snap:
			out[last].Length = b - from - out[last].Offset
		default:
			out = append(out, Sonority{Bar: bar, Offset: a - from, Length: b - a, Tones: tones})
		}
	}
	return out
}

// sounds lists what sounds over the whole of a to b.
func sounds(sounding []sound, a, b Ticks) []PartNote {
	var tones []PartNote
	for _, x := range sounding {
		if x.start <= a+snap && x.end >= b-snap {
			tones = append(tones, x.PartNote)
		}
	}
	slices.SortFunc(tones, func(x, y PartNote) int {
		return cmp.Or(cmp.Compare(x.Note, y.Note), cmp.Compare(x.Part, y.Part))
	})
	return slices.Compact(tones)
}

func (x Sonority) notes() []pitch.Note {
	notes := make([]pitch.Note, len(x.Tones))
	for i, t := range x.Tones {
		notes[i] = t.Note
	}
	return notes
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
