package intonation

import (
	"strings"

	"bellrow/proto/pitch"
)

var inversionWords = map[string]int{
	"root position": 0, "first inversion": 1, "1st inversion": 1,
	"second inversion": 2, "2nd inversion": 2, "third inversion": 3, "3rd inversion": 3,
	"fourth inversion": 4, "4th inversion": 4, "fifth inversion": 5, "5th inversion": 5,
}

// seventhWords are looked for from the longest on.
var seventhWords = []struct {
	words   string
	seventh Seventh
}{
	{"tempered seventh", Tempered}, {"harmonic seventh", Harmonic}, {"melodic seventh", Melodic},
	{"tempered", Tempered}, {"16/9", Melodic}, {"7/4", Harmonic},
}

// maxChordText bounds what is read as the name of a chord.
const maxChordText = 100

// ParseChord reads a chord as a leader would write it: "Bb major first
// inversion", "B flat minor", "Bb7", "Cm7/Eb", "F dominant seventh (16/9)".
// What follows a slash is the concert bass and must be a tone of the chord. The
// root keeps its name: F sharp stays F sharp. An error is a *ChordError.
func ParseChord(s string) (Chord, error) {
	p, err := ParseChordIn(pitch.English, s)
	return p.Chord, err
}

// ParsedChord is a chord as it was typed.
type ParsedChord struct {
	Chord Chord
	// Or holds what else it could mean to another reader: B major for a
	// German B major. Whoever asked shows both, or asks.
	Or []Chord
}

// ParseChordIn is ParseChord for names of another language: "H major",
// "fis-Moll" in German, "si bémol majeur" in French. What is no chord in the
// language is read as those of pitch.Foreign read it; "B-Dur" is German
// wherever it is typed.
func ParseChordIn(naming pitch.Naming, s string) (ParsedChord, error) {
	if len(s) > maxChordText {
		return ParsedChord{}, &ChordError{Code: ChordLong, Naming: naming}
	}
	text := tidy(s)
	if naming == pitch.English && germanKind(text) {
		naming = pitch.German
	}
	p, why := chordText{naming, s}.read(text)
	for _, n := range pitch.Foreign {
		if why == nil {
			return p, nil
		}
		other, err := chordText{n, s}.read(text)
		if err == nil {
			return other, nil
		}
		if err.further(why) {
			why = err
		}
	}
	if why != nil {
		return ParsedChord{}, why
	}
	return p, nil
}

// germanKind tells a chord by the German words for major and minor.
func germanKind(s string) bool {
	s = strings.ToLower(s)
	return strings.HasSuffix(s, "dur") || strings.HasSuffix(s, "moll")
}

// read reads a chord in one naming.
func (t chordText) read(s string) (ParsedChord, *ChordError) {
	roots, rest, err := t.cutRoot(s)
	if err != nil {
		return ParsedChord{}, err
	}
	var out ParsedChord
	for i, x := range roots {
		c, err := t.chord(x, rest)
		switch {
		case i == 0 && err != nil:
			return ParsedChord{}, err
		case i == 0:
			out.Chord = c
		case err == nil:
			out.Or = append(out.Or, c)
		}
	}
	return out, nil
}

// chordText is a chord that is being read.
type chordText struct {
	naming pitch.Naming
	typed  string
}

func (t chordText) bad(code ChordCode, word string) *ChordError {
	return &ChordError{Code: code, Text: t.typed, Word: strings.TrimSpace(word), Naming: t.naming}
}

// chord reads what follows the root.
func (t chordText) chord(root pitch.Name, rest string) (Chord, *ChordError) {
	c := Chord{Root: root.Class()}
	rest, inversion, inverted := cutInversion(rest)
	rest, seventh, chosen := cutSeventh(rest)
	rest, under, slash := strings.Cut(sixNine(rest), "/")
	q, ok := quality(rest)
	if !ok {
		return Chord{}, t.bad(ChordKind, rest)
	}
	c.Quality, c.Inversion, c.Seventh = q, inversion, seventh
	c = c.Named(root)
	switch {
	case chosen && !q.dominant():
		return Chord{}, t.bad(ChordSeventh, "")
	case slash && inverted:
		return Chord{}, t.bad(ChordBoth, "")
	case slash:
		names, after, err := t.cutRoot(strings.TrimSpace(under))
		if err != nil || after != "" {
			return Chord{}, t.bad(ChordBass, under)
		}
		if c.Inversion, ok = c.inversionOverAny(names); !ok {
			return Chord{}, t.bad(ChordNoTone, under)
		}
	}
	if c.Inversion >= len(c.Tones()) {
		return Chord{}, t.bad(ChordInversion, "")
	}
	return c, nil
}

