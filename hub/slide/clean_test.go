package slide

import (
	"math"
	"reflect"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A figure that is none, or that nothing in the world has, says as much as one that was not
// sent; one at its bound counts.
func TestWhatIsNoFigureSaysNothing(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	in, n := catalogue(t, "trumpet_bb"), noteOf(t, "Bb4")
	for _, c := range []struct {
		name           string
		set            func(*Input, float64)
		get            func(Input) float64
		lo, hi, silent float64
	}{
		{"interval", func(q *Input, x float64) { q.Reading.CI95 = pitch.Cents(x) }, func(q Input) float64 { return float64(q.Reading.CI95) }, 0, 1200, 1200},
		{"spread", func(q *Input, x float64) { q.Reading.Spread = pitch.Cents(x) }, func(q Input) float64 { return float64(q.Reading.Spread) }, 0, 1200, 0},
		{"vibrato", func(q *Input, x float64) { q.Reading.Vibrato = pitch.Cents(x) }, func(q Input) float64 { return float64(q.Reading.Vibrato) }, 0, 1200, 0},
		{"early", func(q *Input, x float64) { q.Reading.Early = pitch.Cents(x) }, func(q Input) float64 { return float64(q.Reading.Early) }, -1200, 1200, 0},
		{"drift", func(q *Input, x float64) { q.Reading.Drift = x }, func(q Input) float64 { return q.Reading.Drift }, -math.MaxFloat32, math.MaxFloat32, 0},
		{"level", func(q *Input, x float64) { q.Reading.Level = pitch.Level(x) }, func(q Input) float64 { return float64(q.Reading.Level) }, -1000, 1000, 0},
		{"usual level", func(q *Input, x float64) { q.Baseline = pitch.Level(x) }, func(q Input) float64 { return float64(q.Baseline) }, -1000, 1000, 0},
		{"played", func(q *Input, x float64) { q.Played = x }, func(q Input) float64 { return q.Played }, 0, math.MaxFloat32, 0},
		{"band", func(q *Input, x float64) { q.Good = pitch.Cents(x) }, func(q Input) float64 { return float64(q.Good) }, 0, 1200, 0},
		{"common change", func(q *Input, x float64) { q.CommonChange = pitch.Cents(x) }, func(q Input) float64 { return float64(q.CommonChange) }, -1200, 1200, 0},
		{"place", func(q *Input, x float64) { q.Settings = instrument.Settings{instrument.Main: x} }, func(q Input) float64 { return q.Settings[instrument.Main] }, 0, 2000, 0},
		{"travel", func(q *Input, x float64) { q.Travel = instrument.Settings{instrument.Main: x} }, func(q Input) float64 { return q.Travel[instrument.Main] }, 0, 2000, 0},
		{"belief", func(q *Input, x float64) { q.Prior = Belief{pitch.Cents(x), 2} }, func(q Input) float64 { return float64(q.Prior.Offset) }, -1200, 1200, 0},
	} {
		plain := Input{Instrument: in, Note: n, Reading: heard(n, 9, 1.5)}
		if c.silent != 0 {
			c.set(&plain, c.silent)
		}
		for _, x := range []float64{nan, inf, -inf, c.lo - 1, c.hi * 1.01} {
			q := Input{Instrument: in, Note: n, Reading: heard(n, 9, 1.5)}
			c.set(&q, x)
			if x == c.lo-1 && c.lo < -1e30 {
				continue // the same figure, so large it is
			}
			if got := c.get(q.clean()); got != c.silent {
				t.Errorf("%s of %g is taken as %g, want %g", c.name, x, got, c.silent)
			}
			if got, want := Advise(q), Advise(plain); told(got) != told(want) {
				t.Errorf("%s of %g: %s, without %s", c.name, x, told(got), told(want))
			}
		}
		for _, x := range []float64{c.lo, c.lo + 0.5, (2*c.lo + c.hi) / 3, c.hi} {
			q := plain
			c.set(&q, x)
			if got := c.get(q.clean()); got != x {
				t.Errorf("%s of %g is taken as %g", c.name, x, got)
			}
		}
	}
	for _, sd := range []float64{nan, inf, -1, 0, 1201} {
		q := Input{Instrument: in, Note: n, Prior: Belief{5, sd}, Others: []Known{{Note: n, Belief: Belief{3, sd}}}}
		if got := q.clean(); got.Prior != (Belief{}) || len(got.Others) != 0 || len(q.Others) != 1 {
			t.Errorf("a belief known to %g cents is taken: %+v %v", sd, got.Prior, got.Others)
		}
	}
	for _, l := range []Learned{{nan, 0.1, 2}, {inf, 0.1, 2}, {1, nan, 2}, {1, -inf, 2}} {
		if got := (Input{Learned: l}).clean(); got.Learned != (Learned{}) {
			t.Errorf("%+v is taken: %+v", l, got.Learned)
		}
	}
	if l := (Learned{1.1, 0.1, 2}); (Input{Learned: l}).clean().Learned != l {
		t.Errorf("%+v is not taken", l)
	}
}

// What makes no sense goes out of a copy, and what makes sense stays: the maps and lists of who
// asks are theirs.
func TestCleaningLeavesTheCallersOwn(t *testing.T) {
	n := noteOf(t, "Bb4")
	set := instrument.Settings{instrument.Main: 12, instrument.Third: -4, instrument.First: math.NaN()}
	q := Input{Instrument: catalogue(t, "trumpet_bb"), Note: n, Reading: heard(n, 9, 1.5), Settings: set, Travel: instrument.Settings{instrument.Main: 4000}}
	if got := q.clean(); !reflect.DeepEqual(got.Settings, instrument.Settings{instrument.Main: 12}) || len(got.Travel) != 0 {
		t.Errorf("cleaned: %v %v", got.Settings, got.Travel)
	}
	if len(set) != 3 || len(q.Travel) != 1 {
		t.Errorf("the caller's own have changed: %v %v", set, q.Travel)
	}
}
