package history

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"bellrow/proto/pitch"
)

// usual is what makes a player of these tests: figures for each note of each rehearsal.
type usual struct {
	cents func(day int, hours, loud float64) float64 // of a note
	early float64
	drift float64
	cold  float64 // cents below, of the first note of a rehearsal
	moved float64 // share of a move's change that comes

}

// player plays ten notes in each of ten rehearsals, over two hours: a cold one first, then of
// two levels, the later ones while the section plays.
func (u usual) player(label string, seed uint64) Player {
	r := rand.New(rand.NewPCG(seed, 3))
	p := Player{Label: label}
	for day := range 10 {
		begin := first.AddDate(0, 0, day)
		for k := range 10 {
			hours := float64(k) / 5
			loud := float64(k%2)*2 - 1 // 10 dB up or down
			x := 0.3 * r.NormFloat64()
			if u.cents != nil {
				x += u.cents(day, hours, loud)
			}
			played := 600.0
			if k == 0 {
				played, x = 20, x-u.cold
			}
			p.Readings = append(p.Readings, Reading{At: begin.Add(time.Duration(hours * float64(time.Hour))), Note: 58, Offset: pitch.Cents(x), Level: pitch.Level(-20 + 10*loud),
				Early: pitch.Cents(u.early + 0.5*r.NormFloat64()), Drift: u.drift + 0.05*r.NormFloat64(), Lead: 1, Played: played, MainMM: 12, UsualMM: 12, CentsPerMM: -2, Watch: k > 2})
		}
		if u.moved != 0 {
			p.Moves = append(p.Moves, Move{At: begin, Expected: -12, Measured: pitch.Cents(-12*u.moved + 0.5*r.NormFloat64())})
		}
	}
	return p
}

// found are the habits of the first player in a section of six, the others as usual.
func found(u usual) map[Habit]Finding {
	players := []Player{u.player("Chair 1", 1)}
	for i := range 5 {
		players = append(players, usual{}.player("Chair", uint64(i)+2))
	}
	out := map[Habit]Finding{}
	for _, f := range Findings(players[0], SectionOf(players)) {
		out[f.Habit] = f
	}
	return out
}

// TestEachHabitHasItsSign: each habit is found in who has it and by the size that they
// have, and not in who does the opposite, which is no habit or another one.
func TestEachHabitHasItsSign(t *testing.T) {
	by := func(f func(day int, hours, loud float64) float64) usual { return usual{cents: f} }
	for _, c := range []struct {
		name     string
		has      usual
		habit    Habit
		size     float64
		opposite usual
	}{
		{"begins sharp", usual{early: 12}, Pinching, 12, usual{early: -12}},
		{"begins sharp by a steady drift alone: none", usual{early: 12, drift: -2}, Pinching, 10, usual{early: 5, drift: -4}},
		{"sinks", usual{drift: -4, early: 4}, Sagging, 4, usual{drift: 4, early: -4}},
		{"holds", usual{moved: 0.3}, Holding, 0.7, usual{moved: 1.2}},
		{"cold", usual{cold: 12}, Cold, 12, usual{cold: -12}},
		{"goes up", by(func(_ int, h, _ float64) float64 { return 10 * h }), Drifting, 10, usual{}},
		{"goes down", by(func(_ int, h, _ float64) float64 { return -10 * h }), Drifting, -10, usual{}},
		{"sharp when loud", by(func(_ int, _, loud float64) float64 { return 4 * loud }), Loudness, 4, by(func(_ int, _, loud float64) float64 { return -4 * loud })},
		{"wanders", by(func(day int, _, _ float64) float64 { return 14 * float64(day%3-1) }), Wandering, 13.9, usual{}},
	} {
		f, ok := found(c.has)[c.habit]
		if !ok || math.Abs(f.Evidence.Mean-c.size) > 0.15*math.Abs(c.size)+0.05 {
			t.Errorf("%s: %+v, want %s by %g", c.name, found(c.has), c.habit, c.size)
		}
		if f, ok := found(c.opposite)[c.habit]; ok {
			t.Errorf("%s: the opposite is called so: %+v", c.name, f)
		}
		if c.habit == Drifting {
			way := map[bool]string{true: "goes up", false: "goes down"}[c.size > 0]
			if !strings.Contains(f.Words, way) {
				t.Errorf("%s: %q", c.name, f.Words)
			}
		}
	}
	if f := found(usual{}); len(f) != 0 {
		t.Errorf("nobody's habit: %+v", f)
	}
}

