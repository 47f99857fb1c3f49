package listen

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// listener is one with default settings.
func listener(t *testing.T) *Listener {
	t.Helper()
	l, err := New(Config{Rate: testRate})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestLimitsOfSettings: from the least to the most that is taken, and nothing beyond.
func TestLimitsOfSettings(t *testing.T) {
	for _, c := range []struct {
		rate, hold float64
		ok         bool
	}{
		{8000, 0, true}, {192000, 0, true}, {7999, 0, false}, {192001, 0, false},
		{48000, 1, true}, {48000, 30, true}, {48000, 0.99, false}, {48000, 30.1, false}, {48000, math.Inf(1), false}, {48000, math.NaN(), false},
	} {
		if _, err := New(Config{Rate: c.rate, HoldFor: c.hold}); (err == nil) != c.ok {
			t.Errorf("rate %g, hold %g: %v", c.rate, c.hold, err)
		} else if err != nil && !strings.Contains(err.Error(), " 8000 to 192000") && !strings.Contains(err.Error(), " 1 to 30") {
			t.Errorf("rate %g, hold %g: %v", c.rate, c.hold, err)
		}
	}
	for given, want := range map[float64]float64{0: DefaultClockPPM, -1: 0, 7: 7, 0.5: 0.5} {
		if got := (Config{ClockPPM: given}).withDefaults(); got.ClockPPM != want || got.HoldFor != DefaultHoldFor {
			t.Errorf("%g ppm: %+v", given, got)
		}
	}
}

// TestTheBeginningHasItsSign: a note that begins sharp of its rest has a positive beginning, one that
// begins flat a negative one, and of its mirror the sizes are alike.
func TestTheBeginningHasItsSign(t *testing.T) {
	early := func(cents float64) float64 {
		path := func(s float64) pitch.Cents { return pitch.Cents(cents * math.Exp(-s/0.2)) }
		x := join(silence(0.3), played(t, tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: 2, Seed: 2, Path: path}), silence(0.3))
		rs := readings(hear(t, x, Config{Rate: testRate, ClockPPM: -1}))
		if len(rs) != 1 || !rs[0].Settled {
			t.Fatalf("begun %g cents off: %+v", cents, rs)
		}
		return float64(rs[0].Early)
	}
	straight, sharp, flat := early(0), early(24), early(-24)
	if sharp-straight < 4 || straight-flat < 4 || math.Abs(sharp+flat-2*straight) > 3 {
		t.Errorf("begun sharp %.1f, straight %.1f, flat %.1f", sharp, straight, flat)
	}
}

// TestLevels: of hops that are alike the mean is their level; it lies among them, does not depend on
// their order, rises with each of them, and is that of their powers.
func TestLevels(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 50 {
		levels := make([]float64, 1+r.IntN(20))
		power := 0.0
		for i := range levels {
			levels[i] = -80 * r.Float64()
			power += math.Pow(10, levels[i]/10) / float64(len(levels))
		}
		got := float64(meanLevel(levels))
		if math.Abs(got-10*math.Log10(power)) > 1e-9 || got < slices.Min(levels)-1e-9 || got > slices.Max(levels)+1e-9 {
			t.Errorf("%v have %g", levels, got)
		}
		levels[r.IntN(len(levels))] += 3
		if float64(meanLevel(levels)) <= got {
			t.Errorf("%v: louder, and no louder", levels)
		}
	}
	if meanLevel(nil) != pitch.Silence || meanLevel([]float64{-500}) != pitch.Silence {
		t.Errorf("nothing has %v", meanLevel(nil))
	}
}

// aNote is an open note with a track.
func aNote(track ...float64) note {
	n := note{}
	n.init(DefaultHoldFor)
	n.begin(1000, 0, 200, -20)
	for _, c := range track {
		n.put(c, -20)
	}
	return n
}

