package intonation_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// ellis holds the intervals on which the just chords rest, in whole cents, by
// their ratios: A. J. Ellis's table of intervals not exceeding an octave, in his
// translation of Helmholtz, On the Sensations of Tone, 2nd ed. 1885, appendix
// XX, section D (from memory).
var ellis = map[string]int{
	"1/1": 0, "17/16": 105, "9/8": 204, "6/5": 316, "5/4": 386, "4/3": 498, "7/5": 583, "3/2": 702,
	"5/3": 884, "7/4": 969, "16/9": 996, "9/5": 1018, "15/8": 1088,
}

// ours are ratios on which no such agreement exists; they are the project's
// choice, after the chart that bands use or by arithmetic.
var ours = map[string]string{
	"19/12": "the chart's -4 for an augmented fifth; Ellis has 25/16, 773 cents",
	"19/10": "the chart's +11",
	"23/12": "the chart's +26",
	"19/16": "the simplest that is near the tempered sharp ninth, 297.5 cents: nobody agrees on one",
	"17/10": "10:12:14:17, the simplest that continues the diminished triad",
}

// chords is every kind as its ratios over the root, written out by hand: triads and sevenths
// as in Helmholtz, part III, chapters XVI and XVII (from memory), the rest as above.
var chords = map[string]string{
	"major": "1/1 5/4 3/2", "minor": "1/1 6/5 3/2", "diminished": "1/1 6/5 7/5", "augmented": "1/1 5/4 19/12",
	"suspended fourth": "1/1 4/3 3/2", "suspended second": "1/1 9/8 3/2",
	"unison": "1/1", "open fifth": "1/1 3/2", "major third": "1/1 5/4", "minor third": "1/1 6/5",
	"sixth": "1/1 5/4 3/2 5/3", "minor sixth": "1/1 6/5 3/2 5/3", "sixth with ninth": "1/1 5/4 3/2 5/3 9/8",
	"dominant seventh": "1/1 5/4 3/2 7/4", "dominant seventh (16/9)": "1/1 5/4 3/2 16/9", "minor seventh": "1/1 6/5 3/2 9/5", "major seventh": "1/1 5/4 3/2 15/8",
	"minor-major seventh": "1/1 6/5 3/2 19/10", "augmented major seventh": "1/1 5/4 19/12 23/12", "augmented seventh": "1/1 5/4 19/12 7/4",
	"suspended seventh": "1/1 4/3 3/2 16/9", "half-diminished seventh": "1/1 6/5 7/5 9/5", "diminished seventh": "1/1 6/5 7/5 17/10",
	"added ninth": "1/1 5/4 3/2 9/8", "minor added ninth": "1/1 6/5 3/2 9/8", "dominant ninth": "1/1 5/4 3/2 7/4 9/8", "dominant flat ninth": "1/1 5/4 3/2 7/4 17/16",
	"major ninth": "1/1 5/4 3/2 15/8 9/8", "minor ninth": "1/1 6/5 3/2 9/5 9/8", "dominant thirteenth": "1/1 5/4 3/2 7/4 9/8 5/3",
	"dominant seventh flat fifth": "1/1 5/4 7/5 7/4", "dominant sharp ninth": "1/1 5/4 3/2 7/4 19/16", "suspended ninth": "1/1 4/3 3/2 16/9 9/8",
	"minor eleventh": "1/1 6/5 3/2 9/5 9/8 4/3", "major thirteenth": "1/1 5/4 3/2 15/8 9/8 5/3",
}

// fraction reads "5/4".
func fraction(t *testing.T, s string) float64 {
	t.Helper()
	var num, den float64
	if _, err := fmt.Sscanf(s, "%g/%g", &num, &den); err != nil {
		t.Fatal(err)
	}
	return num / den
}

func TestRatiosAgreeWithEllis(t *testing.T) {
	used := map[string]bool{}
	for kind, list := range chords {
		for _, r := range strings.Fields(list) {
			used[r] = true
			cents := 1200 * math.Log2(fraction(t, r))
			want, agreed := ellis[r]
			if agreed && math.Abs(cents-float64(want)) > 0.5 {
				t.Errorf("%s of %s is %.2f cents, Ellis has %d", r, kind, cents, want)
			}
			if !agreed && ours[r] == "" {
				t.Errorf("%s of %s has no source", r, kind)
			}
		}
	}
	for r := range ellis {
		if !used[r] {
			t.Errorf("%s is in no chord", r)
		}
	}
	for r := range ours {
		if !used[r] {
			t.Errorf("%s is in no chord", r)
		}
	}
	for _, q := range intonation.Qualities {
		if chords[string(q)] == "" {
			t.Errorf("%s has no ratios here", q)
		}
	}
}

