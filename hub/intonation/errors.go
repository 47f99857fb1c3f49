package intonation

import "bellrow/proto/pitch"

// ChordCode says what is wrong with the name of a chord.
type ChordCode string

// The codes.
const (
	ChordLong      ChordCode = "long"      // far longer than any name
	ChordRoot      ChordCode = "root"      // no note to begin with
	ChordKind      ChordCode = "kind"      // an unknown kind: Word; Qualities are those there are
	ChordBass      ChordCode = "bass"      // what follows the stroke is no note: Word
	ChordNoTone    ChordCode = "no-tone"   // the bass is no tone of the chord: Word
	ChordBoth      ChordCode = "both"      // an inversion and a bass
	ChordInversion ChordCode = "inversion" // more inversions than tones
	ChordSeventh   ChordCode = "seventh"   // a choice of seventh for a kind that has none
)

// ChordError is a name that is no chord.
type ChordError struct {
	Code ChordCode
	// Text is what was typed, Word the part of it that was not understood.
	Text, Word string
	Naming     pitch.Naming
}

// Error says it to a person, with the next action.
func (e *ChordError) Error() string { return e.words() }

// Elsewhere returns the language in which the text begins with a note, and
// that note, where its own language has none: H is the German B natural.
func (e *ChordError) Elsewhere() (pitch.Naming, pitch.Name, bool) {
	if e.Code != ChordRoot {
		return "", pitch.Name{}, false
	}
	for _, n := range pitch.Namings {
		if n == e.Naming {
			continue
		}
		t := chordText{naming: n, typed: e.Text}
		names, rest, err := t.cutRoot(tidy(e.Text))
		if err != nil {
			continue
		}
		if _, err := t.chord(names[0], rest); err == nil {
			return n, names[0], true
		}
	}
	return "", pitch.Name{}, false
}
