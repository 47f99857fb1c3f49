package history

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"bellrow/proto/pitch"
)

// rehearse returns players with earlier days and one watched rehearsal of an
// hour and a half; drift in cents an hour for each, louder in dB an hour.
func rehearse(drift, louder []float64) ([]Player, time.Time) {
	today := first.AddDate(0, 0, 20)
	var out []Player
	for i, d := range drift {
		r := rand.New(rand.NewPCG(uint64(i), 9))
		p := Player{Label: "Chair " + string(rune('A'+i))}
		add := func(at time.Time, x, level float64) {
			note := pitch.Note(55 + r.IntN(5))
			p.Readings = append(p.Readings, Reading{At: at, Note: note, Offset: pitch.Cents(x + 3*float64(note%4) + 2*r.NormFloat64()),
				Level: pitch.Level(level), Played: 900, MainMM: 12, UsualMM: 12, CentsPerMM: -2, Watch: true})
		}
		for day := range 6 {
			for k := range 10 {
				add(first.AddDate(0, 0, day).Add(time.Duration(k)*9*time.Minute), 0, -22)
			}
		}
		for k := range 30 {
			h := float64(k) * 3 / 60
			add(today.Add(time.Duration(k)*3*time.Minute), d*h, -22+louder[i]*h)
		}
		out = append(out, p)
	}
	return out, today
}

func TestWatchOf(t *testing.T) {
	// All rise by 6 cents an hour; B rises by 14 more, C sinks by 14 against
	// them, D rises as B but with growing loudness.
	players, at := rehearse([]float64{6, 20, -8, 20, 6, 6, 6}, []float64{0, 0, 0, 8, 0, 0, 0})
	w := WatchOf(players, at, at.Add(90*time.Minute))
	if len(w.Section) < 10 || len(w.Chairs) != len(players) {
		t.Fatalf("%d steps, %d chairs; want about 18 and %d", len(w.Section), len(w.Chairs), len(players))
	}
	if got := strings.Join(w.Words, " "); !strings.Contains(got, "rose by about") || !strings.Contains(got, "Chair B and Chair C") {
		t.Errorf("to the leader: %q", got)
	}
	for i, c := range w.Chairs {
		// The thirds lie an hour apart.
		want := map[int]float64{1: 14, 2: -14, 3: 14}[i]
		if c.Own.Low > want || c.Own.High < want {
			t.Errorf("%s: %.1f (%.1f to %.1f), want %g", c.Label, c.Own.Mean, c.Own.Low, c.Own.High, want)
		}
		if moves := c.MoveMM != 0; moves != (i == 1 || i == 2) {
			t.Errorf("%s: move %.1f mm", c.Label, c.MoveMM)
		}
	}
	if mm := w.Chairs[1].MoveMM; math.Abs(mm-7) > 2.5 {
		t.Errorf("B: %.1f mm, want about 7: 14 cents at 2 cents a millimetre", mm)
	}
	if !strings.Contains(w.Chairs[3].Words, "leave the slide") || !strings.Contains(w.Chairs[2].Words, "push the main slide in") {
		t.Errorf("D is told %q, C %q", w.Chairs[3].Words, w.Chairs[2].Words)
	}
}

// TestWatchPushesNoFurtherThanIn: a slide that stands 3 mm out is pushed 3 mm.
func TestWatchPushesNoFurtherThanIn(t *testing.T) {
	players, at := rehearse([]float64{0, -14, 0, 0, 0}, make([]float64, 5))
	for i := range players[1].Readings {
		players[1].Readings[i].MainMM = 3
	}
	c := WatchOf(players, at, at.Add(90*time.Minute)).Chairs[1]
	if c.MoveMM != -3 || !strings.Contains(c.Words, "push the main slide in 3 mm") {
		t.Errorf("%.1f mm, %q", c.MoveMM, c.Words)
	}
}

func TestWatchOfNothing(t *testing.T) {
	w := WatchOf([]Player{{Label: "Tuba"}}, first, first.Add(time.Hour))
	if len(w.Words) != 1 || !strings.Contains(w.Words[0], "Too few") {
		t.Errorf("%q, want one sentence", w.Words)
	}
}
