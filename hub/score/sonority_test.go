package score_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"bellrow/hub/score"
	"bellrow/proto/pitch"
)

// twoParts is a trumpet in B flat over a tuba: a held third with a passing
// note, a repeated chord, and a note tied over the bar line.
const twoParts = `<score-partwise><part-list><score-part id="A"><part-name>Trumpet</part-name></score-part><score-part id="B"><part-name>Tuba</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>4</divisions><transpose><chromatic>-2</chromatic></transpose></attributes>
<note><pitch><step>E</step><octave>4</octave></pitch><duration>8</duration></note>
<note><pitch><step>E</step><octave>4</octave></pitch><duration>6</duration></note>
<note><pitch><step>F</step><octave>4</octave></pitch><duration>2</duration></note></measure>
<measure number="2"><note><pitch><step>G</step><octave>4</octave></pitch><duration>16</duration></note></measure></part>
<part id="B"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>B</step><alter>-1</alter><octave>2</octave></pitch><duration>4</duration><tie type="start"/></note></measure>
<measure number="2"><note><pitch><step>B</step><alter>-1</alter><octave>2</octave></pitch><duration>2</duration><tie type="stop"/></note>
<note><rest/><duration>2</duration></note></measure></part></score-partwise>`

func TestSonorities(t *testing.T) {
	s, err := score.Read(strings.NewReader(twoParts))
	if err != nil {
		t.Fatal(err)
	}
	show := func(shortest score.Ticks) string {
		var out []string
		for _, x := range sonorities(t, s, shortest) {
			line := fmt.Sprintf("%s+%g %g", s.Bars[x.Bar].Number, x.Offset.Quarters(), x.Length.Quarters())
			for _, tone := range x.Tones {
				line += " " + s.Parts[tone.Part].Name + ":" + tone.Note.String()
			}
			out = append(out, line)
		}
		return strings.Join(out, "; ")
	}
	want := "1+0 3.5 Tuba:Bb2 Trumpet:D4; 1+3.5 0.5 Tuba:Bb2 Trumpet:Eb4; 2+0 2 Tuba:Bb2 Trumpet:F4; 2+2 2 Trumpet:F4"
	if got := show(1); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	want = "1+0 3.5 Tuba:Bb2 Trumpet:D4; 2+0 2 Tuba:Bb2 Trumpet:F4; 2+2 2 Trumpet:F4"
	if got := show(score.Held); got != want {
		t.Errorf("held: got  %s\nwant %s", got, want)
	}
	first := sonorities(t, s, score.Held)[0].ByPart()
	if len(first) != 2 || len(first[0]) != 1 || first[0][0].String() != "D4" || first[1][0].String() != "Bb2" {
		t.Errorf("by part: %v", first)
	}
}

func sonorities(t testing.TB, s *score.Score, shortest score.Ticks) []score.Sonority {
	t.Helper()
	list, err := s.Sonorities(shortest)
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// TestSonoritiesAreBounded: a file within the limits of reading, every note of
// every part held while one part moves.
func TestSonoritiesAreBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("reads a heavy score")
	}
	var b strings.Builder
	b.WriteString("<score-partwise>")
	for part := range 60 {
		fmt.Fprintf(&b, `<part id="P%d"><measure>`, part)
		for n := range 120 {
			chord := ""
			if n > 0 {
				chord = "<chord/>"
			}
			fmt.Fprintf(&b, `<note>%s<pitch><step>C</step><alter>%d</alter><octave>%d</octave></pitch><duration>9000</duration></note>`, chord, n%12, n/12-1)
		}
		b.WriteString("</measure></part>")
	}
	b.WriteString(`<part id="M"><measure>`)
	for range 4500 {
		b.WriteString(noteXML("C", 4, 1, "") + noteXML("D", 4, 1, ""))
	}
	b.WriteString("</measure></part></score-partwise>")
	s, err := score.Read(strings.NewReader(b.String()))
	if err != nil {
		t.Fatal(err)
	}
	if list, err := s.Sonorities(score.Held); !errors.Is(err, score.ErrTooBig) || list != nil {
		t.Errorf("%d sonorities, %v; want a refusal", len(list), err)
	}
}

