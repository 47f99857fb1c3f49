package score

import (
	"slices"
	"strings"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Doubt says why a part's instrument has to be asked for.
type Doubt string

// The doubts.
const (
	DoubtNone     Doubt = ""         // the name and the transposition agree
	DoubtSeveral  Doubt = "several"  // the name is used for several instruments
	DoubtDisagree Doubt = "disagree" // the name says one key, the transposition another
	DoubtUnknown  Doubt = "unknown"  // no instrument of the band has this name
)

// Instruments is what a part could be written for.
type Instruments struct {
	// IDs are likeliest first; empty only with DoubtUnknown. Without doubt the
	// further ones read the same part.
	IDs []instrument.ID
	// Doubt is why the leader is asked; DoubtNone when the first is meant.
	Doubt Doubt
}

// Instruments names the catalogue instruments that a part can be written for,
// by its name in any of six languages, its transposition, and the company it
// stands in (see Part.Concert and Part.BrassBand). The short name, the name of its group and the
// sound that MusicXML gives stand in where the name says nothing.
func (p Part) Instruments() Instruments {
	if in := p.brass(); in.Doubt != DoubtUnknown {
		return in
	}
	return p.woodwind()
}

// brass names the brass instruments.
func (p Part) brass() Instruments {
	if p.Sound != "" && !strings.HasPrefix(p.Sound, "brass.") {
		return Instruments{Doubt: DoubtUnknown}
	}
	for _, name := range []string{p.Name, p.Instrument, p.Short, p.Group, strings.ReplaceAll(p.Sound, ".", " ")} {
		n := takeApart(name)
		if n.words["other"] {
			return Instruments{Doubt: DoubtUnknown}
		}
		if n.corDot && (p.BrassBand || n.words["soprano"] || p.Transposition == -2 || p.Transposition == 3) {
			n.words["horn"], n.words["cornet"] = false, true // "Cor." is short for cornet too
		}
		if p.BrassBand && len(n.words) == 1 && n.words["soprano"] {
			n.words["cornet"] = true
		}
		if s, ok := n.sort(); ok {
			return p.read(n, p.choose(n, s))
		}
	}
	return Instruments{Doubt: DoubtUnknown}
}

// read puts, in the place of each instrument, the part of it that is on the stand:
// treble-clef trombones, the crooks of horns. A score at concert pitch tells clefs
// only.
func (p Part) read(n named, in Instruments) Instruments {
	if in.Doubt == DoubtDisagree {
		return in // then neither tells
	}
	for i, id := range in.IDs {
		own, best := 0, 0
		for _, e := range readings[id] {
			fit := p.fits(n, e)
			if e.id == id {
				own = fit
			}
			if fit > best && fit > own {
				best, in.IDs[i] = fit, e.id
			}
		}
	}
	return in
}

// fits says how well an entry's part suits: 2 for its transposition, 1 for its
// clef.
func (p Part) fits(n named, e entry) (fit int) {
	clef := p.Clef
	switch {
	case n.treble:
		clef = "treble"
	case n.bassClef:
		clef = "bass"
	}
	if !p.Concert && e.transposition == p.Transposition {
		fit += 2
	}
	if clef == e.clef && (p.Concert || e.transposition == p.Transposition) {
		fit++
	}
	return fit
}

// readings are the parts of each instrument, the usual one first.
var readings = func() map[instrument.ID][]entry {
	m := map[instrument.ID][]entry{}
	for _, in := range instrument.Catalogue() {
		e, _ := entryOf(in.ID)
		m[in.Base()] = append(m[in.Base()], e)
	}
	return m
}()

// Guess names the instrument that a part is written for: the first of
// Instruments. ok is false for parts that are not recognised; the leader then says.
func Guess(p Part) (id instrument.ID, ok bool) {
	in := p.Instruments()
	if len(in.IDs) == 0 {
		return "", false
	}
	return in.IDs[0], true
}

// sort finds what the words of a name mean: the sort that asks for the most of
// them. Two that ask for as many are several instruments.
func (n named) sort() (sort, bool) {
	var found []sort
	for _, s := range sorts {
		if slices.ContainsFunc(s.words, func(w string) bool { return !n.words[w] }) {
			continue
		}
		if len(found) == 0 || len(s.words) == len(found[0].words) && !s.lone() {
			found = append(found, s)
		}
	}
	if len(found) == 0 {
		return sort{}, false
	}
	s := found[0]
	for _, other := range found[1:] {
		s.ids, s.joined = append(slices.Clone(s.ids), other.ids...), true
	}
	return s, true
}

// sizes qualify another word and name an instrument only by themselves.
var sizes = []string{"bass", "contrabass"}

// entry is a catalogue instrument with what its parts tell.
type entry struct {
	id            instrument.ID
	family, clef  string
	transposition int
	key           int // pitch class of the open tube, as the instrument is named
}

func entryOf(id instrument.ID) (entry, bool) {
	e, ok := entries[id]
	return e, ok
}

var entries = func() map[instrument.ID]entry {
	m := map[instrument.ID]entry{}
	for _, in := range instrument.Catalogue() {
		n, _ := pitch.Reference{}.Nearest(in.Fundamental)
		m[in.ID] = entry{in.ID, in.Family, in.Clef, in.Transposition, n.Class()}
	}
	return m
}()

// keyClass is the class that a part in this key adds: -2, as 10, for B flat.
func keyClass(key string) int {
	x, err := pitch.ParseName(key)
	if err != nil {
		return -1
	}
	return x.Class()
}

func classOf(semitones int) int { return (semitones%12 + 12) % 12 }

// choose weighs the instruments of a sort against key, clef and transposition.
func (p Part) choose(n named, s sort) Instruments {
	var all []entry
	for _, id := range s.ids {
		if e, ok := entryOf(id); ok {
			all = append(all, e)
		}
	}
	key := keyClass(n.key)
	switch {
	case len(all) == 0, s.lone() && !p.lowBrass(n), n.strange > 0 && (!n.full || s.loose()):
		return Instruments{Doubt: DoubtUnknown}
	case s.isHorn():
		return p.horn(n, key, all)
	}
	if s.words[0] == "bass" && s.lone() && p.Transposition == trebleEuphonium {
		// The basse of a French band is a euphonium.
		euphonium, _ := entryOf("euphonium_bb_tc")
		return instruments(append([]entry{euphonium}, p.agreeing(all)...), DoubtSeveral)
	}
	if n.key == "C" && classOf(p.Transposition) == 0 && slices.Contains(concertReaders, s.words[len(s.words)-1]) {
		key = -1 // in C says how the part is written, not what it is played on
	}
	keyed := all
	if key >= 0 {
		keyed = slices.DeleteFunc(slices.Clone(all), func(e entry) bool { return e.key != key })
	}
	if len(keyed) == 0 { // a key that no instrument of this name stands in: a trumpet in D
		return instruments(all, DoubtSeveral)
	}
	if p.Concert {
		return instruments(p.byCompany(n, keyed), p.doubt(s, keyed))
	}
	fit := p.agreeing(keyed)
	if len(fit) == 0 {
		return instruments(append(slices.Clone(keyed), p.agreeing(all)...), DoubtDisagree)
	}
	return instruments(fit, p.doubt(s, fit))
}

// trebleEuphonium is what a treble-clef euphonium part adds.
const trebleEuphonium = -14

// concertReaders are B flat instruments whose parts stand in C as a rule.
var concertReaders = []string{"trombone", "euphonium", "baritone"}

// instruments lists the entries once each.
func instruments(list []entry, d Doubt) Instruments {
	in := Instruments{Doubt: d}
	for _, e := range list {
		if !slices.Contains(in.IDs, e.id) {
			in.IDs = append(in.IDs, e.id)
		}
	}
	return in
}

// lone reports a name that is a size and nothing else: "Bass".
func (s sort) lone() bool { return len(s.words) == 1 && slices.Contains(sizes, s.words[0]) }

// loose reports a name that qualifies other instruments as well: a bass
// marimba, a baritone guitar.
func (s sort) loose() bool { return s.lone() || len(s.words) == 1 && s.words[0] == "baritone" }

// lowBrass tells a brass band's bass from a voice, a string bass or a bass
// anything else: by its key, its company, or a transposition that is no octave.
func (p Part) lowBrass(n named) bool {
	return n.key == "Bb" || n.key == "Eb" || p.BrassBand || classOf(p.Transposition) != 0
}

// isHorn reports the orchestra's horn, whose players read any crook.
func (s sort) isHorn() bool { return s.words[len(s.words)-1] == "horn" && s.ids[0] == "horn_double" }

// horn settles a part named horn. E flat is a brass band's horn, or a crook.
func (p Part) horn(n named, key int, all []entry) Instruments {
	const eFlat, f = 3, 5
	brass, other := []entry{}, []entry{}
	for _, e := range all {
		if e.key == eFlat {
			brass = append(brass, e)
		} else {
			other = append(other, e)
		}
	}
	heard := classOf(p.Transposition)
	if p.Concert {
		heard = key // nothing contradicts the name
	}
	switch {
	case key >= 0 && key != heard:
		return instruments(all, DoubtDisagree)
	case len(brass) > 0 && p.BrassBand && (heard == eFlat || p.Concert && key < 0):
		return instruments(brass, DoubtNone)
	case len(brass) > 0 && heard == eFlat:
		return instruments(all, DoubtSeveral)
	case key < 0 && !p.Concert && heard != f:
		return instruments(other, DoubtDisagree)
	case n.corDot && key < 0 && p.Concert:
		cornet, _ := entryOf("cornet_bb")
		return instruments(append(other, cornet), DoubtSeveral)
	}
	return instruments(other, DoubtNone)
}

// agreeing are the entries whose parts transpose as this one does: exactly,
// by octaves otherwise (old bass-clef horn parts), or in the key of their own
// tube (treble-clef trombones), in this order.
func (p Part) agreeing(list []entry) []entry {
	var exact, octave, own []entry
	for _, e := range list {
		switch {
		case e.transposition == p.Transposition:
			exact = append(exact, e)
		case classOf(e.transposition) == classOf(p.Transposition):
			octave = append(octave, e)
		case e.key == classOf(p.Transposition):
			own = append(own, e)
		}
	}
	return slices.Concat(exact, octave, own)
}

// byCompany orders the entries of a part at concert pitch: by the clef that
// its name tells, else treble-clef parts and E flat horns come first in a brass band.
func (p Part) byCompany(n named, list []entry) []entry {
	treble := n.treble || p.BrassBand && !n.bassClef
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b entry) int { return p.strange(a, treble) - p.strange(b, treble) })
	return list
}

