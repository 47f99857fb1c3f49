package intonation

import (
	"fmt"

	"bellrow/proto/pitch"
)

// Seventh is the choice of the seventh of a dominant chord.
type Seventh string

// The sevenths. 7/4 lies 27 cents below 16/9: it suits a held, final-sounding
// chord, the others a seventh that moves on or is doubled by a keyboard
// (common practice, no source).
const (
	Harmonic Seventh = ""         // 7/4, the zero value
	Melodic  Seventh = "16/9"     // 16/9
	Tempered Seventh = "tempered" // the tempered minor seventh
)

// Chord is a chord by its root, quality and inversion. The zero value is C
// with no quality, which has no tones; build chords with ParseChord or by
// naming Quality.
type Chord struct {
	// Root is the pitch class of the concert root, 0 (C) to 11 (B).
	Root    int
	Quality Quality
	// Inversion is which tone lies in the bass: 0 the root, 1 the second
	// tone listed, and so on.
	Inversion int
	// Seventh is used by the dominant kinds alone.
	Seventh Seventh
	// Spelling is the root's name where it is not the usual one of the kind
	// (F♯ major where G♭ is usual); the zero value means the usual one. Set it
	// with Named, so that equal chords compare equal.
	Spelling pitch.Name
}

// Tones returns the tones of the chord from the root up, or nil for an
// unknown quality.
func (c Chord) Tones() []Tone {
	k := kindOf[c.Quality]
	if k == nil {
		return nil
	}
	if !k.dominant || c.Seventh == Harmonic {
		return k.tones
	}
	chosen := make([]Tone, len(k.tones))
	copy(chosen, k.tones)
	for i, t := range chosen {
		if t.Name != "seventh" {
			continue
		}
		chosen[i] = melodic7th
		if c.Seventh == Tempered {
			chosen[i] = tempered7th
		}
	}
	return chosen
}

func (q Quality) dominant() bool { return kindOf[q] != nil && kindOf[q].dominant }

// Bass returns the tone that lies in the bass.
func (c Chord) Bass() Tone {
	tones := c.Tones()
	if c.Inversion < 0 || c.Inversion >= len(tones) {
		return Tone{}
	}
	return tones[c.Inversion]
}

// Tone returns the chord tone that note is, in any octave.
func (c Chord) Tone(note pitch.Note) (Tone, bool) {
	above := (note.Class() - c.Root + 12) % 12
	for _, t := range c.Tones() {
		if t.Semitones == above {
			return t, true
		}
	}
	return Tone{}, false
}

var inversionNames = []string{"", "first inversion", "second inversion", "third inversion", "fourth inversion", "fifth inversion"}

// Name names the chord for people: "B♭ dominant seventh (16/9), first inversion".
func (c Chord) Name() string { return c.name(c.RootName().Display()) }

// String names the chord in ASCII, as commands and files do; ParseChord reads it back.
func (c Chord) String() string { return c.name(c.RootName().String()) }

// NameIn names the chord with the root as a language has it: "H major" in
// German. The words are English.
func (c Chord) NameIn(n pitch.Naming) string { return c.name(n.Both(c.RootName())) }

func (c Chord) name(rootName string) string {
	s := rootName + " " + string(c.Quality)
	if c.Quality.dominant() && c.Seventh != Harmonic {
		s += " (" + string(c.Seventh) + ")"
	}
	if c.Inversion > 0 && c.Inversion < len(inversionNames) {
		s += ", " + inversionNames[c.Inversion]
	}
	return s
}

// Valid reports an unknown quality, root, inversion or seventh as an error.
func (c Chord) Valid() error {
	tones := c.Tones()
	switch {
	case tones == nil:
		return fmt.Errorf("intonation: chord quality %q, need one of %d known", string(c.Quality), len(Qualities))
	case c.Root < 0 || c.Root > 11:
		return fmt.Errorf("intonation: root class %d, need 0 to 11", c.Root)
	case c.Inversion < 0 || c.Inversion >= len(tones):
		return fmt.Errorf("intonation: inversion %d of a chord of %d tones", c.Inversion, len(tones))
	case c.Seventh != Harmonic && c.Seventh != Melodic && c.Seventh != Tempered:
		return fmt.Errorf("intonation: seventh %q, need 7/4, 16/9 or tempered", string(c.Seventh))
	case c.Seventh != Harmonic && !c.Quality.dominant():
		return fmt.Errorf("intonation: a choice of seventh for a %s chord, need a dominant one", c.Quality)
	case c.Spelling != pitch.Name{} && (!c.Spelling.Valid() || c.Spelling.Class() != c.Root):
		return fmt.Errorf("intonation: root %s for class %d", c.Spelling, c.Root)
	}
	return nil
}
