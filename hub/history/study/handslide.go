package study

import (
	"math"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// handMove is how far the hand slide goes for each comparison, in mm: about 20
// cents, ten times what two readings leave in doubt. Where there is less room it
// goes as far as leastHandMove, or not at all.
const (
	handMove      = 20.0
	leastHandMove = 10.0
)

// handPositions are the positions tried when none is chosen: near, middling, and
// as far as all arms reach with ease.
var handPositions = []float64{1, 3, 5}

// HandSlideReport is the player's own table of the hand slide.
type HandSlideReport struct {
	Rows []HandRow `json:"rows"`
	// Learned is the player's millimetres per cent over the model's, from the
	// moves that went along; it begins at 1 and needs evidence to leave it.
	Learned slide.Learned `json:"learned"`
}

// HandRow is one position and one way: outward, which flattens, or inward. From
// closed first position there is only outward.
type HandRow struct {
	Position float64    `json:"position"`
	Note     pitch.Note `json:"note"`
	MovedMM  float64    `json:"moved_mm"` // positive out
	// Expected and Measured are the change of pitch, CI95 the half width of
	// Measured's 95 % interval; Heard is false when a note was missing.
	Heard    bool          `json:"heard"`
	Expected pitch.Cents   `json:"expected_cents"`
	Measured pitch.Cents   `json:"measured_cents"`
	CI95     pitch.Cents   `json:"ci95_cents"`
	Follow   slide.Verdict `json:"follow,omitempty"`
	Words    string        `json:"words,omitempty"`
	// Theory5 and Theory10 are the millimetres for 5 and 10 cents this way by the
	// model, Own5 and Own10 by this player's learned ratio; without sign, 0 while
	// nothing is known.
	Theory5  float64 `json:"theory_5_cents_mm"`
	Theory10 float64 `json:"theory_10_cents_mm"`
	Own5     float64 `json:"own_5_cents_mm"`
	Own10    float64 `json:"own_10_cents_mm"`

	base, moved int // the steps whose notes are compared
}

type handSlide struct {
	plan
	c    Config
	rows []HandRow
}

func newHandSlide(c Config) *handSlide {
	s := &handSlide{c: c}
	positions := handPositions
	if c.Position > 0 {
		positions = []float64{c.Position}
	}
	var steps []Prompt
	var bases, moves []int // by row: which note of the study
	notes := 0
	play := func(p Prompt) int {
		steps = append(steps, p)
		notes++
		return notes - 1
	}
	for _, position := range positions {
		note, path, ok := inPosition(c.Instrument, c.Note, position)
		if !ok {
			continue
		}
		written := c.written(note)
		base := play(Prompt{Act: Play, Note: note, Path: path, Say: say("study.hand.play", written, played(path))})
		for _, row := range s.ways(note, path) {
			at := c.Instrument.MM(c.Settings, instrument.Hand) // of first position, as everywhere; inward goes below it
			way := "study.hand.out"
			if row.MovedMM < 0 {
				way = "study.hand.in"
			}
			steps = append(steps, Prompt{Act: Move, Slide: instrument.Hand, FromMM: at, ToMM: at + row.MovedMM,
				Say: say(way, int(math.Round(math.Abs(row.MovedMM))))})
			moved := play(Prompt{Act: Play, Note: note, Path: path, Say: say("study.hand.same")})
			steps = append(steps, Prompt{Act: Move, Slide: instrument.Hand, FromMM: at + row.MovedMM, ToMM: at, Say: say("study.hand.back", played(path))})
			s.rows, bases, moves = append(s.rows, row), append(bases, base), append(moves, moved)
		}
	}
	steps = steps[:max(0, len(steps)-1)] // after the last note the hand does as it likes
	s.plan = newPlan(c.Reference, steps)
	var played []int // the step of each note
	for i, p := range s.steps {
		if p.Act == Play {
			played = append(played, i)
		}
	}
	for i := range s.rows {
		s.rows[i].base, s.rows[i].moved = played[bases[i]], played[moves[i]]
	}
	return s
}

// ways are the rows of one position: out, and in where the slide is not closed.
func (s *handSlide) ways(note pitch.Note, path instrument.Path) []HandRow {
	v := slide.LeverOf(s.c.Instrument.WithTravel(s.c.Travel), path, instrument.Hand, s.c.Settings, slide.Learned{})
	in, out := v.Room()
	var rows []HandRow
	for _, mm := range []float64{math.Min(handMove, math.Floor(out)), math.Max(-handMove, math.Ceil(in))} {
		if math.Abs(mm) < leastHandMove {
			continue
		}
		sign := pitch.Cents(math.Copysign(1, mm))
		rows = append(rows, HandRow{Position: path.Position, Note: note, MovedMM: mm, Expected: v.Cents(mm),
			Theory5: math.Abs(v.MM(-5 * sign)), Theory10: math.Abs(v.MM(-10 * sign))})
	}
	return rows
}

// inPosition finds the note nearest to n that is usually played in a position.
func inPosition(in *instrument.Instrument, n pitch.Note, position float64) (pitch.Note, instrument.Path, bool) {
	for d := pitch.Note(0); d <= 12; d++ {
		for _, m := range []pitch.Note{n - d, n + d} {
			if m < in.Low || m > in.High {
				continue
			}
			if ps := in.Paths(m); len(ps) > 0 && ps[0].Position == position && ps[0].Side == "" {
				return m, ps[0], true
			}
		}
	}
	return 0, instrument.Path{}, false
}

// Report compares what each move brought with what it should.
func (s *handSlide) Report() Report {
	r := Report{Kind: HandSlide, Notes: s.notes}
	h := &HandSlideReport{Rows: s.rows}
	var went []slide.Made
	var words []Said
	var try Said
	for i := range h.Rows {
		row := &h.Rows[i]
		before, after := s.heard[row.base], s.heard[row.moved]
		if before == nil || after == nil {
			continue
		}
		row.Heard = true
		made := slide.Made{Expected: row.Expected, Before: before.Reading, After: after.Reading}
		f := slide.FollowThrough(made)
		row.Measured, row.Follow, row.Words = made.Measured(), f.Verdict, f.Words
		row.CI95 = pitch.Cents(math.Hypot(float64(before.CI95.CentreCI95()), float64(after.CI95.CentreCI95())))
		if f.Verdict == slide.Went || f.Verdict == slide.Unsure {
			went = append(went, made)
		}
		words = append(words, row.say())
		if f.Verdict == slide.Held {
			try = say("study.hand.stayed.try")
		}
	}
	if len(words) == 0 {
		r.tell(nil, say("study.hand.none"))
		return r
	}
	if h.Learned = slide.Learn(went...); h.Learned.Moves > 0 {
		for i := range h.Rows {
			h.Rows[i].Own5, h.Rows[i].Own10 = h.Rows[i].Theory5*h.Learned.Ratio, h.Rows[i].Theory10*h.Learned.Ratio
		}
	}
	r.tell(try, words...)
	r.HandSlide = h
	return r
}

// say tells what one move should have brought and did.
func (row HandRow) say() Said {
	key := "study.hand.out"
	if row.MovedMM < 0 {
		key = "study.hand.in"
	}
	against := math.Round(float64(row.Measured)) != 0 && (row.Measured > 0) != (row.Expected > 0)
	key += map[bool]string{false: ".went", true: ".against"}[against]
	position := Said(func(t phrase.Tongue) string { return t.Item("study.hand.positions", int(row.Position)-1) })
	return say(key, position, int(math.Round(math.Abs(row.MovedMM))), cents(row.Expected), cents(row.Measured))
}
