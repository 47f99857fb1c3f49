package attribute

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"bellrow/hub/attribute"
	"bellrow/proto/pitch"
)

// A small part of the accuracy program: whole scenes through room, microphone,
// extraction, coding and fit.

// Targets for four chairs.
const (
	worstOfFour = 1.0 // cents
	trafficKB   = 10.0
)

func TestFourChairs(t *testing.T) {
	var all tally
	for i, s := range []Scene{
		{RT60: 0.3, Unison: true, Seed: 11},
		{RT60: 1.6, Unison: false, Silent: 1, Seed: 13},
		{RT60: 0.8, Unison: true, Silent: 1, AGC: true, Seed: 14},
	} {
		s.Chairs, s.Seconds, s.Rate, s.PPM = 4, 1, 16000, 50
		take, err := s.Play()
		if err != nil {
			t.Fatal(err)
		}
		r := attribute.Fit(take.Input)
		for c, got := range r.Chairs {
			if got.Verdict != attribute.Sounding {
				continue
			}
			if !take.Truth[c].Playing {
				t.Errorf("scene %d: silent chair %d got %.2f Hz", i, c, float64(got.Hz))
			} else if e := math.Abs(float64(pitch.Between(take.Truth[c].Hz, got.Hz))); e > worstOfFour {
				t.Errorf("scene %d: chair %d is off by %.2f cents", i, c, e)
			}
		}
		all.add(&take, r)
	}
	if all.read < all.playing*2/3 {
		t.Errorf("%d of %d playing chairs were read", all.read, all.playing)
	}
	if all.bytes > trafficKB*1000 {
		t.Errorf("traffic of %.1f kB a second", all.bytes/1000)
	}
}

// A row that is told nothing of the silent chairs' usual levels must be as careful.
func TestSilentWithoutBaselines(t *testing.T) {
	s := Scene{Chairs: 5, Silent: 2, RT60: 0.8, Unison: true, Seconds: 1, Rate: 16000, PPM: 50, Seed: 21}
	take, err := s.Play()
	if err != nil {
		t.Fatal(err)
	}
	for c := range take.Input.Chairs {
		take.Input.Chairs[c].Baseline = 0
	}
	for c, got := range attribute.Fit(take.Input).Chairs {
		if got.Verdict == attribute.Sounding && !take.Truth[c].Playing {
			t.Errorf("silent chair %d got %.2f Hz", c, float64(got.Hz))
		}
	}
}

// Silent chairs that a loud neighbour's double once passed for: in each of
// these scenes one was given a reading.
func TestLoudNeighboursHaveNoDoubles(t *testing.T) {
	for _, s := range []struct {
		seed uint64
		rt60 float64
		i    int
	}{{601, 0.3, 2}, {601, 0.8, 16}, {611, 0.8, 11}, {621, 0.8, 18}} {
		p := plan{seconds: 1, ppm: 50, rate: 16000, seed: s.seed + silenceSeed}
		take, err := p.hush(4, s.rt60, s.i)
		if err != nil {
			t.Fatal(err)
		}
		for c, got := range attribute.Fit(take.Input).Chairs {
			if got.Verdict == attribute.Sounding && !take.Truth[c].Playing {
				t.Errorf("seed %d, scene %d: silent chair %d got %.2f Hz", s.seed, s.i, c, float64(got.Hz))
			}
		}
	}
}

func TestRunPrintsTheTable(t *testing.T) {
	if testing.Short() {
		t.Skip("renders half a dozen rooms")
	}
	var b bytes.Buffer
	if err := Run(t.Context(), &b, []string{"-readings", "18", "-silent", "6", "-most", "4", "-compare=false", "-cost=false"}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"in interval", "Wrong chair", "Silent chairs", "Half the chairs silent", "Traffic", "adaptive"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
	if err := Run(t.Context(), &b, []string{"-nonsense"}); err == nil {
		t.Error("an unknown flag was accepted")
	}
}
