package history

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// notesOf are the beginning and the end of a watch of 90 minutes.
func notesOf(begin, end []float64) (notes []watchNote) {
	for _, x := range begin {
		notes = append(notes, watchNote{minute: 10, rest: x})
	}
	for _, x := range end {
		notes = append(notes, watchNote{minute: 80, rest: x})
	}
	return notes
}

// TestWelchsInterval: of two samples as large and as wide it is Student's with 2n-2 degrees of freedom, and
// where one has no width at all, that of the other alone (B. L. Welch, Biometrika 34:28, 1947); swapped, it is
// the opposite. Student's t at 97.5 % for 3, 4, 6 and 8: NIST/SEMATECH e-Handbook of Statistical Methods,
// section 1.3.6.7.2. Four notes at each end are enough, three are not.
func TestWelchsInterval(t *testing.T) {
	four, five := []float64{-3, -1, 1, 3}, []float64{-2, -1, 0, 1, 2} // variances 20/3 and 5/2
	up := func(xs []float64) []float64 {
		out := slices.Clone(xs)
		for i := range out {
			out[i] += 10
		}
		return out
	}
	for _, c := range []struct {
		begin, end []float64
		mean, half float64
	}{
		{four, up(four), 10, 2.447 * math.Sqrt(20.0/3/2)},
		{five, up(five), 10, 2.306},
		{four, []float64{5, 5, 5, 5}, 5, 3.182 * math.Sqrt(20.0/3/4)},
		{five, []float64{5, 5, 5, 5}, 5, 2.776 * math.Sqrt(0.5)},
		{[]float64{1, 1, 1, 1}, []float64{4, 4, 4, 4, 4}, 3, 0},
	} {
		w := Watch{Minutes: 90}
		e, ok := w.change(notesOf(c.begin, c.end))
		if !ok || e.N != len(c.begin)+len(c.end) || math.Abs(e.Mean-c.mean) > 1e-9 || math.Abs(e.High-c.mean-c.half) > 0.001 || math.Abs(c.mean-e.Low-c.half) > 0.001 {
			t.Errorf("%v to %v: %+v, want %g and %g either way", c.begin, c.end, e, c.mean, c.half)
		}
		back, ok := w.change(notesOf(c.end, c.begin))
		if !ok || back.N != e.N || math.Abs(back.Low+e.High) > 1e-9 || math.Abs(back.High+e.Low) > 1e-9 {
			t.Errorf("%v to %v and back: %+v, %+v", c.begin, c.end, e, back)
		}
		if _, ok := w.change(notesOf(c.begin[:3], c.end)); ok {
			t.Error("three notes at the beginning are enough")
		}
		if _, ok := w.change(notesOf(c.begin, c.end[:3])); ok {
			t.Error("three notes at the end are enough")
		}
	}
}

// TestTheThirdsOfAWatch: the first and the last third count, their ends among them, and nothing between.
func TestTheThirdsOfAWatch(t *testing.T) {
	for minute, want := range map[float64][2]int{0: {1, 0}, 20: {1, 0}, 30: {1, 0}, 30.5: {}, 45: {}, 59.5: {}, 60: {0, 1}, 70: {0, 1}, 90: {0, 1}} {
		begin, end := Watch{Minutes: 90}.ends([]watchNote{{minute: minute}})
		if got := [2]int{len(begin), len(end)}; got != want {
			t.Errorf("minute %g: %v, want %v", minute, got, want)
		}
	}
}

// TestOddNotesAreBroughtIn: to three robust deviations of the rest, of a cent or more, on either side alike.
func TestOddNotesAreBroughtIn(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		for _, c := range []struct {
			xs   []float64
			last float64
		}{
			{[]float64{0, 0, 0, 0, 0, 100}, 3},
			{[]float64{0, 0, 0, 0, 0, 2.5}, 2.5},
			{[]float64{-2, -2, 0, 2, 2, -2, 0, 2, 100}, 3 * 2 * 1.4826}, // the median is 0, the median distance 2
		} {
			var notes []watchNote
			for _, x := range c.xs {
				notes = append(notes, watchNote{rest: sign * x})
			}
			got := rests(notes)
			if c.xs[0] != 0 { // nine values: the middle is 0, five of the distances are 2 or more
				if m := pitch.Median(c.xs); m != 0 {
					t.Fatalf("the middle is %g", m)
				}
			}
			if last := got[len(got)-1]; math.Abs(last-sign*c.last) > 1e-9 {
				t.Errorf("%v times %g: the last is %g, want %g", c.xs, sign, last, sign*c.last)
			}
		}
	}
}

