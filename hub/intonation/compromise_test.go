package intonation

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func findInstrument(t testing.TB, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func named4(t testing.TB, s string) pitch.Note {
	t.Helper()
	n, err := pitch.ParseNote(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// openTrumpets is a small piece on open and second-valve notes alone, where
// nothing but the main slide works: then the compromise is ordinary linear
// least squares.
func openTrumpets(t testing.TB) ([]Player, []HeldChord) {
	in := findInstrument(t, "trumpet_bb")
	players := []Player{{Name: "a", Instrument: in, Offset: 9, OneNote: 70}, {Name: "b", Instrument: in, Offset: -4, OneNote: 70}, {Name: "c", Instrument: in, OneNote: 70}}
	names := []string{"Bb3", "F4", "Bb4", "D5", "F5", "A3", "E4", "A4"}
	rng := rand.New(rand.NewPCG(5, 6))
	var chords []HeldChord
	for bar := range 30 {
		c := HeldChord{Bar: bar, Weight: 0.5 + rng.Float64()}
		for p := range players {
			c.Tones = append(c.Tones, HeldTone{p, named4(t, names[rng.IntN(len(names))]), pitch.Cents(2 * rng.NormFloat64())})
		}
		chords = append(chords, c)
	}
	return players, chords
}

func TestCompromiseIsLeastSquaresWhereOnlyMainSlidesWork(t *testing.T) {
	players, chords := openTrumpets(t)
	for _, fixed := range []bool{true, false} {
		p, err := newProblem(players, chords, fixed)
		if err != nil {
			t.Fatal(err)
		}
		for i := range p.players { // out of the way of the unbounded reference
			p.players[i].lo, p.players[i].hi = -500, 500
		}
		got := p.solve(p.oneNote())
		want := leastSquares(t, p)
		for _, c := range p.chords {
			for k := range c.tones {
				if x := c.tones[k].before(got[c.tones[k].player]); math.Abs(x) > hopeless {
					t.Fatalf("an error of %.1f cents is beyond what counts by its square", x)
				}
			}
		}
		for i := range got {
			if math.Abs(got[i]-want[i]) > 0.01 {
				t.Errorf("fixed %v, player %d: %.4f mm, gonum's QR least squares has %.4f", fixed, i, got[i], want[i])
			}
		}
	}
}

// leastSquares solves the same problem as one dense system by gonum's QR:
// unknown main settings and chord shifts, one row a tone and one a chord.
func leastSquares(t *testing.T, p *problem) []float64 {
	n, rows := len(p.players), 0
	for _, c := range p.chords {
		rows += len(c.tones) + 1
	}
	a, b := mat.NewDense(rows, n+len(p.chords), nil), mat.NewVecDense(rows, nil)
	row := 0
	for ci, c := range p.chords {
		for _, x := range c.tones {
			if x.flat != 0 || x.sharp != 0 {
				t.Fatalf("note %s has slides that move while playing", x.note)
			}
			w := math.Sqrt(c.weight * (1 + effortCost))
			a.Set(row, x.player, w*x.slope)
			if !p.fixed {
				a.Set(row, n+ci, -w)
			}
			b.SetVec(row, w*(x.want-x.error))
			row++
		}
		a.Set(row, n+ci, math.Sqrt(c.weight*floatCost*float64(len(c.tones))))
		row++
	}
	var x mat.Dense
	if err := x.Solve(a, b); err != nil {
		t.Fatal(err)
	}
	return mat.Col(nil, 0, &x)[:n]
}

// cost is the function that solve makes least, the chords already placed.
func (p *problem) cost(mm []float64) float64 {
	p.float(mm)
	sum := 0.0
	for _, c := range p.chords {
		for k := range c.tones {
			x := c.tones[k].before(mm[c.tones[k].player])
			l := math.Abs(c.tones[k].left(x))
			if l > hopeless {
				l = math.Sqrt(2*hopeless*l - hopeless*hopeless) // Huber's loss
			}
			sum += c.weight * (l*l + effortCost*x*x + floatCost*c.shift*c.shift)
		}
	}
	return sum
}

func TestCompromiseAgainstAGeneralOptimiser(t *testing.T) {
	players, chords := bandPiece(t, 6, 6)
	p, err := newProblem(players, chords, false)
	if err != nil {
		t.Fatal(err)
	}
	for i := range p.players {
		p.players[i].lo, p.players[i].hi = -500, 500
	}
	got := p.solve(p.oneNote())
	start := p.oneNote()
	result, err := optimize.Minimize(optimize.Problem{Func: p.cost}, start, &optimize.Settings{MajorIterations: 20000, FuncEvaluations: 60000, Converger: &optimize.FunctionConverge{Absolute: 1e-8, Iterations: 4000}}, &optimize.NelderMead{})
	if err != nil {
		t.Log(err) // out of evaluations: what it found still bounds the minimum from above
	}
	ours := p.cost(got)
	t.Logf("cost %.6f, gonum's Nelder-Mead %.6f after %d evaluations", ours, result.F, result.FuncEvaluations)
	if ours > result.F*(1+1e-6) {
		t.Errorf("cost %.6f, but %.6f is possible", ours, result.F)
	}
	for i := range got {
		for _, step := range []float64{-0.5, 0.5} {
			moved := append([]float64(nil), got...)
			moved[i] += step
			if p.cost(moved) < ours {
				t.Errorf("player %d: half a millimetre from %.2f is cheaper", i, got[i])
			}
		}
	}
}

// bandPiece is an invented piece of plain chords for n players from an
// invented band, four held chords a bar, each player a little off.
func bandPiece(t testing.TB, n, bars int) ([]Player, []HeldChord) {
	ids := []instrument.ID{"trumpet_bb", "trumpet_bb", "trumpet_bb", "horn_double", "horn_double", "horn_double",
		"tenor_trombone_bb", "tenor_trombone_bb", "bass_trombone_bb", "euphonium_bb_bc", "tuba_eb", "tuba_bbb"}
	rng := rand.New(rand.NewPCG(11, 12))
	var players []Player
	var parts []Part
	for i, id := range ids[:n] {
		in := findInstrument(t, id)
		players = append(players, Player{Name: string(id), Instrument: in, Offset: pitch.Cents(6 * rng.NormFloat64()), OneNote: in.TuningNote(named4(t, "Bb3"))})
		parts = append(parts, Part{Chair: Chair(i), Low: in.Low, High: in.High, Rank: i})
	}
	qualities := []Quality{Major, Minor, Dominant7, Minor7, Major}
	roots := []int{10, 3, 5, 0, 7, 8}
	spreads := map[Chord]map[Chair]pitch.Note{}
	var chords []HeldChord
	for i := range 4 * bars {
		c := Chord{Root: roots[rng.IntN(len(roots))], Quality: qualities[rng.IntN(len(qualities))]}
		if spreads[c] == nil {
			spreads[c] = Spread(c, parts)
		}
		h := HeldChord{Bar: i / 4, Weight: 1}
		for _, chair := range sorted(spreads[c]) {
			note := spreads[c][chair]
			tone, _ := c.Tone(note)
			h.Tones = append(h.Tones, HeldTone{int(chair), note, tone.Offset()})
		}
		chords = append(chords, h)
	}
	return players, chords
}

func TestCompromiseGainsOnOneNote(t *testing.T) {
	players, chords := bandPiece(t, 12, 40)
	plan, err := Compromise(players, chords, 5, false)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(plan.Words)
	if plan.RMS > plan.OneNoteRMS {
		t.Errorf("%.2f cents remain, %.2f after tuning on one note", plan.RMS, plan.OneNoteRMS)
	}
	for _, pl := range plan.Players {
		if pl.MainMM < 0 || pl.MainMM > pl.TravelMM || pl.MainMM != math.Round(pl.MainMM) {
			t.Errorf("%s at %g of %g mm", pl.Name, pl.MainMM, pl.TravelMM)
		}
	}
	for i, h := range plan.Hurts {
		if math.Abs(float64(h.Left)) <= 5 {
			t.Errorf("bar %d is said to hurt by %.1f cents", h.Bar, h.Left)
		}
		if i > 0 && h.gravity() > plan.Hurts[i-1].gravity() {
			t.Error("hurts out of order")
		}
	}
}

// TestCompromiseMovesNothingForNothing: a player either gains a cent and more by
// leaving the tuning note's place, or stands there; and notes that the hand slide
// puts right anyway move no bell slide, whatever they are.
func TestCompromiseMovesNothingForNothing(t *testing.T) {
	trombone := findInstrument(t, "tenor_trombone_bb")
	var chords []HeldChord
	for bar, names := range [][3]string{{"Ab2", "Eb3", "Ab3"}, {"G2", "D3", "B3"}, {"Ab2", "C3", "Ab3"}, {"A2", "E3", "A3"}} {
		c := HeldChord{Bar: bar, Weight: 1}
		for player, name := range names {
			c.Tones = append(c.Tones, HeldTone{player, named4(t, name), pitch.Cents(3 * (player - 1))})
		}
		chords = append(chords, c)
	}
	var players []Player
	for i, off := range []pitch.Cents{7, -12, 4} {
		players = append(players, Player{Name: string(rune('a' + i)), Instrument: trombone, Offset: off, OneNote: named4(t, "Bb3")})
	}
	plan, err := Compromise(players, chords, 5, false)
	if err != nil {
		t.Fatal(err)
	}
	for _, pl := range plan.Players {
		if pl.MainMM != pl.OneNoteMM {
			t.Errorf("%s: bell slide at %g instead of %g mm for %.2f instead of %.2f cents", pl.Name, pl.MainMM, pl.OneNoteMM, pl.RMS, pl.OneNoteRMS)
		}
	}
	for seed := range 4 {
		ps, cs := bandPiece(t, 4+2*seed, 10)
		plan, err := Compromise(ps, cs, 5, seed%2 == 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, pl := range plan.Players {
			if pl.MainMM != pl.OneNoteMM && pl.OneNoteRMS-pl.RMS < 1 {
				t.Errorf("%s moves from %g to %g mm for %.2f cents", pl.Name, pl.OneNoteMM, pl.MainMM, pl.OneNoteRMS-pl.RMS)
			}
		}
	}
}

// TestCompromiseGivesFirstPositionASlide: a trombone whose piece is mostly D4
// in first position has no slide to come in by, for the fifth partial lies
// 13.7 cents low. By the tube formula it needs 11.6 mm less than the usual
// pull to be tempered.
func TestCompromiseGivesFirstPositionASlide(t *testing.T) {
	in := findInstrument(t, "tenor_trombone_bb")
	d4 := named4(t, "D4")
	players := []Player{{Name: "trombone", Instrument: in, OneNote: named4(t, "Bb3")}}
	chords := []HeldChord{{Bar: 1, Weight: 10, Tones: []HeldTone{{0, d4, 0}}}, {Bar: 2, Weight: 1, Tones: []HeldTone{{0, named4(t, "Bb3"), 0}}}}
	plan, err := Compromise(players, chords, 5, true)
	if err != nil {
		t.Fatal(err)
	}
	main, _ := in.Slide(instrument.Main)
	if got := main.UsualMM - plan.Players[0].MainMM; math.Abs(got-11.6) > 1 {
		t.Errorf("pushed in %.1f mm, want about 11.6", got)
	}
	if len(plan.Hurts) != 0 {
		t.Errorf("still hurts: %+v", plan.Hurts)
	}
}

func TestCompromiseNamesWhatStillHurts(t *testing.T) {
	in := findInstrument(t, "trumpet_bb")
	players := []Player{{Name: "cornet", Instrument: in, OneNote: 70}}
	chords := []HeldChord{
		{Bar: 1, Weight: 1, Tones: []HeldTone{{0, named4(t, "Bb4"), -14}}}, // a third on an open note
		{Bar: 2, Weight: 1, Tones: []HeldTone{{0, named4(t, "Bb4"), 16}}},
		{Bar: 3, Weight: 1, Tones: []HeldTone{{0, named4(t, "Bb1"), 0}}}, // not on a trumpet
	}
	plan, err := Compromise(players, chords, 5, true)
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Hurts) != 2 || plan.Unplayable != 1 {
		t.Errorf("hurts %+v, %d unplayable; want both bars of the open note and one unplayable", plan.Hurts, plan.Unplayable)
	}
}

func TestCompromiseRefusals(t *testing.T) {
	in := findInstrument(t, "trumpet_bb")
	if _, err := Compromise([]Player{{Name: "nobody"}}, nil, 5, false); err == nil || !strings.Contains(err.Error(), "nobody has no instrument") {
		t.Errorf("no instrument: %v", err)
	}
	if _, err := Compromise([]Player{{Instrument: in}}, []HeldChord{{Weight: 1, Tones: []HeldTone{{3, 70, 0}}}}, 5, false); err == nil {
		t.Error("a player who is not there is accepted")
	}
	plan, err := Compromise([]Player{{Instrument: in, OneNote: 70}}, []HeldChord{{Weight: math.NaN(), Tones: []HeldTone{{0, 70, 0}}}}, 5, false)
	if err != nil || plan.RMS != 0 {
		t.Errorf("weight that is no number: %+v, %v", plan, err)
	}
}

// BenchmarkCompromise is 300 bars of four chords for 12 parts.
func BenchmarkCompromise(b *testing.B) {
	players, chords := bandPiece(b, 12, 300)
	for b.Loop() {
		if _, err := Compromise(players, chords, 5, false); err != nil {
			b.Fatal(err)
		}
	}
}
