package pitch

import (
	"encoding/json"
	"testing"
)

// everySpelled calls f for each letter, up to two accidentals, each octave.
func everySpelled(f func(Spelled)) {
	for i := range letters {
		for alter := -2; alter <= 2; alter++ {
			for octave := -1; octave <= 9; octave++ {
				if s := (Spelled{Name{letters[i], alter}, octave}); s.Valid() {
					f(s)
				}
			}
		}
	}
}

func TestSpelledReadsBack(t *testing.T) {
	everySpelled(func(s Spelled) {
		for _, text := range []string{s.String(), s.Display()} {
			if got, err := ParseSpelled(text); err != nil || got != s {
				t.Errorf("%q reads back as %v, %v", text, got, err)
			}
		}
		data, err := json.Marshal(s)
		var back Spelled
		if err != nil || json.Unmarshal(data, &back) != nil || back != s {
			t.Errorf("%v is %s in JSON, which reads back as %v", s, data, back)
		}
		if at := NameAt(s.Fifths()); at != s.Name {
			t.Errorf("%v is at %d on the line of fifths, where %v stands", s.Name, s.Fifths(), at)
		}
		if in, ok := s.Name.In(s.Note()); !ok || in != s {
			t.Errorf("%v in the octave of %v is %v", s.Name, s.Note(), in)
		}
	})
	var none Spelled
	if data, err := json.Marshal(none); err != nil || string(data) != `""` || json.Unmarshal(data, &none) != nil || none != (Spelled{}) {
		t.Errorf("no note is %s in JSON", data)
	}
}

// TestLineOfFifths: the order of sharps and flats of key signatures, as in any
// primer: F C G D A E B and back.
func TestLineOfFifths(t *testing.T) {
	got := ""
	for f := -8; f <= 13; f++ {
		got += NameAt(f).String() + " "
	}
	if want := "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G# D# A# E# B# F## "; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// TestTranspositionKeepsIntervals: two notes moved by the same interval keep
// the interval between them, by name and by size, and the way back is exact.
func TestTranspositionKeepsIntervals(t *testing.T) {
	lower := Spelled{Name{'D', 0}, 4}
	everySpelled(func(s Spelled) {
		if s.Octave != 4 || s.Alter < -1 || s.Alter > 1 {
			return
		}
		between := lower.To(s)
		for semitones := -26; semitones <= 10; semitones++ {
			i := UsualInterval(semitones)
			a, b := lower.Up(i), s.Up(i)
			if a.To(b) != between {
				t.Errorf("%v to %v is %v; moved by %v, %v to %v is %v", lower, s, between, i, a, b, a.To(b))
			}
			if b.Note()-s.Note() != Note(semitones) || b.Up(i.Down()) != s {
				t.Errorf("%v up %v is %v, and back %v", s, i, b, b.Up(i.Down()))
			}
		}
	})
}

// TestWrittenNotes against the printed intervals of transposing parts: B flat
// instruments a major second up, F a fifth, E flat a major sixth (treble clef
// brass-band E flat bass: an octave and that; B flat bass: two octaves and a
// second), the E flat soprano a minor third down (OpenStax, transposing
// instruments).
func TestWrittenNotes(t *testing.T) {
	for _, c := range []struct {
		sounding      string
		transposition int
		written       string
	}{
		{"F#4", -2, "G#4"}, {"D4", -2, "E4"}, {"E4", -2, "F#4"}, {"Bb3", -2, "C4"}, {"Gb4", -2, "Ab4"},
		{"C4", -7, "G4"}, {"F#3", -7, "C#4"}, {"B3", -7, "F#4"}, {"Eb4", -9, "C5"}, {"C#4", -9, "A#4"},
		{"Bb4", 3, "G4"}, {"F#4", 3, "D#4"}, {"Bb3", -14, "C5"}, {"Eb2", -21, "C4"}, {"Bb1", -26, "C4"}, {"Bb4", 10, "C4"}, {"F#4", 0, "F#4"},
		// Names no player is given: G double sharp, F flat.
		{"F##4", -2, "A4"}, {"Ebb4", -2, "E4"}, {"A#3", -2, "C4"}, {"D#4", -2, "F4"},
	} {
		s, err := ParseSpelled(c.sounding)
		if err != nil {
			t.Fatal(err)
		}
		if got := Written(s, c.transposition); got.String() != c.written {
			t.Errorf("%v by %d is written %v, want %s", s, c.transposition, got, c.written)
		}
	}
	everySpelled(func(s Spelled) {
		if s.Octave < 3 || s.Octave > 5 {
			return
		}
		for transposition := -26; transposition <= 10; transposition++ {
			w := Written(s, transposition)
			if w.Note() != s.Note()-Note(transposition) || w.Alter < -1 || w.Alter > 1 {
				t.Errorf("%v by %d is written %v", s, transposition, w)
			}
		}
	})
}

func TestKeysSpell(t *testing.T) {
	// The harmonic chromatic scale on the tonic, as primers print it.
	for _, c := range []struct {
		tonic string
		minor bool
		want  string
	}{
		{"C", false, "C Db D Eb E F F# G Ab A Bb B"},
		{"D", false, "D Eb E F F# G G# A Bb B C C#"},
		{"Bb", false, "Bb Cb C Db D Eb E F Gb G Ab A"},
		{"A", true, "A Bb B C C# D D# E F F# G G#"},
		{"G", true, "G Ab A Bb B C C# D Eb E F F#"},
	} {
		tonic, err := ParseName(c.tonic)
		if err != nil {
			t.Fatal(err)
		}
		k, got := KeyOf(tonic, c.minor), ""
		if k.Tonic() != tonic {
			t.Errorf("the key on %s stands on %s", tonic, k.Tonic())
		}
		for n := C4 + Note(tonic.Class()); n < C4+Note(tonic.Class())+12; n++ {
			s := k.Spell(n)
			if s.Note() != n {
				t.Errorf("%v in %v is %v", n, k, s)
			}
			got += s.Name.String() + " "
		}
		if got != c.want+" " {
			t.Errorf("%s: got %s, want %s", c.tonic, got, c.want)
		}
	}
}
