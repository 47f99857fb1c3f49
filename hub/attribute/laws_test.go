package attribute

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// TestSoftOrAbsent: how loud a chair is against its own mezzo-forte decides: a little softer is
// read, much softer is unclear, softer than soft playing is somebody else's sound. The
// balance is told with its sign.
func TestSoftOrAbsent(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	level := Fit(in).Chairs[0].Level
	for _, c := range []struct {
		above pitch.Level // of the mezzo-forte over what is heard
		want  Verdict
	}{{-5, Sounding}, {0.5, Sounding}, {6, Sounding}, {8, Unclear}, {12, Unclear}, {14, Overheard}, {20, Overheard}} {
		in.Chairs[0].Baseline = level + c.above
		got := Fit(in).Chairs
		if got[0].Verdict != c.want || got[1].Verdict != Sounding {
			t.Errorf("%g dB below its mezzo-forte: %s, want %s; the other %s", float64(c.above), got[0].Verdict, c.want, got[1].Verdict)
		}
		if got[0].BalanceKnown && c.want != Overheard && math.Abs(got[0].Balance+float64(c.above)) > 0.2 {
			t.Errorf("%g dB below: balance %g", float64(c.above), got[0].Balance)
		}
		if (got[0].Hz != 0) != (c.want == Sounding) {
			t.Errorf("%s with %v Hz", got[0].Verdict, got[0].Hz)
		}
	}
}

// TestDoublesAreToldOrRefused: of two chairs in unison a silent one never gets a reading,
// however loud the other is at its microphone, and two that both play get their own.
func TestDoublesAreToldOrRefused(t *testing.T) {
	read := 0
	for i, apart := range []float64{3, 8, 15} {
		for j, bleed := range []float64{0.02, 0.05, 0.09} {
			voices := []voice{{f0: 233.08, bright: 1}, {f0: 233.08 * math.Exp2(apart/1200), bright: 0.9}, {f0: 349.3, bright: 1}}
			both := row(voices, []float64{233.08, 233.08, 349.23}, [][]float64{{0.1, bleed / 2, 0.02}, {bleed / 2, 0.1, 0.02}, {0.02, 0.02, 0.1}})
			for c, got := range Fit(both).Chairs[:2] {
				if got.Verdict == Sounding {
					read++
					if d := pitch.Between(pitch.Hertz(voices[c].f0), got.Hz); math.Abs(float64(d)) > 1 {
						t.Errorf("%d.%d: chair %d read %.2f cents off", i, j, c, float64(d))
					}
				}
			}
			alone := row(voices, []float64{233.08, 233.08, 349.23}, [][]float64{{0.1, 0, 0.02}, {bleed, 0, 0.02}, {0.02, 0, 0.1}})
			if got := Fit(alone).Chairs[1]; got.Verdict == Sounding {
				t.Errorf("%d.%d: a silent double is read: %+v", i, j, got)
			}
		}
	}
	if read < 9 {
		t.Errorf("%d of 18 doubles are read, want half", read)
	}
}

// TestClocksGoIntoThePitch: a sample clock that runs fast makes the pitch look low by as much,
// and a doubtful one widens the interval.
func TestClocksGoIntoThePitch(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}}
	in := row(voices, []float64{233.08}, [][]float64{{0.1}})
	was := Fit(in).Chairs[0]
	in.Chairs[0].PPM, in.Chairs[0].PPMError = 300, 300
	now := Fit(in).Chairs[0]
	if d := pitch.Between(was.Hz, now.Hz); math.Abs(float64(d)-300e-6*1200/math.Ln2) > 1e-3 {
		t.Errorf("300 ppm are %.4f cents", float64(d))
	}
	if want := math.Hypot(float64(was.CI95), 0); !(float64(now.CI95) > want) {
		t.Errorf("an interval of %.4f became %.4f", float64(was.CI95), float64(now.CI95))
	}
}

