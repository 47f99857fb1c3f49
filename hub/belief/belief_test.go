package belief

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"
)

var began = time.Date(2026, time.November, 23, 19, 0, 0, 0, time.UTC)

func after(seconds float64) time.Time {
	return began.Add(time.Duration(seconds * float64(time.Second)))
}

var main = Slide{MM: 12, Max: 35, PerMM: 2.35}

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 1)) }

// model is a player drawn from what a new chair is believed to be, by a program
// of its own: the same assumptions, none of the arithmetic.
type model struct {
	r                      *rand.Rand
	x, pinch, scatter, act float64
	hand, lips             float64
	pincher, holder, holds bool
	notes                  int
}

func draw(r *rand.Rand) *model {
	m := &model{r: r, x: priorSD * r.NormFloat64(), act: 1 + newActSD*r.NormFloat64(), hand: 0.5 * main.PerMM}
	for u, i := r.Float64(), 0; ; i++ {
		if u -= newScatter[i]; u < 0 {
			m.scatter = Scatters[i]
			break
		}
	}
	switch u := r.Float64(); {
	case u < newPinches:
		m.pincher, m.lips = true, pinchMean+pinchSD*r.NormFloat64()
	case r.Float64() < newHolds:
		m.holder = true
	}
	return m
}

const testHalf = 1.0

func (m *model) note(at time.Time) Reading {
	if m.notes++; m.notes > 1 {
		m.x += wander * m.r.NormFloat64()
		switch {
		case m.pincher:
			m.lips *= pinchLeft + pinchLeftDoubt*m.r.NormFloat64()
		case m.holds && m.r.Float64() < letsGo:
			m.holds, m.lips = false, 0
		}
	}
	start := 0.0
	if m.pincher {
		start = (startShare + startDoubt*m.r.NormFloat64()) * m.lips
	}
	start += math.Hypot(startSD, testHalf/1.96) * m.r.NormFloat64()
	y := m.x + m.lips + math.Hypot(m.scatter, testHalf/1.96)*m.r.NormFloat64()
	return Reading{At: at, Cents: y, Half: testHalf, Start: start, StartHalf: testHalf}
}

func (m *model) move(cents float64) {
	d := cents*m.act + m.hand*m.r.NormFloat64()
	m.x += d
	if m.holder {
		m.holds = true
		m.lips -= holdKeeps*d + holdDoubt*cents*m.r.NormFloat64()
	}
}

// A belief is worth acting on if it is right as often as it says: of chairs
// drawn from it, as many are outside as it expects, after one note, two and
// three, moves included; and of those named as holding nine in ten hold.
func TestBeliefIsRightAsOftenAsItSays(t *testing.T) {
	const chairs = 6000
	r := random(1)
	var expected, outside, variance [3]float64
	named, holding := 0, 0
	for range chairs {
		m, c := draw(r), newChair(1, Config{}, main, Profile{})
		for i := range expected {
			c.hear(m.note(after(20 * float64(i))))
			if c.tell && c.holding > 0.9 {
				named++
				if m.holds {
					holding++
				}
			}
			if mm, _ := c.best(); mm != 0 {
				change := c.slide.change(mm)
				c.move(mm, true)
				m.move(change)
			}
			p := c.outside(0)
			expected[i] += p
			variance[i] += p * (1 - p)
			if math.Abs(m.x) > 5 {
				outside[i]++
			}
		}
	}
	for i := range expected {
		// four standard deviations of the count; and what merging and the story of a
		// wild reading, which no model plays, may cost
		if tol := 4*math.Sqrt(variance[i]) + 0.1*expected[i]; math.Abs(expected[i]-outside[i]) > tol {
			t.Errorf("after %d notes %.0f of %d are outside, expected %.0f ± %.0f", i+1, outside[i], chairs, expected[i], tol)
		}
	}
	if named < 30 || float64(holding) < 0.9*float64(named) {
		t.Errorf("of %d who were said to hold %d do, want nine in ten of 30 or more", named, holding)
	}
}

