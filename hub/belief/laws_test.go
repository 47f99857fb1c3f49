package belief

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

// A figure that is none, or that no note has, says as much as one that was not sent; one at its bound
// counts; and a note without a pitch was played all the same.
func TestWhatIsNoFigure(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	plain := Reading{Cents: 3, Half: 1, Start: 2, StartHalf: 1, Drift: -1, DriftHalf: 1, Played: 90}
	for _, c := range []struct {
		name string
		set  func(*Reading, float64)
		want func(*Reading) // what is left of it
		most float64
	}{
		{"cents", func(r *Reading, x float64) { r.Cents = x }, func(r *Reading) { r.Refused = true }, mostCents},
		{"half", func(r *Reading, x float64) { r.Half = x }, func(r *Reading) { r.Refused = true }, mostCents},
		{"start", func(r *Reading, x float64) { r.Start = x }, func(r *Reading) { r.StartHalf = 0 }, mostCents},
		{"start's half", func(r *Reading, x float64) { r.StartHalf = x }, func(r *Reading) { r.StartHalf = 0 }, mostCents},
		{"drift", func(r *Reading, x float64) { r.Drift = x }, func(r *Reading) { r.DriftHalf = 0 }, mostCents},
		{"drift's half", func(r *Reading, x float64) { r.DriftHalf = x }, func(r *Reading) { r.DriftHalf = 0 }, mostCents},
		{"played", func(r *Reading, x float64) { r.Played = x }, func(r *Reading) { r.Played = 0 }, math.MaxInt32},
	} {
		for _, x := range []float64{nan, inf, -inf, c.most * 1.01, -c.most * 1.01} {
			r, want := plain, plain
			c.set(&r, x)
			got := r.sane(1)
			c.want(&want)
			if got.Refused != want.Refused || got.StartHalf != want.StartHalf && c.name != "start's half" || got.DriftHalf != want.DriftHalf || got.Played != want.Played {
				t.Errorf("%s of %g: %+v, want %+v", c.name, x, got, want)
			}
			if c.name == "start's half" && got.StartHalf != 0 {
				t.Errorf("%s of %g: %+v", c.name, x, got)
			}
		}
		r := plain
		c.set(&r, c.most)
		if got := r.sane(1); !reflect.DeepEqual(got, r) {
			t.Errorf("%s of %g: %+v, want it as it is", c.name, c.most, got)
		}
	}
	for _, half := range []float64{-1, -1e-9} {
		r := plain
		if r.Half = half; !r.sane(1).Refused {
			t.Errorf("half a width of %g is taken", half)
		}
	}
	for note, want := range map[int]int{-3: 0, 0: 0, 1: 1, 2: 2, 3: 2, 99: 2} {
		if got := (Reading{Note: note}).sane(3).Note; got != want {
			t.Errorf("note %d of three is note %d, want %d", note, got, want)
		}
	}
	for _, refused := range []Reading{{Refused: true}, {Cents: nan}} {
		s := New(Config{})
		s.Sit(1, Slide{MM: 12, Max: 35, PerMM: 2}, Profile{})
		refused.At = began
		s.Heard(1, refused)
		if st, _ := s.Standing(1); st.Notes != 1 || st.Heard {
			t.Errorf("a note without a pitch: %+v", st)
		}
	}
}

// Looking changes nothing: what is believed after a tune-up does not depend on whether anybody
// asked in between.
func TestLookingChangesNothing(t *testing.T) {
	for seed := range uint64(12) {
		run := func(look bool) (standings []Standing, profiles []Profile, best []float64) {
			r := rand.New(rand.NewPCG(seed, 17))
			one := func(xs ...float64) float64 { return xs[r.IntN(len(xs))] }
			s := New(Config{})
			for id := int64(1); id <= 3; id++ {
				s.Sit(id, Slide{MM: 12, Max: 35, PerMM: 2}, Profile{})
			}
			at := began
			peek := func() {
				if !look {
					return
				}
				s.Outside()
				s.Doubtful()
				for id := int64(1); id <= 3; id++ {
					s.Standing(id)
					s.Best(id)
					s.Profile(id)
				}
			}
			for range 14 {
				at = at.Add(time.Duration(one(6, 20)) * time.Second)
				id := int64(1 + r.IntN(3))
				peek()
				s.Heard(id, Reading{At: at, Cents: 9*r.NormFloat64() + 6, Half: 1, Played: one(0, 60, 300)})
				peek()
				switch r.IntN(5) {
				case 0:
					s.Moved(id, at, one(3, -4), true)
				case 1:
					s.Moved(id, at, one(3, -4), false)
				case 2:
					s.Refer(one(-4, 4))
				case 3:
					s.Sounded(id, at, one(100, 200))
				case 4:
					s.Set(id, at, one(10, 14))
				}
				peek()
			}
			for id := int64(1); id <= 3; id++ {
				st, _ := s.Standing(id)
				standings, profiles, best = append(standings, st), append(profiles, s.Profile(id)), append(best, s.Best(id))
			}
			return standings, profiles, best
		}
		a, ap, ab := run(false)
		b, bp, bb := run(true)
		if !reflect.DeepEqual(a, b) || !reflect.DeepEqual(ap, bp) || !reflect.DeepEqual(ab, bb) {
			t.Errorf("%d: %+v, looked at %+v", seed, a, b)
		}
	}
}

