package pitch

// Note is an equal-tempered note by its MIDI number.
type Note int

// Notes that the code names.
const (
	A4 Note = 69
	C4 Note = 60
)

// MinNote and MaxNote bound the notes that have a name here: C-1 to G9.
const (
	MinNote Note = 0
	MaxNote Note = 127
)

var letterSemitones = map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}

// Class returns the pitch class, 0 (C) to 11 (B).
func (n Note) Class() int { return ((int(n) % 12) + 12) % 12 }

// Octave returns the octave number of scientific pitch notation.
func (n Note) Octave() int { return (int(n)-n.Class())/12 - 1 }

// String names the note in ASCII with flats, as brass parts do: "Bb3". It is
// the form of commands, files and messages; Display is the form for people
// where no key or chord says how the note is spelled (see Spelled).
func (n Note) String() string { return Usual(n).String() }

// Display names the note with a proper flat sign: "B♭3".
func (n Note) Display() string { return Usual(n).Display() }

// ClassName names the pitch class alone with a proper flat sign: "B♭".
func (n Note) ClassName() string { return Usual(n).Name.Display() }

// ParseNote reads a note in scientific pitch notation: a letter in either
// case, accidentals (#, ♯, b, ♭), an octave: "Bb3", "f#4", "B♭3". ParseSpelled
// keeps the spelling, and Naming reads other languages.
func ParseNote(s string) (Note, error) {
	spelled, err := ParseSpelled(s)
	if err != nil {
		return 0, err
	}
	return spelled.Note(), nil
}
