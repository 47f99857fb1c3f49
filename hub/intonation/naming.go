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
// others. One class of notes alone is a unison. It is empty without notes and
// for sets that no known chord has.
func Naming(notes []pitch.Note) []Chord {
	return chordsOf(naming(notes))
}

// NamingSpelled is Naming for notes whose spelling is known, as in a score:
// roots are called as the notes are, and of chords that are as likely, those
// spelled as written come first.
func NamingSpelled(notes []pitch.Spelled) []Chord {
	sounding := make([]pitch.Note, len(notes))
	for i, s := range notes {
		sounding[i] = s.Note()
	}
	found := naming(sounding)
	for i := range found {
		for _, s := range notes {
			if s.Name.Class() == found[i].chord.Root {
				found[i].chord = found[i].chord.Named(s.Name)
				break
			}
		}
		for _, s := range notes {
			if t, ok := found[i].chord.Tone(s.Note()); ok && found[i].chord.RootName().Up(t.interval()) != s.Name {
				found[i].cost += misspelt
			}
		}
	}
	return chordsOf(found)
}

// misspelt is what a note costs a name that would spell it otherwise: more
// than an inversion, so that the spelling chooses between the roots of chords that
// divide the octave evenly (from experience, no source).
const misspelt = inverted + 0.1

func naming(notes []pitch.Note) []named {
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
	return found
}

func chordsOf(found []named) []Chord {
	slices.SortStableFunc(found, func(a, b named) int { return cmp.Compare(a.cost, b.cost) })
	chords := make([]Chord, len(found))
	for i, f := range found {
		chords[i] = f.chord
	}
	return chords
}
