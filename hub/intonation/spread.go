package intonation

import (
	"cmp"
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Part is what spreading a chord needs of one chair.
type Part struct {
	Chair Chair
	// Low and High bound the usual sounding range of the instrument.
	Low, High pitch.Note
	// Rank orders chairs of equal range: 1 for a first part, which lies above
	// a second; 0 where there is no order.
	Rank int
}

// centre is where a part lies best in a chord: a little below the middle of
// its range, for the top of a range tires.
func (p Part) centre() float64 { return p.at(0.45) }

// depth is where the lowest part lies best: the bass of a chord wants room above it.
func (p Part) depth() float64 { return p.at(0.3) }

func (p Part) at(share float64) float64 {
	return float64(p.Low) + share*float64(p.High-p.Low)
}

// Spread gives each part a tone of the chord as a sounding note: the lowest
// part the bass, the others upwards by range and rank, with roots doubled
// most, then fifths, then thirds; a seventh or ninth only in large groups.
// With fewer chairs than tones the fifth is left out first. It returns nil
// for a chord without tones.
func Spread(chord Chord, parts []Part) map[Chair]pitch.Note {
	if chord.Valid() != nil || len(parts) == 0 {
		return nil
	}
	ordered := slices.Clone(parts)
	slices.SortStableFunc(ordered, lowToHigh)
	best := beam{chord, chord.Tones(), ordered}.run()
	out := make(map[Chair]pitch.Note, len(ordered))
	for i, p := range ordered {
		out[p.Chair] = best.notes[i]
	}
	return out
}

func lowToHigh(a, b Part) int {
	if d := cmp.Compare(a.centre(), b.centre()); d != 0 {
		return d
	}
	if d := cmp.Compare(b.Rank, a.Rank); d != 0 {
		return d
	}
	return cmp.Compare(a.Chair, b.Chair)
}

// beam searches voicings chair by chair from the lowest, keeping the best few.
type beam struct {
	chord Chord
	tones []Tone
	parts []Part
}

// beamWidth is how many part voicings are kept: enough that a wider beam
// changes no voicing of the test groups.
const beamWidth = 96

type voicing struct {
	notes []pitch.Note
	left  []int // how often each tone is still to be given
	cost  float64
}

// option is one way of going on from a kept voicing.
type option struct {
	from int // index of the voicing
	tone int
	note pitch.Note
	cost float64
}

func (b beam) run() voicing {
	kept := []voicing{{left: b.doublings()}}
	for i := range b.parts {
		var options []option
		for k, v := range kept {
			options = b.extend(options, v, k, i)
		}
		slices.SortStableFunc(options, func(x, y option) int { return cmp.Compare(x.cost, y.cost) })
		next := make([]voicing, 0, beamWidth)
		for _, o := range options[:min(len(options), beamWidth)] {
			v := kept[o.from]
			left := slices.Clone(v.left)
			left[o.tone]--
			next = append(next, voicing{append(slices.Clone(v.notes), o.note), left, o.cost})
		}
		kept = next
	}
	return kept[0]
}

// extend gives part i every tone that is still wanted, in the octaves that
// its range allows.
func (b beam) extend(options []option, v voicing, from, i int) []option {
	for t, tone := range b.tones {
		if v.left[t] == 0 || (i == 0 && t != b.chord.Inversion) {
			continue
		}
		for _, note := range b.octaves(i, (b.chord.Root+tone.Semitones)%12) {
			options = append(options, option{from, t, note, v.cost + b.cost(v.notes, i, note)})
		}
	}
	return options
}

// octaves lists the notes of a class within part i's range, or the one
// nearest its centre when the range holds none.
func (b beam) octaves(i, class int) []pitch.Note {
	p := b.parts[i]
	var notes []pitch.Note
	for n := p.Low; n <= p.High; n++ {
		if n.Class() == class {
			notes = append(notes, n)
		}
	}
	if len(notes) > 0 {
		return notes
	}
	near := pitch.Note(math.Round(p.centre()))
	for d := pitch.Note(0); d <= 6; d++ {
		for _, n := range []pitch.Note{near - d, near + d} {
			if n.Class() == class {
				return []pitch.Note{n}
			}
		}
	}
	return nil
}

// Costs of a voicing, in semitones away from a part's best place. They order
// preferences; only their rough proportions matter (common practice, no source).
const (
	costCrossing = 4.0  // per semitone below the part beneath
	costUnison   = 2.5  // the same note as the part beneath
	costMuddy    = 5.0  // closer than a fifth below lowLimit
	costGap      = 0.6  // per semitone beyond an octave above the part beneath
	costBelow    = 50.0 // below the bass: no longer the wanted inversion
	lowLimit     = pitch.Note(48)
	openBelow    = 7 // semitones: a fifth
)

func (b beam) cost(below []pitch.Note, i int, note pitch.Note) float64 {
	p := b.parts[i]
	half := max(1, float64(p.High-p.Low)/2)
	if len(below) == 0 {
		return 6 * square((float64(note)-p.depth())/half)
	}
	cost := 6 * square((float64(note)-p.centre())/half)
	last := below[len(below)-1]
	gap := float64(note - last)
	switch {
	case gap < 0:
		cost += costCrossing * -gap
	case gap == 0:
		cost += costUnison
	case gap > 12 && note > lowLimit:
		cost += costGap * (gap - 12)
	}
	if gap != 0 && math.Abs(gap) < openBelow && min(note, last) < lowLimit {
		cost += costMuddy
	}
	if note < below[0] {
		cost += costBelow
	}
	return cost
}

func square(x float64) float64 { return x * x }

// doublings says how many chairs play each tone. The bass tone has one at least.
func (b beam) doublings() []int {
	tones := b.tones
	counts := make([]int, len(tones))
	counts[b.chord.Inversion] = 1
	left := len(b.parts) - 1
	order := make([]int, len(tones))
	for t := range order {
		order[t] = t
	}
	slices.SortStableFunc(order, func(x, y int) int {
		return cmp.Compare(b.need(tones[x]), b.need(tones[y]))
	})
	for _, t := range order {
		if left > 0 && counts[t] == 0 {
			counts[t]++
			left--
		}
	}
	for ; left > 0; left-- {
		counts[b.scarcest(counts)]++
	}
	return counts
}

// need: a triad of root, fifth and another tone keeps its altered fifth.
func (b beam) need(t Tone) int {
	if t.Name == "fifth" && t.Semitones != perfectFifth.Semitones {
		return majorThird.role().need
	}
	return t.role().need
}

// scarcest is the tone furthest below its share of the group.
func (b beam) scarcest(counts []int) int {
	best, lowest := 0, math.Inf(1)
	for t, tone := range b.tones {
		if share := float64(counts[t]+1) / tone.role().doubling; share < lowest {
			best, lowest = t, share
		}
	}
	return best
}
