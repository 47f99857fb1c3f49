package intonation

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// TestTheTableIsComplete: every kind has all that is asked of it, and nothing
// of one is another's.
func TestTheTableIsComplete(t *testing.T) {
	words, names := map[string]Quality{}, map[Quality]bool{}
	var families []Family
	for _, k := range kinds {
		if k.quality == "" || names[k.quality] {
			t.Errorf("%q has no name of its own", k.quality)
		}
		names[k.quality] = true
		if !(k.likely > 0 && k.likely <= 1) {
			t.Errorf("%s: likely is %g, need more than 0 and no more than a major triad's 1", k.quality, k.likely)
		}
		if len(families) == 0 || families[len(families)-1] != k.family {
			if slices.Contains(families, k.family) || k.family == "" {
				t.Errorf("%s stands apart from its family %q", k.quality, k.family)
			}
			families = append(families, k.family)
		}
		if len(k.words) == 0 {
			t.Errorf("%s has no short form", k.quality)
		}
		for _, w := range append([]string{string(k.quality)}, k.words...) {
			if other, taken := words[w]; taken {
				t.Errorf("%q is %s and %s", w, k.quality, other)
			}
			words[w] = k.quality
		}
		k.checkTones(t)
	}
	for _, r := range roles {
		if !(r.doubling > 0) || !(r.missing > 0) || r.steps < 0 || r.steps > 6 {
			t.Errorf("the %s: %+v", r.name, r)
		}
	}
	if kinds[0].quality != Major || kinds[0].likely != 1 {
		t.Error("the major triad is not first, or not what the others are compared with")
	}
	if len(Kinds()) != len(kinds) || len(Qualities) != len(kinds) {
		t.Errorf("%d kinds, pages get %d, commands %d", len(kinds), len(Kinds()), len(Qualities))
	}
}

func (k kind) checkTones(t *testing.T) {
	t.Helper()
	seen := map[int]bool{}
	last := -1
	for i, tone := range k.tones {
		if i == 0 && tone != root {
			t.Errorf("%s begins with the %s", k.quality, tone.Name)
		}
		if !slices.ContainsFunc(roles, func(r role) bool { return r.name == tone.Name }) {
			t.Errorf("%s: the %s is not in the table of tones", k.quality, tone.Name)
		}
		if seen[tone.Semitones] {
			t.Errorf("%s has two tones on %d semitones", k.quality, tone.Semitones)
		}
		seen[tone.Semitones] = true
		if tone.Source == "" || tone.Ratio.Num < 1 || tone.Ratio.Den < 1 {
			t.Errorf("%s: the %s has no ratio or no source", k.quality, tone.Name)
		}
		// A just tone lies within 40 cents of the key it is named by.
		if off := math.Abs(float64(tone.Offset())); off > 40 {
			t.Errorf("%s: the %s of %s lies %.1f cents from %d semitones", k.quality, tone.Name, tone.Ratio, off, tone.Semitones)
		}
		if place := tone.place(); place < last {
			t.Errorf("%s: the %s is out of order", k.quality, tone.Name)
		} else {
			last = place
		}
	}
	for _, s := range k.spare {
		if len(k.tones) < 4 || !slices.ContainsFunc(k.tones, func(tone Tone) bool { return tone.Name == s }) {
			t.Errorf("%s spares its %s", k.quality, s)
		}
	}
	if k.dominant != slices.ContainsFunc(k.tones, func(tone Tone) bool { return tone == harmonic7th }) {
		t.Errorf("%s: a choice of seventh is %v", k.quality, k.dominant)
	}
}

// place orders tones as they are stacked: a ninth lies above a seventh.
func (t Tone) place() int {
	if t.Name == "ninth" || t.Name == "eleventh" || t.Name == "thirteenth" {
		return t.role().steps + 7
	}
	return t.role().steps
}

// TestEveryWordReadsBack: each way of writing a kind is that kind, after a
// natural and an altered root.
func TestEveryWordReadsBack(t *testing.T) {
	for _, k := range kinds {
		for _, w := range k.words {
			for _, rootName := range []string{"C", "Bb", "F#"} {
				for _, text := range []string{rootName + w, rootName + " " + w} {
					c, err := ParseChord(text)
					if err != nil || c.Quality != k.quality || c.RootName().String() != rootName {
						t.Errorf("%q is %v, %v; want %s %s", text, c, err, rootName, k.quality)
					}
				}
			}
		}
	}
}