// TestTrackOfANote: what is put in comes out, as far as is looked at; pitches go to cents and back;
// hops and samples answer one another; the median is that of sorting.
func TestTrackOfANote(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	n := note{}
	n.init(1)
	n.begin(1000, 7, 200, -20)
	if n.length != 7 || len(n.track) != 7 || slices.Max(n.track) != 0 || !n.open || n.last != 0 {
		t.Errorf("begun as %+v", n)
	}
	var all []float64
	for range 150 {
		c := 50 * r.NormFloat64()
		n.put(c, -30)
		all = append(all, c)
		if n.last != c {
			t.Errorf("the last is %g, not %g", n.last, c)
		}
	}
	if n.length != 157 || len(n.track) != 101 || len(n.levels) != 101 || !slices.Equal(n.track[7:], all[:94]) {
		t.Errorf("%d hops, %d kept", n.length, len(n.track))
	}
	for _, c := range []float64{-1300, -20, 0, 3, 700} {
		if got := n.cents(float64(n.hertz(c))); math.Abs(got-c) > 1e-9 {
			t.Errorf("%g cents become %g", c, got)
		}
	}
	if n.cents(400) != 1200 || n.cents(100) != -1200 {
		t.Errorf("an octave is %g and %g", n.cents(400), n.cents(100))
	}
	const hop = 480
	for i := range n.track {
		for _, in := range []int64{0, hop - 1} {
			if got := n.hopOf(n.onset+int64(i)*hop+in, hop); got != i {
				t.Errorf("sample %d of hop %d lies in hop %d", in, i, got)
			}
		}
	}
	if n.hopOf(0, hop) != 0 || n.hopOf(1<<40, hop) != len(n.track)-1 {
		t.Error("beyond its ends")
	}
	for range 30 {
		from := r.IntN(len(n.track))
		to := from + r.IntN(len(n.track)-from)
		got := n.median(from, to)
		below, above := 0, 0
		for _, c := range n.track[from:to] {
			if c < got {
				below++
			} else if c > got {
				above++
			}
		}
		if half := (to - from) / 2; below > half || above > half || from == to && got != 0 {
			t.Errorf("of [%d, %d) %g: %d below, %d above", from, to, got, below, above)
		}
	}
}

// TestOctavesAreFolded: a pitch near that before in any octave is taken into its octave; others stay.
func TestOctavesAreFolded(t *testing.T) {
	for _, last := range []float64{0, -300, 450} {
		n := aNote(last)
		for _, octave := range []float64{-2, -1, 0, 1, 2} {
			for _, near := range []float64{-59, -20, 0, 30, 59} {
				if got := n.folded(float64(n.hertz(last + 1200*octave + near))); math.Abs(got-last-near) > 1e-6 {
					t.Errorf("last %g, %g octaves and %g cents on: %g", last, octave, near, got)
				}
			}
			for _, far := range []float64{-500, -61, 61, 500} {
				if got := n.folded(float64(n.hertz(last + 1200*octave + far))); math.Abs(got-last-1200*octave-far) > 1e-6 {
					t.Errorf("last %g, %g octaves and %g cents on: %g", last, octave, far, got)
				}
			}
		}
	}
}

// TestLeaps: another note is more than leapCents off and begins with a pitch that was found anew; it
// counts from there, and one hop at the old pitch ends it.
func TestLeaps(t *testing.T) {
	n := aNote(0)
	at := func(cents float64, fresh bool) estimate.Point {
		return estimate.Point{Hz: float64(n.hertz(cents)), Fresh: fresh}
	}
	for i, c := range []struct {
		cents float64
		fresh bool
		leaps bool
		away  int
	}{
		{59, true, false, 0}, {-59, true, false, 0}, {61, false, false, 0}, {61, true, true, 1}, {300, false, true, 2}, {-61, true, true, 3},
		{20, true, false, 0}, {300, false, false, 0}, {-200, true, true, 1}, {-200, false, true, 2},
	} {
		if got := n.leaps(at(c.cents, c.fresh)); got != c.leaps || n.away != c.away {
			t.Errorf("step %d: %v, away for %d, want %v, %d", i, got, n.away, c.leaps, c.away)
		}
	}
}

// TestCalmRun: the longest stretch within calmCents, as by trying all.
func TestCalmRun(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	for range 200 {
		n := aNote()
		for x := 0.0; len(n.track) < 25; n.put(x, -20) {
			x += 18 * r.NormFloat64()
		}
		longest := 0
		for from := range n.track {
			for to := from + 1; to <= len(n.track); to++ {
				if slices.Max(n.track[from:to])-slices.Min(n.track[from:to]) <= calmCents {
					longest = max(longest, to-from)
				}
			}
		}
		want := float64(longest) * hopSeconds
		got := n.calmRun()
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%v: %g s, want %g", n.track, got, want)
		}
	}
}

