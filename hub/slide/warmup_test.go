package slide

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The recursive regression against least squares in one step: a place for each
// reading that wanders from the one before, and the prior on cold as one more
// equation.
func TestWarmupIsARegression(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	played := []float64{10, 45, 70, 160, 240}
	n := len(played)
	a, b := mat.NewDense(2*n, n+1, nil), mat.NewVecDense(2*n, nil)
	a.Set(0, n, 1.0/coldSD)
	b.SetVec(0, float64(coldMean)/coldSD)
	var w Warmup
	for i, p := range played {
		offset, sd := 3-17*left(p)+r.NormFloat64(), math.Hypot(1.5, w.paceDoubt(p))
		w = w.read(p, offset, 1.5)
		a.Set(2*i+1, i, 1/sd)
		a.Set(2*i+1, n, -left(p)/sd)
		b.SetVec(2*i+1, offset/sd)
		if i > 0 {
			a.Set(2*i, i, 1/wander)
			a.Set(2*i, i-1, -1/wander)
		}
	}
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		t.Fatal(err)
	}
	if d := math.Hypot(w.place-x.AtVec(n-1), w.cold-x.AtVec(n)); d > 1e-6 {
		t.Errorf("place %.6f and cold %.6f, in one step %.6f and %.6f", w.place, w.cold, x.AtVec(n-1), x.AtVec(n))
	}
}

// Over many instruments the place of the warm one is foretold without bias,
// and as well as is said.
func TestWarmupForetells(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var sum, square, within float64
	const n = 2000
	for range n {
		place, cold := 10*r.NormFloat64(), coldMean+coldSD*r.NormFloat64()
		pace := math.Exp(paceSD * r.NormFloat64())
		var w Warmup
		for _, played := range []float64{40, 200, 203} {
			w = w.read(played, place-cold*left(played/pace)+repeatCents*r.NormFloat64(), repeatCents)
		}
		b := w.belief()
		d := float64(b.Offset) - place
		sum += d
		square += d * d
		if math.Abs(d) <= 1.96*b.SD {
			within++
		}
	}
	if mean := sum / n; math.Abs(mean) > 0.3 {
		t.Errorf("the place is foretold %.2f cents out on average", mean)
	}
	if rms := math.Sqrt(square / n); rms > coldDoubt {
		t.Errorf("the place is foretold within %.2f cents RMS, want %.1f", rms, coldDoubt)
	}
	if share := within / n; share < 0.92 || share > 0.99 {
		t.Errorf("the 95 %% interval holds the place in %.1f %%", 100*share)
	}
}

func TestWarmupKnowsWhenItIsCold(t *testing.T) {
	var w Warmup
	if !w.unsure(ColdSeconds-10) || w.unsure(ColdSeconds) {
		t.Errorf("nothing known: cold until %d seconds is not so", ColdSeconds)
	}
	for _, p := range []float64{10, 60, 75} {
		w = w.read(p, -20*left(p), 1.5)
	}
	if w.unsure(100) {
		t.Error("three readings of the rise tell no more than one")
	}
	if b := w.moved(-9, 1).belief(); math.Abs(float64(b.Offset-(w.belief().Offset-9))) > 1e-9 || b.SD <= w.belief().SD {
		t.Errorf("a move makes %+v of %+v", b, w.belief())
	}
	if (Warmup{}).belief() != (Belief{}) {
		t.Error("something is believed of nothing")
	}
}

// A flat reading of an instrument that is warm enough to tell gets the move
// that will be right when it is warm, and says so.
func TestAdviseAllowsForWarmingUp(t *testing.T) {
	warm := Advise(ask(t, "trumpet_bb", "Bb4", -20, func(in *Input) { in.Played = WarmSeconds }))
	rising := Advise(ask(t, "trumpet_bb", "Bb4", -20, func(in *Input) { in.Played = ColdSeconds }))
	if rising.Kind != Move || math.Abs(rising.Steps[0].MM()) >= math.Abs(warm.Steps[0].MM()) {
		t.Errorf("%+v: want a smaller move than %+v", rising, warm)
	}
	if !strings.Contains(Say(rising).Detail, "as it warms") || strings.Contains(Say(warm).Detail, "as it warms") {
		t.Errorf("%q and %q: want the rise named where it is to come", Say(rising).Detail, Say(warm).Detail)
	}
	soon := Advise(ask(t, "trumpet_bb", "Bb4", -4, func(in *Input) { in.Played = ColdSeconds }))
	if soon.Kind != Stay || soon.Code != "warming" {
		t.Errorf("4 cents flat with 4 to come: %+v", soon)
	}
}