// TestEveryChordStandsInItsRatios: every kind on every root in every inversion
// stands as its ratios say over a tempered root; with one tone 10 cents high only
// pairs with that tone are said to beat, as often as their frequencies say.
func TestEveryChordStandsInItsRatios(t *testing.T) {
	count, beats := 0, 0
	for kind, list := range chords {
		ratios := strings.Fields(list)
		for root := range 12 {
			name := pitch.Note(root).ClassName() + " " + kind
			c := mustChord(t, name)
			for c.Inversion = range ratios {
				count++
				targets, hz := stand(t, c, ratios)
				for i := range hz {
					if got := float64(targets[intonation.Chair(i+1)].Hz); math.Abs(got/hz[i]-1) > 1e-9 {
						t.Fatalf("%s: tone %d at %.4f Hz, by its ratio %s %.4f", c, i, got, ratios[i], hz[i])
					}
				}
				beats += detuned(t, c, hz)
			}
		}
	}
	t.Logf("%d chords, %d beating pairs counted", count, beats)
	if count < 12*90 || beats < count/2 {
		t.Errorf("%d chords and %d beating pairs: too few to prove anything", count, beats)
	}
}

// stand gives each tone of a chord a note above the bass, and the frequency
// that its ratio demands.
func stand(t *testing.T, c intonation.Chord, ratios []string) (map[intonation.Chair]intonation.Target, []float64) {
	t.Helper()
	notes, hz := map[intonation.Chair]pitch.Note{}, make([]float64, len(ratios))
	rootNote := 48 + c.Root
	rootHz := 440 * math.Pow(2, float64(rootNote-69)/12)
	bass := rootNote + c.Tones()[c.Inversion].Semitones
	for i, tone := range c.Tones() {
		n, f := rootNote+tone.Semitones, rootHz*fraction(t, ratios[i])
		for n < bass {
			n, f = n+12, 2*f
		}
		notes[intonation.Chair(i+1)], hz[i] = pitch.Note(n), f
	}
	return intonation.Targets(c, notes, intonation.Just, intonation.AnchorReference, nil, pitch.Reference{}).Targets, hz
}

// detuned puts the tone after the root 10 cents high and counts the beats of
// every pair that is reported.
func detuned(t *testing.T, c intonation.Chord, hz []float64) int {
	t.Helper()
	q := intonation.Question{Chord: c, Tuning: intonation.Just, Anchor: intonation.AnchorReference, Good: 5, Watch: 10}
	heard := make([]float64, len(hz))
	for i, f := range hz {
		heard[i] = f
		if i == 1 {
			heard[i] *= math.Pow(2, 10.0/1200)
		}
		n, _ := (pitch.Reference{}).Nearest(pitch.Hertz(f))
		q.Seats = append(q.Seats, intonation.Seat{Chair: intonation.Chair(i + 1), Name: fmt.Sprint(i), Note: n,
			Reading: &slide.Reading{Hz: pitch.Hertz(heard[i]), CI95: 1, Level: -30, Settled: true}})
	}
	j := intonation.Judge(q)
	for _, b := range j.Beats {
		low, high := heard[b.Low-1], heard[b.High-1]
		just := hz[b.High-1] / hz[b.Low-1]
		// The pair of partials is found anew from the just frequencies.
		rate := math.Inf(1)
		for p := 1; p <= 20; p++ {
			m := math.Round(float64(p) / just)
			if m >= 1 && math.Abs(float64(p)/m/just-1) < 1e-9 {
				rate = math.Abs(float64(p)*low - m*high)
				break
			}
		}
		if math.Abs(rate-b.PerSecond) > 1e-6 {
			t.Errorf("%s: tones %d and %d beat %.4f times a second, said %.4f (%s)", c, b.Low, b.High, rate, b.PerSecond, b.Ratio)
		}
		if b.Low != 2 && b.High != 2 {
			t.Errorf("%s: tones %d and %d are said to beat and stand in their ratio", c, b.Low, b.High)
		}
	}
	return len(j.Beats)
}
