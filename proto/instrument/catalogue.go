package instrument

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"bellrow/proto/pitch"
)

// Catalogue returns every brass instrument, high to low within its family order;
// Band has the rest.
// The entries are shared and must not be changed.
func Catalogue() []*Instrument { return slices.Clone(catalogue) }

// suggestions is how many near ids an error names.
const suggestions = 5

// Find returns the instrument with an id. The error of an unknown id names
// the nearest ones.
func Find(id ID) (*Instrument, error) {
	if in, ok := byID[id]; ok {
		return in, nil
	}
	near := Band()
	slices.SortStableFunc(near, func(a, b *Instrument) int {
		return cmp.Compare(distance(string(id), a), distance(string(id), b))
	})
	names := make([]string, 0, suggestions)
	for _, in := range near[:suggestions] {
		names = append(names, string(in.ID))
	}
	return nil, fmt.Errorf("instrument: no %q in the catalogue; nearest are %s", id, strings.Join(names, ", "))
}

// distance is the edit distance to an id, less when the id holds the text.
func distance(s string, in *Instrument) int {
	t := string(in.ID)
	s = strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(s))
	d := edits(s, t)
	if s != "" && (strings.Contains(t, s) || strings.Contains(strings.ToLower(in.Name), s)) {
		d -= 100 // a whole word found beats any number of letters
	}
	if in.Of != "" {
		d += 20 // the usual part first
	}
	return d
}

