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

func indexSets() map[uint16][]named {
	index := map[uint16][]named{}
	for _, k := range kinds {
		for class := range 12 {
			c := Chord{Root: class, Quality: k.quality}
			for _, less := range c.spared(k) {
				index[less.set] = append(index[less.set], named{c, k.rarity() + less.cost})
			}
		}
	}
	return index
}

// reduced is what is left of a chord's classes and what leaving them out costs.
type reduced struct {
	set  uint16
	cost float64
}

// spared lists the sets of the chord, complete and without any of the tones
// that its kind can spare.
func (c Chord) spared(k kind) []reduced {
	all := []reduced{{set: c.classSet()}}
	for _, t := range c.Tones() {
		if k.missing(t) != spareCost {
			continue
		}
		for _, r := range all {
			all = append(all, reduced{r.set &^ (1 << ((c.Root + t.Semitones) % 12)), r.cost + spareCost - sparedInPrint})
		}
	}
	return all
}

// sparedInPrint is what a written chord gains on a heard one whose tone might
// only have gone unheard (from experience, no source).
const sparedInPrint = 1

func (c Chord) classSet() uint16 {
	set := uint16(0)
	for _, t := range c.Tones() {
		set |= 1 << ((c.Root + t.Semitones) % 12)
	}
	return set
}

// Naming says which chords written notes spell, the likeliest first: the
// lowest note is the bass, root position and plain qualities come before
// others. Roots are called as the notes are, and of chords that are as likely, those
// spelled as written come first. One class of notes alone is a unison. It is empty
// without notes and for sets that no known chord has.
func Naming(notes []pitch.Spelled) []Chord {
	if len(notes) == 0 {
		return nil
	}
	set, bass := uint16(0), notes[0].Note()
	for _, s := range notes {
		set |= 1 << s.Name.Class()
		bass = min(bass, s.Note())
	}
	found := slices.Clone(bySet[set])
	for i := range found {
		found[i].spell(notes, bass)
	}
	slices.SortStableFunc(found, func(a, b named) int { return cmp.Compare(a.cost, b.cost) })
	chords := make([]Chord, len(found))
	for i, f := range found {
		chords[i] = f.chord
	}
	return chords
}

// spell inverts the chord over the bass, calls it as the notes are, and counts what
// that costs.
func (f *named) spell(notes []pitch.Spelled, bass pitch.Note) {
	f.chord.Inversion, _ = f.chord.inversionOver(bass.Class())
	if f.chord.Inversion > 0 {
		f.cost += inverted
	}
	for _, s := range notes {
		if s.Name.Class() == f.chord.Root {
			f.chord = f.chord.Named(s.Name)
			break
		}
	}
	for _, s := range notes {
		if t, ok := f.chord.Tone(s.Note()); ok && f.chord.RootName().Up(t.interval()) != s.Name {
			f.cost += misspelt
		}
	}
}

// misspelt is what a note costs a name that would spell it otherwise: more
// than an inversion, so that the spelling chooses between the roots of chords that
// divide the octave evenly (from experience, no source).
const misspelt = inverted + 0.1
