package intonation

import "math"

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
	Unison         Quality = "unison"
	OpenFifth      Quality = "open fifth"
	MajorThird     Quality = "major third"
	MinorThird     Quality = "minor third"
	Sixth          Quality = "sixth"
	MinorSixth     Quality = "minor sixth"
	SixNine        Quality = "sixth with ninth"
	Dominant7      Quality = "dominant seventh"
	Minor7         Quality = "minor seventh"
	Major7         Quality = "major seventh"
	MinorMajor7    Quality = "minor-major seventh"
	AugmentedMaj7  Quality = "augmented major seventh"
	Augmented7     Quality = "augmented seventh"
	Dominant7Flat5 Quality = "dominant seventh flat fifth"
	Sus7           Quality = "suspended seventh"
	HalfDiminished Quality = "half-diminished seventh"
	Diminished7    Quality = "diminished seventh"
	AddNinth       Quality = "added ninth"
	MinorAddNinth  Quality = "minor added ninth"
	Dominant9      Quality = "dominant ninth"
	DominantFlat9  Quality = "dominant flat ninth"
	DominantSharp9 Quality = "dominant sharp ninth"
	Sus9           Quality = "suspended ninth"
	Major9         Quality = "major ninth"
	Minor9         Quality = "minor ninth"
	Minor11        Quality = "minor eleventh"
	Dominant13     Quality = "dominant thirteenth"
	Major13        Quality = "major thirteenth"
)

// Family is where a kind stands among the choices on a page.
type Family string

// The families.
const (
	Triads   Family = "three notes"
	Pairs    Family = "one and two notes"
	Sixths   Family = "with a sixth"
	Sevenths Family = "with a seventh"
	Ninths   Family = "with a ninth or more"
)

// kind is everything there is to know of one kind of chord.
type kind struct {
	quality Quality
	family  Family
	// words are the ways it is written after the root, besides its name. Case
	// matters for the single letters alone: m is minor, M is major.
	words []string
	// tones lists its tones in root position.
	tones []Tone
	// likely is how likely it is before anything is heard, against a major
	// triad: brass warm-ups hold plain chords most (common practice, no
	// source). 0 is no value.
	likely float64
	// spare names the tones that may be left out and still leave the chord its
	// name. Three tones are all needed: fewer are a kind of their own.
	spare []string
	// dominant is true where the leader may choose the seventh; see Seventh.
	dominant bool
}

// rarity is the cost of the kind before anything is heard, in natural logarithms.
func (k kind) rarity() float64 { return -math.Log(k.likely) }

// spareCost is what a name costs that needs a tone nobody plays, where the
// kind can spare it.
const spareCost = 2.5

// missing is what it costs that nobody plays a tone of the kind.
func (k kind) missing(t Tone) float64 {
	for _, s := range k.spare {
		if s == t.Name {
			return spareCost
		}
	}
	return t.role().missing
}

var fifthSpare = []string{"fifth"}

