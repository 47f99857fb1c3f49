package attribute

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// TestWhichNotesCoincide: two notes share one of the first six partials of each where their
// frequencies stand as two whole numbers to six, to three cents, whichever is asked first.
func TestWhichNotesCoincide(t *testing.T) {
	low := func(ratio float64) bool { // by fractions, not by partials
		for q := 1; q <= 6; q++ {
			if p := math.Round(ratio * float64(q)); p >= 1 && p <= 6 && math.Abs(ratio*float64(q)-p) < 1e-9 {
				return true
			}
		}
		return false
	}
	for p := 1; p <= 16; p++ {
		for q := 1; q <= 16; q++ {
			ratio := float64(p) / float64(q)
			want := low(ratio)
			if coincide(100*ratio, 100) != want || coincide(100, 100*ratio) != want {
				t.Errorf("%d:%d coincide: %v, want %v", p, q, !want, want)
			}
			for off, near := range map[float64]bool{-3.2: false, -2.9: true, 2.9: true, 3.2: false} {
				if want && coincide(100*ratio*math.Exp2(off/1200), 100) != near {
					t.Errorf("%d:%d, %g cents off: %v", p, q, off, !near)
				}
			}
		}
	}
}

// TestWhatANoteExplains: a note that is all there explains all. Without one partial it lacks as much as
// that one weighs (one over the square root of its number), from a third of it on it is
// there, what lies above or out of the tracks is not asked for, and a sound that is none of its
// partials takes its part away.
func TestWhatANoteExplains(t *testing.T) {
	const f = 110.0
	all := func(hz float64) bool { return hz > bottomNeeded }
	tone := func(without int, share float64) (own []sharedPeak) {
		for n := 1; n <= 18; n++ {
			if n != without {
				own = append(own, sharedPeak{f * float64(n), 1, 1})
			} else if share > 0 {
				own = append(own, sharedPeak{f * float64(n), 0, share})
			}
		}
		return own
	}
	sum := 0.0
	for n := 2; n <= 12; n++ {
		sum += 1 / math.Sqrt(float64(n))
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %.6f, want %.6f", what, got, want)
		}
	}
	near("all of it", explains(f, tone(0, 0), all), 1)
	for n := 2; n <= 12; n++ {
		u := 1 / math.Sqrt(float64(n)) / sum
		near("without a partial", explains(f, tone(n, 0), all), 1-u)
		near("with half of what is needed", explains(f, tone(n, fullShare/2), all), 1-u/2)
		near("with what is needed", explains(f, tone(n, fullShare), all), 1)
	}
	near("without the lowest", explains(f, tone(1, 0), all), 1)
	near("without a high one", explains(f, tone(13, 0), all), 1)
	near("two out of the tracks", explains(f, tone(5, 0), func(hz float64) bool { return all(hz) && hz != 5*f }), 1)
	near("a foreign sound", explains(f, append(tone(0, 0), sharedPeak{f * 2.5, 6, 1}), all), 18.0/24)
	near("a foreign sound that is half another's", explains(f, append(tone(0, 0), sharedPeak{f * 2.5, 8, 0.5}), all), 18.0/20)
	near("beyond what is needed", explains(250, []sharedPeak{{250, 1, 1}, {500, 1, 1}, {750, 1, 1}, {1000, 1, 1}, {1250, 1, 1}, {1500, 1, 1}, {1750, 1, 1}}, all), 1)
	if got := explains(f, nil, all); got != 0 {
		t.Errorf("of nothing %g", got)
	}
}

// TestHowMuchLouderHere: a sound that its own microphone hears so many times as strongly as the other
// one does is so many decibels over it, and each of the two alike.
func TestHowMuchLouderHere(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	for _, bleed := range []float64{0.012, 0.02, 0.03} {
		in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, bleed}, {bleed, 0.1}})
		for c, got := range Fit(in).Chairs {
			if want := 20 * math.Log10(0.1/bleed); got.Verdict != Sounding || math.Abs(got.Over-want) > 1.5 {
				t.Errorf("%g there: chair %d %s, %.1f dB over, want %.1f", bleed, c, got.Verdict, got.Over, want)
			}
		}
	}
}