// strange is 1 for an entry that the clef makes less likely.
func (p Part) strange(e entry, treble bool) int {
	if (e.family == "euphonium" || e.family == "tuba") && (e.clef == "treble") != treble {
		return 1
	}
	return 0
}

// doubt is about a name that its transposition and company do not settle.
func (p Part) doubt(s sort, fit []entry) Doubt {
	if s.joined || s.several && !p.BrassBand && !oneKey(fit) {
		return DoubtSeveral
	}
	return DoubtNone
}

// oneKey reports instruments of one family in one key: they read one part.
func oneKey(list []entry) bool {
	return !slices.ContainsFunc(list, func(e entry) bool { return e.key != list[0].key || e.family != list[0].family })
}

// company tells every part what kind of score it stands in.
func (s *Score) company() {
	concert := !slices.ContainsFunc(s.Parts, func(p Part) bool { return classOf(p.Transposition) != 0 })
	cornets, band := 0, false
	for _, p := range s.Parts {
		n := takeApart(p.Name)
		cornet := n.words["cornet"] || n.corDot && (concert || p.Transposition == -2 || p.Transposition == 3)
		if cornet {
			cornets++
		}
		band = band || n.repiano || n.words["soprano"] && cornet || n.words["horn"] && p.Transposition == -9 ||
			(n.words["bass"] || n.words["tuba"]) && (p.Transposition == -21 || p.Transposition == -26)
	}
	for i := range s.Parts {
		s.Parts[i].Concert = s.Parts[i].Concert || concert
		s.Parts[i].BrassBand = band && cornets >= minCornets
	}
}

// minCornets is what tells a brass band from a wind band with a cornet or two.
const minCornets = 2
