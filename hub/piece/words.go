package piece

import (
	"fmt"
	"math"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// sonorityName is the likeliest chord, or the note of a unison, or the notes.
func sonorityName(x score.Sonority, y pitch.Style) string {
	switch {
	case oneClass(x):
		return y.Naming.Both(x.Tones[0].Sounding.Name) + " in unison or octaves"
	case len(x.Chords) > 0:
		return x.Chords[0].NameIn(y.Naming)
	}
	var names []string
	for _, t := range x.Tones {
		names = append(names, y.Both(t.Sounding))
	}
	return strings.Join(names, " ")
}

// when says where in its bar a sonority begins and how long it is held.
func when(x score.Sonority) string {
	at := "at the start"
	if x.Offset > 0 {
		at = "after " + lengthWords(x.Offset)
	}
	return at + ", for " + lengthWords(x.Length)
}

// lengths names the usual note values, by their length in quarters.
var lengths = map[float64]string{
	1: "a quarter note", 1.5: "a dotted quarter", 2: "a half note", 3: "a dotted half", 4: "a whole note", 0.5: "an eighth note",
}

func lengthWords(t score.Ticks) string {
	q := math.Round(t.Quarters()*100) / 100
	if w := lengths[q]; w != "" {
		return w
	}
	return fmt.Sprintf("%g quarters", q)
}

// move says what to do with the main slide, in whole millimetres, as it is set.
func (p Player) move(pl intonation.PlayerPlan, note string) string {
	slide := mainName(p.Instrument)
	from, to := math.Round(pl.FromMM), math.Round(pl.MainMM)
	switch {
	case !p.Measured:
		return slide + " " + beside(to-math.Round(pl.OneNoteMM), note)
	case to == from:
		return fmt.Sprintf("leave %s at %.0f mm", slide, pl.FromMM)
	case to > from:
		return fmt.Sprintf("pull %s %.0f mm, from %.0f to %.0f", slide, to-from, from, to)
	}
	return fmt.Sprintf("push %s %.0f mm, from %.0f to %.0f", slide, from-to, from, to)
}

// beside says where a slide belongs against where it tunes on one note.
func beside(mm float64, note string) string {
	switch {
	case mm > 0:
		return fmt.Sprintf("%.0f mm further out than it tunes on %s", mm, note)
	case mm < 0:
		return fmt.Sprintf("%.0f mm further in than it tunes on %s", -mm, note)
	}
	return "where it tunes on " + note
}

func mainName(in *instrument.Instrument) string {
	s, _ := in.Slide(instrument.Main)
	return "the " + s.Name
}

// gain says what a move is good for.
func gain(pl intonation.PlayerPlan) string {
	was, is := math.Round(pl.OneNoteRMS), math.Round(pl.RMS)
	remain := fmt.Sprintf("%.0f cents remain", is)
	if is == 1 {
		remain = "1 cent remains"
	}
	switch {
	case was > is:
		return fmt.Sprintf("%s instead of %.0f", remain, was)
	case was < is:
		return fmt.Sprintf("%s; it was %.0f, for the others' sake", remain, was)
	}
	return remain + ", as after tuning on one note"
}

func (p Player) hurt(x intonation.Hurt, y pitch.Style) string {
	return fmt.Sprintf("%s: written %s, %s", p.Name, y.Both(pitch.Written(pitch.Usual(x.Note), p.Instrument.Transposition)), x.Left.Off())
}

func leftOut(notes int) string {
	if notes == 1 {
		return "One note is out of reach of the instruments and left out."
	}
	return fmt.Sprintf("%d notes are out of reach of the instruments and left out.", notes)
}