// kinds lists every kind in the order of a page, the plain ones first.
var kinds = []kind{
	{Major, Triads, []string{"", "maj", "M", "major triad", "dur", "majeur", "mayor", "maggiore"}, []Tone{root, majorThird, perfectFifth}, 1, nil, false},
	{Minor, Triads, []string{"m", "min", "-", "minor triad", "moll", "mineur", "menor", "minore"}, []Tone{root, minorThird, perfectFifth}, 0.74, nil, false},
	{Diminished, Triads, []string{"dim", "°", "o", "vermindert", "diminué", "disminuido", "diminuito"}, []Tone{root, minorThird, flatFifth}, 0.37, nil, false},
	{Augmented, Triads, []string{"aug", "+", "übermäßig", "augmenté", "aumentado", "aumentato", "eccedente"}, []Tone{root, majorThird, sharpFifth}, 0.3, nil, false},
	{Sus4, Triads, []string{"sus", "sus4", "suspended", "sus 4"}, []Tone{root, perfectFourth, perfectFifth}, 0.37, nil, false},
	{Sus2, Triads, []string{"sus2", "sus 2"}, []Tone{root, majorSecond, perfectFifth}, 0.2, nil, false},
	{Unison, Pairs, []string{"octave", "octaves", "unison or octaves", "unison and octaves", "1", "8"}, []Tone{root}, 0.3, nil, false},
	{OpenFifth, Pairs, []string{"5", "fifth", "no third", "no3"}, []Tone{root, perfectFifth}, 0.3, nil, false},
	{MajorThird, Pairs, []string{"third", "no fifth", "no5", "major no fifth"}, []Tone{root, majorThird}, 0.3, nil, false},
	{MinorThird, Pairs, []string{"m no5", "minor no fifth"}, []Tone{root, minorThird}, 0.22, nil, false},
	{Sixth, Sixths, []string{"6", "major sixth", "major 6", "maj6"}, []Tone{root, majorThird, perfectFifth, majorSixth}, 0.37, fifthSpare, false},
	{MinorSixth, Sixths, []string{"m6", "min6", "minor 6", "-6"}, []Tone{root, minorThird, perfectFifth, majorSixth}, 0.2, fifthSpare, false},
	{SixNine, Sixths, []string{"69", "6 9", "6add9", "six nine"}, []Tone{root, majorThird, perfectFifth, majorSixth, majorNinth}, 0.12, fifthSpare, false},
	{Dominant7, Sevenths, []string{"7", "dom7", "dominant 7", "seventh", "dominant"}, []Tone{root, majorThird, perfectFifth, harmonic7th}, 0.61, fifthSpare, true},
	{Minor7, Sevenths, []string{"m7", "min7", "-7", "minor 7"}, []Tone{root, minorThird, perfectFifth, minorSeventh}, 0.5, fifthSpare, false},
	{Major7, Sevenths, []string{"maj7", "M7", "major 7", "j7", "Δ", "Δ7"}, []Tone{root, majorThird, perfectFifth, majorSeventh}, 0.41, fifthSpare, false},
	{MinorMajor7, Sevenths, []string{"mM7", "mmaj7", "m maj7", "minmaj7", "minor major seventh", "minor major 7"}, []Tone{root, minorThird, perfectFifth, minorMajor7th}, 0.135, fifthSpare, false},
	{AugmentedMaj7, Sevenths, []string{"+maj7", "augmaj7", "maj7#5", "augmented major 7"}, []Tone{root, majorThird, sharpFifth, augmentedMaj7}, 0.11, nil, false},
	{Augmented7, Sevenths, []string{"+7", "aug7", "7#5", "7+", "7 #5", "augmented 7"}, []Tone{root, majorThird, sharpFifth, harmonic7th}, 0.12, nil, true},
	{Dominant7Flat5, Sevenths, []string{"7b5", "7 b5", "7-5", "dominant 7 flat 5", "seventh flat fifth"}, []Tone{root, majorThird, flatFifth, harmonic7th}, 0.1, nil, true},
	{Sus7, Sevenths, []string{"7sus4", "7sus", "7 sus4", "7 sus", "sus47", "sus7", "suspended 7", "seventh suspended fourth"}, []Tone{root, perfectFourth, perfectFifth, suspended7th}, 0.2, nil, false},
	{HalfDiminished, Sevenths, []string{"m7b5", "m7 b5", "ø", "ø7", "half-diminished", "half diminished", "half diminished seventh", "half-diminished 7", "half diminished 7"}, []Tone{root, minorThird, flatFifth, minorSeventh}, 0.27, nil, false},
	{Diminished7, Sevenths, []string{"dim7", "°7", "o7", "diminished 7"}, []Tone{root, minorThird, flatFifth, flatSeventh}, 0.3, nil, false},
	{AddNinth, Ninths, []string{"add9", "add2", "add 9", "2", "added second", "major added ninth"}, []Tone{root, majorThird, perfectFifth, majorNinth}, 0.2, nil, false},
	{MinorAddNinth, Ninths, []string{"madd9", "m add9", "minor add9", "min add9", "madd2"}, []Tone{root, minorThird, perfectFifth, majorNinth}, 0.14, nil, false},
	{Dominant9, Ninths, []string{"9", "ninth", "dominant 9", "7 9"}, []Tone{root, majorThird, perfectFifth, harmonic7th, majorNinth}, 0.25, fifthSpare, true},
	{DominantFlat9, Ninths, []string{"7b9", "7 b9", "dominant 7 flat 9", "dominant seventh flat ninth"}, []Tone{root, majorThird, perfectFifth, harmonic7th, flatNinth}, 0.165, fifthSpare, true},
	{DominantSharp9, Ninths, []string{"7#9", "7 #9", "7+9", "dominant 7 sharp 9", "dominant seventh sharp ninth"}, []Tone{root, majorThird, perfectFifth, harmonic7th, sharpNinth}, 0.1, fifthSpare, true},
	{Sus9, Ninths, []string{"9sus4", "9sus", "9 sus4", "9 sus", "sus9", "suspended 9", "ninth suspended fourth"}, []Tone{root, perfectFourth, perfectFifth, suspended7th, majorNinth}, 0.12, fifthSpare, false},
	{Major9, Ninths, []string{"maj9", "M9", "major 9"}, []Tone{root, majorThird, perfectFifth, majorSeventh, majorNinth}, 0.165, fifthSpare, false},
	{Minor9, Ninths, []string{"m9", "min9", "-9", "minor 9"}, []Tone{root, minorThird, perfectFifth, minorSeventh, majorNinth}, 0.165, fifthSpare, false},
	{Minor11, Ninths, []string{"m11", "min11", "-11", "minor 11"}, []Tone{root, minorThird, perfectFifth, minorSeventh, majorNinth, eleventh}, 0.08, []string{"fifth", "ninth"}, false},
	{Dominant13, Ninths, []string{"13", "thirteenth", "dominant 13"}, []Tone{root, majorThird, perfectFifth, harmonic7th, majorNinth, thirteenth}, 0.1, []string{"fifth", "ninth"}, true},
	{Major13, Ninths, []string{"maj13", "M13", "major 13"}, []Tone{root, majorThird, perfectFifth, majorSeventh, majorNinth, thirteenth}, 0.07, []string{"fifth", "ninth"}, false},
}

// kindOf finds the entry of a quality by its name.
var kindOf = func() map[Quality]*kind {
	m := map[Quality]*kind{}
	for i := range kinds {
		m[kinds[i].quality] = &kinds[i]
	}
	return m
}()

// qualityWords finds a quality by any of its words and its name.
var qualityWords = func() map[string]Quality {
	m := map[string]Quality{}
	for _, k := range kinds {
		m[string(k.quality)] = k.quality
		for _, w := range k.words {
			m[w] = k.quality
		}
	}
	return m
}()

// Qualities lists every quality, the plain ones first.
var Qualities = func() []Quality {
	var list []Quality
	for _, k := range kinds {
		list = append(list, k.quality)
	}
	return list
}()

// Kind is a kind of chord as a page offers it.
type Kind struct {
	Quality Quality `json:"quality"`
	Family  Family  `json:"family"`
	// Seventh is true where the seventh can be chosen; see Seventh.
	Seventh bool `json:"seventh,omitempty"`
}

// Kinds lists every kind in the order of a page; those of a family stand together.
func Kinds() []Kind {
	list := make([]Kind, len(kinds))
	for i, k := range kinds {
		list[i] = Kind{k.quality, k.family, k.dominant}
	}
	return list
}