// Who was not heard, or has no slide, is sent nowhere; who is not there is not believed anything of.
func TestNobodyIsSentBlindly(t *testing.T) {
	s := New(Config{})
	s.Sit(1, Slide{MM: 12, Max: 35, PerMM: 2}, Profile{})
	s.Sit(2, Slide{}, Profile{})
	s.Sit(3, Slide{MM: 12, Max: 35, PerMM: 2}, Profile{})
	s.Heard(2, Reading{At: began, Cents: 20, Half: 0.5})
	s.Heard(2, Reading{At: began.Add(9 * time.Second), Cents: 20, Half: 0.5})
	s.Heard(3, Reading{At: began, Cents: 20, Half: 0.5})
	s.Heard(3, Reading{At: began.Add(9 * time.Second), Cents: 20, Half: 0.5})
	for id, sent := range map[int64]bool{1: false, 2: false, 3: true, 9: false} {
		if mm := s.Best(id); (mm != 0) != sent || mm != math.Round(mm) {
			t.Errorf("chair %d is sent %g mm", id, mm)
		}
		st, sits := s.Standing(id)
		if sits != (id != 9) || st.Heard != (id == 2 || id == 3) {
			t.Errorf("chair %d: %+v %v", id, st, sits)
		}
		if (s.Profile(id) == Profile{}) != (id == 9) {
			t.Errorf("chair %d: profile %+v", id, s.Profile(id))
		}
		if s.Wants(9, began) {
			t.Error("a chair that is not there wants to be heard")
		}
	}
	for _, slide := range []Slide{{}, {PerMM: -2}} {
		if mm := slide.travel(20); mm != 0 {
			t.Errorf("%+v goes %g mm", slide, mm)
		}
	}
	sl := Slide{PerMM: 2.2}
	for x := -60.0; x <= 60; x += 7 {
		if got := sl.change(sl.travel(x)); math.Abs(got-x) > 1e-9 {
			t.Errorf("by %g cents and back by %g", x, got)
		}
	}
}

// A move goes no further than the slide, to either end exactly.
func TestTheSlideEnds(t *testing.T) {
	for _, c := range []struct{ cents, least, most float64 }{{13, 5, 5}, {-11, -4, -4}, {3, 0, 5}, {-3, -4, 0}} {
		s := New(Config{})
		s.Sit(1, Slide{MM: 12, Min: 8, Max: 17, PerMM: 2}, Profile{})
		for k := range 3 {
			s.Heard(1, Reading{At: began.Add(time.Duration(9*k) * time.Second), Cents: c.cents, Half: 0.5})
		}
		if mm := s.Best(1); mm < c.least || mm > c.most {
			t.Errorf("%g cents: %g mm, need %g to %g", c.cents, mm, c.least, c.most)
		}
	}
	s := New(Config{})
	s.Sit(1, Slide{MM: 12, Min: 12, Max: 12, PerMM: 2}, Profile{})
	s.Heard(1, Reading{At: began, Cents: 40, Half: 0.5})
	s.Heard(1, Reading{At: began.Add(9 * time.Second), Cents: 40, Half: 0.5})
	if mm := s.Best(1); mm != 0 {
		t.Errorf("a slide that is stuck is sent %g mm", mm)
	}
}

// What is known for certain is in the band or out of it; and the chance of being out falls as the band
// grows and is the same on either side.
func TestOutOfTheBand(t *testing.T) {
	for _, c := range []struct{ m, sd, band, want float64 }{{3, 0, 5, 0}, {5, 0, 5, 0}, {5.01, 0, 5, 1}, {-5.01, 0, 5, 1}, {-3, -1, 5, 0}, {0, 0.1, 5, 0}, {9, 0.1, 5, 1}} {
		if got := beyond(c.m, c.sd, c.band); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%g ± %g beyond %g: %g, want %g", c.m, c.sd, c.band, got, c.want)
		}
	}
	for m := -12.0; m <= 12; m++ {
		last := 1.0
		for band := 0.5; band < 15; band += 0.5 {
			p := beyond(m, 2, band)
			if p > last || p < 0 || math.Abs(p-beyond(-m, 2, band)) > 1e-12 {
				t.Errorf("%g beyond %g: %g after %g, mirrored %g", m, band, p, last, beyond(-m, 2, band))
			}
			last = p
		}
	}
}

// Whoever was never heard comes first, for that reason, whatever was done with the slide; whoever moved a
// slide far is asked for that.
func TestReasonsForAsking(t *testing.T) {
	s := New(Config{})
	for id := int64(1); id <= 3; id++ {
		s.Sit(id, Slide{MM: 12, Max: 35, PerMM: 2}, Profile{})
	}
	s.Moved(1, began, 9, true)
	for k := range 2 {
		s.Heard(2, Reading{At: began.Add(time.Duration(9*k) * time.Second), Cents: 18, Half: 0.5})
	}
	s.Moved(2, began.Add(12*time.Second), 9, true)
	why := map[int64]Why{}
	for _, x := range s.Queue(began.Add(time.Minute), 3) {
		if _, twice := why[x.Chair]; !twice {
			why[x.Chair] = x.Why
		}
	}
	if why[1] != First || why[3] != First || why[2] != HasMoved {
		t.Errorf("asked for %v", why)
	}
}

// Weights that are none leave those of a new player, and others are taken in proportion.
func TestWeightsOfHands(t *testing.T) {
	var fresh Profile
	fresh.weighHand([len(Hands)]float64{})
	for _, x := range []float64{math.NaN(), math.Inf(1), -1} {
		var p Profile
		w := newHand
		w[0] = x
		p.weighHand(w)
		if p != fresh {
			t.Errorf("a weight of %g: %+v", x, p)
		}
	}
	var p Profile
	w := [len(Hands)]float64{}
	w[len(w)-1] = 7
	if p.weighHand(w); p.Hand[len(w)-1] != 1 || p.HandMM != Hands[len(w)-1] {
		t.Errorf("%+v", p)
	}
}
