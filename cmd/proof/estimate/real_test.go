package estimate

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// recordedNotes are the practice notes, or the test is skipped: they belong to
// no package that could be installed.
func recordedNotes(t *testing.T) []practice {
	t.Helper()
	if testing.Short() {
		t.Skip("recorded notes take seconds")
	}
	notes, err := readOnce()
	if errors.Is(err, errNoPractice) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return notes
}

var readOnce = sync.OnceValues(func() ([]practice, error) { return practiceNotes(context.Background(), "") })

func off(a, b float64) float64 { return float64(pitch.Between(pitch.Hertz(a), pitch.Hertz(b))) }

// The manifest's references are the mean of three fits to the phase, which
// weight the moments of the window by a parabola and not alike. The slope of
// the same phases, fitted over the window, must agree with them about as well
// as they do among themselves: of the low tuba the partials below the fifth
// say 0.3 cents more than those above, and whose weight counts decides.
func TestWindingAgreesWithManifest(t *testing.T) {
	for _, n := range recordedNotes(t) {
		a, b := n.window[0]/windingStep, n.window[1]/windingStep
		got := n.winding.median(a, b, func(turns []float64) float64 { return slope(turns[int(a):int(b)+1]) / windingStep })
		if d := off(n.reference, got); math.Abs(d) > partialsApart+n.agreement {
			t.Errorf("%s: %.4f Hz over the window, the manifest has %.4f: %.3f cents apart, its methods %.3f", n.name, got, n.reference, d, n.agreement)
		}
	}
}

// partialsApart is how far, in cents, partials of a real note may lie apart.
const partialsApart = 0.3

// slope is that of the least-squares line through y, by step.
func slope(y []float64) float64 {
	sum, squares := 0.0, 0.0
	for i, v := range y {
		x := float64(i) - float64(len(y)-1)/2
		sum, squares = sum+x*v, squares+x*x
	}
	return sum / squares
}

// A synthetic note of known, changing pitch.
func TestWindingAgreesWithSynthesis(t *testing.T) {
	tn := mustTone(tone.Config{Rate: rate, F0: 174.6, Level: -20, Voice: tone.Horn, Wander: 3, VibratoHz: 5, VibratoCents: 12, Seed: 4})
	x := make([]float64, 3*rate)
	tn.Read(x)
	w := newWinding(x, 174.6)
	for _, s := range [][2]float64{{0.5, 1}, {0.5, 2.5}, {1.03, 1.71}} {
		truth, _ := tn.Truth(int64(s[0]*rate), int64(s[1]*rate)) // just read
		if d := off(float64(truth), w.mean(s[0], s[1])); math.Abs(d) > 0.1 {
			t.Errorf("%g to %g s: off by %.3f cents", s[0], s[1], d)
		}
	}
}

// The truth of a moved note is that of the sound that comes out.
func TestMovedTruth(t *testing.T) {
	tn := mustTone(tone.Config{Rate: rate, F0: 220, Level: -20, Voice: tone.Trombone, Seed: 4})
	x := make([]float64, 3*rate)
	tn.Read(x)
	note := &practice{samples: x, winding: newWinding(x, 220)}
	for _, m := range motions {
		y, truth := moved(note, m.path(rand.New(rand.NewPCG(3, 3))))
		w := newWinding(y, 220)
		for _, s := range [][2]float64{{0.5, 1}, {0.7, 2.4}} {
			if d := off(truth(s[0], s[1]), w.mean(s[0], s[1])); math.Abs(d) > 0.15 {
				t.Errorf("%s, %g to %g s: the sound lies %.3f cents from its truth", m.name, s[0], s[1], d)
			}
		}
	}
}

// A call, or no room at all, must not change what a laptop hears of the pitch:
// the winding of the recording itself is the truth that its scene states.
func TestSceneTruth(t *testing.T) {
	n := recordedNotes(t)[0]
	s := plain(newHall(0, 5), &n)
	x, on, _ := s.recorded()
	got := newWinding(x, n.reference).mean(on+0.5, on+2.5)
	if d := off(s.trialOf(nil, on, 0).truth(on+0.5, on+2.5), got); math.Abs(d) > 0.03 {
		t.Errorf("recorded %.3f cents from the stated truth", d)
	}
}

// The second room dies away as fast as it is asked to: the slope of the
// backward-integrated energy (Schroeder 1965, J. Acoust. Soc. Am. 37:409)
// between -5 and -25 dB, of a click without its treble, where the decay is
// shorter.
func TestNetworkDecays(t *testing.T) {
	for _, want := range []float64{0.4, 0.8, 1.2} {
		click := make([]float64, rate/10)
		for i := range click {
			click[i] = math.Exp(-float64(i)/40) * math.Sin(2*math.Pi*500*float64(i)/rate)
		}
		h := network(click, 2*rate, want, rand.New(rand.NewPCG(4, 4)))
		h = h[rate/10:] // after the early reflections
		left := make([]float64, len(h))
		sum := 0.0
		for i := len(h) - 1; i >= 0; i-- {
			sum += h[i] * h[i]
			left[i] = sum
		}
		at := func(db float64) float64 {
			for i, v := range left {
				if v < sum*math.Pow(10, db/10) {
					return float64(i) / rate
				}
			}
			return math.NaN()
		}
		if got := 3 * (at(-25) - at(-5)); math.Abs(got/want-1) > 0.15 {
			t.Errorf("RT60 %.2f s, want %g", got, want)
		}
	}
}

