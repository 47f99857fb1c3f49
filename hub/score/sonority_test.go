package score_test

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/hub/score"
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
		for _, x := range s.Sonorities(shortest) {
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
	first := s.Sonorities(score.Held)[0].ByPart()
	if len(first) != 2 || len(first[0]) != 1 || first[0][0].String() != "D4" || first[1][0].String() != "Bb2" {
		t.Errorf("by part: %v", first)
	}
}
