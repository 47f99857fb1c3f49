package slide

import (
	"maps"
	"math"
	"slices"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// octave is the interval of a reading that tells nothing of its own doubt.
const octave pitch.Cents = 1200

// finite reports whether x is a figure.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// or returns x when it is a figure from lo to hi, and else otherwise.
func or[F ~float64](x, lo, hi, otherwise F) F {
	if x >= lo && x <= hi {
		return x
	}
	return otherwise
}

// clean leaves figures that make sense: what is none of that says nothing. The
// input's own maps and slices stay as they are.
func (in Input) clean() Input {
	const far = math.MaxFloat32
	r := &in.Reading
	r.CI95 = or(r.CI95, 0, octave, octave)
	r.Spread = or(r.Spread, 0, octave, 0)
	r.Vibrato = or(r.Vibrato, 0, octave, 0)
	r.Early = or(r.Early, -octave, octave, 0)
	r.Drift = or(r.Drift, -far, far, 0)
	r.Level = or(r.Level, -1000, 1000, 0)
	in.Baseline = or(in.Baseline, -1000, 1000, 0)
	in.Played = or(in.Played, 0, far, 0)
	in.Good = or(in.Good, 0, octave, 0)
	in.CommonChange = or(in.CommonChange, -octave, octave, 0)
	if !finite(in.Learned.Ratio) || !finite(in.Learned.SD) {
		in.Learned = Learned{}
	}
	if !in.Prior.known() {
		in.Prior = Belief{}
	}
	in.Settings, in.Travel = places(in.Settings), places(in.Travel)
	in.Others = slices.DeleteFunc(slices.Clone(in.Others), func(k Known) bool { return !k.known() })
	return in
}

// known reports whether something is believed, and makes sense.
func (b Belief) known() bool {
	return b.SD > 0 && b.SD <= float64(octave) && math.Abs(float64(b.Offset)) <= float64(octave)
}

// longest is more than any slide goes, in mm.
const longest = 2000

// places keeps the places of slides that make sense.
func places(set instrument.Settings) instrument.Settings {
	sane := func(mm float64) bool { return mm >= 0 && mm <= longest }
	for _, mm := range set {
		if !sane(mm) {
			set = maps.Clone(set)
			maps.DeleteFunc(set, func(_ instrument.SlideID, mm float64) bool { return !sane(mm) })
			return set
		}
	}
	return set
}