// TestWhereTheVotesLie: votes lie around what they say, by a bell of their width, each by its weight; one
// beyond the reach, or none, is not counted. Of two heaps within four cents the higher one is found,
// of two farther apart both, the higher one first, and no more than three.
func TestWhereTheVotesLie(t *testing.T) {
	place := func(cents float64) int { return int(math.Round((cents + voteReach) / voteStep)) }
	d := density([]ballot{{-10, 2}, {20, 1}, {voteReach + 1, 9}, {-voteReach - 1, 9}, {math.NaN(), 9}, {math.Inf(1), 9}})
	for _, off := range []float64{-3, -1.25, -0.25, 0, 0.25, 1.25, 3} {
		bell := math.Exp(-off * off / (2 * voteWidth * voteWidth))
		if a, b := d[place(-10+off)], d[place(20+off)]; math.Abs(a-2*bell) > 1e-9 || math.Abs(b-bell) > 1e-9 {
			t.Errorf("%g off: %g and %g, want %g and %g", off, a, b, 2*bell, bell)
		}
	}
	for _, free := range []float64{-voteReach, -30, 0, 40, voteReach} {
		if d[place(free)] != 0 {
			t.Errorf("%g at %g", d[place(free)], free)
		}
	}
	if got := tops(d); !slices.Equal(got, []int{place(-10), place(20)}) {
		t.Errorf("tops %v", got)
	}
	edge := density([]ballot{{-voteReach, 1}, {voteReach, 1}})
	if edge[0] != 1 || edge[len(edge)-1] != 1 || len(edge) != 481 {
		t.Errorf("at the edges %g, %g of %d", edge[0], edge[len(edge)-1], len(edge))
	}
	bars := func(at map[float64]float64) []int {
		d := make([]float64, voteSize)
		for x, v := range at {
			d[place(x)] = v
		}
		return tops(d)
	}
	for what, c := range map[string]struct {
		at   map[float64]float64
		want []float64
	}{
		"within four cents": {map[float64]float64{0: 2, 4: 1, -4: 1}, []float64{0}},
		"farther apart":     {map[float64]float64{0: 2, 4.25: 1, -4.25: 1.5}, []float64{0, -4.25, 4.25}},
		"many":              {map[float64]float64{0: 2, 10: 3, 20: 4, 30: 5}, []float64{30, 20, 10}},
		"next to none":      {map[float64]float64{0: 2, 10: 0.021, 20: 0.019}, []float64{0, 10}},
		"at the edges":      {map[float64]float64{-60: 2, 60: 1}, []float64{-60, 60}},
		"nothing":           {nil, nil},
	} {
		var want []int
		for _, x := range c.want {
			want = append(want, place(x))
		}
		if got := bars(c.at); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
}

// TestTheCommonReference: the reference of most chunks, the lower of two with as many, in whatever order.
func TestTheCommonReference(t *testing.T) {
	for want, of := range map[float64][]float64{0: nil, 116: {116}, 58: {116, 58, 58}, 40: {116, 40, 116, 40}, 41: {41, 116, 41, 116, 90}} {
		for turn := range max(1, len(of)) {
			in := Input{Chairs: make([]Chair, 2)}
			for i := range of {
				c := &in.Chairs[i%2]
				c.Chunks = append(c.Chunks, track.Chunk{Reference: pitch.Hertz(of[(i+turn)%len(of)])})
			}
			if got := reference(&in); got != want {
				t.Errorf("%v: %g, want %g", of, got, want)
			}
		}
	}
	for _, c := range []struct {
		f, hz float64
		want  int
	}{{100, 100, 1}, {100, 300, 3}, {100, 300 * math.Exp2(49.0/1200), 3}, {100, 300 * math.Exp2(51.0/1200), 0}, {100, 700 * math.Exp2(-49.0/1200), 7},
		{100, 700 * math.Exp2(-51.0/1200), 0}, {100, 49, 0}, {100, 30, 0}, {0, 300, 0}, {-100, 300, 0}, {math.NaN(), 300, 0}} {
		if got := partialAt(c.f, c.hz); got != c.want {
			t.Errorf("%g Hz of %g: partial %d, want %d", c.hz, c.f, got, c.want)
		}
	}
}

// TestFramesBetween: at a frame it is the frame, between them what a slow turn has there, and a turn is
// a complex exponential.
func TestFramesBetween(t *testing.T) {
	frames := make([]complex128, 40)
	for i := range frames {
		frames[i] = cmplx.Exp(complex(0, 0.5*float64(i)))
	}
	for x := 8.0; x < 30; x += 0.3 {
		if got, want := between(frames, x), cmplx.Exp(complex(0, 0.5*x)); cmplx.Abs(got-want) > 0.01 {
			t.Errorf("at %g: %.4f, want %.4f", x, got, want)
		}
	}
	for i, want := range frames {
		if got := between(frames, float64(i)); got != want {
			t.Errorf("at frame %d: %v, want %v", i, got, want)
		}
	}
	for x := -3.0; x < 3; x += 0.011 {
		if d := cmplx.Abs(turn(x) - cmplx.Exp(complex(0, 2*math.Pi*x))); d > 1e-7 {
			t.Errorf("%g turns are %g off", x, d)
		}
	}
}

// TestWhatAPathIs: a straight path has the mean that the slope of its phase tells; of a bow of which the
// middle lies deepest the mean lies higher, by a thirtieth of what (u-1/2)² spans (the integrals of it
// alone and times 6u(1-u) are 1/12 and 1/20). A tenth at either end is left out of how far it spreads.
func TestWhatAPathIs(t *testing.T) {
	line, bow, ramp := make([]float64, 1000), make([]float64, 1000), make([]float64, 100)
	for i := range line {
		u := (float64(i) + 0.5) / 1000
		line[i], bow[i] = 7+3*u, 60*(u-0.5)*(u-0.5)
	}
	for i := range ramp {
		ramp[i] = float64((i * 37) % 100)
	}
	if a, b := lean(line), lean(bow); math.Abs(a) > 1e-4 || math.Abs(b-2) > 1e-4 {
		t.Errorf("a line leans %g, a bow %g", a, b)
	}
	if got := inner80(ramp); got != 80 {
		t.Errorf("from 0 to 99: %g", got)
	}
	if spread, drift := moves([]float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}); spread != 8 || math.Abs(drift-100) > 1e-9 {
		t.Errorf("a cent in 10 ms: spread %g, %g cents a second", float64(spread), drift)
	}
}