// TestTheSeat: the first note is the seat's level; it follows half of a louder one, a tenth of a
// quieter that settled and nothing of one that did not; it never passes the note it follows.
func TestTheSeat(t *testing.T) {
	var s seat
	s.hear(-40, false)
	if s.level != -40 || s.notes != 1 {
		t.Errorf("after the first %+v", s)
	}
	for _, c := range []struct {
		level   float64
		settled bool
		want    float64
	}{{-30, false, -35}, {-25, true, -30}, {-40, true, -31}, {-60, false, -31}, {-31, true, -31}} {
		notes := s.notes
		if s.hear(c.level, c.settled); math.Abs(s.level-c.want) > 1e-9 || s.notes != notes+1 {
			t.Errorf("a note of %g dB, settled %v: %+v, want %g", c.level, c.settled, s, c.want)
		}
	}
}

// TestWhoseTryItIs: at a seat where nobody has played anything may be one; then what is far below its
// level is not, nor what is somewhat below it and off the call; a bound itself still is.
func TestWhoseTryItIs(t *testing.T) {
	for _, c := range []struct {
		notes       int
		below, off  float64
		call, heard bool
		want        bool
	}{
		{0, 40, 300, true, true, false},
		{1, 14.9, 0, false, true, false}, {1, 15.1, 0, false, true, true}, {1, -20, 300, true, true, false},
		{1, 5.9, 300, true, true, false}, {1, 6.1, 300, true, true, true}, {1, 6.1, -300, true, true, true},
		{1, 6.1, 69, true, true, false}, {1, 6.1, -69, true, true, false}, {1, 6.1, 71, true, true, true}, {1, 6.1, -71, true, true, true},
		{1, 6.1, 300, false, true, false}, {1, 6.1, 300, true, false, false},
	} {
		l := listener(t)
		l.seat = seat{level: -30, notes: c.notes}
		r := Reading{Level: pitch.Level(-30 - c.below)}
		if c.call {
			l.note.call = 233
		}
		if c.heard {
			r.Hz = pitch.Hertz(233).Shift(pitch.Cents(c.off))
		}
		if got := l.strange(&r); got != c.want {
			t.Errorf("%+v: strange %v", c, got)
		}
	}
}

