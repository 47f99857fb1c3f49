package tuneup

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// What a player does is known from the records of earlier days, and from a few
// days nothing is taken for granted.
func TestPastDaysTellAPlayer(t *testing.T) {
	c := hub.Chair{ID: 1, Instrument: "trumpet_bb"}
	scatter := func(sd float64, days int) float64 {
		r := rand.New(rand.NewPCG(7, 1))
		var past []hub.Reading
		for day := range days {
			for i := range 4 {
				at := time.Date(2026, 3, 2+day, 19, i, 0, 0, time.UTC)
				past = append(past, hub.Reading{Chair: 1, At: at, Note: 70, Counted: true, Cents: pitch.Cents(3 + sd*r.NormFloat64()),
					Wire: proto.Reading{Hz: 466, CI95: 0.5, Settled: true, Played: 600}})
			}
		}
		p, mean := pastProfile(c, past, nil), 0.0
		for i, w := range p.Scatter {
			mean += w * belief.Scatters[i]
		}
		return mean
	}
	if got := scatter(4, leastDays-1); got != 0 {
		t.Errorf("%d days tell a scatter of %.1f cents, want nothing", leastDays-1, got)
	}
	steady, wild := scatter(1, 10), scatter(4, 10)
	if math.Abs(steady-1.2) > 0.5 || math.Abs(wild-4) > 1 {
		t.Errorf("scatters of 1 and 4 cents are taken for %.1f and %.1f", steady, wild)
	}
}
