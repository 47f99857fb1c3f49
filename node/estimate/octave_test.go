package estimate

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// notes lie in equal temperament on A = 440 Hz, none near a multiple of the mains.
var notes = []pitch.Hertz{146.83, 174.61, 196, 233.08, 261.63, 293.66}

// player holds hz for a second and a half, of which the last second is looked
// at, and returns it with its mean pitch.
func player(t *testing.T, hz pitch.Hertz, seed int) ([]float64, pitch.Hertz) {
	t.Helper()
	p, err := tone.New(tone.Natural(tone.Config{
		Rate: testRate, F0: hz, Level: -20, Seed: uint64(seed), Voice: tone.Trombone, Room: &tone.Room{Decay: 0.4, WetDB: -12},
	}))
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, 3*testRate/2)
	p.Read(x)
	truth, ok := p.Truth(testRate/2, 3*testRate/2)
	if !ok {
		t.Fatal("no truth")
	}
	return x, truth
}

// A reflection half a period late takes most of every other partial away, so
// that the coarse fundamental may be an octave too high.
func TestWeakPartialsInBetween(t *testing.T) {
	for seed, hz := range notes {
		late := int(math.Round(testRate / 2 / float64(hz)))
		x, truth := player(t, hz, seed)
		y := make([]float64, testRate)
		for i := range y {
			y[i] = x[testRate/2+i] + 0.6*x[testRate/2+i-late]
		}
		reads(t, y, truth)
	}
}

// A quieter neighbour an octave away, his mean within a quarter of a cent, is not read:
// neither above nor below, where his partials lie in between. Then they may as well be the player's
// own that company blurs, and the octave may be in doubt.
func TestNeighbourAnOctaveAway(t *testing.T) {
	for _, octave := range []pitch.Hertz{0.5, 2} {
		for seed, hz := range notes {
			x, truth := player(t, hz, seed)
			_, once := player(t, octave*truth, 100+seed)
			other, mean := player(t, octave*truth*(octave*truth/once), 100+seed)
			if off := math.Abs(float64(pitch.Between(octave*truth, mean))); off > 0.25 {
				t.Fatalf("neighbour off by %.3f cents", off)
			}
			y := make([]float64, testRate)
			for i := range y {
				y[i] = x[testRate/2+i] + 0.3*other[testRate/2+i]
			}
			if e, ok := Whole(y, testRate, Options{}); ok && octave < 1 && e.Octave && e.CI95 >= octaveCents {
				continue
			}
			reads(t, y, truth)
		}
	}
}

// A neighbour of the same octave owns most of the odd partials where the player's
// are weak, and wanders on his own: they part from the even ones and are the
// player's nevertheless.
func TestNeighbourBesideWeakPartials(t *testing.T) {
	for seed, hz := range notes {
		late := int(math.Round(testRate / 2 / float64(hz)))
		x, truth := player(t, hz, seed)
		beside, _ := player(t, hz.Shift(8), 200+seed)
		y := make([]float64, testRate)
		for i := range y {
			y[i] = x[testRate/2+i] + 0.6*x[testRate/2+i-late] + 0.4*beside[testRate/2+i]
		}
		e, ok := Whole(y, testRate, Options{Call: truth})
		if off := math.Abs(float64(pitch.Between(truth, e.Hz))); !ok || off > 1 || off > float64(e.CI95) {
			t.Errorf("%.0f Hz: off by %.2f cents, interval %.2f (%v)", float64(truth), off, float64(e.CI95), ok)
		}
	}
}

// Faint partials in between, of tones that do not wander, may be anybody's: the
// interval holds both octaves.
func TestOctaveUnknown(t *testing.T) {
	sound := func(hz pitch.Hertz, level pitch.Level) []float64 {
		p, err := tone.New(tone.Config{Rate: testRate, F0: hz, Level: level, Seed: 1, Voice: tone.Trombone, BreathDB: -45})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, testRate)
		p.Read(x)
		return x
	}
	x := sound(233.08, -20)
	for i, v := range sound(233.08/2, -30) {
		x[i] += v
	}
	if e, ok := Whole(x, testRate, Options{}); !ok || !e.Octave || e.CI95 < octaveCents {
		t.Errorf("%.2f Hz, interval %.2f, octave in doubt %v (%v), want %d", float64(e.Hz), float64(e.CI95), e.Octave, ok, octaveCents)
	}
}