// TestThreeAreNoSection: what three did is each one's own; and who was hardly heard is told nothing of
// what the others did.
func TestThreeAreNoSection(t *testing.T) {
	rise := []float64{14, 14, 14, 14, 14, 14}
	players, today := rehearse(rise, make([]float64, 6))
	end := today.Add(90 * time.Minute)
	w := WatchOf(players[:3], today, end)
	for i, c := range w.Chairs {
		own, _ := w.change(players[i].watchNotes(today, end))
		if c.Own != own || w.together != nil {
			t.Errorf("chair %d of three: %+v, want %+v", i, c.Own, own)
		}
	}
	if w := WatchOf(players[:4], today, end); w.together == nil {
		t.Error("four are no section")
	}
	last := &players[5]
	last.Readings = slices.DeleteFunc(last.Readings, func(r Reading) bool { return r.At.After(today.Add(6 * time.Minute)) })
	if c := WatchOf(players, today, end).Chairs[5]; c.Own != (Evidence{}) || c.MoveMM != 0 || c.Words != "" {
		t.Errorf("hardly heard: %+v", c)
	}
}

// TestHowFarIsTold: from five cents beyond the section on, without a doubt, and no less; with effort it is a rest.
func TestHowFarIsTold(t *testing.T) {
	p := Player{Readings: []Reading{{At: first, MainMM: 12, CentsPerMM: -2}}}
	for low, tells := range map[float64]bool{0: false, 3: false, 4.9: false, 5.1: true, 9: true} {
		for _, db := range []float64{0, 2.9, 3.1, 10} {
			notes := notesOf([]float64{0, 0}, []float64{low + 2, low + 2})
			notes[2].level, notes[3].level = db, db
			c := ChairWatch{Own: Evidence{N: 4, Mean: low + 2 + 7, Low: low + 7, High: low + 4 + 7}}
			c.judge(p, notes, 7, 90)
			want := told("")
			switch {
			case tells && db > 3:
				want = louder
			case tells:
				want = wentAway
			}
			if c.told != want || (c.MoveMM != 0) != (want == wentAway) {
				t.Errorf("at least %g cents, %g dB louder: %q, %g mm", low, db, c.told, c.MoveMM)
			}
		}
	}
}

// TestOneOddDayOfSix: is brought in to the second oddest; of five each counts as it is.
func TestOneOddDayOfSix(t *testing.T) {
	for _, sign := range []float64{1, -1} {
		for odd := range 6 {
			xs := []float64{0, sign, -sign, 0, 0, 0}
			xs[odd] = 50 * sign
			got := oddestIn(xs)
			if want := map[bool]float64{true: 1, false: 0}[slices.ContainsFunc(append(slices.Clone(xs[:odd]), xs[odd+1:]...), func(x float64) bool { return x != 0 })]; math.Abs(got[odd]-want*sign) > 1e-9 {
				t.Errorf("%v: %v", xs, got)
			}
			if five := xs[:5]; !slices.Equal(oddestIn(five), five) {
				t.Errorf("%v: %v", five, oddestIn(five))
			}
		}
	}
}

// TestLouderAloneIsNothing: who got louder and stayed with the section has nothing to be told.
func TestLouderAloneIsNothing(t *testing.T) {
	players, today := rehearse(make([]float64, 6), []float64{0, 0, 0, 0, 0, 8})
	if c := WatchOf(players, today, today.Add(90*time.Minute)).Chairs[5]; c.Words != "" || c.Own.N == 0 {
		t.Errorf("%+v", c)
	}
}