// inversionOverAny takes the first of a bass's meanings that is in the chord.
func (c Chord) inversionOverAny(names []pitch.Name) (int, bool) {
	for _, x := range names {
		if i, ok := c.inversionOver(x.Class()); ok {
			return i, true
		}
	}
	return 0, false
}

var (
	oneSpelling = strings.NewReplacer("♭", "b", "♯", "#", ",", " ", "(", " ", ")", " ", "_", " ", "–", "-", "−", "-", "△", "Δ")
	strokes     = strings.NewReplacer("6/9", "69", " over ", "/", " on ", "/")
)

// tidy makes one spelling of spaces, commas, brackets and accidentals.
func tidy(s string) string {
	return strings.Join(strings.Fields(oneSpelling.Replace(pitch.Tidy(s))), " ")
}

// sixNine keeps the stroke of 6/9 from being read as a bass, and makes a
// stroke of the words for one.
func sixNine(s string) string { return strokes.Replace(s) }

// cutRoot reads the name of a note at the start of s, in figures of speech too: "B flat".
func (t chordText) cutRoot(s string) (names []pitch.Name, rest string, bad *ChordError) {
	names, rest, err := t.naming.Cut(s)
	if err != nil {
		return nil, "", t.bad(ChordRoot, s)
	}
	for _, word := range []struct {
		text string
		step int
	}{{" flat", -1}, {"-flat", -1}, {" sharp", 1}, {"-sharp", 1}} {
		after, found := strings.CutPrefix(lowerASCII(rest), word.text)
		if !found || after != "" && after[0] != ' ' && after[0] != '/' {
			continue
		}
		x := names[len(names)-1] // "B flat" is English in any language
		x.Alter += word.step
		if !x.Valid() {
			return nil, "", t.bad(ChordRoot, s)
		}
		return []pitch.Name{x}, rest[len(word.text):], nil
	}
	return names, rest, nil
}

// lowerASCII lowers the letters A to Z alone, so that every byte keeps its place.
func lowerASCII(s string) string {
	b := []byte(s)
	for i, c := range b {
		if c >= 'A' && c <= 'Z' {
			b[i] = c + 'a' - 'A'
		}
	}
	return string(b)
}

func cutInversion(s string) (rest string, inversion int, found bool) {
	lower := lowerASCII(s)
	for words, n := range inversionWords {
		if before, ok := strings.CutSuffix(lower, words); ok {
			return strings.TrimSuffix(strings.TrimSpace(s[:len(before)]), " in"), n, true
		}
	}
	return s, 0, false
}

func cutSeventh(s string) (rest string, seventh Seventh, found bool) {
	lower := lowerASCII(s)
	for _, w := range seventhWords {
		before, ok := strings.CutSuffix(lower, " "+w.words)
		if !ok {
			continue
		}
		rest = strings.TrimSpace(s[:len(before)])
		return strings.TrimSpace(strings.TrimSuffix(rest, " with")), w.seventh, true
	}
	return s, Harmonic, false
}

// quality reads the kind of a chord. A hyphen before a word joins it to the
// root, as in fis-Moll; spaces may stand anywhere; figures may be words.
func quality(s string) (Quality, bool) {
	s = strings.TrimSpace(s)
	if q, ok := qualityWords[s]; ok {
		return q, true
	}
	if len(s) < 2 { // single letters keep their case
		return "", false
	}
	s = strings.TrimSuffix(strings.ToLower(s), " chord")
	if q, ok := qualityWords[s]; ok {
		return q, true
	}
	if q, ok := qualityWords[strings.TrimPrefix(s, "-")]; ok {
		return q, true
	}
	fields := strings.Fields(s)
	for i, f := range fields {
		if n := figures[f]; n != "" {
			fields[i] = n
		}
	}
	for _, between := range []string{" ", ""} {
		if q, ok := qualityWords[strings.Join(fields, between)]; ok {
			return q, true
		}
	}
	return "", false
}

// figures are numbers as people write them out.
var figures = map[string]string{"two": "2", "four": "4", "five": "5", "six": "6", "seven": "7", "nine": "9", "thirteen": "13"}

func (c Chord) inversionOver(class int) (int, bool) {
	for i, t := range c.Tones() {
		if (c.Root+t.Semitones)%12 == class {
			return i, true
		}
	}
	return 0, false
}
