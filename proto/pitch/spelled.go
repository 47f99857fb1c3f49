package pitch

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Name is the name of a pitch class: a letter and what alters it. C sharp and
// D flat are two names of one class. The zero value is no name.
type Name struct {
	Letter byte // 'A' to 'G'; 0 for no name
	Alter  int  // semitones: 1 sharp, -1 flat
}

// letters are the letters in the order of the staff.
const letters = "CDEFGAB"

// MaxAlter is the most sharps or flats that a name may carry: more than any
// printed part does.
const MaxAlter = 3

// Valid reports whether x is a name.
func (x Name) Valid() bool {
	return strings.IndexByte(letters, x.Letter) >= 0 && x.Letter != 0 && x.Alter >= -MaxAlter && x.Alter <= MaxAlter
}

// Class returns the pitch class, 0 (C) to 11 (B).
func (x Name) Class() int { return ((letterSemitones[x.Letter]+x.Alter)%12 + 12) % 12 }

// step is the place of the letter on the staff, C = 0.
func (x Name) step() int { return strings.IndexByte(letters, x.Letter) }

// Fifths is the place of the name on the line of fifths: C 0, G 1, F -1, F
// sharp 6, B flat -2. Seven more is a sharp more on the same letter.
func (x Name) Fifths() int { return strings.IndexByte("FCGDAEB", x.Letter) - 1 + 7*x.Alter }

// NameAt returns the name at a place on the line of fifths; see Name.Fifths.
func NameAt(fifths int) Name {
	i := ((fifths+1)%7 + 7) % 7
	return Name{Letter: "FCGDAEB"[i], Alter: (fifths + 1 - i) / 7}
}

// String writes the name in ASCII: "F#", "Bb"; "" for no name.
func (x Name) String() string {
	if x.Letter == 0 {
		return ""
	}
	return string(x.Letter) + accidentals(x.Alter, "#", "b")
}

// Display writes the name with proper signs: "F♯", "B♭".
func (x Name) Display() string {
	if x.Letter == 0 {
		return ""
	}
	return string(x.Letter) + accidentals(x.Alter, "♯", "♭")
}

func accidentals(alter int, sharp, flat string) string {
	if alter < 0 {
		return strings.Repeat(flat, -alter)
	}
	return strings.Repeat(sharp, alter)
}

// In returns the spelled note of this name that sounds as n; false where n is
// of another class.
func (x Name) In(n Note) (Spelled, bool) {
	if !x.Valid() || x.Class() != n.Class() {
		return Spelled{}, false
	}
	natural := int(n) - x.Alter - letterSemitones[x.Letter]
	return Spelled{Name: x, Octave: natural/12 - 1}, true
}

// Up returns the name an interval higher.
func (x Name) Up(i Interval) Name { return NameAt(x.Fifths() + i.fifths()) }

// Spelled is a note by its name: a letter, what alters it, and an octave. The
// octave is the letter's, so that C flat 4 sounds as B 3. The zero value is no
// note.
type Spelled struct {
	Name
	Octave int // scientific pitch notation: middle C is C4
}

// Note returns the equal-tempered note that s sounds as.
func (s Spelled) Note() Note {
	return Note(12*(s.Octave+1) + letterSemitones[s.Letter] + s.Alter)
}

// Valid reports whether s is a name of a note between MinNote and MaxNote.
func (s Spelled) Valid() bool {
	return s.Name.Valid() && s.Note() >= MinNote && s.Note() <= MaxNote
}

// String writes the note in ASCII: "F#4"; "" for no note.
func (s Spelled) String() string {
	if s.Letter == 0 {
		return ""
	}
	return s.Name.String() + strconv.Itoa(s.Octave)
}

// Display writes the note with proper signs: "F♯4".
func (s Spelled) Display() string {
	if s.Letter == 0 {
		return ""
	}
	return s.Name.Display() + strconv.Itoa(s.Octave)
}

// MarshalText writes the note as String does.
func (s Spelled) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (s *Spelled) UnmarshalText(text []byte) (err error) {
	*s = Spelled{}
	if len(text) > 0 {
		*s, err = ParseSpelled(string(text))
	}
	return err
}

