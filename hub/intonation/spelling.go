package intonation

import "bellrow/proto/pitch"

// RootName is the name of the root: the one it was given, or the usual one.
func (c Chord) RootName() pitch.Name {
	if c.Spelling.Valid() && c.Spelling.Class() == c.Root {
		return c.Spelling
	}
	return c.usualRoot()
}

// Named returns the chord with its root called x, which must be a name of the
// root's class; another name, and one beyond C flat or A sharp, is left out.
func (c Chord) Named(x pitch.Name) Chord {
	c.Spelling = pitch.Name{}
	if x.Valid() && x.Class() == c.Root && x != c.usualRoot() && x.Fifths() >= flattestNamed && x.Fifths() <= sharpestRoot {
		c.Spelling = x
	}
	return c
}

// The names that a chord's root has without being asked for: G flat to A
// sharp on the line of fifths, all black keys by either name.
const (
	flattestRoot  = -6
	sharpestRoot  = 10
	flattestNamed = -7 // C flat, on request
)

// usualRoots holds the usual root of every kind on every class: spelling a row
// of chairs asks for it again and again.
var usualRoots = func() map[Quality][12]pitch.Name {
	m := map[Quality][12]pitch.Name{}
	for _, k := range kinds {
		var names [12]pitch.Name
		for class := range names {
			names[class] = Chord{Root: class, Quality: k.quality}.plainestRoot()
		}
		m[k.quality] = names
	}
	return m
}()

func (c Chord) usualRoot() pitch.Name {
	if names, ok := usualRoots[c.Quality]; ok {
		return names[(c.Root%12+12)%12]
	}
	return c.plainestRoot()
}

// plainestRoot is the name that needs the fewest accidentals at concert pitch and
// in a B flat part, where most brass reads; the flat one of two that need as many
// (common practice, no source).
func (c Chord) plainestRoot() pitch.Name {
	best, least := pitch.Name{}, 0
	for f := flattestRoot; f <= sharpestRoot; f++ {
		x := pitch.NameAt(f)
		if x.Class() != (c.Root%12+12)%12 {
			continue
		}
		if n := c.accidentals(x) + c.accidentals(x.Up(pitch.UsualInterval(2))); best.Letter == 0 || n < least {
			best, least = x, n
		}
	}
	return best
}

// accidentals counts what the chord on a root needs of accidentals; a white
// key under another's name, and a second accidental, count one more.
func (c Chord) accidentals(root pitch.Name) int {
	n := 0
	for _, t := range c.Tones() {
		x := root.Up(t.interval())
		n += max(x.Alter, -x.Alter)
		if whiteKey(x) || x.Alter < -1 || x.Alter > 1 {
			n++
		}
	}
	return n
}

func whiteKey(x pitch.Name) bool {
	switch x {
	case pitch.Name{Letter: 'E', Alter: 1}, pitch.Name{Letter: 'B', Alter: 1}, pitch.Name{Letter: 'C', Alter: -1}, pitch.Name{Letter: 'F', Alter: -1}:
		return true
	}
	return false
}

// Spell names a sounding note as the chord does: a third is two letters above
// the root, a fifth four, whatever the key. Tones that would carry two accidentals
// are named plainly, as parts are printed (common practice, no source). Notes
// outside the chord are named by the key of its root.
func (c Chord) Spell(n pitch.Note) pitch.Spelled { return c.spell(c.RootName(), n) }

// SpellWritten names the note that is written for a sounding one on an
// instrument that adds transposition semitones (-2 for a B flat trumpet): by the
// transposed root, or by its other name where that needs fewer accidentals.
func (c Chord) SpellWritten(n pitch.Note, transposition int) pitch.Spelled {
	moved := c.RootName().Up(pitch.UsualInterval(-transposition))
	best, least := moved, c.accidentals(moved)
	if transposition%12 == 0 {
		return c.spell(best, n-pitch.Note(transposition)) // as it sounds, octaves apart
	}
	for _, f := range []int{moved.Fifths() - 12, moved.Fifths() + 12} {
		if x := pitch.NameAt(f); !whiteKey(x) && c.accidentals(x) < least {
			best, least = x, c.accidentals(x)
		}
	}
	return c.spell(best, n-pitch.Note(transposition))
}

// spell names a note of the chord on a root of any class.
func (c Chord) spell(root pitch.Name, n pitch.Note) pitch.Spelled {
	c.Root = root.Class()
	if t, ok := c.Tone(n); ok {
		if x := root.Up(t.interval()); x.Alter >= -1 && x.Alter <= 1 {
			if s, ok := x.In(n); ok {
				return s
			}
		}
	}
	s := pitch.KeyOf(root, false).Spell(n) // as in minor: both have the harmonic chromatic scale
	if s.Alter < -1 || s.Alter > 1 || whiteKey(s.Name) {
		return pitch.Usual(n)
	}
	return s
}

// Speller names the notes of one call. The zero value spells notes that belong
// to no chord.
type Speller struct{ chord Chord }

// SpellerFor spells the notes of a chord by its name, as a call carries it; for
// "", and for a name that is none, notes are spelled plainly.
func SpellerFor(chord string) Speller {
	if chord == "" {
		return Speller{}
	}
	c, err := ParseChord(chord)
	if err != nil {
		return Speller{}
	}
	return Speller{c}
}

// Names returns the names of a sounding note and of what is written for it on
// an instrument that adds transposition semitones to its part.
func (s Speller) Names(n pitch.Note, transposition int) (sounding, written pitch.Spelled) {
	if s.chord.Quality == "" {
		sounding = pitch.Usual(n)
		return sounding, pitch.Written(sounding, transposition)
	}
	return s.chord.Spell(n), s.chord.SpellWritten(n, transposition)
}
