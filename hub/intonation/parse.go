package intonation

import (
	"fmt"
	"strings"

	"bellrow/proto/pitch"
)

// qualityWords are the ways a quality is written after the root. Case matters
// for the single letters alone: m is minor, M is major.
var qualityWords = map[string]Quality{
	"": Major, "maj": Major, "M": Major, "major": Major, "major triad": Major,
	"m": Minor, "min": Minor, "-": Minor, "minor": Minor, "minor triad": Minor,
	"dim": Diminished, "diminished": Diminished, "°": Diminished, "o": Diminished,
	"aug": Augmented, "+": Augmented, "augmented": Augmented,
	"sus": Sus4, "sus4": Sus4, "suspended": Sus4, "suspended fourth": Sus4, "sus 4": Sus4,
	"sus2": Sus2, "suspended second": Sus2, "sus 2": Sus2,
	"5": OpenFifth, "open fifth": OpenFifth, "fifth": OpenFifth,
	"6": Sixth, "sixth": Sixth, "major sixth": Sixth, "major 6": Sixth, "maj6": Sixth,
	"m6": MinorSixth, "min6": MinorSixth, "minor sixth": MinorSixth, "minor 6": MinorSixth,
	"7": Dominant7, "dom7": Dominant7, "dominant 7": Dominant7, "dominant seventh": Dominant7, "seventh": Dominant7, "dominant": Dominant7,
	"m7": Minor7, "min7": Minor7, "-7": Minor7, "minor 7": Minor7, "minor seventh": Minor7,
	"maj7": Major7, "M7": Major7, "major 7": Major7, "major seventh": Major7,
	"mM7": MinorMajor7, "mmaj7": MinorMajor7, "minor-major seventh": MinorMajor7, "minor major seventh": MinorMajor7, "minor major 7": MinorMajor7,
	"+maj7": AugmentedMaj7, "augmaj7": AugmentedMaj7, "augmented major seventh": AugmentedMaj7, "augmented major 7": AugmentedMaj7,
	"m7b5": HalfDiminished, "ø": HalfDiminished, "ø7": HalfDiminished, "half-diminished": HalfDiminished, "half diminished": HalfDiminished,
	"half-diminished seventh": HalfDiminished, "half diminished seventh": HalfDiminished, "half-diminished 7": HalfDiminished,
	"dim7": Diminished7, "°7": Diminished7, "o7": Diminished7, "diminished 7": Diminished7, "diminished seventh": Diminished7,
	"9": Dominant9, "ninth": Dominant9, "dominant 9": Dominant9, "dominant ninth": Dominant9,
	"7b9": DominantFlat9, "flat ninth": DominantFlat9, "dominant flat ninth": DominantFlat9, "dominant 7 flat 9": DominantFlat9,
	"maj9": Major9, "M9": Major9, "major 9": Major9, "major ninth": Major9,
	"m9": Minor9, "min9": Minor9, "minor 9": Minor9, "minor ninth": Minor9,
}

var inversionWords = map[string]int{
	"root position": 0, "first inversion": 1, "1st inversion": 1,
	"second inversion": 2, "2nd inversion": 2, "third inversion": 3, "3rd inversion": 3,
	"fourth inversion": 4, "4th inversion": 4,
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
// What follows a slash is the concert bass and must be a tone of the chord.
func ParseChord(s string) (Chord, error) {
	if len(s) > maxChordText {
		return Chord{}, fmt.Errorf("intonation: chord of %d characters, need at most %d", len(s), maxChordText)
	}
	bad := func(why string) (Chord, error) {
		return Chord{}, fmt.Errorf("intonation: chord %q: %s; write it as Bb major, Bb7 or Cm7/Eb", s, why)
	}
	rest := tidy(s)
	class, n, ok := classPrefix(rest)
	if !ok {
		return bad("no root A to G")
	}
	c := Chord{Root: class}
	rest = rest[n:]
	rest, inversion, inverted := cutInversion(rest)
	rest, seventh, chosen := cutSeventh(rest)
	rest, bass, slash, err := cutBass(rest)
	if err != nil {
		return bad(err.Error())
	}
	if c.Quality, ok = quality(rest); !ok {
		return bad(fmt.Sprintf("unknown quality %q", strings.TrimSpace(rest)))
	}
	if chosen && !c.Quality.dominant() {
		return bad("a choice of seventh needs a dominant chord")
	}
	c.Inversion, c.Seventh = inversion, seventh
	if slash {
		if inverted {
			return bad("an inversion and a bass")
		}
		if c.Inversion, ok = c.inversionOver(bass); !ok {
			return bad("the bass is not a tone of the chord")
		}
	}
	if c.Inversion >= len(c.Tones()) {
		return bad("no such inversion")
	}
	return c, nil
}

// tidy makes one spelling of spaces, commas, brackets and accidentals.
func tidy(s string) string {
	s = strings.NewReplacer("♭", "b", "♯", "#", ",", " ", "(", " ", ")", " ", "_", " ").Replace(s)
	return strings.Join(strings.Fields(s), " ")
}

// classPrefix reads a pitch class at the start of s and says how long it was.
func classPrefix(s string) (class, length int, ok bool) {
	if s == "" {
		return 0, 0, false
	}
	i := 1
	for i < len(s) && (s[i] == 'b' || s[i] == '#') {
		i++
	}
	// An octave makes it a note that package pitch can read.
	note, err := pitch.ParseNote(s[:i] + "4")
	if err != nil {
		return 0, 0, false
	}
	class = note.Class()
	for _, word := range []struct {
		text string
		step int
	}{{" flat", -1}, {"-flat", -1}, {" sharp", 1}, {"-sharp", 1}} {
		if after, found := strings.CutPrefix(lowerASCII(s[i:]), word.text); found && (after == "" || after[0] == ' ' || after[0] == '/') {
			return (class + word.step + 12) % 12, i + len(word.text), true
		}
	}
	return class, i, true
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
			return strings.TrimSpace(s[:len(before)]), n, true
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

func cutBass(s string) (rest string, class int, found bool, err error) {
	before, after, found := strings.Cut(s, "/")
	if !found {
		return s, 0, false, nil
	}
	after = strings.TrimSpace(after)
	class, n, ok := classPrefix(after)
	if !ok || n != len(after) {
		return s, 0, false, fmt.Errorf("unknown bass %q", after)
	}
	return before, class, true, nil
}

func quality(s string) (Quality, bool) {
	s = strings.TrimSpace(s)
	if q, ok := qualityWords[s]; ok {
		return q, true
	}
	if len(s) < 2 { // single letters keep their case
		return "", false
	}
	q, ok := qualityWords[strings.TrimSuffix(strings.ToLower(s), " chord")]
	return q, ok
}

func (c Chord) inversionOver(class int) (int, bool) {
	for i, t := range c.Tones() {
		if (c.Root+t.Semitones)%12 == class {
			return i, true
		}
	}
	return 0, false
}
