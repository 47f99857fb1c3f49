package attribute

import (
	"math"
	"slices"

	"bellrow/hub/attribute"
	"bellrow/proto/pitch"
)

// wrongCents is from where on a reading is not the chair's own: far outside
// any interval given, and where a neighbour's would lie.
const wrongCents = 2.0

// errorsOf collects absolute errors of one method.
type errorsOf struct {
	cents []float64
	none  int // no answer
}

func (e *errorsOf) add(truth, got pitch.Hertz, ok bool) {
	if !ok {
		e.none++
		return
	}
	e.cents = append(e.cents, math.Abs(float64(pitch.Between(truth, got))))
}

// quantile of the errors; NaN-free: 0 without any.
func (e *errorsOf) quantile(p float64) float64 {
	if len(e.cents) == 0 {
		return 0
	}
	slices.Sort(e.cents)
	return e.cents[min(len(e.cents)-1, int(p*float64(len(e.cents))))]
}

// tally sums up scenes of one kind.
type tally struct {
	joint, two, one, aubio errorsOf

	playing, silent int // chair-readings asked for
	read            int // readings given to playing chairs
	wrong, ghost    int // wrong ones; readings given to silent chairs
	inside          int // readings whose interval holds the truth
	asked           int // playing chairs to be heard in turn
	verdicts        map[attribute.Verdict]int
	bytes, seconds  float64
	windows         int
}

func (t *tally) merge(o *tally) {
	t.joint.cents = append(t.joint.cents, o.joint.cents...)
	t.two.cents = append(t.two.cents, o.two.cents...)
	t.one.cents = append(t.one.cents, o.one.cents...)
	t.aubio.cents = append(t.aubio.cents, o.aubio.cents...)
	t.playing += o.playing
	t.silent += o.silent
	t.read += o.read
	t.wrong += o.wrong
	t.ghost += o.ghost
	t.inside += o.inside
	t.asked += o.asked
	t.bytes = max(t.bytes, o.bytes)
	t.seconds += o.seconds
	t.windows += o.windows
}

// add judges one result against the truth.
func (t *tally) add(take *Take, r attribute.Result) {
	t.windows++
	for c, got := range r.Chairs {
		truth := take.Truth[c]
		t.bytes = max(t.bytes, take.Bytes[c])
		given := got.Verdict == attribute.Sounding
		if t.verdicts != nil {
			t.verdicts[got.Verdict]++
		}
		if !truth.Playing {
			t.silent++
			if given {
				t.ghost++
			}
			continue
		}
		t.playing++
		if !given {
			t.asked++
			continue
		}
		t.read++
		t.joint.add(truth.Hz, got.Hz, true)
		e := math.Abs(float64(pitch.Between(truth.Hz, got.Hz)))
		if e > wrongCents {
			t.wrong++
		}
		if e <= float64(got.CI95) {
			t.inside++
		}
	}
}
