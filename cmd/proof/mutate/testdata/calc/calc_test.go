package calc

import "testing"

func TestMove(t *testing.T) {
	for _, c := range []struct {
		x    Cents
		mm   float64
		way  string
		what string
	}{{12, 6, "pull it out", "sharp"}, {-12, -6, "push it in", "flat"}, {5, 0, "stay", "just in the band"}, {-5.1, -2.55, "push it in", "just out of it"}} {
		if mm, way := Move(c.x, 2); mm != c.mm || way != c.way {
			t.Errorf("%s: %g, %s", c.what, mm, way)
		}
	}
}

func TestSum(t *testing.T) {
	if sum, n := Sum(2, 1, 2, 3, 1, 4); sum != 9 || n != 3 {
		t.Error(sum, n)
	}
}

func TestSlope(t *testing.T) {
	if got := Slope(1, 4, 5, 3); got != 1.5 {
		t.Error(got)
	}
	if got := Slope(1, 4, 5, 5); got != 0 {
		t.Error(got)
	}
}

func TestTurns(t *testing.T) {
	if Turns(3) != 3 {
		t.Fail()
	}
}

func TestBroken(t *testing.T) { t.Error("fails by itself") }