// TestWhatWindowsSay: a cluster's evidence is the mean of what its windows say, each at least what a window
// says that does not name it; they are told best first; it is looked at again in the long window, where it
// is in that, and in the best of the others.
func TestWhatWindowsSay(t *testing.T) {
	g := func(score float64) *guess { return &guess{score: score} }
	for _, c := range []struct {
		best        []*guess
		evidence    float64
		scores      []float64
		long, short int
	}{
		{[]*guess{g(1), g(2), g(6)}, 3, []float64{6, 2, 1}, 0, 2},
		{[]*guess{g(1), g(6), g(2)}, 3, []float64{6, 2, 1}, 0, 1},
		{[]*guess{nil, g(1), g(6)}, 1, []float64{6, 1, -4}, 2, 1},
		{[]*guess{nil, g(5), nil}, -1, []float64{5, -4, -4}, 1, 1},
		{[]*guess{g(-9), nil, g(-1)}, -3, []float64{-1, -4, -4}, 0, 2},
		{[]*guess{g(2)}, 2, []float64{2}, 0, 0},
	} {
		cl := &cluster{best: c.best}
		long, short := cl.places()
		if cl.evidence() != c.evidence || !slices.Equal(cl.scores(), c.scores) || long != c.long || short != c.short {
			t.Errorf("%v: evidence %g, scores %v, looked at in %d and %d, want %+v", cl.scores(), cl.evidence(), cl.scores(), long, short, c)
		}
	}
	if stat.Mean([]float64{1, 2, 6}, nil) != 3 {
		t.Error("the mean of 1, 2 and 6 is 3")
	}
}