// TestTheMoveIsSaidToTheMillimetre: out is pulled and in is pushed, from what rounds to one on; below, the slide stays.
func TestTheMoveIsSaidToTheMillimetre(t *testing.T) {
	for mm, want := range map[float64]string{0: "stays", 0.4: "stays", -0.4: "stays", 0.6: "pull the main slide 1 mm", 1: "pull the main slide 1 mm", 4.4: "pull the main slide 4 mm",
		-0.6: "push the main slide in 1 mm", -1: "push the main slide in 1 mm", -7: "push the main slide in 7 mm"} {
		c := ChairWatch{Own: Evidence{N: 9, Mean: math.Copysign(8, mm)}, MoveMM: mm, told: wentAway}
		got := c.In(phrase.Tongue{})
		if !strings.Contains(got, want) || strings.Count(got, "slide") != 1 {
			t.Errorf("%g mm: %q, want %q", mm, got, want)
		}
	}
	for cents, want := range map[float64]string{0: "stayed", 1.4: "stayed", -1.4: "stayed", 1: "stayed", -1: "stayed", 1.6: "rose", -1.6: "sank"} {
		if got := commonWords(phrase.Tongue{}, cents); !strings.Contains(got, want) {
			t.Errorf("%g cents: %q, want %q", cents, got, want)
		}
	}
	var w Watch
	for _, c := range []struct {
		label, says string
		mm          float64
	}{{"A", "No slide", 0}, {"B", "hear B once", 3}, {"C", "B and C", -3}, {"D", "B, C and D", 2}, {"E", "B, C, D and E", 2}} {
		w.Chairs = append(w.Chairs, ChairWatch{Label: c.label, Own: Evidence{N: 9}, MoveMM: c.mm})
		if got := w.atBreak(phrase.Tongue{}); !strings.Contains(got, c.says) {
			t.Errorf("up to %s: %q, want %q", c.label, got, c.says)
		}
	}
}

// TestInAnyOrder: a player's records need not be sorted, and only the last sixteen moves and the last
// twelve rehearsals count.
func TestInAnyOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	p := Player{Label: "Chair 1"}
	for i := range 40 { // held long ago, not lately
		share := map[bool]float64{true: 0.1, false: 1}[i < 24]
		p.Moves = append(p.Moves, Move{At: first.AddDate(0, 0, i), Expected: -12, Measured: pitch.Cents(-12*share + 0.1*r.NormFloat64())})
	}
	for day := range 40 { // began sharp long ago, not lately
		early := map[bool]float64{true: 14, false: 0}[day < 28]
		for k := range 5 {
			p.Readings = append(p.Readings, Reading{At: first.AddDate(0, 0, day).Add(time.Duration(k) * time.Minute), Note: 58, Early: pitch.Cents(early), Played: 400, CentsPerMM: -2})
		}
	}
	p.Settings = []Setting{{first, 10}}
	for range 4 {
		r.Shuffle(len(p.Moves), func(i, j int) { p.Moves[i], p.Moves[j] = p.Moves[j], p.Moves[i] })
		r.Shuffle(len(p.Readings), func(i, j int) { p.Readings[i], p.Readings[j] = p.Readings[j], p.Readings[i] })
		got := p.recent()
		if len(got.Moves) != recentMoves || got.Moves[0].At != first.AddDate(0, 0, 24) || got.Moves[15].At != first.AddDate(0, 0, 39) {
			t.Fatalf("%d moves from %v", len(got.Moves), got.Moves[0].At)
		}
		if len(got.Readings) != 5*recentDays || len(byDay(got.Readings, nil)) != recentDays {
			t.Errorf("%d readings", len(got.Readings))
		}
		if f := Findings(p, SectionOf([]Player{p})); len(f) != 0 {
			t.Errorf("mended, and found: %+v", f)
		}
	}
	if got := (Player{Readings: p.Readings}).recent().recent(); len(got.Readings) != 5*recentDays {
		t.Errorf("twelve rehearsals become %d readings", len(got.Readings))
	}
}

// TestHoldingHasNoSide: who does not follow outwards holds as who does not follow inwards, and a move of
// twenty cents counts as one of fifteen.
func TestHoldingHasNoSide(t *testing.T) {
	var out, in Player
	for i, x := range []pitch.Cents{6, 9, 12, 14, 20, 40} {
		m := Move{At: first.AddDate(0, 0, i), Expected: x, Measured: x * pitch.Cents(0.2+0.05*float64(i))}
		out.Moves = append(out.Moves, m)
		m.Expected, m.Measured = -m.Expected, -m.Measured
		in.Moves = append(in.Moves, m)
	}
	if a, b := out.held(), in.held(); a != b || a.Mean < 0.5 {
		t.Errorf("out %+v, in %+v", a, b)
	}
}

