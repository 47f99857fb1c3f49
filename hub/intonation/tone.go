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

// interval is the tone's distance above the root by name.
func (t Tone) interval() pitch.Interval {
	return pitch.Interval{Steps: t.role().steps, Semitones: t.Semitones}
}

// role is what a tone of one name does in any chord.
type role struct {
	name string
	// steps is its distance above the root on the staff, a ninth within the octave.
	steps int
	// doubling is how much of a group plays it, and need its rank when chairs
	// are few (common practice, no source: roots most, thirds and above least,
	// for they colour the chord; the fifth is left out first).
	doubling float64
	need     int
	// missing is what it costs a chord, before anything is heard, that nobody
	// plays this tone, in natural logarithms (from experience, no source).
	missing float64
}

var roles = []role{
	{"root", 0, 5, 0, 6},
	{"second", 1, 3, 1, 6},
	{"third", 2, 3, 1, 6},
	{"fourth", 3, 3, 1, 6},
	{"fifth", 4, 4, 4, 6},
	{"sixth", 5, 2, 2, 8},
	{"seventh", 6, 2, 2, 8},
	{"ninth", 1, 2, 3, 8},
	{"eleventh", 3, 2, 2, 8},
	{"thirteenth", 5, 2, 2, 8},
}

// role returns the entry of a tone's name; every tone of the table has one.
func (t Tone) role() role { return roleOf[t.Name] }

var roleOf = func() map[string]role {
	m := map[string]role{}
	for _, r := range roles {
		m[r.name] = r
	}
	return m
}()

// Sources of the ratios.
const (
	// chart is the just-intonation chord chart that circulates among band
	// directors, with offsets in whole cents (copies: J. Boldin, In Tune
	// Chords, 2010; K. Truitt, Juneau Symphony).
	chart       = "just-intonation chord chart (copies: J. Boldin, In Tune Chords, 2010; K. Truitt, Juneau Symphony)"
	chartFit    = chart + "; the simplest ratio that gives its rounded offset"
	chartNinth  = chart + ", as its ninth an octave lower"
	chartFourth = chart + ", as its fourth an octave higher"
	chartSixth  = chart + ", as its sixth an octave higher; our choice, 3/2 above the ninth would be 27/16"
	arithmetic  = "arithmetic: the nearest simple ratio; no chart seen"
	onFourth    = "arithmetic: a just fourth above the fourth, our choice; no chart seen"
	tempered    = "tempered by choice"
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
	suspended7th  = Tone{"seventh", 10, pitch.Ratio{Num: 16, Den: 9}, onFourth}
	tempered7th   = Tone{"seventh", 10, pitch.Ratio{}, tempered}
	minorSeventh  = Tone{"seventh", 10, pitch.Ratio{Num: 9, Den: 5}, chart}
	majorSeventh  = Tone{"seventh", 11, pitch.Ratio{Num: 15, Den: 8}, chart}
	minorMajor7th = Tone{"seventh", 11, pitch.Ratio{Num: 19, Den: 10}, chartFit}
	augmentedMaj7 = Tone{"seventh", 11, pitch.Ratio{Num: 23, Den: 12}, chartFit}
	majorNinth    = Tone{"ninth", 2, pitch.Ratio{Num: 9, Den: 8}, chartNinth}
	flatNinth     = Tone{"ninth", 1, pitch.Ratio{Num: 17, Den: 16}, chartFit}
	sharpNinth    = Tone{"ninth", 3, pitch.Ratio{Num: 19, Den: 16}, arithmetic}
	eleventh      = Tone{"eleventh", 5, pitch.Ratio{Num: 4, Den: 3}, chartFourth}
	thirteenth    = Tone{"thirteenth", 9, pitch.Ratio{Num: 5, Den: 3}, chartSixth}
)
