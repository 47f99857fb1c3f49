package intonation

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// What a tone counts for where as many tones would stay either way: the root
// before the fifth, both before the others, and the bass a little more than the rest
// (common practice: the root first, then fifth and octaves, then the third; no source).
// Their sums stay below one, so that they never outweigh a further tone.
const (
	rootFirst  = 0.2
	fifthFirst = 0.15
	bassFirst  = 0.1
)

// nearReference breaks what is still even, as between two players in unison:
// the one nearer the reference stays. For each cent.
const nearReference = 1e-4

// standing is one chair's tone for the anchor.
type standing struct {
	offset float64 // from its target with the root at the reference, in cents
	weight float64 // its share of its tone
}

// consensusShift hangs the chord from the tones that agree with each other:
// where the fewest tones have to move; of equals, where root and fifth stay, then
// the bass. What stays is what rings already, so the tones named as out are
// those that beat. False with fewer than two readings.
//
// Each tone counts by how much of it is in place: the share of its chairs,
// each by agreement. The shift is then the mean of what agrees at the best place.
func consensusShift(targets map[Chair]Target, readings map[Chair]Reading) (pitch.Cents, bool) {
	tones, chairs := map[Tone][]standing{}, 0
	bass, lowest := Tone{}, pitch.Note(math.MaxInt)
	for _, chair := range sorted(targets) {
		t := targets[chair]
		if t.InChord && t.Note < lowest {
			bass, lowest = t.Tone, t.Note
		}
		r, ok := readings[chair]
		if !ok || !t.InChord || !r.Hz.Valid() {
			continue
		}
		xs, ws := weigh([]Offset{{pitch.Between(t.Hz, r.Hz), r.CI95}})
		if len(xs) == 0 {
			continue
		}
		tones[t.Tone] = append(tones[t.Tone], standing{xs[0], ws[0]})
		chairs++
	}
	if chairs < minConsensus {
		return 0, false
	}
	set := agreement{order: tonesInOrder(tones), tones: tones, bass: bass}
	set.width = set.within()
	return pitch.Cents(set.centre(set.best())), true
}

// agreement is the tones of a chord among which an anchor is sought.
type agreement struct {
	order []Tone
	tones map[Tone][]standing
	bass  Tone
	// width is how far apart tones may be and still agree, in cents.
	width float64
}

// minDoubled is the fewest chairs on doubled tones that tell how well the
// group holds a tone at all.
const minDoubled = 6

// within is the band, or more where players of one tone differ by more: what
// chairs of a tone do not agree on, tones cannot.
func (a agreement) within() float64 {
	var ds, ones []float64
	for _, t := range a.order {
		if len(a.tones[t]) < 2 {
			continue
		}
		xs, ws := make([]float64, 0, len(a.tones[t])), []float64{}
		for _, s := range a.tones[t] {
			xs, ws = append(xs, s.offset), append(ws, 1)
		}
		middle, share := weightedMedian(xs, ws), float64(len(xs))/float64(len(xs)-1)
		for _, x := range xs {
			ds, ones = append(ds, math.Abs(x-middle)*math.Sqrt(share)), append(ones, 1)
		}
	}
	if len(ds) < minDoubled {
		return float64(DefaultGood)
	}
	return max(float64(DefaultGood), spreadWidth*1.4826*weightedMedian(ds, ones))
}

// spreadWidth is the width for a group by the standard deviation of its chairs
// about their tones: there the anchor errs little more than a mean would.
const spreadWidth = 2

func tonesInOrder(tones map[Tone][]standing) []Tone {
	var order []Tone
	for _, r := range roles {
		for t := range tones {
			if t.Name == r.name {
				order = append(order, t)
			}
		}
	}
	return order
}

// agree is how much a tone off by d cents counts as in place: all of it
// within half the width, half at the width, hardly any from its double on.
func (a agreement) agree(d float64) float64 {
	x := d / a.width
	return 1 / (1 + x*x*x*x)
}

// score is how much of the chord stays when it is hung at a shift.
func (a agreement) score(shift float64) float64 {
	sum := -nearReference * math.Abs(shift)
	for _, t := range a.order {
		in, all := 0.0, 0.0
		for _, s := range a.tones[t] {
			in, all = in+s.weight*a.agree(s.offset-shift), all+s.weight
		}
		sum += a.counts(t) * in / all
	}
	return sum
}

func (a agreement) counts(t Tone) float64 {
	n := 1.0
	switch t.Name {
	case "root":
		n += rootFirst
	case "fifth":
		n += fifthFirst
	}
	if t == a.bass {
		n += bassFirst
	}
	return n
}

// best tries every offset, and the middles between each and its next, and
// between each and the furthest that agrees with it.
func (a agreement) best() float64 {
	var offsets []float64
	for _, t := range a.order {
		for _, s := range a.tones[t] {
			offsets = append(offsets, s.offset)
		}
	}
	slices.Sort(offsets)
	best, most := 0.0, math.Inf(-1)
	try := func(shift float64) {
		if score := a.score(shift); score > most {
			best, most = shift, score
		}
	}
	var last int
	for i, x := range offsets {
		try(x)
		if i+1 < len(offsets) {
			try((x + offsets[i+1]) / 2)
		}
		for last+1 < len(offsets) && offsets[last+1]-x <= a.width {
			last++
		}
		try((x + offsets[last]) / 2)
	}
	return best
}

// centre is the mean of what agrees at a shift, each tone by what it counts.
func (a agreement) centre(shift float64) float64 {
	sum, total := 0.0, 0.0
	for _, t := range a.order {
		all := 0.0
		for _, s := range a.tones[t] {
			all += s.weight
		}
		for _, s := range a.tones[t] {
			w := a.counts(t) * s.weight / all * a.agree(s.offset-shift)
			sum, total = sum+w*s.offset, total+w
		}
	}
	if total == 0 {
		return shift
	}
	return sum / total
}