// TestWidthsHaveTheirUnit: values times k wander k times as much, and a value that occurs twice changes no slope.
func TestWidthsHaveTheirUnit(t *testing.T) {
	xs := []float64{0.1, -0.2, 0.15, 0, 0.3, -0.1, 0.9}
	one := changing(xs, confidence)
	for _, k := range []float64{-1, 0.1, 10, 1000} {
		ys := make([]float64, len(xs))
		for i, x := range xs {
			ys[i] = k * x
		}
		got, a := changing(ys, confidence), math.Abs(k)
		if math.Abs(got.Mean-a*one.Mean) > 1e-9*a || math.Abs(got.Low-a*one.Low) > 1e-9*a || math.Abs(got.High-a*one.High) > 1e-9*a {
			t.Errorf("times %g: %+v of %+v", k, got, one)
		}
	}
	r := rand.New(rand.NewPCG(1, 1))
	var ps []point
	for i := range 12 {
		x := float64(i % 5)
		ps = append(ps, point{x, 3 * x}, point{x, 3 * x})
	}
	for range 10 {
		r.Shuffle(len(ps), func(i, j int) { ps[i], ps[j] = ps[j], ps[i] })
		if b, ok := slope(ps, 1); !ok || math.Abs(b-3) > 1e-12 {
			t.Errorf("slope %g %v", b, ok)
		}
	}
}

