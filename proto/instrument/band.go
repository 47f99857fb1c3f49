package instrument

import (
	"slices"

	"bellrow/proto/pitch"
)

// The rest of the band: woodwinds. They have no slide, and what a joint pulled
// out does depends on the fingering, so that nobody is told millimetres. Their
// readings count like any other for the overview and for chords.

// Tuned reports whether the instrument has slides to be told of: all brass has.
func (in *Instrument) Tuned() bool { return len(in.Slides) > 0 }

// Band returns the catalogue and after it the rest of the band. The entries are
// shared and must not be changed.
func Band() []*Instrument { return slices.Concat(catalogue, woodwinds) }

// wind is an entry of the rest of the band. Transpositions, clefs and ranges are
// checked against a notation program's list (testdata/README.md).
type wind struct {
	id            ID
	name, family  string
	clef          string
	transposition int
	low, high     string // sounding
}

var winds = []wind{
	{"piccolo_flute", "Piccolo", "flute", "treble", 12, "D5", "C8"},
	{"flute", "Flute", "flute", "treble", 0, "B3", "D7"},
	{"alto_flute", "Alto flute in G", "flute", "treble", -5, "G3", "G6"},
	{"bass_flute", "Bass flute in C", "flute", "treble", -12, "C3", "A5"},
	{"oboe", "Oboe", "oboe", "treble", 0, "Bb3", "G6"},
	{"oboe_damore", "Oboe d’amore in A", "oboe", "treble", -3, "Ab3", "C6"},
	{"english_horn", "English horn in F", "oboe", "treble", -7, "E3", "A5"},
	{"bassoon", "Bassoon", "bassoon", "bass", 0, "Bb1", "E5"},
	{"contrabassoon", "Contrabassoon", "bassoon", "bass", -12, "Bb0", "A3"},
	{"clarinet_eb", "Clarinet in E flat", "clarinet", "treble", 3, "G3", "Bb6"},
	{"clarinet_c", "Clarinet in C", "clarinet", "treble", 0, "E3", "G6"},
	{"clarinet_bb", "Clarinet in B flat", "clarinet", "treble", -2, "D3", "Bb6"},
	{"clarinet_a", "Clarinet in A", "clarinet", "treble", -3, "C#3", "E6"},
	{"basset_horn", "Basset horn in F", "clarinet", "treble", -7, "F2", "C6"},
	{"alto_clarinet", "Alto clarinet in E flat", "clarinet", "treble", -9, "G2", "G5"},
	{"bass_clarinet", "Bass clarinet in B flat", "clarinet", "treble", -14, "Bb1", "F5"},
	{"contra_alto_clarinet", "Contra-alto clarinet in E flat", "clarinet", "treble", -21, "F#1", "Bb4"},
	{"contrabass_clarinet", "Contrabass clarinet in B flat", "clarinet", "treble", -26, "Bb0", "F4"},
	{"soprano_saxophone", "Soprano saxophone in B flat", "saxophone", "treble", -2, "Ab3", "E6"},
	{"alto_saxophone", "Alto saxophone in E flat", "saxophone", "treble", -9, "Db3", "A5"},
	{"tenor_saxophone", "Tenor saxophone in B flat", "saxophone", "treble", -14, "Ab2", "E5"},
	{"baritone_saxophone", "Baritone saxophone in E flat", "saxophone", "treble", -21, "C2", "A4"},
	{"bass_saxophone", "Bass saxophone in B flat", "saxophone", "treble", -26, "Ab1", "E4"},
}

var woodwinds = func() []*Instrument {
	var all []*Instrument
	for _, w := range winds {
		in := &Instrument{ID: w.id, Name: w.name, Family: w.family, Clef: w.clef, Transposition: w.transposition, Low: note(w.low), High: note(w.high),
			Source: "transposition and range: common practice, no source"}
		// The middle of the staff, which is the middle of the register.
		middle := note("B4")
		if w.clef == "bass" {
			middle = note("D3")
		}
		in.Middle = in.Sounding(middle)
		in.Fundamental = pitch.Reference{}.Frequency(in.Low)
		all = append(all, in)
	}
	return all
}()

// highestRead is the highest note that laptops of every version read at any
// reference: the search of earlier ones ended at 1300 Hz.
var highestRead = note("D6")

// Top is the highest note that a call should hand to this instrument: within its
// range, and such that it can be read.
func (in *Instrument) Top() pitch.Note { return min(in.High, highestRead) }

// unfingered is the Side of the one path of an instrument whose fingerings are
// not known here: it has no name.
const unfingered = "-"

// beyondHigh is how far above its usual range a note of a woodwind is still
// taken as played, in semitones.
const beyondHigh = 5

// onlyPath is the path of every note within reach of a woodwind.
func (in *Instrument) onlyPath(n pitch.Note) []Path {
	if n < in.Low || n > in.High+beyondHigh {
		return nil
	}
	return []Path{{Partial: 1, Side: unfingered}}
}