// One who slurs up an octave plays two notes: no narrow interval is said of both.
func TestSlurToTheOctave(t *testing.T) {
	for seed, hz := range notes {
		low, _ := player(t, hz, seed)
		high, _ := player(t, 2*hz, seed)
		x := append(append(make([]float64, testRate/5), low...), high[testRate/5:]...)
		for i := range testRate / 25 { // the way up
			at, u := testRate/5+len(low)-testRate/25+i, float64(i)/(testRate/25)
			x[at] = (1-u)*x[at] + u*high[testRate/5-testRate/25+i]
		}
		if e, ok := Note(x, testRate, Options{}); ok && e.Rested && !e.Octave {
			t.Errorf("%.0f Hz: read as %.2f ± %.2f over %.2f to %.2f s", float64(hz), float64(e.Hz), float64(e.CI95), e.From, e.To)
		}
	}
}

// A neighbour a fifth or a sixth away who comes and goes six times a second leaves the player's note,
// or a doubt, and never the fundamental that both would be partials of.
func TestTremoloBeside(t *testing.T) {
	for seed, hz := range notes {
		for _, ratio := range []float64{2. / 3, 3. / 2, 3. / 5, 5. / 3} {
			x, truth := player(t, hz, seed)
			other, _ := player(t, truth*pitch.Hertz(ratio), 300+seed)
			y := append(make([]float64, testRate/5), x...)
			for i := range x {
				if math.Mod(6*float64(i)/testRate, 1) < 0.5 {
					y[testRate/5+i] += 0.5 * other[i]
				}
			}
			e, ok := Note(y, testRate, Options{})
			off := math.Abs(float64(pitch.Between(truth, e.Hz)))
			if ok && e.Rested && !e.Octave && off > float64(e.CI95)+3 {
				t.Errorf("%.0f Hz, another at %.2f of it: read as %.2f ± %.2f", float64(hz), ratio, float64(e.Hz), float64(e.CI95))
			}
		}
	}
}

// undoubted is the interval, in cents, of a second's wander as these players have
// it: what is in doubt, or not told apart, has one of more than settle.Widest.
const undoubted = 5

// reads checks what x reads.
func reads(t *testing.T, x []float64, want pitch.Hertz) {
	t.Helper()
	e, ok := Whole(x, testRate, Options{})
	if off := float64(pitch.Between(want, e.Hz)); !ok || math.Abs(off) > 1 || e.CI95 > undoubted {
		t.Errorf("%.0f Hz: off by %.2f cents, interval %.2f (%v)", float64(want), off, float64(e.CI95), ok)
	}
}

// Who plays another note than the one called is not taken for it though partials of the
// two meet: an octave higher, where those of the call in between are missing, and a third, a
// fourth or a fifth away, where one or two of the call's are the player's. Somebody speaks, or hums
// nearby, fourteen decibels down; who plays the called note is read then.
func TestAnotherNoteThanTheCall(t *testing.T) {
	for seed, hz := range notes {
		x, truth := player(t, hz, seed)
		y := append([]float64(nil), x...)
		speech, _ := player(t, 111, 400+seed)
		for i := range y {
			y[i] += 0.2 * speech[i] * max(0, math.Sin(2*math.Pi*2.7*float64(i)/testRate))
		}
		for _, ratio := range []float64{1, 1. / 2, 3. / 4, 4. / 3, 4. / 5, 5. / 4, 2. / 3, 3. / 2} {
			e, ok := Note(y, testRate, Options{Call: truth.Shift(20) * pitch.Hertz(ratio)})
			if !ok || e.Other != (ratio != 1) {
				t.Errorf("%.1f Hz, called %.3f of it: %.2f Hz, another note %v (%v)", float64(hz), ratio, float64(e.Hz), e.Other, ok)
			}
		}
	}
}