// TestPitchesThatWindowsShare: guesses within three cents of the best one are its own, one of each window and the
// best of it; what is left begins another, of which a guess of the first may be, too, and no more than three are kept.
func TestPitchesThatWindowsShare(t *testing.T) {
	all := [][][]guess{{{{cents: 0, score: 5}, {cents: 2.9, score: 4}, {cents: 9, score: 1}}}, {{{cents: -2.9, score: 3}, {cents: 3.1, score: 2}}}, {{{cents: 30, score: 0}, {cents: 50, score: -1}}}}
	var got [][]float64
	for _, cl := range clusters(make([]*window, 3), all, 0) {
		own := []float64{cl.top.cents}
		for _, x := range cl.best {
			if x == nil {
				own = append(own, math.Inf(1))
			} else {
				own = append(own, x.cents)
			}
		}
		got = append(got, own)
	}
	no := math.Inf(1)
	want := [][]float64{{0, 0, -2.9, no}, {3.1, 2.9, 3.1, no}, {9, 9, no, no}}
	if !slices.EqualFunc(got, want, slices.Equal) {
		t.Errorf("%v, want %v", got, want)
	}
}

// TestVerdictsByWhatWasFound: of what is not a chair's own, that which is much louder elsewhere and which another
// explains was overheard; one with a twin is told together with it; the rest is unclear, and so is one that is
// too uncertain, or that no window names.
func TestVerdictsByWhatWasFound(t *testing.T) {
	for what, c := range map[string]struct {
		score, tone, outdone, sd, twin float64
		none                           bool
		want                           Verdict
	}{
		"its own":                       {score: 5, want: Sounding},
		"its own, louder elsewhere":     {score: 5, tone: -2, outdone: 0.9, want: Sounding},
		"not its own":                   {score: 2, want: Unclear},
		"louder elsewhere":              {score: 2, tone: -0.6, outdone: 0.6, want: Overheard},
		"a little louder elsewhere":     {score: 2, tone: -0.4, outdone: 0.6, want: Unclear},
		"louder, but nobody's":          {score: 2, tone: -0.6, outdone: 0.4, want: Unclear},
		"too uncertain":                 {score: 5, sd: 3, want: Unclear},
		"just certain enough":           {score: 5, sd: 2, want: Sounding},
		"a twin":                        {score: 2, twin: 1, want: Together},
		"a twin of which little speaks": {score: 2, twin: -2, want: Unclear},
		"nothing found":                 {none: true, want: Unclear},
	} {
		top := &guess{hz: 200, sd: c.sd, n: 1, score: 9, facts: make([]float64, 15), path: []float64{0, 0}}
		cl := &cluster{best: []*guess{top, top}, top: top, score: c.score, facts: make([]float64, 25)}
		cl.facts[factNearer], cl.facts[factOutdone] = c.tone, c.outdone
		p := &pooled{windows: []*window{{tracks: []bool{true, true, true, true, true}}, {}}, chairs: make([][]*cluster, 5)}
		p.chairs[0] = []*cluster{cl}
		if c.none {
			p.chairs[0] = nil
		}
		if c.twin != 0 {
			x := &guess{hz: 300, score: c.twin}
			p.chairs[3] = []*cluster{{best: []*guess{x, x}, top: x}}
		}
		p.chairs[4] = []*cluster{{best: []*guess{{score: 9}, {score: 9}}, top: &guess{hz: 227}}}
		in := Input{Chairs: []Chair{{ID: 1, Expected: 200}, {ID: 2}, {ID: 3}, {ID: 4}, {ID: 5}}}
		got := p.verdict(&in, 0)
		if got.Verdict != c.want || (got.Hz != 0) != (c.want == Sounding) {
			t.Errorf("%s: %s at %g ± %g, want %s", what, got.Verdict, float64(got.Hz), float64(got.CI95), c.want)
		}
		if want := 20 * c.tone / math.Ln10; !c.none && math.Abs(got.Over-want) > 1e-9 {
			t.Errorf("%s: %g dB over, want %g", what, got.Over, want)
		}
	}
}

