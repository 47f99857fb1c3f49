package intonation

import "bellrow/proto/pitch"

// Tone is one member of a chord.
type Tone struct {
	// Name is the tone's name within the chord: "root", "third", "fifth" …
	Name string
	// Semitones is its tempered distance above the root, 0 to 11; a ninth is
	// counted within the octave (2), for octaves are chosen per chair.
	Semitones int
	// Ratio is its just ratio over the root, within one octave. The zero
	// value means that the tone is tempered on purpose.
	Ratio pitch.Ratio
	// Source says where the ratio comes from.
	Source string
}

// Offset returns how far the just tone lies from the tempered one above the
// same root: -13.686 cents for a major third of 5/4.
func (t Tone) Offset() pitch.Cents {
	if t.Ratio == (pitch.Ratio{}) {
		return 0
	}
	return t.Ratio.Offset(t.Semitones)
}

// Sources of the ratios.
const (
	// chart is the just-intonation chord chart that circulates among band
	// directors, with offsets in whole cents (copies: J. Boldin, In Tune
	// Chords, 2010; K. Truitt, Juneau Symphony).
	chart      = "just-intonation chord chart (copies: J. Boldin, In Tune Chords, 2010; K. Truitt, Juneau Symphony)"
	chartFit   = chart + "; the simplest ratio that gives its rounded offset"
	chartNinth = chart + ", as its ninth an octave lower"
	arithmetic = "arithmetic: the nearest simple ratio; no chart seen"
	tempered   = "tempered by choice"
)

// The tones that chords are made of. Each is the chart's choice where the
// chart has one.
var (
	root          = Tone{"root", 0, pitch.Ratio{Num: 1, Den: 1}, "the root itself"}
	majorSecond   = Tone{"second", 2, pitch.Ratio{Num: 9, Den: 8}, chartNinth}
	minorThird    = Tone{"third", 3, pitch.Ratio{Num: 6, Den: 5}, chart}
	majorThird    = Tone{"third", 4, pitch.Ratio{Num: 5, Den: 4}, chart}
	perfectFourth = Tone{"fourth", 5, pitch.Ratio{Num: 4, Den: 3}, chart}
	flatFifth     = Tone{"fifth", 6, pitch.Ratio{Num: 7, Den: 5}, chart}
	perfectFifth  = Tone{"fifth", 7, pitch.Ratio{Num: 3, Den: 2}, chart}
	sharpFifth    = Tone{"fifth", 8, pitch.Ratio{Num: 19, Den: 12}, chartFit}
	majorSixth    = Tone{"sixth", 9, pitch.Ratio{Num: 5, Den: 3}, chart}
	flatSeventh   = Tone{"seventh", 9, pitch.Ratio{Num: 17, Den: 10}, arithmetic} // 10:12:14:17
	harmonic7th   = Tone{"seventh", 10, pitch.Ratio{Num: 7, Den: 4}, chart}
	melodic7th    = Tone{"seventh", 10, pitch.Ratio{Num: 16, Den: 9}, arithmetic}
	tempered7th   = Tone{"seventh", 10, pitch.Ratio{}, tempered}
	minorSeventh  = Tone{"seventh", 10, pitch.Ratio{Num: 9, Den: 5}, chart}
	majorSeventh  = Tone{"seventh", 11, pitch.Ratio{Num: 15, Den: 8}, chart}
	minorMajor7th = Tone{"seventh", 11, pitch.Ratio{Num: 19, Den: 10}, chartFit}
	augmentedMaj7 = Tone{"seventh", 11, pitch.Ratio{Num: 23, Den: 12}, chartFit}
	majorNinth    = Tone{"ninth", 2, pitch.Ratio{Num: 9, Den: 8}, chartNinth}
	flatNinth     = Tone{"ninth", 1, pitch.Ratio{Num: 17, Den: 16}, chartFit}
)

// Quality is the kind of a chord; its value is its name for people.
type Quality string

// The qualities.
const (
	Major          Quality = "major"
	Minor          Quality = "minor"
	Diminished     Quality = "diminished"
	Augmented      Quality = "augmented"
	Sus4           Quality = "suspended fourth"
	Sus2           Quality = "suspended second"
	OpenFifth      Quality = "open fifth"
	Sixth          Quality = "sixth"
	MinorSixth     Quality = "minor sixth"
	Dominant7      Quality = "dominant seventh"
	Minor7         Quality = "minor seventh"
	Major7         Quality = "major seventh"
	MinorMajor7    Quality = "minor-major seventh"
	AugmentedMaj7  Quality = "augmented major seventh"
	HalfDiminished Quality = "half-diminished seventh"
	Diminished7    Quality = "diminished seventh"
	Dominant9      Quality = "dominant ninth"
	DominantFlat9  Quality = "dominant flat ninth"
	Major9         Quality = "major ninth"
	Minor9         Quality = "minor ninth"
)

// members lists the tones of each quality in root position. The seventh of
// the dominant kinds is put in by the choice of Seventh.
var members = map[Quality][]Tone{
	Major:          {root, majorThird, perfectFifth},
	Minor:          {root, minorThird, perfectFifth},
	Diminished:     {root, minorThird, flatFifth},
	Augmented:      {root, majorThird, sharpFifth},
	Sus4:           {root, perfectFourth, perfectFifth},
	Sus2:           {root, majorSecond, perfectFifth},
	OpenFifth:      {root, perfectFifth},
	Sixth:          {root, majorThird, perfectFifth, majorSixth},
	MinorSixth:     {root, minorThird, perfectFifth, majorSixth},
	Dominant7:      {root, majorThird, perfectFifth, harmonic7th},
	Minor7:         {root, minorThird, perfectFifth, minorSeventh},
	Major7:         {root, majorThird, perfectFifth, majorSeventh},
	MinorMajor7:    {root, minorThird, perfectFifth, minorMajor7th},
	AugmentedMaj7:  {root, majorThird, sharpFifth, augmentedMaj7},
	HalfDiminished: {root, minorThird, flatFifth, minorSeventh},
	Diminished7:    {root, minorThird, flatFifth, flatSeventh},
	Dominant9:      {root, majorThird, perfectFifth, harmonic7th, majorNinth},
	DominantFlat9:  {root, majorThird, perfectFifth, harmonic7th, flatNinth},
	Major9:         {root, majorThird, perfectFifth, majorSeventh, majorNinth},
	Minor9:         {root, minorThird, perfectFifth, minorSeventh, majorNinth},
}

// Qualities lists every quality, the plain ones first.
var Qualities = []Quality{
	Major, Minor, Diminished, Augmented, Sus4, Sus2, OpenFifth, Sixth, MinorSixth,
	Dominant7, Minor7, Major7, MinorMajor7, AugmentedMaj7, HalfDiminished, Diminished7,
	Dominant9, DominantFlat9, Major9, Minor9,
}