// TestSpellingKeepsThirds: every tone of every chord on every usual root is as
// many letters above the root as its name says, and sounds right; the written
// part on every transposition sounds the same and keeps the names too.
func TestSpellingKeepsThirds(t *testing.T) {
	for _, k := range kinds {
		for class := range 12 {
			c := Chord{Root: class, Quality: k.quality}
			concert := c.RootName()
			for _, transposition := range []int{0, -2, -7, -9, -14, -21, -26, 3, 10} {
				for n := pitch.C4 - 12; n < pitch.C4+12; n++ {
					checkSpelling(t, c, n, transposition)
				}
			}
			if len(k.tones) == 3 && k.quality != Augmented && k.quality != Diminished && concert.Fifths() != clampFifths(concert.Fifths()) {
				t.Errorf("%s is called by a root %d fifths from C", c, concert.Fifths())
			}
		}
	}
}

func clampFifths(f int) int { return min(max(f, -6), 9) }

func checkSpelling(t *testing.T, c Chord, n pitch.Note, transposition int) {
	t.Helper()
	s := c.SpellWritten(n, transposition)
	if transposition == 0 {
		s = c.Spell(n)
	}
	if s.Note() != n-pitch.Note(transposition) {
		t.Fatalf("%s: %v written for %d is %v", c, n, transposition, s)
	}
	if s.Alter < -1 || s.Alter > 1 {
		t.Errorf("%s: %v is a note with two accidentals", c, s)
	}
	if s, w := c.Spell(n), c.SpellWritten(n, -12); s.Name != w.Name || s.Octave+1 != w.Octave {
		t.Errorf("%s: %v is written %v an octave up", c, s, w)
	}
	tone, ok := c.Tone(n)
	if !ok {
		return
	}
	first := c.SpellWritten(n-pitch.Note(tone.Semitones), transposition)
	if transposition == 0 {
		first = c.Spell(n - pitch.Note(tone.Semitones))
	}
	got := ((first.To(s).Steps)%7 + 7) % 7
	plain := first.Up(tone.interval()) // would it need two accidentals?
	if got != tone.role().steps && plain.Alter >= -1 && plain.Alter <= 1 {
		t.Errorf("%s by %d: the %s over %v is %v", c, transposition, tone.Name, first, s)
	}
}

// TestSpelledChords against what is printed (common practice, no source).
func TestSpelledChords(t *testing.T) {
	for _, tt := range []struct {
		chord         string
		transposition int
		want          string
	}{
		{"D major", 0, "D F# A"}, {"D major", -2, "E G# B"}, {"E major", -2, "F# A# C#"}, {"Eb major", -7, "Bb D F"}, {"Eb minor", 0, "Eb Gb Bb"},
		{"F# minor", 0, "F# A C#"}, {"F# minor", -2, "G# B D#"}, {"B major", -2, "Db F Ab"}, {"F# major", -2, "Ab C Eb"}, {"F# major", 0, "F# A# C#"},
		{"Gb major", 0, "Gb Bb Db"}, {"Cm7", -9, "A C E G"}, {"F7", -7, "C E G Bb"}, {"C dim7", 0, "C Eb Gb A"}, {"Bdim", 0, "B D F"},
		{"Ab7", 0, "Ab C Eb Gb"}, {"A7", -2, "B D# F# A"}, {"Db major", -14, "Eb G Bb"}, {"E9", 0, "E G# B D F#"}, {"Bb13", -2, "C E G Bb D A"},
	} {
		c, err := ParseChord(tt.chord)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, tone := range c.Tones() {
			n := pitch.C4 + pitch.Note(c.Root+tone.Semitones)
			got = append(got, c.SpellWritten(n, tt.transposition).Name.String())
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("%s by %d is written %s, want %s", tt.chord, tt.transposition, s, tt.want)
		}
	}
}

