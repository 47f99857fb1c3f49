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

// further reports whether e was understood further than another reading of the
// same text: less of it is left.
func (e *ChordError) further(o *ChordError) bool {
	if (e.Code == ChordRoot) != (o.Code == ChordRoot) {
		return o.Code == ChordRoot
	}
	return e.Code == ChordKind && o.Code == ChordKind && len(e.Word) < len(o.Word)
}