// TestSpellingIsKept: a trumpet in B flat that reads E, G sharp and B has D
// major's third, and the chord is called as the score spells it.
func TestSpellingIsKept(t *testing.T) {
	note := func(step string, alter, octave int, chord string) string {
		return fmt.Sprintf(`<note>%s<pitch><step>%s</step><alter>%d</alter><octave>%d</octave></pitch><duration>4</duration></note>`, chord, step, alter, octave)
	}
	file := func(transpose int, notes string) *score.Score {
		s, err := score.Read(strings.NewReader(fmt.Sprintf(`<score-partwise><part id="P"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>%d</chromatic></transpose></attributes>%s</measure></part></score-partwise>`, transpose, notes)))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	const also = "<chord/>"
	for _, tt := range []struct {
		s                      *score.Score
		chord, tones, sounding string
	}{
		{file(-2, note("E", 0, 4, "")+note("G", 1, 4, also)+note("B", 0, 4, also)), "D major", "E4 G#4 B4", "D4 F#4 A4"},
		{file(0, note("G", -1, 3, "")+note("B", -1, 3, also)+note("D", -1, 4, also)), "Gb major", "Gb3 Bb3 Db4", "Gb3 Bb3 Db4"},
		{file(0, note("F", 1, 3, "")+note("A", 1, 3, also)+note("C", 1, 4, also)), "F# major", "F#3 A#3 C#4", "F#3 A#3 C#4"},
		{file(-7, note("C", 1, 5, "")+note("E", 0, 5, also)+note("G", 1, 5, also)), "F# minor", "C#5 E5 G#5", "F#4 A4 C#5"},
		{file(-9, note("C", 0, 5, "")+note("E", 0, 5, also)), "Eb major third", "C5 E5", "Eb4 G4"},
		{file(0, note("C", 5, 4, "")), "F unison", "", "F4"}, // five sharps nobody prints: the plain name
	} {
		x := sonorities(t, tt.s, score.Held)
		if len(x) != 1 || len(x[0].Chords) == 0 {
			t.Fatalf("%s: %+v", tt.chord, x)
		}
		var written, sounding []string
		for _, tone := range x[0].Tones {
			written, sounding = append(written, tone.Written.String()), append(sounding, tone.Sounding.String())
			if tone.Written.Valid() {
				own := int(tone.Note - tone.Written.Note())
				if s, w := x[0].Names(tone.Part, tone.Note, own); s != tone.Sounding || w != tone.Written || s.Note() != tone.Note {
					t.Errorf("%s: %v is spelled %v, %v", tt.chord, tone.Note, s, w)
				}
			}
		}
		if x[0].Chords[0].String() != tt.chord || strings.Join(written, " ") != tt.tones || strings.Join(sounding, " ") != tt.sounding {
			t.Errorf("%s, written %v, sounds %v; want %s, %s, %s", x[0].Chords[0], written, sounding, tt.chord, tt.tones, tt.sounding)
		}
	}
}

// TestNamesForAnotherInstrument: a score at concert pitch, read by players
// whose parts transpose.
func TestNamesForAnotherInstrument(t *testing.T) {
	s, err := score.Read(strings.NewReader(`<score-partwise><part id="P"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>B</step><octave>3</octave></pitch><duration>4</duration></note><note><chord/><pitch><step>D</step><alter>1</alter><octave>4</octave></pitch><duration>4</duration></note>
<note><chord/><pitch><step>F</step><alter>1</alter><octave>4</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`))
	if err != nil {
		t.Fatal(err)
	}
	x := sonorities(t, s, score.Held)[0]
	for _, tt := range []struct {
		n                 int
		transposition     int
		sounding, written string
	}{
		{63, 0, "D#4", "D#4"}, {63, -7, "D#4", "A#4"}, {66, -9, "F#4", "Eb5"}, // A flat, not G sharp with its eight sharps
		// Concert B major stands in D flat on a B flat part.
		{59, -2, "B3", "Db4"}, {63, -2, "D#4", "F4"}, {66, -14, "F#4", "Ab5"},
		{65, -2, "F4", "G4"}, // not of the score: by the interval
	} {
		sounding, written := x.Names(0, pitch.Note(tt.n), tt.transposition)
		if sounding.String() != tt.sounding || written.String() != tt.written {
			t.Errorf("%d by %d is %v, written %v; want %s, %s", tt.n, tt.transposition, sounding, written, tt.sounding, tt.written)
		}
	}
}
