package listen

import (
	"math"
	"testing"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// TestWhereTheBeginningIs: it is the middle pitch from the twelfth hop up to the thirtieth, against that of the rest; the
// hops at its two ends count, and the next ones do not.
func TestWhereTheBeginningIs(t *testing.T) {
	early := func(change func(track []float64)) float64 {
		l := listener(t)
		l.note = aNote()
		for i := range 200 {
			cents := 0.0
			if i >= earlyFrom+1 && i <= earlyFrom+8 || i == earlyFrom { // nine of eighteen
				cents = 20
			}
			l.note.put(cents, -20)
		}
		change(l.note.track)
		l.sample = l.note.onset + int64(200*l.hop)
		l.floor = -90
		l.asked = answer{onset: l.note.onset, until: l.sample, first: l.note.onset, found: true,
			estimate: estimate.Estimate{Hz: 200, CI95: 1, Rested: true, From: 60 * hopSeconds, To: 190 * hopSeconds}}
		r := l.reading()
		if !r.Settled {
			t.Fatalf("%+v", r)
		}
		return float64(r.Early)
	}
	if got := early(func([]float64) {}); math.Abs(got-20) > 1e-9 { // of an even number the upper middle
		t.Errorf("begins %g cents sharp", got)
	}
	for hop, want := range map[int]float64{11: 20, 12: 0, 20: 0, 30: 20} {
		if got := early(func(track []float64) { track[hop] = 0 }); math.Abs(got-want) > 1e-9 {
			t.Errorf("hop %d at the rest: %g cents, want %g", hop, got, want)
		}
	}
	for hop, want := range map[int]float64{11: 0, 21: 20, 29: 20, 30: 0} { // from one fewer, one more tells
		got := early(func(track []float64) { track[12], track[hop] = 0, 20 })
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("hop %d as sharp instead: %g cents, want %g", hop, got, want)
		}
	}
}

// TestAWholeStretchOfNothing: is noise, as long as it is, without a pitch, and of a room of which nothing is known.
func TestAWholeStretchOfNothing(t *testing.T) {
	for _, n := range []int{0, 10, testRate} {
		r := Whole(make([]float64, n), Config{Rate: testRate})
		if r.Settled || r.Hz != 0 || r.Reason != ReasonNoise || r.End != int64(n) || r.Floor != pitch.Silence || r.Peak != r.Level {
			t.Errorf("%d samples: %+v", n, r)
		}
	}
}