// TestWhatAllDoIsNobodys: a section that drifts, or is flat on some days, as one has
// no drifting and no wandering players in it.
func TestWhatAllDoIsNobodys(t *testing.T) {
	room := usual{cents: func(day int, hours, _ float64) float64 { return 9*hours + 12*float64(day%2) }}
	var players []Player
	for i := range 6 {
		players = append(players, room.player("Chair", uint64(i)+1))
	}
	for _, f := range Findings(players[0], SectionOf(players)) {
		t.Errorf("the room's is called the player's: %+v", f)
	}
}

// TestHabitsMendAndMovesShow: what was long ago counts no more, small moves tell nothing.
func TestHabitsMendAndMovesShow(t *testing.T) {
	p := usual{early: 12}.player("Chair 1", 1)
	for i := range p.Readings {
		p.Readings[i].At = p.Readings[i].At.AddDate(-1, 0, 0)
	}
	late := usual{}.player("Chair 1", 2)
	later := usual{}.player("Chair 1", 3)
	for i := range later.Readings {
		later.Readings[i].At = later.Readings[i].At.AddDate(0, 0, 10)
	}
	p.Readings = append(append(p.Readings, late.Readings...), later.Readings...)
	for _, f := range Findings(p, SectionOf([]Player{p})) {
		t.Errorf("a year ago: %+v", f)
	}
	small := usual{moved: 0.2}.player("Chair 1", 1)
	for i := range small.Moves {
		small.Moves[i].Expected /= 3
		small.Moves[i].Measured /= 3
	}
	if f := Findings(small, SectionOf([]Player{small})); len(f) != 0 {
		t.Errorf("moves of 4 cents: %+v", f)
	}
}

// TestWatchSaysTheWay: who ends sharper is told so and pulls, who ends flatter pushes, and a
// pitch that rose with the loudness is answered with a rest.
func TestWatchSaysTheWay(t *testing.T) {
	players, today := rehearse([]float64{0, 0, 0, 0, 14, -14, 14}, []float64{0, 0, 0, 0, 0, 0, 5})
	w := WatchOf(players, today, today.Add(90*time.Minute))
	for i, c := range []struct {
		sign     float64
		says, no string
	}{4: {1, "sharper than you began", "flatter"}, 5: {-1, "flatter than you began", "sharper"}, 6: {0, "Rest your lips", "slide in"}} {
		got := w.Chairs[i]
		if c.says == "" {
			if got.Words != "" || got.MoveMM != 0 {
				t.Errorf("chair %d stayed and is told %q", i, got.Words)
			}
			continue
		}
		if !strings.Contains(got.Words, c.says) || strings.Contains(got.Words, c.no) || got.MoveMM*c.sign < 0 || (got.MoveMM == 0) != (c.sign == 0) {
			t.Errorf("chair %d: %g mm, %q", i, got.MoveMM, got.Words)
		}
		if c.sign != 0 && math.Abs(got.MoveMM) > math.Abs(got.Own.Mean)/2+1e-9 { // 2 cents a millimetre
			t.Errorf("chair %d: %.1f cents are %.1f mm", i, got.Own.Mean, got.MoveMM)
		}
	}
	if last := w.Words[len(w.Words)-1]; !strings.Contains(last, "Chair E and Chair F") || strings.Contains(last, "Chair G") {
		t.Errorf("at the break: %q", last)
	}
	for _, sign := range []float64{1, -1} {
		all := make([]float64, 6)
		for i := range all {
			all[i] = 12 * sign
		}
		players, today := rehearse(all, make([]float64, 6))
		w := WatchOf(players, today, today.Add(90*time.Minute))
		want := map[bool]string{true: "rose", false: "sank"}[sign > 0]
		if !strings.Contains(w.Words[0], want) {
			t.Errorf("all went %+g: %q", 12*sign, w.Words[0])
		}
		for i, c := range w.Chairs {
			if c.MoveMM != 0 {
				t.Errorf("chair %d went with all and is moved %g mm", i, c.MoveMM)
			}
		}
		if first, last := w.Section[0], w.Section[len(w.Section)-1]; (last.Cents-first.Cents)*sign < 8 {
			t.Errorf("the section's story goes from %g to %g", first.Cents, last.Cents)
		}
	}
}