// Up returns the note an interval higher; a negative interval goes down.
func (s Spelled) Up(i Interval) Spelled {
	steps := s.step() + i.Steps
	octave := s.Octave + floorDiv(steps, 7)
	return Spelled{Name: s.Name.Up(i), Octave: octave}
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// Interval is a distance on the staff and in semitones, both negative
// downwards: a major third is {2, 4}, a diminished fourth {3, 4}.
type Interval struct {
	Steps, Semitones int
}

// fifths is how far the interval moves along the line of fifths.
func (i Interval) fifths() int { return 7*i.Semitones - 12*i.Steps }

// Down returns the interval the other way.
func (i Interval) Down() Interval { return Interval{-i.Steps, -i.Semitones} }

// To returns the interval from s up to t.
func (s Spelled) To(t Spelled) Interval {
	return Interval{t.step() + 7*t.Octave - s.step() - 7*s.Octave, int(t.Note() - s.Note())}
}

// usualSteps is the staff distance of each number of semitones within the
// octave as instruments transpose: 2 a major second, 9 a major sixth.
var usualSteps = [12]int{0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6}

// UsualInterval returns the interval of so many semitones by its usual name:
// minor and major ones, perfect ones, the augmented fourth.
func UsualInterval(semitones int) Interval {
	if semitones < 0 {
		return UsualInterval(-semitones).Down()
	}
	return Interval{7*(semitones/12) + usualSteps[semitones%12], semitones}
}

// ParseSpelled reads a note as ParseNote does and keeps its spelling.
func ParseSpelled(s string) (Spelled, error) {
	out, err := parseSpelled(s)
	if err != nil {
		return Spelled{}, badNote(s, err, "Bb3", "F#4")
	}
	return out, nil
}

func parseSpelled(s string) (Spelled, error) {
	name, rest, err := cutName(s)
	if err != nil {
		return Spelled{}, err
	}
	octave, err := strconv.Atoi(rest)
	if err != nil || strconv.Itoa(octave) != rest {
		return Spelled{}, errNoOctave
	}
	out := Spelled{Name: name, Octave: octave}
	if octave < -2 || octave > 10 || out.Note() < MinNote || out.Note() > MaxNote {
		return Spelled{}, errOutside
	}
	return out, nil
}

// ParseName reads the name of a pitch class: "F#", "B♭", "b".
func ParseName(s string) (Name, error) {
	name, rest, err := cutName(s)
	if err == nil && rest != "" {
		err = errors.New("more than a name")
	}
	if err != nil {
		return Name{}, badNote(s, err, "Bb", "F#")
	}
	return name, nil
}

// signs makes ASCII of accidentals.
var signs = strings.NewReplacer("♭", "b", "♯", "#", "𝄪", "##", "𝄫", "bb")

// What keeps a text from being a note.
var (
	errNoName   = errors.New("it begins with no note name")
	errNoOctave = errors.New("no octave")
	errOutside  = errors.New("outside C-1 to G9")
)

// cutName reads a letter in either case and its accidentals, and returns the rest.
func cutName(s string) (Name, string, error) {
	s = strings.TrimSpace(s)
	if s == "" {
		return Name{}, "", errors.New("empty")
	}
	name := Name{Letter: strings.ToUpper(s[:1])[0]}
	if strings.IndexByte(letters, name.Letter) < 0 {
		return Name{}, "", errNoName
	}
	t := signs.Replace(s)
	i := 1
	for ; i < len(t) && (t[i] == '#' || t[i] == 'b'); i++ {
		if t[i] == '#' {
			name.Alter++
		} else {
			name.Alter--
		}
	}
	if name.Alter < -MaxAlter || name.Alter > MaxAlter {
		return Name{}, "", errors.New("too many accidentals")
	}
	return name, t[i:], nil
}

func badNote(s string, why error, flat, sharp string) error {
	const most = 40 // of what was typed, so that the sentence stays one
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + "…"
	}
	return fmt.Errorf("pitch: note %q: %w; write it as %s or %s", s, why, flat, sharp)
}