// TestWhyANoteDoesNotSettle: each reason by itself, and of two that which tells more.
func TestWhyANoteDoesNotSettle(t *testing.T) {
	const calm, restless, long, short = 0, 1, 200, 50
	track := func(kind, hops int) note {
		n := aNote()
		for i := range hops {
			n.put(float64(kind*80*(i%2)), -20)
		}
		return n
	}
	good := answer{found: true, estimate: estimate.Estimate{Rested: true}}
	with := func(change func(*estimate.Estimate)) answer {
		a := good
		change(&a.estimate)
		return a
	}
	unrested := with(func(e *estimate.Estimate) { e.Rested = false })
	deliberate := with(func(e *estimate.Estimate) { e.Rested = false; e.Vibrato = &settle.Vibrato{Extent: 40, Share: 0.95} })
	for _, c := range []struct {
		name     string
		n        note
		a        answer
		level    pitch.Level
		half     pitch.Cents
		gap      bool
		clipped  int
		torn     []int64
		want     Reason
		loudRoom bool
	}{
		{name: "all well", n: track(calm, long), a: good},
		{name: "as wide as may be", n: track(calm, long), a: good, half: settle.Widest},
		{name: "too wide", n: track(calm, long), a: good, half: settle.Widest + 0.1, want: ReasonWide},
		{name: "too wide in a loud room", n: track(calm, long), a: good, half: settle.Widest + 0.1, loudRoom: true, want: ReasonSoft},
		{name: "well in a loud room", n: track(calm, long), a: good, loudRoom: true},
		{name: "a gap", n: track(calm, long), a: good, gap: true, want: ReasonGap},
		{name: "torn", n: track(calm, long), a: good, torn: []int64{5000, 6000}, want: ReasonGap},
		{name: "torn once", n: track(calm, long), a: good, torn: []int64{5000}},
		{name: "torn at its ends", n: track(calm, long), a: good, torn: []int64{100, 5000, 100000}},
		{name: "never calm", n: track(restless, long), a: good, want: ReasonNoise},
		{name: "a string", n: track(calm, long), a: with(func(e *estimate.Estimate) { e.Stringy = true }), want: ReasonNoise},
		{name: "hum", n: track(calm, long), a: with(func(e *estimate.Estimate) { e.Hum = true }), want: ReasonNoise},
		{name: "nothing found, short", n: track(calm, short), want: ReasonShort},
		{name: "nothing found, long", n: track(calm, long), want: ReasonNoise},
		{name: "too quiet for anything", n: track(calm, long), a: good, level: pitch.Quietest - 0.1, want: ReasonSoft},
		{name: "as quiet as may be", n: track(calm, long), a: good, level: pitch.Quietest},
		{name: "deliberate", n: track(calm, long), a: deliberate, want: ReasonVibrato},
		{name: "narrow vibrato", n: track(calm, long), a: with(func(e *estimate.Estimate) { e.Vibrato = &settle.Vibrato{Extent: 10, Share: 0.95} })},
		{name: "two", n: track(calm, long), a: with(func(e *estimate.Estimate) { e.Two = true }), want: ReasonTwo},
		{name: "moving", n: track(calm, long), a: unrested, want: ReasonMoving},
		{name: "moving and short", n: track(calm, short), a: unrested, want: ReasonShort},
		{name: "moving, half clipped", n: track(calm, long), a: unrested, clipped: long / 2, want: ReasonMoving},
		{name: "moving, more clipped", n: track(calm, long), a: unrested, clipped: long/2 + 2, want: ReasonClipping},
		{name: "moving in a loud room", n: track(calm, long), a: unrested, loudRoom: true, want: ReasonSoft},
		{name: "clipped alone", n: track(calm, long), a: good, clipped: long},
	} {
		l := listener(t)
		l.note, l.asked = c.n, c.a
		l.note.gap, l.note.clipped = c.gap, c.clipped
		l.asked.until = 100000
		for _, at := range c.torn {
			l.note.tear(at)
		}
		r := Reading{Level: -20, CI95: c.half}
		if c.level != 0 {
			r.Level = c.level
		}
		l.floor = float64(r.Level) - softDB - 0.1
		if c.loudRoom {
			l.floor += 0.2
		}
		if got := l.verdict(&r); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestTheRoomsLevel: it goes down a fifth of the way with each quieter hop and up by floorRise with a
// louder one, never above it, and not in a note or a voice; nothing is quieter than -120 dB.
func TestTheRoomsLevel(t *testing.T) {
	for _, c := range []struct {
		floor, level float64
		voiced, open bool
		want         float64
	}{
		{-60, -70, false, false, -62}, {-60, -70, true, true, -62}, {-60, -200, false, false, -72},
		{-60, -20, false, false, -60 + floorRise}, {-60, -60 + floorRise/2, false, false, -60 + floorRise/2},
		{-60, -20, true, false, -60}, {-60, -20, false, true, -60}, {-60, -60, false, false, -60},
	} {
		l := listener(t)
		l.floor, l.level, l.note.open = c.floor, pitch.Level(c.level), c.open
		if l.moveFloor(c.voiced); math.Abs(l.floor-c.want) > 1e-9 {
			t.Errorf("%+v: %g", c, l.floor)
		}
	}
}

// TestTheGate: what is above the room by more than gateDB, and above softest, is loud; when it
// became so is the beginning of that hop.
func TestTheGate(t *testing.T) {
	l := listener(t)
	l.floor = -60
	for i, c := range []struct {
		level float64
		loud  bool
		since int64
	}{{-50.1, false, 0}, {-49.9, true, 2}, {-20, true, 2}, {-70, false, 2}, {-30, true, 5}} {
		l.sample = int64((i + 1) * l.hop)
		l.level = pitch.Level(c.level)
		if got := l.gate(); got != c.loud || l.loudAt != max(0, c.since-1)*int64(l.hop) {
			t.Errorf("hop %d at %g dB: loud %v since %d", i, c.level, got, l.loudAt)
		}
	}
	l.floor = -100
	for level, want := range map[float64]bool{-75.1: false, -74.9: true} {
		if l.level = pitch.Level(level); l.gate() != want {
			t.Errorf("%g dB in a silent room: %v", level, !want)
		}
	}
}

// TestLevelsAreRemembered: that of so many hops ago, as far as they are kept.
func TestLevelsAreRemembered(t *testing.T) {
	l := listener(t)
	for hop := range 3 * levelHops {
		l.hops++
		l.levels[l.hops%levelHops] = -float64(hop)
	}
	for ago := range 2 * levelHops {
		if got, want := l.levelAgo(ago), -float64(3*levelHops-1-min(ago, levelHops-1)); got != want {
			t.Errorf("%d hops ago: %g, want %g", ago, got, want)
		}
	}
}

// TestAnAttack: a note within a note is louder than all before it, by more than riseDB, and stays so.
func TestAnAttack(t *testing.T) {
	for _, c := range []struct {
		before, after float64
		dip           int // hops ago, 0 for none
		hops, cut     int
		want          bool
	}{
		{-40, -30, 0, 2 * riseHops, 0, true}, {-40, -31.1, 0, 2 * riseHops, 0, false}, {-40, -30.9, 0, 2 * riseHops, 0, true}, {-30, -40, 0, 2 * riseHops, 0, false},
		{-40, -30, 3, 2 * riseHops, 0, false}, {-40, -30, riseHops / 2, 2 * riseHops, 0, false}, {-40, -30, riseHops/2 + 1, 2 * riseHops, 0, true}, {-40, -30, 0, 2*riseHops - 1, 0, false}, {-40, -30, 0, 3 * riseHops, 0, true},
		{-40, -30, 0, 2 * riseHops, 1, false}, // more than is kept
	} {
		l := listener(t)
		l.note = aNote()
		for i := range c.hops {
			level := c.before
			if i >= c.hops-riseHops {
				level = c.after
			}
			if c.dip > 0 && i == c.hops-c.dip {
				level = c.before
			}
			l.note.put(0, level)
		}
		l.note.length += c.cut
		if got := l.attacked(); got != c.want {
			t.Errorf("%+v: %v", c, got)
		}
	}
	l := listener(t) // one loud moment before is enough against it
	l.note = aNote()
	for i := range 2 * riseHops {
		level := -40.0
		if i >= riseHops || i == 3 {
			level = -30
		}
		l.note.put(0, level)
	}
	if l.attacked() {
		t.Error("an attack after a moment as loud")
	}
}

// TestFlatTops: samples at full scale are clipped, and so are those that stay the same, loud, for
// longer than any wave does; quiet ones and a wave are not.
func TestFlatTops(t *testing.T) {
	const run = int(flatSeconds*testRate) + 1 // the first that is too long
	for _, c := range []struct {
		name string
		x    []float64
		want bool
	}{
		{"full scale", []float64{0, 0.999}, true}, {"minus full scale", []float64{0, -0.999}, true}, {"below it", []float64{0, 0.998}, false},
		{"flat", slices.Repeat([]float64{0.6}, run), true}, {"flat below", slices.Repeat([]float64{-0.6}, run), true}, {"not for long", slices.Repeat([]float64{0.6}, run-1), false},
		{"flat and quiet", slices.Repeat([]float64{0.49}, 3*run), false}, {"flat but for rounding", ramp(0.6, 0.9/32768, run), true}, {"rising", ramp(0.6, 1.1/32768, 3*run), false},
		{"falling", ramp(0.7, -1.1/32768, 3*run), false}, {"a break", append(append(slices.Repeat([]float64{0.6}, run-1), 0.7), slices.Repeat([]float64{0.6}, run-1)...), false},
	} {
		l := listener(t)
		for _, x := range c.x {
			l.take(x)
		}
		if l.clipped != c.want {
			t.Errorf("%s: clipped %v", c.name, l.clipped)
		}
		if l.Write(make([]float64, 2*l.hop)); l.clipped {
			t.Errorf("%s: two hops later still clipped", c.name)
		}
	}
}

func ramp(from, step float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = from + step*float64(i)
	}
	return out
}

// TestOneClippedMomentIsTold: and the reading of the note holds; of none nothing is told.
func TestOneClippedMomentIsTold(t *testing.T) {
	for _, clipped := range []bool{true, false} {
		x := played(t, tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: 1.5, Seed: 2})
		if clipped {
			x[testRate/2] = 1
		}
		rs := readings(hear(t, join(silence(0.3), x, silence(0.3)), Config{Rate: testRate, ClockPPM: -1}))
		if len(rs) != 1 || !rs[0].Settled || rs[0].Clipped != clipped {
			t.Errorf("clipped %v: %+v", clipped, rs)
		}
	}
}

