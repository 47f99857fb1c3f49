package check

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// delivered marks blocks of 480 samples as a device of the true rate delivers
// them, late by an exponential delay of the given mean.
func delivered(seed uint64, stated, true float64, seconds, jitter float64) *Pace {
	rng := rand.New(rand.NewPCG(seed, 5))
	p := NewPace(stated)
	for end := int64(480); float64(end) < seconds*true; end += 480 {
		at := float64(end)/true + jitter*rng.ExpFloat64()
		p.Mark(end, time.Duration(at*float64(time.Second)))
	}
	return p
}

// TestPaceInterval: the 95 % interval holds the truth that often, over many
// seeds. Of 400 trials of 95 %, fewer than 370 are less likely than one in a
// thousand (binomial distribution).
func TestPaceInterval(t *testing.T) {
	const trials, least = 400, 370
	for _, true := range []float64{48000, 48004.8} {
		held := 0
		for seed := range uint64(trials) {
			offset, ci, known := delivered(seed, 48000, true, 10, 0.003).Offset()
			if known && math.Abs(offset-(true/48000-1)) <= ci {
				held++
			}
		}
		t.Logf("%g Hz: the interval holds the truth in %d of %d trials", true, held, trials)
		if held < least {
			t.Errorf("%g Hz: the interval holds the truth in %d of %d trials, want %d", true, held, trials, least)
		}
	}
}

func TestPace(t *testing.T) {
	for _, tt := range []struct {
		name         string
		stated, true float64
		wrong        bool
	}{
		{"as stated", 48000, 48000, false},
		{"a crystal 100 ppm fast", 48000, 48004.8, false},
		{"44.1 kHz sold as 48 kHz", 48000, 44100, true},
		{"48 kHz sold as 44.1 kHz", 44100, 48000, true},
		{"half", 48000, 24000, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			p := delivered(1, tt.stated, tt.true, 10, 0.003)
			const tol = 0.001 // ten times what the jitter leaves
			offset, _, known := p.Offset()
			if want := tt.true/tt.stated - 1; !known || math.Abs(offset-want) > tol {
				t.Errorf("offset %g (known %v), want %g", offset, known, want)
			}
			if l := p.Line(); (l.State == Act) != tt.wrong {
				t.Errorf("line %+v, want wrong: %v", l, tt.wrong)
			}
		})
	}
}

// TestPaceNamesTheTrap: 1200 log2(48000/44100) is 146.7 cents.
func TestPaceNamesTheTrap(t *testing.T) {
	if l := delivered(1, 48000, 44100, 10, 0.001).Line(); !strings.Contains(l.Finding, "147 cents") {
		t.Errorf("finding %q, want the 147 cents", l.Finding)
	}
}

func TestPaceNeedsTime(t *testing.T) {
	if l := delivered(1, 48000, 48000, 1.2, 0.001).Line(); l.State != Skipped {
		t.Errorf("line %+v after a second, want skipped", l)
	}
	p := NewPace(48000)
	for i := range int64(1000) {
		p.Mark(480*i, 0) // a file: everything at once
	}
	if l := p.Line(); l.State != Skipped {
		t.Errorf("line %+v for a file, want skipped", l)
	}
}