// With one story the belief is the textbook's: precisions add up.
func TestOneStoryIsTheTextbooks(t *testing.T) {
	c := newChair(1, Config{}, main, Profile{})
	c.parts = []part{c.parts[0]}
	c.parts[0].weight = 1
	c.parts[0].scatter = 1
	ys := []float64{7, 4, 5.5}
	precision, sum := 1/sq(priorSD), 0.0
	for i, y := range ys {
		if i > 0 {
			c.parts[0].variance[offset][offset] += wander * wander
			precision = 1 / (1/precision + wander*wander)
		}
		h := vector{1, 1}
		c.parts[0].observe(c.n, &h, y, 4)
		mean := sum
		if i == 0 {
			mean = 0
		}
		sum = (precision*mean + y/4) / (precision + 0.25)
		precision += 0.25
	}
	m, sd := c.place()
	if math.Abs(m-sum) > 1e-9 || math.Abs(sd-1/math.Sqrt(precision)) > 1e-9 {
		t.Errorf("%.6f ± %.6f, want %.6f ± %.6f", m, sd, sum, 1/math.Sqrt(precision))
	}
}

// P(|N(m, sd²)| > band), by adding up the density in small steps.
func TestBeyondAddsUp(t *testing.T) {
	for _, x := range []struct{ m, sd float64 }{{0, 2.5}, {3, 1.5}, {-3, 1.5}, {9, 2}, {0, 0.1}} {
		const step = 1e-3
		in := 0.0
		for y := -5 + step/2; y < 5; y += step {
			in += step * normal(y-x.m, x.sd*x.sd)
		}
		if got := beyond(x.m, x.sd, 5); math.Abs(got-(1-in)) > 1e-6 {
			t.Errorf("N(%g, %g²): %g, want %g", x.m, x.sd, got, 1-in)
		}
	}
}

// Sharp and flat are the same but for the sign, where nobody pinches: pinched
// attacks are sharp only.
func TestMirror(t *testing.T) {
	r := random(2)
	for range 200 {
		a, b := unpinched(), unpinched()
		for i := range 3 {
			y := 12 * r.NormFloat64()
			a.hear(Reading{At: after(20 * float64(i)), Cents: y, Half: 1.5})
			b.hear(Reading{At: after(20 * float64(i)), Cents: -y, Half: 1.5})
			if i == 1 {
				for k := range a.parts {
					a.parts[k].moved(a.n, 9, 1)
					b.parts[k].moved(b.n, -9, 1)
				}
			}
		}
		am, asd := a.place()
		bm, bsd := b.place()
		if math.Abs(am+bm) > 1e-9 || math.Abs(asd-bsd) > 1e-9 || math.Abs(a.outside(0)-b.outside(0)) > 1e-9 {
			t.Fatalf("%.6f ± %.6f (%.6f outside), mirrored %.6f ± %.6f (%.6f)", am, asd, a.outside(0), bm, bsd, b.outside(0))
		}
	}
}

func unpinched() *chair {
	c := newChair(1, Config{}, main, Profile{})
	kept := c.parts[:0]
	for _, p := range c.parts {
		if p.kind == easy {
			kept = append(kept, p)
		}
	}
	c.parts = kept
	c.tidy()
	return c
}

// A change of reference moves every offset and nothing else: with the reference
// raised between two notes the same sounds leave the same doubt.
func TestReferenceOnlyShifts(t *testing.T) {
	r := random(3)
	for range 100 {
		a, b := New(Config{}), New(Config{})
		a.Sit(1, main, Profile{})
		b.Sit(1, main, Profile{})
		y, z, shift := 10*r.NormFloat64(), 10*r.NormFloat64(), 8*r.NormFloat64()
		a.Heard(1, Reading{At: after(0), Cents: y, Half: 1})
		b.Heard(1, Reading{At: after(0), Cents: y, Half: 1})
		b.Refer(shift)
		a.Heard(1, Reading{At: after(20), Cents: z, Half: 1})
		b.Heard(1, Reading{At: after(20), Cents: z - shift, Half: 1})
		x, _ := a.Standing(1)
		w, _ := b.Standing(1)
		if math.Abs(x.Offset-w.Offset-shift) > 1e-6 || math.Abs(x.SD-w.SD) > 1e-6 {
			t.Fatalf("%.6f ± %.6f, with the reference raised by %.3f %.6f ± %.6f", x.Offset, x.SD, shift, w.Offset, w.SD)
		}
	}
}