// edits is the Levenshtein distance.
func edits(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := diagonal
			if a[i] != b[j] {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

// Where the figures of the table come from.
const (
	bySecondHarmonic = "pitch: second-harmonic table, Pitch of brass instruments (Princeton wiki copy)"
	byFeet           = "tube: Acta Acustica 2022, aacus220031, Table 1 (conventional feet)"
	byPractice       = "slide travel and usual pull: common practice, no source"
)

// Travel of valve slides in mm (common practice, no source).
const (
	trumpetFirstTravel = 15
	trumpetThirdTravel = 25
	handTravel         = 622 // seventh position and a finger's breadth: the slide ends near 7.1
)

func note(s string) pitch.Note {
	n, err := pitch.ParseNote(s)
	if err != nil {
		panic("instrument: " + err.Error())
	}
	return n
}

func mainSlide(travel, usual float64) Slide {
	return Slide{ID: Main, Name: "main slide", TravelMM: travel, UsualMM: usual, End: ComesOff, Legs: 2}
}

func shank(travel, usual float64) Slide {
	return Slide{ID: Main, Name: "lead-pipe shank", TravelMM: travel, UsualMM: usual, End: ComesOff, Legs: 1}
}

func valveSlide(id SlideID, name string, travel, usual float64, playing bool) Slide {
	return Slide{ID: id, Name: name, TravelMM: travel, UsualMM: usual, End: ComesOff, Legs: 2, WhilePlaying: playing}
}

// trumpetSlides: rings or triggers on the first and third valve slides, with a
// stop.
func trumpetSlides(travel, usual float64) []Slide {
	s := []Slide{mainSlide(travel, usual),
		valveSlide(First, "first valve slide", trumpetFirstTravel, 0, true),
		valveSlide(Third, "third valve slide", trumpetThirdTravel, 0, true)}
	s[1].End, s[2].End = Stops, Stops
	return s
}

// lowSlides: valve slides of alto horns, euphoniums and tubas. Many tubas have
// their first valve slide moved while playing (Pitts, Using the First Valve
// Slide).
func lowSlides(travel, usual, valveTravel float64, valves int, firstMoves bool) []Slide {
	s := []Slide{mainSlide(travel, usual),
		valveSlide(First, "first valve slide", valveTravel, 5, firstMoves),
		valveSlide(Second, "second valve slide", valveTravel/2, 3, false),
		valveSlide(Third, "third valve slide", valveTravel, 5, false)}
	for v, id := range []SlideID{Fourth, Fifth, Sixth} {
		if valves >= 4+v {
			s = append(s, valveSlide(id, string(id)+" valve slide", valveTravel, 5, false))
		}
	}
	return s
}

// tromboneSlides: the bell slide tunes, the hand slide plays. The hand
// slide's setting is where its first position stands.
func tromboneSlides(travel, usual float64, attachment bool) []Slide {
	s := []Slide{{ID: Main, Name: "bell slide", TravelMM: travel, UsualMM: usual, End: ComesOff, Legs: 2},
		{ID: Hand, Name: "hand slide", TravelMM: handTravel, UsualMM: 0, End: Stops, Legs: 2, WhilePlaying: true}}
	if attachment {
		s = append(s, Slide{ID: FMain, Name: "F-attachment slide", TravelMM: 70, UsualMM: 10, End: ComesOff, Legs: 2})
	}
	return s
}

// secondValveSlide tunes the second valve of a bass trombone.
func secondValveSlide() Slide {
	return Slide{ID: GbMain, Name: "second-valve slide", TravelMM: 60, UsualMM: 10, End: ComesOff, Legs: 2}
}

// hornPull is the usual start of every horn slide, half an inch
// (banddirectorstalkshop.com, horn sections); hornBbPull that of a separate B
// flat slide, a quarter of an inch (hornstuff.com, Tuning the Horn).
const (
	hornPull        = 12.7
	hornBbPull      = 6.35
	hornTravel      = 45
	hornValveTravel = 30
)

func hornSlides(double bool) []Slide {
	s := []Slide{mainSlide(hornTravel, hornPull)}
	if double {
		s = append(s,
			Slide{ID: FMain, Name: "F slide", TravelMM: hornTravel, UsualMM: hornPull, End: ComesOff, Legs: 2},
			Slide{ID: BbMain, Name: "B♭ slide", TravelMM: hornTravel, UsualMM: hornBbPull, End: ComesOff, Legs: 2})
	}
	side := ""
	if double {
		side = ", F side"
	}
	s = append(s, hornValveSlides([3]SlideID{First, Second, Third}, side)...)
	if double {
		s = append(s, hornValveSlides([3]SlideID{BbFirst, BbSecond, BbThird}, ", B♭ side")...)
	}
	return append(s, Slide{ID: Bell, Name: "hand in the bell", WhilePlaying: true})
}

func hornValveSlides(ids [3]SlideID, side string) []Slide {
	var s []Slide
	for i, name := range []string{"first", "second", "third"} {
		s = append(s, valveSlide(ids[i], name+" valve slide"+side, hornValveTravel, hornPull, false))
	}
	return s
}

// reading is the same instrument with another part on the stand.
func (in Instrument) reading(suffix ID, part, clef string, transposition int) Instrument {
	in.Of = in.ID
	name := in.Name
	if i := strings.LastIndex(name, ", "); strings.HasSuffix(name, " part") || i > 0 && strings.HasPrefix(name[i:], ", part in ") {
		name = name[:i]
	}
	return in.as(in.ID+"_"+suffix, name+", "+part, clef, transposition)
}

func (in Instrument) as(id ID, name, clef string, transposition int) Instrument {
	in.ID, in.Name, in.Clef, in.Transposition = id, name, clef, transposition
	return in
}

// middleAboveRoot puts the comfortable middle between the third and fourth
// partials; horns and tubas, which live elsewhere in the series, set their own.
const middleAboveRoot = 22

var catalogue = build()

// byID holds the whole band.
var byID = func() map[ID]*Instrument {
	m := map[ID]*Instrument{}
	for _, in := range Band() {
		m[in.ID] = in
	}
	return m
}()

func build() []*Instrument {
	var all []*Instrument
	for _, in := range table() {
		if in.Middle == 0 {
			in.Middle = in.root() + middleAboveRoot
		}
		in.Source += "; " + byPractice
		all = append(all, &in)
	}
	return all
}