// Of two notes one after the other, of which only the shorter, later one rests, that one is read,
// and not the fundamental that both would be partials of.
func TestBriefRestAfterAnother(t *testing.T) {
	for seed, hz := range notes[:4] {
		for _, ratio := range []float64{2. / 3, 4. / 3, 3. / 5} {
			x, truth := player(t, hz, seed)
			before := make([]float64, 3*testRate/2)
			phase := 0.0
			for i := range before {
				s := float64(i) / testRate
				phase += float64(truth) * ratio * math.Exp2(60*math.Sin(2*math.Pi*1.3*s)/1200) / testRate
				for k := 1.0; k <= 8; k++ {
					before[i] += 0.1 / k * math.Sin(2*math.Pi*k*phase+k)
				}
			}
			e, ok := Note(append(before, x[testRate/2:]...), testRate, Options{})
			off := math.Abs(float64(pitch.Between(truth, e.Hz)))
			if ok && e.Rested && !e.Octave && off > float64(e.CI95)+3 {
				t.Errorf("%.0f Hz after one at %.2f of it: read as %.2f ± %.2f over %.2f to %.2f s", float64(hz), ratio, float64(e.Hz), float64(e.CI95), e.From, e.To)
			}
		}
	}
}

// The even partials and the odd ones of one player wander as one, those of two players an octave
// apart do not: and of a steady tone nobody knows.
func TestParting(t *testing.T) {
	for seed, hz := range notes {
		x, truth := player(t, hz, seed)
		other, mean := player(t, hz/2, 500+seed)
		parting := func(x []float64, hz pitch.Hertz) (float64, bool) {
			s := newSound(x[testRate/2:], testRate)
			n := &reading{sound: s, from: 15, to: s.frames - 16}
			return n.parting(n.every(2, float64(hz)))
		}
		if parts, known := parting(x, truth); known && parts > together {
			t.Errorf("%.0f Hz: parts by %.2f from itself", float64(hz), parts)
		}
		for i := range x {
			x[i] += 0.3 * other[i]
		}
		if parts, known := parting(x, mean); !known || parts < together {
			t.Errorf("%.0f Hz and an octave below: part by %.2f (%v)", float64(hz), parts, known)
		}
		if _, known := parting(partials(float64(hz), 1, 6), hz); known {
			t.Errorf("%.0f Hz: of a steady tone it is known", float64(hz))
		}
	}
}

// The partials of a pitch are split into two, all of them, and their spacing is arithmetic.
func TestSplit(t *testing.T) {
	x := make([]float64, testRate)
	for _, k := range []float64{2, 3, 4, 6, 8} {
		for i := range x {
			x[i] += 0.1 * math.Sin(2*math.Pi*k*116.5*float64(i)/testRate+k)
		}
	}
	s := newSound(x, testRate)
	n := &reading{sound: s, from: 15, to: s.frames - 16}
	for _, c := range []struct {
		m, own, spacing int
		share           float64
	}{{1, 0, 1, 0}, {2, 1, 3, 0.2}, {3, 3, 2, 0.6}, {4, 3, 1, 0.6}, {5, 5, 1, 1}} {
		got := n.every(c.m, 116.5)
		if len(got.own) != c.own || len(got.own)+len(got.shared) != 5 || got.spacing() != c.spacing || math.Abs(got.share()-c.share) > 0.01 {
			t.Errorf("every %d: %d own of %d, spacing %d, share %.3f; want %+v", c.m, len(got.own), len(got.own)+len(got.shared), got.spacing(), got.share(), c)
		}
	}
	if over := n.overtone(116.5 / 3); math.Abs(over-116.5) > 1e-9 {
		t.Errorf("overtone of a third is %g", over)
	}
}

// What a spectrum holds at the partials of a pitch, and at the odd ones: of sines of equal strength as
// many as there are.
func TestHeld(t *testing.T) {
	s := newSound(partials(200, 1, 8), testRate)
	l := s.spectrumOf(10, s.frames-10)
	one, _, _ := l.held(1600, lowestLine)
	for _, c := range []struct{ hz, all, odd float64 }{{200, 8, 4}, {400, 4, 2}, {600, 2, 1}, {100, 8, 0}, {1600, 1, 1}} {
		all, odd, _ := l.held(c.hz, lowestLine)
		if math.Abs(all/one-c.all) > 0.1*c.all || math.Abs(odd/one-c.odd) > 0.1*c.odd+1e-3 {
			t.Errorf("%g Hz: %.2f and odd %.2f, want %g and %g", c.hz, all/one, odd/one, c.all, c.odd)
		}
	}
	if a, b, c := l.match(200), l.match(400), l.match(310); a < b || b < c {
		t.Errorf("combs of 200, 400 and 310 Hz match by %g, %g, %g", a, b, c)
	}
}