// A note that is still to come cannot be expected to leave more doubt than there
// is; and a reading never widens a story.
func TestMoreIsNeverLess(t *testing.T) {
	r := random(4)
	for range 300 {
		m, c := draw(r), newChair(1, Config{}, main, Profile{})
		for i := range 3 {
			c.hear(m.note(after(20 * float64(i))))
			_, out := c.best()
			// what five points leave of an integral, and the price on the wrong way that
			// the forecast does not pay
			const tol = 0.02
			if next := c.foresee(400); next > c.outside(0)+tol || next > out+tol {
				t.Fatalf("%.4f outside is expected after another note, %.4f before it", next, out)
			}
			for _, p := range c.parts {
				q := p
				h := c.row(&q, 0, 400)
				q.observe(c.n, &h, m.x, 3)
				if q.variance[offset][offset] > p.variance[offset][offset]+1e-12 {
					t.Fatal("a reading widened a story")
				}
			}
		}
	}
}

// Readings that agree leave less and less doubt.
func TestAgreementSettles(t *testing.T) {
	s := New(Config{})
	s.Sit(1, main, Profile{})
	last := math.Inf(1)
	for i := range 6 {
		s.Heard(1, Reading{At: after(15 * float64(i)), Cents: 2, Half: 1, StartHalf: 1})
		st, _ := s.Standing(1)
		if st.SD >= last {
			t.Errorf("±%.3f after %d readings that agree, ±%.3f before", st.SD, i+1, last)
		}
		last = st.SD
	}
}

// The rules for people hold whatever happens: nobody is named while playing, nor
// without a rest, nor beyond the notes that may be asked.
func TestPeopleFirst(t *testing.T) {
	for seed := range uint64(30) {
		r := random(10 + seed)
		s := New(Config{Notes: 1 + int(seed%3)})
		n := 2 + r.IntN(24)
		models := make([]*model, n)
		asked, ended := make([]int, n), make([]time.Time, n)
		for i := range n {
			models[i] = draw(r)
			s.Sit(int64(i+1), main, Profile{})
		}
		now, playing := began, int64(0)
		for step := 0; step < 400 && !s.Over(now); step++ {
			var c Choice
			var ok bool
			if playing != 0 {
				c, ok = s.Next(now, playing)
			} else {
				c, ok = s.Next(now)
			}
			if !ok {
				if playing == 0 {
					break
				}
				playing = 0
				continue
			}
			i := int(c.Chair - 1)
			if c.Chair == playing {
				t.Fatal("a player is named while playing")
			}
			if c.Start.Before(now) || asked[i] > 0 && c.Start.Sub(ended[i]) < Rest {
				t.Fatalf("chair %d is asked %v after its last note", c.Chair, c.Start.Sub(ended[i]))
			}
			now = c.Start.Add(3 * time.Second)
			asked[i]++
			ended[i] = now
			reading := models[i].note(now)
			reading.Note, reading.Refused = c.Note, r.Float64() < 0.2
			s.Heard(c.Chair, reading)
			if mm := s.Best(c.Chair); mm != 0 && !reading.Refused {
				s.Moved(c.Chair, now, mm, r.IntN(2) == 0)
			}
			playing = c.Chair
			if r.IntN(20) == 0 {
				s.Away(int64(1 + r.IntN(n)))
			}
		}
		many, more := 0, 2*int(seed%3) // two for each further tuning note
		for i := range n {
			if asked[i] > MostNotes+more {
				many++
			}
			if asked[i] > MostEver+more {
				t.Errorf("%d notes of one player", asked[i])
			}
		}
		if many > (n+oneIn-1)/oneIn {
			t.Errorf("%d of %d players played more than %d notes", many, n, MostNotes)
		}
	}
}

// The same events give the same belief and the same choices.
func TestReplay(t *testing.T) {
	play := func() *Section {
		r := random(5)
		s := New(Config{})
		for i := range 5 {
			s.Sit(int64(i+1), main, Profile{})
			s.Sounded(int64(i+1), began, 100*float64(i))
		}
		for i := range 15 {
			id := int64(1 + i%5)
			s.Heard(id, Reading{At: after(5 * float64(i)), Cents: 8 * r.NormFloat64(), Half: 1, Played: 100*float64(id) + 3})
			s.Moved(id, after(5*float64(i)), s.Best(id), true)
		}
		return s
	}
	a, b := play(), play()
	x, _ := a.Next(after(80))
	y, _ := b.Next(after(80))
	if x != y || !reflect.DeepEqual(a, b) {
		t.Errorf("%+v and %+v of the same events", x, y)
	}
}