// TestSmallThingsAreLeftAlone: in a section where nobody strays at all, what stays below the size that
// matters is no habit, however certain, and neither is tuning cold on every third evening.
func TestSmallThingsAreLeftAlone(t *testing.T) {
	still := func(label string) Player {
		p := usual{}.player(label, 1)
		for i := range p.Readings {
			r := &p.Readings[i]
			r.Offset, r.Early, r.Drift = 0, 0, 0
		}
		return p
	}
	section := make([]Player, 6)
	for i := range section {
		section[i] = still("Chair")
	}
	day := func(r Reading) int { return int(r.At.Sub(first).Hours() / 24) }
	for name, do := range map[string]func(*Reading){
		"early": func(r *Reading) { r.Early = 5.9 },
		"sinks": func(r *Reading) { r.Drift = -1.7 },
		"cold":  func(r *Reading) { r.Offset = map[bool]pitch.Cents{true: -4.9, false: 0}[r.Played < 60] },
		"cold now and then": func(r *Reading) { // called when already warm on the other evenings
			if day(*r)%3 != 0 {
				r.Played = 600
			} else if r.Played < 60 {
				r.Offset = -14
			}
		},
		"wanders": func(r *Reading) { r.Offset = pitch.Cents(1.5 * float64(day(*r)%3-1)) },
		"loud":    func(r *Reading) { r.Offset = pitch.Cents(0.21 * (r.Level + 20)) },
	} {
		p := still("Chair 1")
		for i := range p.Readings {
			do(&p.Readings[i])
		}
		section[0] = p
		if f := Findings(p, SectionOf(section)); len(f) != 0 {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// TestWarmIsFromAMinuteOn: of playing, when called.
func TestWarmIsFromAMinuteOn(t *testing.T) {
	for played, warm := range map[float64]bool{0: false, 59: false, 60: true, 61: true, 119: true} {
		if calledWarm(Reading{Played: played}) != warm || calledWarm(Reading{Played: played, Watch: true}) {
			t.Errorf("%g s: not %v", played, warm)
		}
	}
}

// TestACommonNeedsFourWithAHistory: of three rehearsals each; who has two tells nothing of what is usual.
func TestACommonNeedsFourWithAHistory(t *testing.T) {
	of := func(days int) Player {
		var p Player
		for d := range days {
			p.Readings = append(p.Readings, Reading{At: first.AddDate(0, 0, d), Offset: pitch.Cents(d), Played: 100, Mute: slide.Open})
		}
		return p
	}
	for _, c := range []struct{ three, two, want int }{{4, 0, 3}, {3, 1, 0}, {3, 4, 0}, {0, 9, 0}} {
		players := append(slices.Repeat([]Player{of(3)}, c.three), slices.Repeat([]Player{of(2)}, c.two)...)
		if got := CommonOf(players); len(got) != c.want {
			t.Errorf("%d with three, %d with two: %v", c.three, c.two, got)
		}
	}
}

// TestAMirroredSlide: settings that go in where others go out, in a room that went the other way, are as odd.
func TestAMirroredSlide(t *testing.T) {
	of := func(sign, today, room float64) Trend {
		var p Player
		p.Readings = []Reading{{CentsPerMM: -2}, {CentsPerMM: 0}, {CentsPerMM: 0}}
		for i, mm := range []float64{0, 1, -1, 0, 1, -1, 0, today} {
			p.Settings = append(p.Settings, Setting{first.AddDate(0, 0, i), 30 + sign*mm})
		}
		return TrendOf(p, Common{dayOf(first.AddDate(0, 0, 7)): sign * room})
	}
	for _, c := range []struct{ today, room, away float64 }{
		{10, 0, 10}, {10, 8, 6}, {10, -8, 10}, {10, 30, 0}, {2, 0, 0}, {2, -30, 0}, {12, 2, 11}, {6, 2, 5},
	} {
		out, in := of(1, c.today, c.room), of(-1, c.today, c.room)
		if math.Abs(out.Away-c.away) > 1e-9 || math.Abs(in.Away+c.away) > 1e-9 {
			t.Errorf("%g mm in a room of %g cents: %g out, %g in, want %g", c.today, c.room, out.Away, in.Away, c.away)
		}
		if math.Abs(out.Low+in.High-60) > 1e-9 || math.Abs(out.High+in.Low-60) > 1e-9 {
			t.Errorf("bands %g to %g and %g to %g", out.Low, out.High, in.Low, in.High)
		}
	}
	if lo, hi := trimmed([]float64{5, 1, 2, 3, 4}); lo != 1 || hi != 5 {
		t.Errorf("of five %g to %g", lo, hi)
	}
	if lo, hi := trimmed([]float64{5, 1, 2, 3, 4, 6}); lo != 2 || hi != 5 {
		t.Errorf("of six %g to %g", lo, hi)
	}
}

// TestHowMuchPlayersWander: what a player wanders from day to day is told from the fewest rehearsals that tell anything
// on, by players of whom there are so many alone; and twice as much of it is twice as much.
func TestHowMuchPlayersWander(t *testing.T) {
	player := func(days int, size float64) Player {
		var p Player
		for d := range days {
			x := size * []float64{-3, 4, -1, 2, -4, 3}[d%6]
			for k := range 3 {
				p.Readings = append(p.Readings, Reading{At: time.Date(2026, 3, 2+d, 19, 10+k, 0, 0, time.UTC), Note: 70, Offset: pitch.Cents(x), Played: 1500})
			}
		}
		return p
	}
	for days := 1; days <= fewest+2; days++ {
		if w := SectionOf([]Player{player(days, 1)}).wander; (w > 0) != (days >= fewest) {
			t.Errorf("%d rehearsals: players wander by %g", days, w)
		}
	}
	one, two := SectionOf([]Player{player(6, 1)}).wander, SectionOf([]Player{player(6, 2)}).wander
	if math.Abs(two-2*one) > 1e-9 {
		t.Errorf("%g, of twice as much %g", one, two)
	}
	if with := SectionOf([]Player{player(6, 1), player(fewest-1, 9)}).wander; with != one {
		t.Errorf("%g, with one of too few rehearsals %g", one, with)
	}
}

// TestFromWhenANoteIsWarm: what was called before an instrument had been played for so long is cold, and from so long on
// warm; what lies between is neither, and a note in the midst of a watch was not called.
func TestFromWhenANoteIsWarm(t *testing.T) {
	at := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	for cold, counts := range map[float64]bool{0: true, coldPlayed - 1: true, coldPlayed: false} {
		for warm, ends := range map[float64]bool{warmPlayed - 1: false, warmPlayed: true, warmPlayed + 999: true} {
			for _, watch := range []bool{false, true} {
				rs := []Reading{{At: at, Note: 70, Offset: -14, Played: cold, Watch: watch}, {At: at.Add(20 * time.Minute), Note: 70, Offset: -2, Played: warm, Watch: true}}
				x, ok := rise(rs, 3)
				if want := counts && ends && !watch; ok != want || ok && math.Abs(x-11) > 1e-9 {
					t.Errorf("from %g s to %g s, watched %v: %g, %v", cold, warm, watch, x, ok)
				}
			}
		}
	}
}
