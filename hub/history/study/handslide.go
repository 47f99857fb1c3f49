package study

import (
	"fmt"
	"math"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// handMove is how far the hand slide goes out for each comparison, in mm: about
// 20 cents, ten times what two readings leave in doubt.
const handMove = 20.0

// handPositions are the positions tried: near, middling, and as far as all arms
// reach with ease.
var handPositions = []float64{1, 3, 5}

// HandSlideReport is the player's own table of the hand slide.
type HandSlideReport struct {
	Rows []HandRow `json:"rows"`
	// Learned is the player's millimetres per cent over the model's, from the
	// moves that went along; it begins at 1 and needs evidence to leave it.
	Learned slide.Learned `json:"learned"`
}

// HandRow is one position.
type HandRow struct {
	Position float64    `json:"position"`
	Note     pitch.Note `json:"note"`
	MovedMM  float64    `json:"moved_mm"`
	// Expected and Measured are the change of pitch, CI95 the half width of
	// Measured's 95 % interval; Heard is false when a note was missing.
	Heard    bool          `json:"heard"`
	Expected pitch.Cents   `json:"expected_cents"`
	Measured pitch.Cents   `json:"measured_cents"`
	Follow   slide.Verdict `json:"follow,omitempty"`
	Words    string        `json:"words,omitempty"`
	// Theory5 and Theory10 are the millimetres for 5 and 10 cents by the model,
	// Own5 and Own10 by this player's learned ratio; 0 while nothing is known.
	Theory5  float64 `json:"theory_5_cents_mm"`
	Theory10 float64 `json:"theory_10_cents_mm"`
	Own5     float64 `json:"own_5_cents_mm"`
	Own10    float64 `json:"own_10_cents_mm"`
}

type handSlide struct {
	plan
	c    Config
	rows []HandRow
	path []instrument.Path
}

func newHandSlide(c Config) *handSlide {
	s := &handSlide{c: c}
	var steps []Prompt
	for _, position := range handPositions {
		note, path, ok := inPosition(c.Instrument, c.Note, position)
		if !ok {
			continue
		}
		at := c.Instrument.MM(c.Settings, instrument.Hand)
		s.rows = append(s.rows, HandRow{Position: position, Note: note, MovedMM: handMove,
			Theory5: c.Instrument.MoveMM(path, instrument.Hand, c.Settings, -5), Theory10: c.Instrument.MoveMM(path, instrument.Hand, c.Settings, -10)})
		s.path = append(s.path, path)
		written := c.Instrument.Written(note).Display()
		steps = append(steps,
			Prompt{Act: Play, Note: note, Path: path, Say: fmt.Sprintf("%s in %s, relaxed, two seconds. Keep the hand where it is.", written, path)},
			Prompt{Act: Move, Slide: instrument.Hand, FromMM: at, ToMM: at + handMove,
				Say: fmt.Sprintf("Move the hand slide out by %.0f mm: measure it at the edge of the outer slide.", handMove)},
			Prompt{Act: Play, Note: note, Path: path, Say: "The same note there, eyes closed. Go where the slide goes."},
			Prompt{Act: Move, Slide: instrument.Hand, FromMM: at + handMove, ToMM: at, Say: "Bring the hand slide back."},
		)
	}
	steps = steps[:max(0, len(steps)-1)] // after the last note the hand does as it likes
	s.plan = newPlan(c.Reference, steps)
	return s
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
	for i := range h.Rows {
		row := &h.Rows[i]
		before, after := s.pair(i)
		if before == nil || after == nil {
			continue
		}
		at := s.c.Instrument.MM(s.c.Settings, instrument.Hand)
		row.Heard = true
		row.Expected = slide.Expect(s.c.Instrument, s.path[i], s.c.Settings, instrument.Hand, at, at+handMove, slide.Learned{})
		made := slide.Made{Expected: row.Expected, Before: before.Reading, After: after.Reading}
		f := slide.FollowThrough(made)
		row.Measured, row.Follow, row.Words = made.Measured(), f.Verdict, f.Words
		if f.Verdict == slide.Went || f.Verdict == slide.Unsure {
			went = append(went, made)
		}
		r.Words = append(r.Words, fmt.Sprintf("%s position: %.0f mm should bring %s down, and brought %s.",
			ordinal(row.Position), handMove, cents(float64(row.Expected)), broughtWords(row.Measured)))
		if f.Verdict == slide.Held {
			r.Try = "The lips kept the old pitch. Rest, breathe, slur down into the note and go where the slide goes."
		}
	}
	if len(r.Words) == 0 {
		r.Words = []string{"No pair of notes came to rest. Try again another time."}
		return r
	}
	if h.Learned = slide.Learn(went...); h.Learned.Moves > 0 {
		for i := range h.Rows {
			h.Rows[i].Own5, h.Rows[i].Own10 = h.Rows[i].Theory5*h.Learned.Ratio, h.Rows[i].Theory10*h.Learned.Ratio
		}
	}
	r.HandSlide = h
	return r
}

// pair finds the notes before and after the move of row i.
func (s *handSlide) pair(i int) (before, after *Note) {
	k := 0
	for j, p := range s.steps {
		if p.Act != Play {
			continue
		}
		switch k {
		case 2 * i:
			before = s.heard[j]
		case 2*i + 1:
			after = s.heard[j]
		}
		k++
	}
	return before, after
}

func broughtWords(x pitch.Cents) string {
	if math.Round(float64(x)) > 0 {
		return cents(float64(x)) + " up"
	}
	return cents(float64(x))
}

func ordinal(p float64) string {
	return [...]string{"", "First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh"}[int(p)]
}
