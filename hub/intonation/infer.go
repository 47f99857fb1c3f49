package intonation

import (
	"cmp"
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Candidate is a chord that the readings could be.
type Candidate struct {
	Chord Chord
	// Share is this candidate's weight among all chords, 0 to 1.
	Share float64
	// Shift is the common offset from the reference under this chord, and
	// Misfit the root mean square of what remains, in cents.
	Shift, Misfit pitch.Cents
}

// Widths and weights of the model, in cents and in natural logarithms.
const (
	inferSigma = 13.0 // one chair about its tone: uniform errors to ±25 have 14.4, a tuned group far less
	shiftSigma = 10.0 // the group about the reference
	farReading = 9.0  // the most that one reading, say of a wrong note, counts against a chord
	// ambiguity is how much less likely than the best a chord may be and
	// still be named beside it: a factor of e^2.5, about 12.
	ambiguity = 2.5
	// maxCandidates is as many as a leader can take in.
	maxCandidates = 4
	// worstMisfit: beyond it nothing that is known fits.
	worstMisfit = 3 * inferSigma
	// inverted is the cost of an inversion before anything is heard.
	inverted = 0.7
)

// Infer says which chords the readings could be, the likeliest first; more
// than one means that it cannot be told, and none that nothing known fits.
// The lowest reading is the bass. Each chord is tried with just and with
// tempered tones, and may stand a little off the reference as a whole.
// Readings that are no frequency are left out; fewer than two tell nothing.
func Infer(readings []Reading, ref pitch.Reference) []Candidate {
	heard := make([]pitch.Hertz, 0, len(readings))
	for _, r := range readings {
		if r.Hz.Valid() {
			heard = append(heard, r.Hz)
		}
	}
	if len(heard) < 2 {
		return nil
	}
	slices.Sort(heard)
	return shortlist(score(classes(heard, ref)))
}

// classes folds readings into cents above the reference C, 0 to 1200.
func classes(heard []pitch.Hertz, ref pitch.Reference) []float64 {
	c := ref.Frequency(pitch.C4)
	xs := make([]float64, len(heard))
	for i, hz := range heard {
		xs[i] = math.Mod(math.Mod(float64(pitch.Between(c, hz)), 1200)+1200, 1200)
	}
	return xs
}

type scored struct {
	Candidate
	cost float64
}

// score tries every chord, keeping the better of its two tunings.
func score(xs []float64) []scored {
	var all []scored
	for _, k := range kinds {
		for class := range 12 {
			best := scored{cost: math.Inf(1)}
			for _, just := range []bool{true, false} {
				if s := k.fit(class, just, xs); s.cost < best.cost {
					best = s
				}
			}
			all = append(all, best)
		}
	}
	slices.SortStableFunc(all, func(a, b scored) int { return cmp.Compare(a.cost, b.cost) })
	return all
}

// fit finds the shift of the group under a chord and what the readings then
// cost. xs is in order of pitch, the bass first.
func (k kind) fit(class int, just bool, xs []float64) scored {
	c := Chord{Root: class, Quality: k.quality}
	tones := c.Tones()
	places := make([]float64, len(tones))
	for i, t := range tones {
		places[i] = float64(100 * (c.Root + t.Semitones))
		if just {
			places[i] += float64(t.Offset())
		}
	}
	shift := 0.0
	const rounds = 3 // assignment and shift settle in two; one to spare
	for range rounds {
		shift = groupShift(places, xs, shift)
	}
	played := make([]bool, len(tones))
	cost, square := shift*shift/(2*shiftSigma*shiftSigma)+k.rarity(), 0.0
	for i, x := range xs {
		t, d := nearest(places, x-shift)
		if i == 0 {
			c.Inversion = t
		}
		played[t] = true
		square += d * d
		cost += min(d*d/(2*inferSigma*inferSigma), farReading)
	}
	for i, t := range tones {
		if !played[i] {
			cost += k.missing(t)
		}
	}
	if c.Inversion > 0 {
		cost += inverted
	}
	misfit := math.Sqrt(square / float64(len(xs)))
	return scored{Candidate{Chord: c, Shift: pitch.Cents(shift), Misfit: pitch.Cents(misfit)}, cost}
}

// groupShift is the most likely common offset, given who plays what at the
// last guess: a normal prior about the reference, far readings left out.
func groupShift(places, xs []float64, last float64) float64 {
	sum, n := 0.0, 0.0
	for _, x := range xs {
		_, d := nearest(places, x-last)
		if math.Abs(d) < worstMisfit {
			sum, n = sum+d+last, n+1
		}
	}
	return sum / (n + inferSigma*inferSigma/(shiftSigma*shiftSigma))
}

// nearest finds the place closest to x around the octave, and x's distance
// from it.
func nearest(places []float64, x float64) (int, float64) {
	var best int
	distance := math.Inf(1)
	for i, p := range places {
		d := math.Remainder(x-p, 1200)
		if math.Abs(d) < math.Abs(distance) {
			best, distance = i, d
		}
	}
	return best, distance
}

func shortlist(all []scored) []Candidate {
	total := 0.0
	for _, s := range all {
		total += math.Exp(all[0].cost - s.cost)
	}
	var list []Candidate
	for _, s := range all {
		if s.cost > all[0].cost+ambiguity || len(list) == maxCandidates || float64(s.Misfit) > worstMisfit {
			break
		}
		s.Share = math.Exp(all[0].cost-s.cost) / total
		list = append(list, s.Candidate)
	}
	return list
}
