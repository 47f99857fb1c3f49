package attribute

import (
	"math"
	"testing"
)

// Of one fact that is 0 or 1 the likeliest weights are the log odds of those without it, and the log of the
// odds ratio (Hastie and others, The Elements of Statistical Learning, 2nd ed., section 4.4.2, of which this
// is the saturated case).
func TestLogisticOfOneFact(t *testing.T) {
	of := []example{
		{[]float64{0, 7}, true, 3}, {[]float64{0, 7}, false, 9},
		{[]float64{1, 7}, true, 10}, {[]float64{1, 7}, false, 2},
	}
	w, err := logistic(of, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	without, ratio := math.Log(3.0/9), math.Log(10.0/2*9/3)
	if got := oddsOf(w, []float64{0, 7}); math.Abs(got-without) > 1e-3 {
		t.Errorf("log odds without the fact %.4f, want %.4f", got, without)
	}
	if math.Abs(w[1]-ratio) > 1e-3 {
		t.Errorf("the fact weighs %.4f, want %.4f", w[1], ratio)
	}
	// A ridge draws it towards nothing, and the constant fact weighs nothing at all.
	narrow, err := logistic(of, 5)
	if err != nil {
		t.Fatal(err)
	}
	if !(narrow[1] > 0 && narrow[1] < 0.95*ratio) || narrow[2] != 0 {
		t.Errorf("with a ridge %v, without %v", narrow, w)
	}
}
