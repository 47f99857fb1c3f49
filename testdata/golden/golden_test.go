package golden

import "testing"

func TestAlike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"out 1.234567 mm", "out 1.234568 mm", true}, {"out 1.2345 mm", "out 1.2346 mm", false}, {"out 1", "in 1", false},
		{"1 2", "1", false}, {"NaN x", "NaN x", true}, {"NaN", "1", false}, {"+Inf", "1", false}, {"1", "+Inf", false}, {"-Inf", "+Inf", false}, {"[+Inf", "[+Inf", true}, {"123456789.0", "123456790.0", true},
	} {
		if alike(c.a, c.b) != c.want {
			t.Errorf("%q and %q: alike %v", c.a, c.b, !c.want)
		}
	}
}
