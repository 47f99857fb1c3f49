package intonation

import (
	"cmp"
	"slices"

	"bellrow/proto/pitch"
)

// named is a chord with the pitch classes it has, as a bit set.
type named struct {
	chord Chord
	cost  float64
}

// bySet finds chords by their pitch classes, complete or without the fifth.
var bySet = indexSets()

// withoutFifth is what a name costs that needs a fifth nobody plays.
const withoutFifth = 1.5

func indexSets() map[uint16][]named {
	index := map[uint16][]named{}
	for _, q := range Qualities {
		for class := range 12 {
			c := Chord{Root: class, Quality: q}
			set := c.classSet()
			index[set] = append(index[set], named{c, rarity[q]})
			if len(c.Tones()) > 3 {
				if _, ok := c.Tone(pitch.Note(class + perfectFifth.Semitones)); ok {
					less := set &^ (1 << ((class + perfectFifth.Semitones) % 12))
					index[less] = append(index[less], named{c, rarity[q] + withoutFifth})
				}
			}
		}
	}
	return index
}

func (c Chord) classSet() uint16 {
	set := uint16(0)
	for _, t := range c.Tones() {
		set |= 1 << ((c.Root + t.Semitones) % 12)
	}
	return set
}

// Naming says which chords written notes spell, the likeliest first: the
// lowest note is the bass, root position and plain qualities come before
// others. It is empty for fewer than two pitch classes and for sets that no
// known chord has.
func Naming(notes []pitch.Note) []Chord {
	if len(notes) == 0 {
		return nil
	}
	set := uint16(0)
	for _, n := range notes {
		set |= 1 << n.Class()
	}
	bass := slices.Min(notes).Class()
	found := slices.Clone(bySet[set])
	for i := range found {
		found[i].chord.Inversion, _ = found[i].chord.inversionOver(bass)
		if found[i].chord.Inversion > 0 {
			found[i].cost += inverted
		}
	}
	slices.SortStableFunc(found, func(a, b named) int { return cmp.Compare(a.cost, b.cost) })
	chords := make([]Chord, len(found))
	for i, f := range found {
		chords[i] = f.chord
	}
	return chords
}
