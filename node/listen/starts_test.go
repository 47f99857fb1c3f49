package listen

import (
	"math"
	"testing"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

// TestWhereTheBeginningIs: it is the middle pitch from the twelfth hop up to the thirtieth, against that of the rest; the
// hops at its two ends count, and the next ones do not.
func TestWhereTheBeginningIs(t *testing.T) {
	early := func(change func(track []float64)) float64 {
		l := listener(t)
		l.note = aNote()
		for i := range 200 {
			cents := 0.0
			if i >= earlyFrom+1 && i <= earlyFrom+8 || i == earlyFrom { // nine of eighteen
				cents = 20
			}
			l.note.put(cents, -20)
		}
		change(l.note.track)
		l.sample = l.note.onset + int64(200*l.hop)
		l.floor = -90
		l.asked = answer{onset: l.note.onset, until: l.sample, first: l.note.onset, found: true,
			estimate: estimate.Estimate{Hz: 200, CI95: 1, Rested: true, From: 60 * hopSeconds, To: 190 * hopSeconds}}
		r := l.reading()
		if !r.Settled {
			t.Fatalf("%+v", r)
		}
		return float64(r.Early)
	}
	if got := early(func([]float64) {}); math.Abs(got-20) > 1e-9 { // of an even number the upper middle
		t.Errorf("begins %g cents sharp", got)
	}
	for hop, want := range map[int]float64{11: 20, 12: 0, 20: 0, 30: 20} {
		if got := early(func(track []float64) { track[hop] = 0 }); math.Abs(got-want) > 1e-9 {
			t.Errorf("hop %d at the rest: %g cents, want %g", hop, got, want)
		}
	}
	for hop, want := range map[int]float64{11: 0, 21: 20, 29: 20, 30: 0} { // from one fewer, one more tells
		got := early(func(track []float64) { track[12], track[hop] = 0, 20 })
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("hop %d as sharp instead: %g cents, want %g", hop, got, want)
		}
	}
}

// TestAWholeStretchOfNothing: is noise, as long as it is, without a pitch, and of a room of which nothing is known.
func TestAWholeStretchOfNothing(t *testing.T) {
	for _, n := range []int{0, 10, testRate} {
		r := Whole(make([]float64, n), Config{Rate: testRate})
		if r.Settled || r.Hz != 0 || r.Reason != ReasonNoise || r.End != int64(n) || r.Floor != pitch.Silence || r.Peak != r.Level {
			t.Errorf("%d samples: %+v", n, r)
		}
	}
}

// TestAWholeStretchOfSine: has the level of its amplitude over √2; its interval holds the usual doubt of a clock where none is
// given, and less where the clock is exact.
func TestAWholeStretchOfSine(t *testing.T) {
	x := make([]float64, testRate)
	for i := range x {
		x[i] = 0.1 * math.Sin(2*math.Pi*233*float64(i)/testRate)
	}
	usual, given, exact := Whole(x, Config{Rate: testRate}), Whole(x, Config{Rate: testRate, ClockPPM: DefaultClockPPM}), Whole(x, Config{Rate: testRate, ClockPPM: -1})
	if want := pitch.LevelOf(0.1 / math.Sqrt2); math.Abs(float64(usual.Level-want)) > 0.001 || usual.Peak != usual.Level {
		t.Errorf("at %g, want %g", float64(usual.Level), float64(want))
	}
	if !usual.Settled || usual.CI95 != given.CI95 || exact.CI95 >= usual.CI95 || usual.Hz != exact.Hz {
		t.Errorf("a usual clock ±%g, the same given ±%g, an exact one ±%g", float64(usual.CI95), float64(given.CI95), float64(exact.CI95))
	}
}

// TestAShortNoteIsGuessed: where nothing can be estimated the whole note is what was looked at, its middle pitch the
// best guess, as doubtful as a reading may be; noise has none.
func TestAShortNoteIsGuessed(t *testing.T) {
	for _, c := range []struct {
		hops int
		want Reason
	}{{40, ReasonShort}, {200, ReasonNoise}} {
		l := listener(t)
		l.note = aNote()
		for i := range c.hops {
			l.note.put(float64(i%3)*6, -20) // its middle is 6
		}
		l.sample = l.note.onset + int64(c.hops*l.hop) + 99
		l.asked = answer{onset: l.note.onset, until: l.sample - 33}
		r := l.reading()
		if r.Settled || r.Reason != c.want || r.Start != l.note.onset || r.End != l.sample-33 || math.Abs(float64(r.Level+20)) > 1e-9 {
			t.Errorf("%d hops: %+v", c.hops, r)
		}
		if c.want == ReasonNoise && (r.Hz != 0 || r.CI95 != 0) ||
			c.want == ReasonShort && (math.Abs(float64(pitch.Between(200, r.Hz))-6) > 1e-6 || r.CI95 != settle.Widest) {
			t.Errorf("%d hops: %g Hz ± %g", c.hops, float64(r.Hz), float64(r.CI95))
		}
	}
}

// TestAfterAGapAllIsNew: what came before goes into nothing that is looked at afterwards.
func TestAfterAGapAllIsNew(t *testing.T) {
	s := hiss(0.4, -20, 3)
	fresh, old := listener(t), listener(t)
	old.Write(hiss(0.2, -6, 1)[:3001])
	old.Gap(7)
	fresh.Write(s)
	old.Write(s)
	if old.sample != fresh.sample+3008 || old.filled != fresh.filled || old.filled == 0 {
		t.Fatalf("%d samples and %d, %d and %d kept", fresh.sample, old.sample, fresh.filled, old.filled)
	}
	for i := range min(fresh.filled, int64(len(fresh.ring))) {
		if old.ring[i] != fresh.ring[i] {
			t.Fatalf("sample %d is %g after a gap and %g without", i, old.ring[i], fresh.ring[i])
		}
	}
	if old.level != fresh.level {
		t.Errorf("levels %g and %g", float64(old.level), float64(fresh.level))
	}
}

// TestWhatIsShort: up to shortNote a note without a pitch was too short, and beyond it was noise.
func TestWhatIsShort(t *testing.T) {
	bound := int(shortNote / hopSeconds)
	for hops, want := range map[int]Reason{bound - 1: ReasonShort, bound + 2: ReasonNoise, bound + 20: ReasonNoise} {
		l := listener(t)
		l.note = aNote(make([]float64, hops)...)
		if got := l.verdict(&Reading{Level: -20}); got != want {
			t.Errorf("%d hops: %q, want %q", hops, got, want)
		}
	}
}