func TestUsualRoots(t *testing.T) {
	for _, tt := range []struct {
		q    Quality
		want string
	}{
		{Major, "C Db D Eb E F Gb G Ab A Bb B"},
		{Minor, "C C# D Eb E F F# G Ab A Bb B"},
		{Dominant7, "C Db D Eb E F Gb G Ab A Bb B"},
		{Unison, "C Db D Eb E F Gb G Ab A Bb B"},
	} {
		var got []string
		for class := range 12 {
			got = append(got, Chord{Root: class, Quality: tt.q}.RootName().String())
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("%s chords stand on %s, want %s", tt.q, s, tt.want)
		}
	}
}

func TestNamingKeepsTheSpelling(t *testing.T) {
	for _, tt := range []struct{ notes, want string }{
		{"F#3 A#3 C#4", "F# major"}, {"Gb3 Bb3 Db4", "Gb major"}, {"D3 F#3 A3", "D major"}, {"C#3 E3 G#3", "C# minor"}, {"Db3 Fb3 Ab3", "Db minor"},
		// Chords that divide the octave evenly are told by their spelling.
		{"B2 D3 F3 Ab3", "B diminished seventh"}, {"B2 D3 F3 G#3", "G# diminished seventh, first inversion"}, {"C3 E3 G#3", "C augmented"}, {"Ab2 C3 E3", "Ab augmented"},
		{"D2 D3 F#4", "D major third"}, {"F#2 F#4", "F# unison"},
	} {
		var notes []pitch.Spelled
		for _, s := range strings.Fields(tt.notes) {
			n, err := pitch.ParseSpelled(s)
			if err != nil {
				t.Fatal(err)
			}
			notes = append(notes, n)
		}
		chords := Naming(notes)
		if len(chords) == 0 || chords[0].String() != tt.want {
			t.Errorf("%s is %v, want %s", tt.notes, chords, tt.want)
		}
	}
}

func TestChordsInOtherLanguages(t *testing.T) {
	for _, tt := range []struct {
		naming pitch.Naming
		text   string
		want   string
		or     string
	}{
		{pitch.German, "H major", "B major", ""}, {pitch.German, "B major", "Bb major", "B major"}, {pitch.German, "B-Dur", "Bb major", "B major"},
		{pitch.German, "fis-Moll", "F# minor", ""}, {pitch.German, "Es7", "Eb dominant seventh", ""}, {pitch.German, "Asus4", "A suspended fourth", ""},
		{pitch.German, "As7/C", "Ab dominant seventh, first inversion", ""}, {pitch.German, "Bb7", "Bb dominant seventh", ""}, {pitch.German, "B flat 7", "Bb dominant seventh", ""},
		{pitch.German, "Hm7b5", "B half-diminished seventh", ""}, {pitch.German, "C7/B", "C dominant seventh, third inversion", ""}, {pitch.German, "Cmaj7/H", "C major seventh, third inversion", ""},
		{pitch.French, "si bémol majeur", "Bb major", ""}, {pitch.French, "Sol7", "G dominant seventh", ""}, {pitch.French, "fa dièse mineur", "F# minor", ""}, {pitch.French, "Rém7/Fa", "D minor seventh, first inversion", ""},
		{pitch.Spanish, "Mi bemol mayor", "Eb major", ""}, {pitch.Spanish, "La menor", "A minor", ""}, {pitch.Italian, "Sib maggiore", "Bb major", ""}, {pitch.Italian, "Lam", "A minor", ""},
		{pitch.Dutch, "Bes7", "Bb dominant seventh", ""}, {pitch.Dutch, "B7", "B dominant seventh", ""},
	} {
		p, err := ParseChordIn(tt.naming, tt.text)
		or := ""
		if len(p.Or) > 0 {
			or = p.Or[0].String()
		}
		if err != nil || p.Chord.String() != tt.want || or != tt.or {
			t.Errorf("%q in %s is %q or %q, %v; want %q or %q", tt.text, tt.naming, p.Chord, or, err, tt.want, tt.or)
		}
	}
	for _, n := range pitch.Namings {
		for _, k := range kinds {
			for class := range 12 {
				c := Chord{Root: class, Quality: k.quality}
				p, err := ParseChordIn(n, n.Name(c.RootName())+" "+string(k.quality))
				if err != nil || p.Chord != c {
					t.Errorf("%s in %q reads back as %v, %v", c, n, p, err)
				}
			}
		}
	}
	if got := (Chord{Root: 11, Quality: Major}).NameIn(pitch.German); got != "H major" {
		t.Errorf("B major is %q in German", got)
	}
	if got := (Chord{Root: 10, Quality: Major}).NameIn(pitch.German); got != "B (B♭) major" {
		t.Errorf("B flat major is %q in German", got)
	}
}