// TestALouderNeighbour: a soft note ends where a much louder one begins, which is read for itself.
func TestALouderNeighbour(t *testing.T) {
	soft := played(t, tone.Config{F0: 233.1, Level: -45, Duration: 1.5, Seed: 2})
	loud := played(t, tone.Config{F0: 233.1 * 1.02, Level: -20, Duration: 1.5, Seed: 3})
	rs := readings(hear(t, join(silence(0.3), soft, loud, silence(0.3)), Config{Rate: testRate, ClockPPM: -1}))
	const change = int64(1.8 * testRate)
	if len(rs) != 2 {
		t.Fatalf("%d readings", len(rs))
	}
	if rs[0].End > change || rs[1].Onset < change-testRate/10 || rs[1].Start < change-testRate/10 {
		t.Errorf("the first until %d, the second from %d, change at %d", rs[0].End, rs[1].Onset, change)
	}
	alone := readings(hear(t, join(silence(0.3), soft, silence(0.3)), Config{Rate: testRate, ClockPPM: -1}))
	if len(alone) != 1 || math.Abs(float64(pitch.Between(alone[0].Hz, rs[0].Hz))) > 0.5*float64(alone[0].CI95) || rs[0].Peak > alone[0].Peak+0.1 {
		t.Errorf("alone it reads %+v, before the louder one %+v", alone, rs[0])
	}
	if off := float64(pitch.Between(rs[0].Hz, rs[1].Hz)); math.Abs(off-34) > 5 {
		t.Errorf("%.1f cents from the one to the other, want 34", off)
	}
}

