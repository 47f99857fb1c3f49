package score

import "bellrow/proto/pitch"

// TicksPerQuarter is the resolution of time in a score: divisible by every
// whole number to 10, by 16 and by 64, so that usual tuplets are exact.
const TicksPerQuarter = 40320

// Ticks is a time or length in a score.
type Ticks int64

// Quarters converts to quarter notes.
func (t Ticks) Quarters() float64 { return float64(t) / TicksPerQuarter }

// Score is one piece.
type Score struct {
	Title string
	Parts []Part
	Bars  []Bar
	// Remarks says what was left out or guessed, in sentences, without repeats.
	Remarks []string
}

// Part is one written part. A part of several staves or voices is one Part.
type Part struct {
	ID   string
	Name string
	// Short is the abbreviated name, Group that of the bracket around it ("Horns
	// in F" where the parts are 1 and 2), Instrument the name of the instrument it is
	// played on, Sound its entry in MusicXML's list of sounds
	// ("brass.trombone.bass"); empty where the score does not say.
	Short      string `json:",omitempty"`
	Group      string `json:",omitempty"`
	Instrument string `json:",omitempty"`
	Sound      string `json:",omitempty"`
	// Concert is true where the whole score stands at concert pitch, so that
	// the transposition tells nothing of the instrument; BrassBand where the company is a
	// brass band's, whose horns stand in E flat and whose low parts are in treble clef.
	Concert   bool `json:",omitempty"`
	BrassBand bool `json:",omitempty"`
	// Clef is the clef that most of the notes stand under: "treble", "bass",
	// "alto" or "tenor", an octave up or down as without; empty where the score
	// does not say.
	Clef string `json:",omitempty"`
	// Transposition is what was last added to the written notes to get the
	// sounding ones, in semitones.
	Transposition int
	// Notes are in order of Start, then of pitch. Tied notes are one note.
	Notes []Note
	// Heads are the clefs and keys of the part's first staff, in order of Bar.
	Heads []Head `json:",omitempty"`
}

// Head is what stands at the head of a part's staff from a bar on.
type Head struct {
	Bar int // index in Score.Bars
	// Clef is "treble", "bass", "alto" or "tenor"; empty for others, and where the
	// score does not say.
	Clef string `json:",omitempty"`
	// Key is the written key signature in sharps, flats negative; nil where the
	// score does not say.
	Key *int `json:",omitempty"`
}

// Head is what stands at the head of the part's staff in a bar.
func (p Part) Head(bar int) Head {
	out := Head{Bar: bar}
	for _, h := range p.Heads {
		if h.Bar <= bar {
			out.Clef, out.Key = h.Clef, h.Key
		}
	}
	return out
}

// Note is one sounding note.
type Note struct {
	// Bar is the index in Score.Bars of the bar where the note begins.
	Bar     int
	Start   Ticks // from the beginning of the score
	Length  Ticks
	Written pitch.Note
	Pitch   pitch.Note // sounding
	// Spelled is the written note as the score spells it; the zero value where
	// it cannot be (files of earlier versions, a microtone).
	Spelled pitch.Spelled `json:",omitzero"`
	Voice   string

	tieStart, tieStop bool
}

// End is where the note stops.
func (n Note) End() Ticks { return n.Start + n.Length }

// Sounding names the sounding note by the score's spelling, moved by the
// part's transposition: a trumpet's G sharp sounds F sharp.
func (n Note) Sounding() pitch.Spelled {
	if !n.Spelled.Valid() {
		return pitch.Usual(n.Pitch)
	}
	return pitch.Sounding(n.Spelled, int(n.Pitch-n.Written))
}

// Bar is one written bar.
type Bar struct {
	// Number is as printed: "12", "12a", "X1".
	Number string
	Start  Ticks
	Length Ticks
	// Signs holds repeats, endings and jumps that stand in the bar, in words.
	Signs []string
}