// TestChordsInForeignNames: a name that means one note whoever reads it is
// understood among names of any language, and German words make a B German.
func TestChordsInForeignNames(t *testing.T) {
	for _, tt := range []struct {
		naming pitch.Naming
		text   string
		want   string
	}{
		{pitch.English, "H major", "B major"}, {pitch.English, "H7", "B dominant seventh"}, {pitch.English, "Es", "Eb major"}, {pitch.English, "fis-Moll", "F# minor"},
		{pitch.English, "B-Dur", "Bb major or B major"}, {pitch.English, "b moll", "Bb minor or B minor"}, {pitch.English, "B major", "B major"}, {pitch.English, "Hes", "Bb major"},
		{pitch.English, "ré♭ majeur", "Db major"}, {pitch.English, "re\u0301b majeur", "Db major"}, {pitch.English, "Sol7", "G dominant seventh"}, {pitch.English, "Asus4", "A suspended fourth"},
		{pitch.English, "Ｂ♭７", "Bb dominant seventh"}, {pitch.German, "la mineur", "A minor"}, {pitch.French, "Fis", "F# major"}, {pitch.Dutch, "H", "B major"}, {pitch.Italian, "H/dis", "B major, first inversion"},
	} {
		p, err := ParseChordIn(tt.naming, tt.text)
		got := p.Chord.String()
		for _, or := range p.Or {
			got += " or " + or.String()
		}
		if err != nil || got != tt.want {
			t.Errorf("%q among %s names is %s, %v, want %s", tt.text, tt.naming, got, err, tt.want)
		}
	}
}

func TestChordErrorsHelp(t *testing.T) {
	for _, tt := range []struct {
		text string
		code ChordCode
		says string
	}{
		{"C wobbly", ChordKind, "half-diminished seventh"}, {"H wobbly", ChordKind, `"wobbly"`}, {"Do Re Mi", ChordKind, `"Re Mi"`}, {"??", ChordRoot, "Bb major"},
		{"C/Db", ChordNoTone, "not a tone"}, {"C/xyz", ChordBass, "xyz"}, {"C/E first inversion", ChordBoth, "one of them"}, {"C major third inversion", ChordInversion, "too few"},
		{"Cm7 16/9", ChordSeventh, "dominant"}, {strings.Repeat("C", 200), ChordLong, "100"},
	} {
		_, err := ParseChord(tt.text)
		e, ok := err.(*ChordError)
		if !ok || e.Code != tt.code || !strings.Contains(err.Error(), tt.says) || strings.Contains(err.Error(), "intonation") {
			t.Errorf("%q: %v, want %s and %q", tt.text, err, tt.code, tt.says)
		}
	}
}

func TestSpeller(t *testing.T) {
	for _, tt := range []struct {
		chord             string
		note              pitch.Note
		transposition     int
		sounding, written string
	}{
		{"D major", 66, -2, "F#4", "G#4"}, {"D major", 69, -7, "A4", "E5"}, {"", 64, -2, "E4", "F#4"}, {"", 70, -2, "Bb4", "C5"}, {"", 64, -9, "E4", "C#5"}, {"", 66, 0, "Gb4", "Gb4"},
		{"no chord at all", 64, -2, "E4", "F#4"}, {"Ab minor", 71, 0, "Cb5", "Cb5"}, {"F# minor, first inversion", 57, -9, "A3", "F#4"},
	} {
		s, w := SpellerFor(tt.chord).Names(tt.note, tt.transposition)
		if s.String() != tt.sounding || w.String() != tt.written {
			t.Errorf("%q: %d by %d is %v, written %v; want %s, %s", tt.chord, tt.note, tt.transposition, s, w, tt.sounding, tt.written)
		}
	}
}