// Company is as loud as its name says: what it adds to a recording without
// noise has that level below the note.
func TestCompanyLevels(t *testing.T) {
	notes := recordedNotes(t)
	crowd := &crowd{notes: notes, voices: [][]float64{formants(6*rate, rand.New(rand.NewPCG(1, 1)))}}
	scene := func() *scene {
		h := newHall(0.4, 9)
		h.noise = math.Inf(-1)
		return plain(h, &notes[0])
	}
	for _, c := range companies[:3] {
		with := scene()
		with.other, with.below = c.make(crowd, len(notes[0].samples)+int((leadIn+leadOut)*rate), &notes[0], rand.New(rand.NewPCG(1, 2))), c.levelDB
		alone, on, off := scene().recorded()
		both, _, _ := with.recorded()
		note, added := rms(alone[int(on*rate):int(off*rate)]), 0.0
		for i := range both {
			added += (both[i] - alone[i]) * (both[i] - alone[i])
		}
		// The pumping gain takes the two at different moments.
		if got := 20 * math.Log10(math.Sqrt(added/float64(len(both)))/note); math.Abs(got-c.levelDB) > 1 {
			t.Errorf("%s: %.1f dB below the note", c.name, got)
		}
	}
}

func TestWilson(t *testing.T) {
	// Newcombe 1998, Stat. Med. 17:857, table I, method 3: 81 of 263 and 1 of 29.
	for _, tt := range []struct {
		k, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {1, 29, 0.0061, 0.1718}} {
		if low, high := wilson(tt.k, tt.n); math.Abs(low-tt.low) > 5e-5 || math.Abs(high-tt.high) > 5e-5 {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f", tt.k, tt.n, low, high, tt.low, tt.high)
		}
	}
}

// What recorded notes must give at least. The limits lie below what the
// program prints, by what so few notes scatter.
func TestRecordedNotes(t *testing.T) {
	notes := recordedNotes(t)
	crowd, err := newCrowd(t.Context(), notes, "")
	if err != nil {
		t.Fatal(err)
	}
	r := &run{options: options{seed: 77}, crowd: crowd}
	inRoom := func(rt60 float64, what string) func(i int) trial {
		return func(i int) trial { return plain(newHall(rt60, r.roomSeed(what, i, 0)), &notes[i]).trial() }
	}
	tests := []struct {
		name    string
		atLeast float64 // share read; none may be wrong
		trial   func(i int) trial
	}{
		{"dry", 0.9, func(i int) trial { return dry(&notes[i]) }},
		{"RT60 0.4 s", 0.85, inRoom(0.4, "test 0.4")},
		{"RT60 1.2 s", 0.85, inRoom(1.2, "test 1.2")},
		{"called, beside speech", 0.8, func(i int) trial {
			s := plain(newHall(0.4, r.roomSeed("test speech", i, 0)), &notes[i]).beside(crowd, companies[0])
			t := s.trial()
			t.call = calledNear(s.note, 0, s.hall.random)
			return t
		}},
		{"clipped by 20 dB", 0.85, func(i int) trial {
			s := plain(newHall(0, r.roomSeed("test clipped", i, 0)), &notes[i])
			x, on, off := s.recorded()
			return s.trialOf(capture.Slice(driven(x, 20), rate), on, off)
		}},
		// What is lost makes the rest earlier, but not sharper.
		{"10 ms lost every 0.37 s", 0, func(i int) trial {
			t := dry(&notes[i])
			whole := t.truth
			t.source, t.off = capture.Slice(holed(notes[i].samples, nil), rate), t.off*36/37
			t.truth = func(from, to float64) float64 { return whole(from*37/36, to*37/36) }
			return t
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var s score
			for i := range notes {
				o, err := tt.trial(i).hear(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				s.add(o)
			}
			t.Logf("%s\n%s", scoreHeading, &s)
			// Those not told lost next to nothing, or whole turns.
			if gaps := s.refused[listen.ReasonGap]; tt.atLeast == 0 && 2*gaps < s.n {
				t.Errorf("%d of %d said to have gaps, want half", gaps, s.n)
			}
			if got := float64(s.read) / float64(s.n); got < tt.atLeast || s.wrong > 0 || s.another > 0 {
				t.Errorf("read %.0f %%, wrong %d, said to be another note %d; want %.0f %%, 0, 0", 100*got, s.wrong, s.another, 100*tt.atLeast)
			}
		})
	}
}

// A note that moves is not read as if it stood, and one that sways is.
func TestMovedNotes(t *testing.T) {
	notes := recordedNotes(t)
	r := &run{options: options{seed: 77}, crowd: &crowd{notes: notes}}
	for _, m := range motions {
		var s score
		for i := range notes {
			if notes[i].grade != "A" {
				continue
			}
			o, err := r.movedTrial(m, "test "+m.name, true, i, 0).hear(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			s.add(o)
		}
		t.Logf("%s: %s", m.name, &s)
		switch {
		case !m.rests && s.passed > 0:
			t.Errorf("%s: %d of %d read with an interval that excludes the note's end", m.name, s.passed, s.n)
		case m.rests && (4*s.read < 3*s.n || s.wrong > 0):
			t.Errorf("%s: %d of %d read, wrong %d; want three quarters and 0", m.name, s.read, s.n, s.wrong)
		}
	}
}

func TestRealSectionsWithoutNotes(t *testing.T) {
	var out strings.Builder
	err := Run(context.Background(), &out, []string{"-only", "real-dry", "-peers=false", "-notes", t.TempDir()})
	if err != nil || !strings.Contains(out.String(), "real-dry left out: no recorded notes") {
		t.Errorf("%v, printed %q; want the reason why it is left out", err, out.String())
	}
}