// Whatever comes in, no figure that is none comes out.
func TestNothingThatIsNoNumber(t *testing.T) {
	s := New(Config{Band: math.NaN()})
	nan, inf := math.NaN(), math.Inf(1)
	s.Sit(1, main, Profile{Scatter: [len(Scatters)]float64{nan, inf}, Pinches: nan, Holds: -1, Act: inf, ActSD: nan, Hand: [len(Hands)]float64{nan, inf}})
	for i, x := range []float64{nan, inf, 1e300, -1e300, 3} {
		s.Heard(1, Reading{At: after(10 * float64(i)), Cents: x, Half: 1, Start: x, StartHalf: 1, Drift: x, DriftHalf: 1, Middle: 1, Played: x})
		s.Moved(1, after(10*float64(i)), x, true)
		s.Sounded(1, after(10*float64(i)), x)
		s.Refer(nan)
	}
	st, _ := s.Standing(1)
	for _, x := range []float64{st.Offset, st.SD, st.Outside, s.Outside(), s.Best(1), s.Profile(1).HandMM, s.Profile(1).Act} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Errorf("%+v, profile %+v", st, s.Profile(1))
			break
		}
	}
}

// A profile is kept as plain figures, and what a player does is found in it.
func TestProfileLearns(t *testing.T) {
	for want, scatter := range Scatters {
		r := random(20 + uint64(want))
		p := Profile{}
		for range 15 {
			s := New(Config{})
			s.Sit(1, main, p)
			x := 10 * r.NormFloat64()
			for i := range 4 {
				y := x + math.Hypot(scatter, 0.5)*r.NormFloat64()
				s.Heard(1, Reading{At: after(20 * float64(i)), Cents: y, Half: 1, StartHalf: 1})
			}
			b, err := json.Marshal(s.Profile(1))
			if err != nil {
				t.Fatal(err)
			}
			p = Profile{}
			if err := json.Unmarshal(b, &p); err != nil {
				t.Fatal(err)
			}
		}
		mean, sum := 0.0, 0.0
		for i, w := range p.Scatter {
			mean += w * math.Log(Scatters[i])
			sum += w
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("weights sum to %g", sum)
		}
		// Within one step of the grid: 15 days of four notes tell no more.
		if got := math.Exp(mean); got < scatter/1.4 || got > scatter*1.4 {
			t.Errorf("a scatter of %g is taken for %.2f", scatter, got)
		}
	}
}

// Hands that set slides badly are found.
func TestProfileLearnsHands(t *testing.T) {
	for _, hand := range []float64{0.25, 1.5} {
		r := random(30)
		p := Profile{}
		for range 60 {
			s := New(Config{})
			s.Sit(1, main, p)
			x := 12.0
			for i := range 6 {
				s.Heard(1, Reading{At: after(20 * float64(i)), Cents: x + 1.2*r.NormFloat64(), Half: 0.5, StartHalf: 1})
				mm := []float64{0, 4, 0, -4, 0, 0}[i] // two notes tell scatter from hand
				s.Moved(1, after(20*float64(i)), mm, true)
				if mm != 0 {
					x += -main.PerMM * (mm + hand*r.NormFloat64())
				}
			}
			p = s.Profile(1)
		}
		if p.HandMM < hand/1.6 || p.HandMM > hand*1.6 {
			t.Errorf("hands that err by %g mm are taken for %.2f", hand, p.HandMM)
		}
	}
}

// A room that rises carries all along: who stood still is found to have.
func TestCommonDrift(t *testing.T) {
	r := random(6)
	s := New(Config{})
	const n = 12
	for i := range n {
		s.Sit(int64(i+1), main, Profile{Scatter: [len(Scatters)]float64{1}})
	}
	const rate = 1.5 // cents a minute
	own := make([]float64, n)
	for i := range own {
		own[i] = 4 * r.NormFloat64()
	}
	for i := range 4 * n {
		at := 5 * float64(i)
		y := own[i%n] + rate*at/60 + 1.2*r.NormFloat64()
		s.Heard(int64(1+i%n), Reading{At: after(at), Cents: y, Half: 0.5, StartHalf: 1})
	}
	if s.drift < rate/2 || s.drift > 1.5*rate {
		t.Errorf("a drift of %g cents a minute is taken for %.2f", rate, s.drift)
	}
}

// Cold instruments come last, and are asked once nobody else's note helps.
func TestColdIsAskedLast(t *testing.T) {
	s := New(Config{})
	for id := int64(1); id <= 3; id++ {
		s.Sit(id, main, Profile{})
	}
	s.Sounded(1, began, 20)
	c, _ := s.Next(began)
	if c.Chair != 2 {
		t.Errorf("chair %d is asked first, want the first warm one", c.Chair)
	}
	var row []int64
	for _, c := range s.Queue(began, 3) {
		row = append(row, c.Chair)
	}
	if !reflect.DeepEqual(row, []int64{2, 3, 1}) {
		t.Errorf("the row plays %v, want the cold one last", row)
	}
}

