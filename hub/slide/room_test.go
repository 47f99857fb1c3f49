package slide

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// section runs a round of readings of chairs with own offsets, a common one
// and a reading doubt, from a minute on, four seconds each.
func round(r *Room, random *rand.Rand, from float64, own []float64, common func(t float64) float64) float64 {
	for i, o := range own {
		t := from + float64(i)*4/60
		x := o + common(t) + random.NormFloat64()
		r.Observe(t, i, pitch.Cents(x), 2)
	}
	return from + float64(len(own))*4/60
}

func TestRoomSeparatesOneChairFromTheSection(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	own := []float64{1, -2, 0, 25, 2, -1, 0, 1, -3, 2, 0, -1}
	r := NewRoom(len(own))
	r.Advance(0)
	common := func(float64) float64 { return -8 }
	at := round(r, random, 0, own, common)
	round(r, random, at, own, common)
	if got := r.Common(); math.Abs(float64(got.Cents)+8) > 5 || !got.Sure() {
		t.Errorf("common %+v, want -8 and sure", got)
	}
	if got := r.Own(3); math.Abs(float64(got.Cents)-25) > 6 || !got.Sure() {
		t.Errorf("chair 4 stands %+v from the section, want 25 and sure", got)
	}
	if got := r.SayOwn(3, "Horn 4"); !strings.HasPrefix(got, "Horn 4 stands 2") || !strings.HasSuffix(got, "cents above the section.") {
		t.Errorf("says %q of chair 4", got)
	}
	if got := r.SayOwn(2, "Horn 3"); got != "" {
		t.Errorf("says %q of chair 3, want nothing", got)
	}
	if got := r.Own(2); got.Sure() {
		t.Errorf("chair 3 stands %+v from the section, want nothing sure", got)
	}
}

func TestRoomComesUp(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	own := []float64{1, -2, 0, 5, 2, -1, 0, 1, -3, 2, 0, -1}
	r := NewRoom(len(own))
	common := func(t float64) float64 { return t * 1.0 } // a cent a minute
	at := round(r, random, 0, own, common)
	r.Mark()
	marked := at
	for range 6 {
		at = round(r, random, at, own, common)
	}
	want := at - marked
	if got := r.Since(); math.Abs(float64(got.Cents)-want) > 1.5 || !got.Sure() {
		t.Errorf("came up %+v since the first call, want %.1f", got, want)
	}
	if s := r.Say(); !strings.Contains(s, "come up 5 cents since the first call") && !strings.Contains(s, "come up 4 cents since the first call") {
		t.Errorf("says %q after %.1f cents", s, want)
	}
}

// A move that the hub knows of is not the room.
func TestRoomIsNotMovedBySlides(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	own := []float64{10, 12, 8, 11}
	r := NewRoom(len(own))
	zero := func(float64) float64 { return 0 }
	at := round(r, random, 0, own, zero)
	r.Mark()
	for i := range own {
		r.Moved(i, pitch.Cents(-own[i]), 2)
		own[i] = 0
	}
	round(r, random, at, own, zero)
	if got := r.Since(); math.Abs(float64(got.Cents)) > 2 {
		t.Errorf("came up %+v though only slides moved", got)
	}
}

// Chairs that do not exist, readings out of order and a room of nobody do no
// harm.
func TestRoomTakesAnything(t *testing.T) {
	r := NewRoom(2)
	r.Observe(5, 7, 10, 2)
	r.Observe(5, -1, 10, 2)
	r.Observe(5, 0, 10, 2)
	r.Observe(3, 1, 10, 2)
	r.Moved(9, 5, 1)
	for _, e := range []Estimate{r.Common(), r.Drift(), r.Own(0), r.Own(1), r.Own(9), r.Since()} {
		if math.IsNaN(float64(e.Cents)) || math.IsNaN(float64(e.CI95)) {
			t.Errorf("%+v", e)
		}
	}
	if s := NewRoom(0).Say(); s != "" {
		t.Errorf("an empty room says %q", s)
	}
}

// One hundred and twenty chairs in one round, with everything asked of the
// filter afterwards.
func BenchmarkRoom120(b *testing.B) {
	random := rand.New(rand.NewPCG(7, 8))
	own := make([]float64, 120)
	for i := range own {
		own[i] = 6 * random.NormFloat64()
	}
	b.ReportAllocs()
	for b.Loop() {
		r := NewRoom(len(own))
		round(r, random, 0, own, func(float64) float64 { return 3 })
		for i := range own {
			_ = r.Own(i)
		}
		_ = r.Say()
	}
}
