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

// How well a hand sets a slide is learned from day to day, too: ten days with one
// move each tell who ends up two millimetres beside the place from who does not.
func TestPastDaysTellAHand(t *testing.T) {
	c := hub.Chair{ID: 1, Instrument: "trumpet_bb"}
	const perMM = 2.5 // cents, about a trumpet's
	hand := func(sd float64) float64 {
		r := rand.New(rand.NewPCG(3, 1))
		var past []hub.Reading
		var set []hub.SettingRecord
		for day := range 10 {
			at := time.Date(2026, 3, 2+day, 19, 0, 0, 0, time.UTC)
			stands := 20.0
			for i := range 3 {
				past = append(past, hub.Reading{ID: int64(10*day + i), Chair: 1, At: at.Add(time.Duration(i) * time.Minute), Note: 70, Counted: true,
					Cents: pitch.Cents(stands + 1.1*r.NormFloat64()), Wire: proto.Reading{Hz: 466, CI95: 0.5, Settled: true, Played: 600}})
				if i == 0 {
					set = append(set, hub.SettingRecord{Chair: 1, Slide: "main", At: at.Add(30 * time.Second), From: 10, MM: 18, Source: hub.SourcePlayer})
					stands -= perMM * (8 + sd*r.NormFloat64())
				}
			}
		}
		return pastProfile(c, past, set).HandMM
	}
	if exact, rough := hand(0.2), hand(2); rough < 1.5*exact {
		t.Errorf("hands that miss by 0.2 and 2 mm are taken for %.2f and %.2f mm", exact, rough)
	}
}

// What earlier days have told is the same after a restart, and a steady player is
// believed sooner than one whose attacks scatter.
func TestARestartKnowsThePlayers(t *testing.T) {
	now := time.Date(2026, 3, 20, 19, 0, 0, 0, time.UTC)
	records := func(sd float64) Records {
		r := rand.New(rand.NewPCG(9, 2))
		rec := Records{Section: hub.Section{ID: 1, Name: "S", Good: 5, Near: 15, Order: hub.OrderByWorth, Chairs: []hub.Chair{{ID: 1, Label: "Trumpet 1", Instrument: "trumpet_bb"}}}, NextID: 1000}
		for day := range 8 {
			for i := range 4 {
				at := now.AddDate(0, 0, day-10).Add(time.Duration(i) * time.Minute)
				rec.Readings = append(rec.Readings, hub.Reading{ID: int64(10*day + i + 1), Chair: 1, At: at, Note: 70, Counted: true, Verdict: "set",
					Cents: pitch.Cents(sd * r.NormFloat64()), Wire: proto.Reading{Hz: 466, CI95: 0.5, Settled: true, Played: 600}})
			}
		}
		return rec
	}
	doubt := func(sd float64) float64 {
		s, _ := New(records(sd), now)
		again, _ := New(records(sd), now)
		if s.past[1].profile != again.past[1].profile || s.past[1].profile == (belief.Profile{}) {
			t.Fatalf("scatter %g: known as %+v, after a restart as %+v", sd, s.past[1].profile, again.past[1].profile)
		}
		b := belief.New(belief.Config{})
		b.Sit(1, belief.Slide{MM: 15, Max: 40, PerMM: 2.5}, s.past[1].known())
		b.Heard(1, belief.Reading{At: now, Cents: 1, Half: 0.5})
		return b.Outside()
	}
	if steady, wild := doubt(1), doubt(4); !(steady < wild/2) {
		t.Errorf("after one note the chance of being outside is %.3f for a steady player, %.3f for one of 4 cents", steady, wild)
	}
}