// TestClocksGoIntoTheVote: the vote of the partials by itself corrects each chair's pitch by its own clock, a part
// in a million for each, and leaves the others alone; a clock of which nothing is known is doubtful by DefaultPPM.
func TestClocksGoIntoTheVote(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	vote := func(ppm, doubt float64) []ChairResult {
		in.Chairs[0].PPM, in.Chairs[0].PPMError = ppm, doubt
		return pool(&in).verdicts(&in).Chairs
	}
	was := vote(0, 0)
	if was[0].Verdict != Sounding || was[1].Verdict != Sounding {
		t.Fatalf("%+v", was)
	}
	for _, ppm := range []float64{-300, -20, 50, 300} {
		got := vote(ppm, DefaultPPM)
		if ratio := float64(got[0].Hz / was[0].Hz); math.Abs(ratio-1-ppm*1e-6) > 1e-12 || got[1].Hz != was[1].Hz {
			t.Errorf("%g ppm: times %.9f, the other from %g to %g", ppm, ratio, float64(was[1].Hz), float64(got[1].Hz))
		}
		if got[0].CI95 != was[0].CI95 {
			t.Errorf("known to %d ppm ±%g, not known ±%g", DefaultPPM, float64(got[0].CI95), float64(was[0].CI95))
		}
	}
	// An independent doubt adds in squares; 1 ppm is 1200e-6/ln 2 cents.
	cents := func(ppm float64) float64 { return ppm * 1200e-6 / math.Ln2 }
	a, b := float64(vote(0, 20)[0].CI95), float64(vote(0, 500)[0].CI95)
	if want := cents(500)*cents(500) - cents(20)*cents(20); math.Abs(b*b-a*a-want) > 1e-6 {
		t.Errorf("20 ppm leave ±%g, 500 ±%g", a, b)
	}
}

// TestAbsentByTheVote: the vote of the partials by itself says that a chair far below its own soft playing was overheard,
// one a little below is unclear, and one at its usual level sounds.
func TestAbsentByTheVote(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	vote := func() Result { return pool(&in).verdicts(&in) }
	level := vote().Chairs[0].Level
	for _, c := range []struct {
		above pitch.Level
		want  Verdict
	}{{-5, Sounding}, {6, Sounding}, {8, Unclear}, {12, Unclear}, {14, Overheard}, {20, Overheard}} {
		in.Chairs[0].Baseline = level + c.above
		got := vote().Chairs
		if got[0].Verdict != c.want || got[1].Verdict != Sounding || !got[0].BalanceKnown || math.Abs(got[0].Balance+float64(c.above)) > 1e-9 {
			t.Errorf("%g dB below its mezzo-forte: %s at %g, want %s; the other %s", float64(c.above), got[0].Verdict, got[0].Balance, c.want, got[1].Verdict)
		}
	}
}

// TestASilentDoubleIsPaired: a silent chair in unison with one that plays, however loud that one is at its microphone, is
// told together with another, as a pair that is named once, and is not read.
func TestASilentDoubleIsPaired(t *testing.T) {
	for _, third := range []float64{311.3, 349.3} {
		for _, bleed := range []float64{0.05, 0.09, 0.12, 0.2} {
			voices := []voice{{f0: 233.5, bright: 1}, {f0: 233.5, bright: 1}, {f0: third, bright: 1}}
			in := row(voices, []float64{233.08, 233.08, third * 0.999}, [][]float64{{0.1, 0, 0.02}, {bleed, 0, 0.02}, {0.02, 0, 0.1}})
			res := Fit(in)
			if res.Chairs[1].Verdict != Together || res.Chairs[1].Hz != 0 {
				t.Errorf("%g there: %+v", bleed, res.Chairs[1])
			}
			named := map[Pair]int{}
			with := 0
			for _, p := range res.Pairs {
				if named[p]++; named[p] > 1 || p.A >= p.B {
					t.Errorf("%g there: pairs %v", bleed, res.Pairs)
				}
				if p.A == in.Chairs[1].ID || p.B == in.Chairs[1].ID {
					with++
				}
			}
			if with == 0 {
				t.Errorf("%g there: it is in none of the pairs %v", bleed, res.Pairs)
			}
		}
	}
}

// TestWhereCountingBegins: the number of a node's first sample says nothing by itself, as long as its clock says when
// that was.
func TestWhereCountingBegins(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	was := Fit(in)
	for _, from := range []int64{12000, 48000 * 600} {
		moved := in
		moved.Chairs = append([]Chair(nil), in.Chairs...)
		c := &moved.Chairs[0]
		c.Chunks = append([]track.Chunk(nil), c.Chunks...)
		for i := range c.Chunks {
			c.Chunks[i].First += from
		}
		c.Zero -= float64(from) / testRate
		for k, got := range Fit(moved).Chairs {
			if got.Verdict != was.Chairs[k].Verdict || math.Abs(float64(pitch.Between(was.Chairs[k].Hz, got.Hz))) > 1e-4 {
				t.Errorf("counted from %d: %+v, was %+v", from, got, was.Chairs[k])
			}
		}
	}
}

