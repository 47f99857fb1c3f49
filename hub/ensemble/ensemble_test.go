package ensemble

import (
	"math"
	"testing"

	"bellrow/hub/attribute"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// node is a laptop whose clock stands behind the hub's by offset and whose sound card runs
// fast by ppm, made another way than Clock does.
type node struct{ offset, ppm, rate float64 }

// ping is what it says at a moment of the hub's clock; its samples began at zero.
func (n node) ping(hub, zero, doubt float64) proto.Ping {
	return proto.Ping{Sent: hub - n.offset, Offset: n.offset, Error: doubt, Sample: int64(math.Round((hub - zero) * n.rate * (1 + n.ppm*1e-6)))}
}

// TestClock: whatever a node's clock shows, its first sample lies where it was heard on the hub's,
// and a card that runs fast is told to run fast by as much.
func TestClock(t *testing.T) {
	for _, n := range []node{{0, 0, 48000}, {7200, 80, 48000}, {-31.5, -60, 44100}} {
		const zero = 1000.0
		var c Clock
		if at, err := c.Zero(n.rate); c.Known() || at != 0 || err != 0 {
			t.Error("a clock that heard nothing knows something")
		}
		c.Take(n.ping(zero+1, zero, 0)) // says nothing
		if c.Known() {
			t.Error("a ping without a bound is believed")
		}
		c.Take(n.ping(zero+2, zero, 0.004))
		c.Take(n.ping(zero+62, zero, 0.002))
		at, err := c.Zero(n.rate)
		if drift := 62 * n.ppm * 1e-6; !c.Known() || math.Abs(at-(zero-drift)) > 1e-4 || err != 0.002 {
			t.Errorf("%+v: sample 0 at %.5f ± %g, want %.5f ± 0.002", n, at, err, zero-drift)
		}
		ppm, doubt := c.PPM(n.rate)
		if math.Abs(ppm-n.ppm) > 1 || math.Abs(doubt-100) > 1e-6 { // 6 ms in 60 s
			t.Errorf("%+v: %.2f ± %.2f ppm, want %g ± 100", n, ppm, doubt, n.ppm)
		}
		c.Take(n.ping(zero+90, zero+85, 0.002)) // the card was opened anew
		if at, _ := c.Zero(n.rate); math.Abs(at-(zero+85)) > 1e-3 {
			t.Errorf("%+v: opened anew, sample 0 at %.5f", n, at)
		}
		if ppm, doubt := c.PPM(n.rate); ppm != 0 || doubt != 0 {
			t.Errorf("%+v: %g ± %g ppm after one ping of a new count", n, ppm, doubt)
		}
		if at, err := c.Zero(0); at != 0 || err != 0 {
			t.Error("no rate and a time all the same")
		}
		if ppm, err := c.PPM(0); ppm != 0 || err != 0 {
			t.Error("no rate and a pace all the same")
		}
	}
}

// TestPPMTakesAMinute: before that the doubt is larger than cards differ.
func TestPPMTakesAMinute(t *testing.T) {
	n := node{0, 50, 48000}
	for after, known := range map[float64]bool{59.5: false, 60: true, 600: true} {
		var c Clock
		c.Take(n.ping(1, 0, 0.001))
		c.Take(n.ping(1+after, 0, 0.001))
		if _, doubt := c.PPM(48000); (doubt > 0) != known {
			t.Errorf("after %g s: ± %g ppm", after, doubt)
		}
	}
}

// TestReference: all partials of all tones lie near its multiples, and no higher one would do.
func TestReference(t *testing.T) {
	a := pitch.Reference{}
	note := func(s string) pitch.Hertz {
		n, err := pitch.ParseNote(s)
		if err != nil {
			t.Fatal(err)
		}
		return a.Frequency(n)
	}
	for _, c := range []struct {
		name  string
		tones []pitch.Hertz
		root  pitch.Hertz
		want  pitch.Hertz
	}{
		{"nobody", nil, 0, 0},
		{"one note in octaves: the lowest", []pitch.Hertz{note("Bb4"), note("Bb2"), note("Bb3")}, 0, note("Bb2")},
		{"a fifth over its root: the root, two octaves under the third", []pitch.Hertz{note("Bb2"), note("F3"), note("D4")}, note("Bb2"), note("Bb1")},
		{"a minor third lies near no multiple", []pitch.Hertz{note("C3"), note("Eb3"), note("G3")}, note("C3"), Grid},
		{"a tempered tone 19 cents out still counts", []pitch.Hertz{100, 200 * pitch.Hertz(math.Exp2(19.0/1200))}, 0, 100},
		{"one 21 cents out does not", []pitch.Hertz{100, 200 * pitch.Hertz(math.Exp2(21.0/1200))}, 0, Grid},
		{"a root that sounds a little above the lowest tone", []pitch.Hertz{100, 152}, 50.4, 50.4},
		{"a root by name, 17 cents above the lowest tone", []pitch.Hertz{100, 204}, 101, 101},
		{"no root under 25 Hz", []pitch.Hertz{40, 53.3}, 26.7, Grid},
	} {
		if got := Reference(c.tones, c.root); math.Abs(float64(got-c.want)) > 1e-9 {
			t.Errorf("%s: %.3f Hz, want %.3f", c.name, float64(got), float64(c.want))
		}
	}
}

// played is a chair whose tracks last from one moment to another of the hub's clock.
func played(id int64, from, to float64, n node) Chair {
	c := Chair{ID: id, Expected: 233, Tracks: true, Baseline: -20}
	zero := from - 2
	c.Clock.Take(n.ping(from, zero, 0.002))
	at := func(hub float64) int64 { return int64((hub - zero) * n.rate) }
	for _, hub := range []float64{from, (from + to) / 2, to} {
		c.Chunks = append(c.Chunks, track.Chunk{First: at(hub), Rate: n.rate, Floor: -71})
	}
	return c
}

// asked is an attributor that notes its windows and answers as it is told.
type asked struct {
	windows []attribute.Input
	answer  func(try int, in attribute.Input) attribute.Result
}

func (a *asked) Fit(in attribute.Input) attribute.Result {
	a.windows = append(a.windows, in)
	return a.answer(len(a.windows)-1, in)
}

// verdicts answers a window by chair.
func verdicts(in attribute.Input, vs ...attribute.Verdict) attribute.Result {
	var res attribute.Result
	for i, v := range vs {
		hz := pitch.Hertz(0)
		if v == attribute.Sounding {
			hz = pitch.Hertz(200 + i)
		}
		res.Chairs = append(res.Chairs, attribute.ChairResult{ID: in.Chairs[i].ID, Verdict: v, Hz: hz})
	}
	return res
}

const (
	yes = attribute.Sounding
	no  = attribute.Unclear
)

// TestWindow: laptops with clocks of their own are laid side by side, from where all who begin
// together are at rest to where four in five still sound.
func TestWindow(t *testing.T) {
	in := Input{Chairs: []Chair{
		played(1, 101.9, 102.2, node{0, 0, 48000}), // comes late, leaves early
		played(2, 100.3, 103.2, node{1, 0, 48000}), played(3, 100.2, 103.1, node{500, 0, 44100}), played(4, 100.1, 102.9, node{-9, 0, 48000}), played(5, 100, 103, node{0, 0, 48000}),
	}}
	a := &asked{answer: func(_ int, w attribute.Input) attribute.Result { return verdicts(w, yes, yes, yes, yes, yes) }}
	in.Fit(a, nil)
	w := a.windows[0]
	if len(a.windows) != 1 || math.Abs(w.Start-101.1) > 1e-3 || math.Abs(w.End-102.9) > 1e-3 {
		t.Errorf("%d windows, from %.3f to %.3f; want one from 101.1 to 102.9", len(a.windows), w.Start, w.End)
	}
	for i, c := range w.Chairs {
		if c.ID != int64(i+1) || !c.Able || c.Baseline != -20 || c.Floor != -71 || c.Expected != 233 || c.ClockError != 0.002 || len(c.Chunks) != 3 {
			t.Errorf("%+v", c)
		}
	}
}

// TestStretch: a row that lasts is heard from half a second after its first notes are at rest, for
// two and a half; a short one as long as it lasts.
func TestStretch(t *testing.T) {
	for _, c := range []struct{ ends, from, to float64 }{{105, 100.8, 103.3}, {102.5, 100.8, 102.5}, {102, 100.5, 102}, {101.5, 100.3, 101.5}} {
		in := Input{Chairs: []Chair{played(1, 100, c.ends, node{0, 0, 48000}), played(2, 100, c.ends, node{3, 0, 48000})}}
		a := &asked{answer: func(_ int, w attribute.Input) attribute.Result { return verdicts(w, no, yes) }}
		saw := 0
		res := in.Fit(a, func(attribute.Input, attribute.Result) { saw++ })
		if w := a.windows[0]; len(a.windows) != 1 || saw != 1 || math.Abs(w.Start-c.from) > 1e-3 || math.Abs(w.End-c.to) > 1e-3 {
			t.Errorf("until %g: %d windows, %.3f to %.3f, want %g to %g", c.ends, len(a.windows), w.Start, w.End, c.from, c.to)
		}
		if res.Chairs[0].Verdict != no || res.Chairs[1].Verdict != yes {
			t.Errorf("%+v", res)
		}
	}
}

// TestWrongClocks: tracks that a clock lays into another time, or whose clock is not known to
// doubtfulTime, are left out; the chair's own reading stays.
func TestWrongClocks(t *testing.T) {
	late, vague := played(3, 140, 143, node{0, 0, 48000}), played(4, 100, 103, node{0, 0, 48000})
	vague.Clock = Clock{}
	vague.Clock.Take(node{0, 0, 48000}.ping(100, 98, 0.06))
	for i, c := range []*Chair{&late, &vague} {
		c.Reading = &proto.Reading{Hz: pitch.Hertz(233 + i), Settled: true, Start: 4, End: 6}
	}
	in := Input{Chairs: []Chair{played(1, 100, 103, node{0, 0, 48000}), played(2, 100.1, 103, node{9, 0, 48000}), late, vague, played(5, 100, 103, node{1, 0, 48000}), played(6, 100, 103.1, node{1, 0, 48000})}}
	var got attribute.Input
	in.Fit(&asked{answer: func(_ int, w attribute.Input) attribute.Result { got = w; return verdicts(w, no, no, no, no, no, no) }}, nil)
	for i, c := range got.Chairs {
		if out := i == 2 || i == 3; (c.Chunks == nil) != out || c.Able == out || (c.Own.Hz > 0) != out {
			t.Errorf("chair %d: %d chunks, able %t, own %v", i+1, len(c.Chunks), c.Able, c.Own.Hz)
		}
	}
	if w := got; math.Abs(w.Start-100.9) > 0.06 {
		t.Errorf("the window begins at %.2f", w.Start)
	}
	var c Clock
	c.Take(proto.Ping{Sent: 5, Offset: 2, Error: 0.001})
	if c.Known() {
		t.Error("a ping from before the first sample is believed")
	}
}

// TestWithoutTracks: a laptop that sends none is taken by its own reading; one without a clock
// cannot be laid beside others; one that did not settle says nothing by itself.
func TestWithoutTracks(t *testing.T) {
	older := Chair{ID: 1, Expected: 233, Reading: &proto.Reading{Hz: 233.5, CI95: 0.4, Spread: 2, Drift: -1, Level: -21, Settled: true, Start: 4, End: 6}}
	unclocked := played(2, 100, 103, node{0, 0, 48000})
	unclocked.Clock = Clock{}
	restless := Chair{ID: 3, Reading: &proto.Reading{Hz: 250, Start: 4.2, End: 6.2}}
	var got attribute.Input
	a := &asked{answer: func(_ int, w attribute.Input) attribute.Result { got = w; return verdicts(w, no, no, no) }}
	Input{Chairs: []Chair{older, unclocked, restless}}.Fit(a, nil)
	c := got.Chairs
	if c[0].Own != (attribute.OneMic{Hz: 233.5, CI95: 0.4, Spread: 2, Drift: -1, Level: -21}) || c[0].Able {
		t.Errorf("older: %+v", c[0])
	}
	if c[1].Able || c[1].Chunks != nil {
		t.Errorf("without a clock: %+v", c[1])
	}
	if c[2].Own != (attribute.OneMic{}) {
		t.Errorf("not settled: %+v", c[2])
	}
	alone := Input{Chairs: []Chair{{ID: 1, Reading: &proto.Reading{Settled: true, Start: 4, End: 4.2}}}}
	one := &asked{answer: func(_ int, w attribute.Input) attribute.Result { return verdicts(w, no) }}
	alone.Fit(one, nil) // made as long as a window must be, about its middle
	if w := one.windows[0]; math.Abs(w.Start-3.7) > 1e-9 || math.Abs(w.End-4.5) > 1e-9 {
		t.Errorf("a short reading's window is %.3f to %.3f, want 3.7 to 4.5", w.Start, w.End)
	}
	none := &asked{answer: func(_ int, w attribute.Input) attribute.Result { return attribute.Result{} }}
	if res := (Input{}).Fit(none, nil); len(res.Chairs) != 0 {
		t.Errorf("nobody: %+v", res)
	}
}

// TestNotesNobodyCalledAreFound: what all microphones together say of a held note goes before what
// a laptop read by itself, and only the first window is asked for it.
func TestNotesNobodyCalledAreFound(t *testing.T) {
	const ref, rate, note = 10.5, 48000.0, 231.3
	c := Chair{ID: 1, Tracks: true, Range: attribute.Range{Low: 80, High: 900}, Reading: &proto.Reading{Hz: 462, Settled: true, Start: 4, End: 6}}
	c.Clock.Take(node{0, 0, rate}.ping(4, 0, 0.002))
	const hop = 2400 // samples
	for first := int64(4 * rate); first < int64(11*rate); first += 5 * hop {
		chunk := track.Chunk{Reference: ref, First: first, Rate: rate, Floor: -70, Level: -20}
		for n := 1; n <= 6; n++ { // partials of the note, each at the multiple next to it
			k := int(math.Round(note * float64(n) / ref))
			var frames []complex128
			for j := range 5 {
				s := float64(first+int64(j*hop)) / rate
				re, im := math.Sincos(2 * math.Pi * (note*float64(n) - ref*float64(k)) * s)
				frames = append(frames, complex(im, re)*complex(0.1/float64(n), 0))
			}
			b, scale := track.Pack(nil, frames)
			chunk.Partials = append(chunk.Partials, track.Partial{K: k, Step: hop, Scale: scale, Frames: b})
		}
		c.Chunks = append(c.Chunks, chunk)
	}
	var got attribute.Input
	a := &asked{answer: func(_ int, w attribute.Input) attribute.Result { got = w; return verdicts(w, yes) }}
	Input{Chairs: []Chair{c}, Unknown: true}.Fit(a, nil)
	if hz := got.Chairs[0].Expected; !hz.Valid() || math.Abs(float64(pitch.Between(note, hz))) > 20 {
		t.Errorf("a note of %g Hz is taken for %.2f", note, float64(hz))
	}
}

// TestUnknownNotes: where nobody called a note, what a laptop read by itself is taken where all
// together say nothing; where one was called, that stays.
func TestUnknownNotes(t *testing.T) {
	c := Chair{ID: 1, Expected: 233, Range: attribute.Range{Low: 80, High: 900}, Reading: &proto.Reading{Hz: 311, Settled: true, Start: 4, End: 6}}
	for _, unknown := range []bool{true, false} {
		var got attribute.Input
		a := &asked{answer: func(_ int, w attribute.Input) attribute.Result { got = w; return verdicts(w, no) }}
		Input{Chairs: []Chair{c}, Unknown: unknown}.Fit(a, nil)
		want := pitch.Hertz(233)
		if unknown {
			want = 311
		}
		if got.Chairs[0].Expected != want {
			t.Errorf("unknown %t: %v Hz, want %v", unknown, got.Chairs[0].Expected, want)
		}
	}
}