// TestAWholeStretchIsAsWideAsItIs: what wanders too far is not settled, and says so.
func TestAWholeStretchIsAsWideAsItIs(t *testing.T) {
	wild := func(s float64) pitch.Cents { return pitch.Cents(90 * math.Sin(2*math.Pi*0.4*s)) }
	seen := map[bool]bool{}
	for _, path := range []func(float64) pitch.Cents{nil, wild} {
		r := Whole(played(t, tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: 1.5, Seed: 2, Path: path}), Config{Rate: testRate})
		wide := r.CI95 > settle.Widest
		seen[wide] = true
		if r.Settled == wide || (r.Reason == ReasonWide) != wide || (r.Reason == ReasonNone) == wide {
			t.Errorf("± %.1f: settled %v, %q", float64(r.CI95), r.Settled, r.Reason)
		}
	}
	if len(seen) != 2 {
		t.Errorf("wide or not: %v", seen)
	}
	// A clock that is off by so much makes any interval as wide: 1200 log2(1+d) cents of d.
	for ppm, wide := range map[float64]bool{2000: false, 4000: false, 4800: true} {
		r := Whole(played(t, tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: 1.5, Seed: 2}), Config{Rate: testRate, ClockPPM: ppm})
		if least := 1.96 * 1200 * math.Log2(1+ppm*1e-6); float64(r.CI95) < least || r.Settled == wide {
			t.Errorf("%g ppm: ± %.2f of at least %.2f, settled %v", ppm, float64(r.CI95), least, r.Settled)
		}
	}
}

// TestFaultsAreNoSound: what is no number, or far beyond full scale, is taken for silence.
func TestFaultsAreNoSound(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want pitch.Level
	}{{math.NaN(), pitch.Silence}, {math.Inf(1), pitch.Silence}, {math.Inf(-1), pitch.Silence}, {16.1, pitch.Silence}, {-16.1, pitch.Silence}, {16, pitch.LevelOf(16)}, {-16, pitch.LevelOf(16)}, {0.1, pitch.LevelOf(0.1)}} {
		l := listener(t)
		if l.Level() != pitch.Silence || l.Floor() != firstFloor {
			t.Errorf("before anything was heard %v over %v", l.Level(), l.Floor())
		}
		l.Write(slices.Repeat([]float64{c.x}, l.hop))
		if got := l.Level(); math.Abs(float64(got-c.want)) > 1e-9 {
			t.Errorf("%g: %v, want %v", c.x, got, c.want)
		}
	}
}

