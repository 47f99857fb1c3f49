package instrument

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// The air alone: 20.05 √T (c² proportional to the absolute temperature) is
// 1200 log2 √(T/293.15), arithmetic; published 0.18 % per °C, about 3 cents
// (D. Sipe, Temperature and Intonation). Half saturated air adds up to an eighth
// of that: the vapour that warm air holds is light.
func TestEvening(t *testing.T) {
	for _, c := range []float64{0, 10, 17.5, 20, 23, 30, 40} {
		e, err := EveningAt(c)
		if err != nil {
			t.Fatal(err)
		}
		root := 600 * math.Log2((c+273.15)/293.15)
		near(t, "air", float64(e.Air), root, 0.1+0.12*math.Abs(root))
		if math.Abs(c-20) <= 3 {
			near(t, "air by the degree", float64(e.Air), 3*(c-20), 0.15*math.Abs(c-20))
		}
		near(t, "instruments", float64(e.Expected), 2*(c-20), 1e-9)
		if e.Low > e.Expected || e.Expected > e.High || (e.Air > 0.5) != (c > 20) {
			t.Errorf("at %g °C: %+v", c, e)
		}
		if e.Beyond != (c > 30) {
			t.Errorf("at %g °C beyond is %v", c, e.Beyond)
		}
	}
	e, _ := EveningAt(25)
	// 10 cents above 440 Hz are 440·2^(1/120) = 442.55 Hz (arithmetic).
	a, low, high := e.A4(pitch.Reference{})
	near(t, "A", float64(a), 442.55, 0.01)
	if low >= a || high <= a {
		t.Errorf("A %v to %v about %v", low, high, a)
	}
}

func TestRoomsThatAreRefused(t *testing.T) {
	for _, c := range []float64{-0.1, 40.1, math.NaN(), math.Inf(1), math.Inf(-1)} {
		if _, err := EveningAt(c); err == nil {
			t.Errorf("%g °C is taken", c)
		}
	}
}

func TestParseRoom(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"21", 21}, {"21 C", 21}, {"21.5°C", 21.5}, {"70F", 21.1111}, {"32 °F", 0}, {"104f", 40}, {"19,5", 19.5}, {"-3", -3}, {"68", 20}, {"40", 40}, {"41C", 41},
	} {
		got, err := ParseRoom(c.text)
		if err != nil || math.Abs(got-c.want) > 1e-3 {
			t.Errorf("%q is %g, %v; want %g", c.text, got, err, c.want)
		}
	}
	for _, s := range []string{"", "warm", "C", "70K", "NaN", "Inf", "70CF"} {
		if x, err := ParseRoom(s); err == nil {
			t.Errorf("%q is %g", s, x)
		}
	}
}