// A small move may go unheard; a far one is owed a hearing, and the tune-up is
// not over before it.
func TestFarMovesAreHeard(t *testing.T) {
	s := New(Config{})
	s.Sit(1, main, Profile{})
	for i := range 3 {
		s.Heard(1, Reading{At: after(20 * float64(i)), Cents: 0, Half: 0.3, StartHalf: 1})
	}
	if !s.Over(after(60)) {
		t.Fatal("three notes in tune are not enough")
	}
	s.Moved(1, after(60), 2, true)
	if st, _ := s.Standing(1); !st.Moved || st.Owed {
		t.Errorf("after a small move %+v", st)
	}
	s.Moved(1, after(61), 5, true)
	if st, _ := s.Standing(1); !st.Owed || s.Over(after(70)) {
		t.Errorf("after a far move %+v, over %v", st, s.Over(after(70)))
	}
}

// Of a move that nobody confirmed it is never said that the lips held the pitch:
// the slide may not have been moved.
func TestUnconfirmedMovesAccuseNobody(t *testing.T) {
	for _, sure := range []bool{true, false} {
		s := New(Config{})
		s.Sit(1, main, Profile{})
		s.Heard(1, Reading{At: after(4), Cents: 19, Half: 0.5, StartHalf: 1})
		s.Moved(1, after(5), 8, sure)
		s.Heard(1, Reading{At: after(20), Cents: 18, Half: 0.5, StartHalf: 1})
		if st, _ := s.Standing(1); st.Held != sure {
			t.Errorf("confirmed %v: held %v", sure, st.Held)
		}
	}
}

func BenchmarkNext24(b *testing.B) {
	r := random(7)
	s := New(Config{})
	for i := range 24 {
		s.Sit(int64(i+1), main, Profile{})
		s.Sounded(int64(i+1), began, 30*float64(i))
		s.Heard(int64(i+1), Reading{At: after(5 * float64(i)), Cents: 10 * r.NormFloat64(), Half: 1, StartHalf: 1, Played: 30 * float64(i+1)})
		s.Moved(int64(i+1), after(5*float64(i)), s.Best(int64(i+1)), false)
	}
	b.ReportAllocs()
	for b.Loop() {
		s.Next(after(130), 3)
	}
}

// From several notes the slide is set for their mean: what each has of its own
// cancels, however the notes are heard.
func TestSeveralNotesMean(t *testing.T) {
	for notes := 2; notes <= 3; notes++ {
		s := New(Config{Notes: notes})
		s.Sit(1, main, Profile{})
		own := []float64{6, -2, -4}
		if notes == 2 {
			own = []float64{5, -5}
		}
		at := 0.0
		for range 4 {
			for i, d := range own {
				s.Heard(1, Reading{At: after(at), Cents: 2 + d, Half: 0.5, StartHalf: 1, Note: i})
				at += 20
			}
		}
		st, _ := s.Standing(1)
		if math.Abs(st.Offset-2) > 0.5 {
			t.Errorf("%d notes around 2 cents are taken for %.2f", notes, st.Offset)
		}
		// With one note heard, the others' own parts are still open.
		one := New(Config{Notes: notes})
		one.Sit(1, main, Profile{})
		one.Heard(1, Reading{At: after(0), Cents: 2, Half: 0.5, StartHalf: 1})
		few, _ := one.Standing(1)
		if few.SD < 2*st.SD {
			t.Errorf("±%.2f after one of %d notes, ±%.2f after all", few.SD, notes, st.SD)
		}
	}
}

// BenchmarkReading24 is a note of one of 24 chairs taken in, the best move, and
// who is next: what is foreseen of the chairs that it changes is made anew.
func BenchmarkReading24(b *testing.B) {
	r := random(8)
	s := New(Config{})
	for i := range 24 {
		s.Sit(int64(i+1), main, Profile{})
	}
	i := 0
	for b.Loop() {
		id := int64(1 + i%24)
		now := after(5 * float64(i))
		s.Heard(id, Reading{At: now, Cents: 4 * r.NormFloat64(), Half: 1, StartHalf: 1, Earlier: true})
		if mm := s.Best(id); mm != 0 {
			s.Moved(id, now, mm, false)
		}
		s.Next(now, id)
		s.Over(now)
		i++
	}
}