// TestGaps: lost samples count in the source's count; none lost count for nothing; an open note
// knows of them, and the level begins anew.
func TestGaps(t *testing.T) {
	for lost, want := range map[int64]int64{0: 100, 50: 150, -50: 100} {
		for _, open := range []bool{true, false} {
			l := listener(t)
			l.Write(make([]float64, 100))
			l.note.open = open
			l.Gap(lost)
			if l.sample != want || l.note.gap != open || l.inHop != 0 || l.filled != 0 || l.energy != 0 {
				t.Errorf("%d lost, open %v: sample %d, gap %v", lost, open, l.sample, l.note.gap)
			}
		}
	}
}

// TestTheRing: what is read from the past is what went in then, as far as it is kept.
func TestTheRing(t *testing.T) {
	l, err := New(Config{Rate: testRate, HoldFor: 1})
	if err != nil {
		t.Fatal(err)
	}
	factor := l.lower.Factor()
	whole := estimate.NewDecimator(testRate)
	var all []float64
	r := rand.New(rand.NewPCG(9, 1))
	for range 4 * testRate / factor * factor {
		x := 0.1 * r.NormFloat64()
		l.Write([]float64{x})
		if y, ok := whole.Write(x); ok {
			all = append(all, y)
		}
	}
	kept := len(l.ring)
	for _, c := range [][2]int{{len(all) - 10, len(all)}, {len(all) - 10, len(all) - 4}, {len(all) - kept, len(all)}, {len(all) - kept, len(all) - kept + 1}, {len(all) - 1, len(all)}} {
		from, to := int64(c[0]*factor), int64(c[1]*factor)
		x, first := l.lowered(from, to)
		if first != from || !slices.Equal(x, all[c[0]:c[1]]) {
			t.Errorf("samples %d to %d: %d from %d, want %d", c[0], c[1], len(x), first/int64(factor), c[1]-c[0])
		}
	}
	if x, first := l.lowered(int64((len(all)-kept-5)*factor), int64(len(all)*factor)); len(x) != kept || first != int64((len(all)-kept)*factor) || x[0] != all[len(all)-kept] {
		t.Errorf("older than is kept: %d from %d", len(x), first)
	}
	if x, first := l.lowered(l.sample, l.sample); x != nil || first != l.sample {
		t.Errorf("nothing: %v, %d", x, first)
	}
}

// TestEnough: when the centre is known finely, or fairly after a while, or when it has been long;
// and once enough it stays enough.
func TestEnough(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 1))
	wander := func(sd float64, hops int) note {
		n := aNote()
		for x := 0.0; len(n.track) < hops; n.put(x, -20) {
			x += 0.3*(-x) + sd*r.NormFloat64()
		}
		return n
	}
	still, wild := wander(0, 90), wander(30, tiredHops-1)
	if !still.check() || !still.enough {
		t.Error("a note that stands still is not enough")
	}
	still.track = append(still.track[:80], 300, -300, 300, -300, 300, -300)
	if still.check(); !still.enough {
		t.Error("no more enough")
	}
	if wild.check(); wild.enough {
		t.Error("a wild one is enough")
	}
	wild.put(0, -20)
	if wild.check(); !wild.enough {
		t.Error("not enough though it has been long")
	}
	if attack := wander(0, skipHops); attack.check() || attack.enough {
		t.Error("an attack rests")
	}
}

// TestThePathOfANote: each hop at its place, with its pitch and level.
func TestThePathOfANote(t *testing.T) {
	l := listener(t)
	l.note = aNote(0, 100, -100)
	l.note.levels[2] = -33
	l.sample = l.note.onset + int64(2*l.hop) - 5
	path := l.path()
	for i, want := range []struct {
		sample int64
		cents  float64
		level  pitch.Level
	}{{1000, 0, -20}, {1000 + int64(l.hop), 100, -20}, {l.sample, -100, -33}} {
		if p := path[i]; p.Sample != want.sample || math.Abs(float64(pitch.Between(200, p.Hz))-want.cents) > 1e-6 || p.Level != want.level {
			t.Errorf("point %d: %+v, want %+v", i, p, want)
		}
	}
}
