package listen

import (
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// heardSoftly plays a loud note and then soft ones, and returns after how many of
// them the player was heard; row tells that the loud one came while all played.
func heardSoftly(t *testing.T, row bool, soft, call pitch.Hertz) int {
	l := listener(t)
	note := func(f0 pitch.Hertz, level pitch.Level) (heard bool) {
		l.Call(call)
		for _, e := range l.Write(join(hiss(1, -75, 1), played(t, tone.Config{F0: f0, Level: level, Duration: 2, Voice: tone.Horn, Seed: 5}), hiss(1, -75, 2))) {
			heard = heard || e.Reading != nil
		}
		return heard
	}
	l.Row(row)
	if !note(call, -15) {
		t.Fatal("the loud note is not heard")
	}
	l.Row(false)
	for n := 1; n <= 6; n++ {
		if note(soft, -45) {
			return n
		}
	}
	return 0
}

// TestASoftPlayerIsHeard: what is loud while a row plays teaches nothing about the
// seat; where its level is too high all the same, the called note is heard in the
// end, and another one never.
func TestASoftPlayerIsHeard(t *testing.T) {
	for _, c := range []struct {
		what string
		row  bool
		soft pitch.Hertz
		want int
	}{{"after a row", true, 233, 1}, {"after a louder note", false, 233, 2}, {"a neighbour's other note", false, 294, 0}} {
		if got := heardSoftly(t, c.row, c.soft, 233); got != c.want {
			t.Errorf("%s: heard at note %d, want %d", c.what, got, c.want)
		}
	}
}
