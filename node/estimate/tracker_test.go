package estimate

import (
	"fmt"
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

const testRate = 48000

// follow plays x hop by hop and calls at with each point and the sample it
// tells of.
func follow(x []float64, at func(p Point, sample int)) {
	const hop = testRate / 100
	tr, d := NewTracker(testRate, 0.01), NewDecimator(testRate)
	for i, v := range x {
		if y, ok := d.Write(v); ok {
			tr.Write(y)
		}
		if (i+1)%hop == 0 {
			if p, ok := tr.Hop(); ok {
				at(p, i+1-p.Lag)
			}
		}
	}
}

func TestTrackerFollows(t *testing.T) {
	for _, hz := range []float64{29.1, 58.3, 116.5, 233, 466, 932, 1175} {
		for v := tone.Trumpet; v <= tone.Tuba; v++ {
			t.Run(fmt.Sprintf("%g/%d", hz, v), func(t *testing.T) {
				tn, err := tone.New(tone.Config{
					Rate: testRate, F0: pitch.Hertz(hz), Level: -20, Voice: v, Seed: uint64(v), VibratoHz: 5, VibratoCents: 20,
				})
				if err != nil {
					t.Fatal(err)
				}
				x := make([]float64, testRate)
				tn.Read(x)
				points, sum := 0, 0.0
				follow(x, func(p Point, sample int) {
					truth, ok := tn.Truth(int64(sample-240), int64(sample+240))
					if !ok || sample < testRate/4 {
						return
					}
					points++
					off := float64(pitch.Between(truth, pitch.Hertz(p.Hz)))
					sum += off * off
				})
				// Four periods of a low note smooth a vibrato of 5 Hz.
				limit := 0.5 + 60/hz
				if rms := math.Sqrt(sum / float64(max(1, points))); points < 50 || rms > limit {
					t.Errorf("%d points, off by %.2f cents rms, want at most %.2f", points, rms, limit)
				}
			})
		}
	}
}

func TestTrackerHearsNothingInNoise(t *testing.T) {
	x := make([]float64, testRate)
	state := uint64(1)
	for i := range x {
		state = state*6364136223846793005 + 1442695040888963407
		x[i] = float64(int64(state)) / math.MaxInt64
	}
	follow(x, func(p Point, sample int) {
		t.Errorf("white noise has a pitch of %.1f Hz", p.Hz)
	})
}

func TestHopDoesNotAllocate(t *testing.T) {
	x := noteOf(t, tone.Natural(tone.Config{Rate: testRate, F0: 116, Level: -20, Voice: tone.Trombone, Seed: 1}), 2)
	tr, d := NewTracker(testRate, 0.01), NewDecimator(testRate)
	at := 0
	hop := func() {
		for range testRate / 100 {
			if y, ok := d.Write(x[at]); ok {
				tr.Write(y)
			}
			at = (at + 1) % len(x)
		}
		tr.Hop()
	}
	for range 50 {
		hop()
	}
	if n := testing.AllocsPerRun(300, hop); n > 0 {
		t.Errorf("%.2f allocations per hop", n)
	}
}