// TestChunksThatDoNotFit: what goes on at another rate, by other steps, between two frames, from before the first or around
// another reference is left out; the rest is heard as without it.
func TestChunksThatDoNotFit(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	was := Fit(in).Chairs
	for name, change := range map[string]func(*track.Chunk){
		"another rate":       func(c *track.Chunk) { c.Rate *= 2 },
		"between two frames": func(c *track.Chunk) { c.First++ },
		"before the first":   func(c *track.Chunk) { c.First = -12000 },
		"around another":     func(c *track.Chunk) { c.Reference *= 1.5 },
	} {
		odd := in
		odd.Chairs = append([]Chair(nil), in.Chairs...)
		c := &odd.Chairs[0]
		strange := c.Chunks[len(c.Chunks)-1]
		change(&strange)
		c.Chunks = append(append([]track.Chunk(nil), c.Chunks...), strange)
		for k, got := range Fit(odd).Chairs {
			if got.Verdict != was[k].Verdict || math.Abs(float64(pitch.Between(was[k].Hz, got.Hz))) > 1e-6 {
				t.Errorf("%s: %+v, without %+v", name, got, was[k])
			}
		}
	}
	gap := in
	gap.Chairs = append([]Chair(nil), in.Chairs...)
	gap.Chairs[0].Chunks = append(append([]track.Chunk(nil), in.Chairs[0].Chunks[:1]...), in.Chairs[0].Chunks[3:]...)
	if got := Fit(gap).Chairs[0]; got.Verdict == Sounding && got.From < 0.3 {
		t.Errorf("what did not come is heard: %+v", got)
	}
}

// TestMoreEvidenceWhereFewHear: a pitch is the chair's own from the same odds on, from higher ones where few laptops hear
// the row, never where of several windows one alone says so, and without a belief never where another microphone hears more of it.
func TestMoreEvidenceWhereFewHear(t *testing.T) {
	for laptops := 1; laptops <= 5; laptops++ {
		p := &pooled{chairs: make([][]*cluster, 5), windows: []*window{{tracks: make([]bool, 5)}}}
		for i := range laptops {
			p.windows[0].tracks[i] = true
		}
		for doubt, least := range map[pitch.Cents]float64{0: accept, 2.5: acceptKnown} {
			if laptops > 1 && laptops <= FewLaptops {
				least += fewMore
			}
			for odds := accept - 0.55; odds < accept+6; odds += 0.07 {
				for _, second := range []float64{secondWindow - 0.1, secondWindow + 0.1} {
					for _, lead := range []float64{-0.01, 0.01} {
						cl := &cluster{score: odds, best: []*guess{{score: second}, {score: 9}, nil}, facts: make([]float64, factLead+1)}
						cl.facts[factLead] = lead
						want := odds >= least && second > secondWindow && (doubt > 0 || lead > 0)
						if got := p.own(&Chair{Doubt: doubt}, cl); got != want {
							t.Errorf("%d laptops, doubt %g: odds of %g, of a second window %g, lead %g, are its own: %v", laptops, doubt, odds, second, lead, got)
						}
					}
				}
			}
		}
	}
}

// TestNoReadingOfABelief: a chair that does not play is not read, wherever it is believed to stand, on its neighbours'
// pitches, an octave beside them and far from them.
func TestNoReadingOfABelief(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 231.9, bright: 0.8}, {f0: 467.5, bright: 1}}
	in := row(voices, []float64{233.08, 233.08, 466.16, 233.08, 116.54},
		[][]float64{{0.1, 0.02, 0.02}, {0.02, 0.1, 0.03}, {0.02, 0.02, 0.1}, {0.03, 0.03, 0.03}, {0.02, 0.02, 0.03}})
	for believed := pitch.Cents(-20); believed <= 20; believed += 2 {
		for _, doubt := range []pitch.Cents{0.5, 2.5} {
			for c := range in.Chairs {
				in.Chairs[c].Believed, in.Chairs[c].Doubt = believed, doubt
			}
			for c, got := range Fit(in).Chairs[3:] {
				if got.Verdict == Sounding {
					t.Errorf("silent chair %d, believed at %g ± %g, is read at %.2f cents", c+3, believed, doubt, float64(pitch.Between(in.Chairs[c+3].Expected, got.Hz)))
				}
			}
		}
	}
}

// TestTheStretchThatWasHeard: a reading is the mean of a stretch of the window, no longer than that, and a little more.
func TestTheStretchThatWasHeard(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	for c, r := range Fit(in).Chairs {
		if r.Verdict == Sounding && !(r.From >= in.Start-leadIn && r.To <= in.End+leadIn && r.To-r.From >= 0.5) {
			t.Errorf("chair %d is read from %g to %g", c, r.From, r.To)
		}
	}
}
