package pitch

import (
	"fmt"
	"strings"
)

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

var flatNames = [12]string{"C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"}

var letterSemitones = map[byte]int{'C': 0, 'D': 2, 'E': 4, 'F': 5, 'G': 7, 'A': 9, 'B': 11}

// Class returns the pitch class, 0 (C) to 11 (B).
func (n Note) Class() int { return ((int(n) % 12) + 12) % 12 }

// Octave returns the octave number of scientific pitch notation.
func (n Note) Octave() int { return (int(n)-n.Class())/12 - 1 }

// String names the note in ASCII with flats, as brass parts do: "Bb3". It is
// the form of commands, files and messages; Display is the form for people.
func (n Note) String() string {
	return fmt.Sprintf("%s%d", flatNames[n.Class()], n.Octave())
}

// Display names the note with a proper flat sign: "B♭3".
func (n Note) Display() string {
	return strings.Replace(n.String(), "b", "♭", 1)
}

// ClassName names the pitch class alone with a proper flat sign: "B♭".
func (n Note) ClassName() string {
	return strings.Replace(flatNames[n.Class()], "b", "♭", 1)
}

// ParseNote reads a note in scientific pitch notation: a letter in either
// case, any number of accidentals (#, ♯, b, ♭), an octave: "Bb3", "f#4", "B♭3".
func ParseNote(s string) (Note, error) {
	bad := func(why string) (Note, error) {
		return 0, fmt.Errorf("pitch: note %q: %s; write it as Bb3 or F#4", s, why)
	}
	t := strings.NewReplacer("♭", "b", "♯", "#").Replace(strings.TrimSpace(s))
	if t == "" {
		return bad("empty")
	}
	base, ok := letterSemitones[strings.ToUpper(t[:1])[0]]
	if !ok {
		return bad("no letter A to G")
	}
	i, accidental := 1, 0
	for ; i < len(t) && (t[i] == '#' || t[i] == 'b'); i++ {
		if t[i] == '#' {
			accidental++
		} else {
			accidental--
		}
	}
	octave := 0
	if _, err := fmt.Sscanf(t[i:], "%d", &octave); err != nil || fmt.Sprint(octave) != t[i:] {
		return bad("no octave number")
	}
	n := Note(12*(octave+1) + base + accidental)
	if n < MinNote || n > MaxNote {
		return bad("outside C-1 to G9")
	}
	return n, nil
}