// TestMoreThanIsLookedAt: a stretch that is too long, a row that is too large, and one without references name no note.
func TestMoreThanIsLookedAt(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	ranges := slices.Repeat([]Range{{200, 600}}, mostChairs+1)
	for what, change := range map[string]func(*Input){
		"too long":   func(in *Input) { in.End = in.Start + longestWindow + 0.1 },
		"backwards":  func(in *Input) { in.Start, in.End = in.End, in.Start },
		"too many":   func(in *Input) { in.Chairs = append(in.Chairs, make([]Chair, mostChairs-1)...) },
		"no chunks":  func(in *Input) { in.Chairs = make([]Chair, 2) },
		"not heard":  func(in *Input) { in.Start, in.End = in.Start+20, in.End+20 },
		"no moments": func(in *Input) { in.End = in.Start },
	} {
		odd := in
		odd.Chairs = slices.Clone(in.Chairs)
		change(&odd)
		for c, hz := range Notes(odd, ranges) {
			if hz != 0 {
				t.Errorf("%s: chair %d holds %g", what, c, float64(hz))
			}
		}
	}
	for c, hz := range Notes(in, ranges) {
		if math.Abs(float64(pitch.Between(hz, pitch.Hertz(voices[c].f0)))) > 20 {
			t.Errorf("chair %d holds %g, plays %g", c, float64(hz), voices[c].f0)
		}
	}
}

// TestNothingIsReadAcrossAGap: between two frames something is read where both of them came, so nothing from
// the last one before a gap to the first one after it, and nothing beyond the ends.
func TestNothingIsReadAcrossAGap(t *testing.T) {
	in := row([]voice{{f0: 233.9, bright: 1}}, []float64{233.08}, [][]float64{{0.1}})
	c := in.Chairs[0]
	w := &window{in: &in, ref: reference(&in), mid: 0.8}
	k := c.Chunks[0].Partials[0].K
	c.Chunks = slices.Clone(c.Chunks)
	gap := len(c.Chunks) / 2
	c.Chunks = slices.Delete(c.Chunks, gap, gap+1)
	var came []bool // by frame
	first, step := c.Chunks[0].First, 0
	for i := range c.Chunks {
		p := c.Chunks[i].Find(k)
		if p == nil {
			t.Fatalf("chunk %d has no partial %d", i, k)
		}
		step = p.Step
		for int64(len(came)*step) < c.Chunks[i].First-first {
			came = append(came, false)
		}
		came = append(came, slices.Repeat([]bool{true}, p.Len())...)
	}
	read := map[bool]int{}
	for x := -3; x < len(came)+3; x++ {
		at := c.Zero + (float64(first)+(float64(x)+0.5)*float64(step))/c.Chunks[0].Rate
		want := x >= 0 && x+1 < len(came) && came[x] && came[x+1]
		read[want]++
		if got := w.resample(&c, k, []float64{at - w.mid}) != nil; got != want {
			t.Errorf("between frames %d and %d: read %v, want %v", x, x+1, got, want)
		}
	}
	if read[true] < 10 || read[false] < 10 {
		t.Errorf("%v: need some of each", read)
	}
}
