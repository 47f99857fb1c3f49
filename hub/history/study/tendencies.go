package study

import (
	"math"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// major is the scale that is played, in semitones from its tonic.
var major = []pitch.Note{0, 2, 4, 5, 7, 9, 11, 12}

// TendenciesReport is the instrument's own map, and what to set.
type TendenciesReport struct {
	Notes []Tendency `json:"notes"`
	// Solution divides the errors between slides, partials and the day.
	Solution *slide.Solution `json:"solution,omitempty"`
}

// Tendency is one note of the map.
type Tendency struct {
	Note    pitch.Note  `json:"note"` // sounding
	Written string      `json:"written"`
	Path    string      `json:"path"`
	Offset  pitch.Cents `json:"offset_cents"` // from equal temperament at the reference
	CI95    pitch.Cents `json:"ci95_cents"`
	Theory  pitch.Cents `json:"theory_cents"` // shown beside, never applied
}

type tendencies struct {
	plan
	c Config
}

func newTendencies(c Config) *tendencies {
	tonic := c.Note
	if tonic+12 > c.Instrument.High {
		tonic -= 12
	}
	var steps []Prompt
	for _, d := range major {
		n := tonic + d
		ps := c.Instrument.Paths(n)
		if len(ps) == 0 || n < c.Instrument.Low || n > c.Instrument.High {
			continue
		}
		steps = append(steps, Prompt{Act: Play, Note: n, Path: ps[0],
			Say: say("study.scale.play", c.written(n), played(ps[0]))})
	}
	return &tendencies{newPlan(c.Reference, steps), c}
}

// Report draws the map and asks the slide solver.
func (s *tendencies) Report() Report {
	r := Report{Kind: Tendencies, Notes: s.notes}
	prompts, notes := s.answers()
	t := &TendenciesReport{}
	var heard []slide.Heard
	for i, n := range notes {
		p := prompts[i]
		target := s.c.Reference.Frequency(p.Note)
		t.Notes = append(t.Notes, Tendency{
			Note: p.Note, Written: s.c.written(p.Note), Path: p.Path.String(),
			Offset: pitch.Between(target, n.Hz), CI95: n.CI95, Theory: s.c.Instrument.Tendency(p.Path),
		})
		heard = append(heard, slide.Heard{Note: p.Note, Path: p.Path, Target: target, Reading: n.Reading})
	}
	if len(t.Notes) == 0 {
		r.tell(nil, say("study.scale.none"))
		return r
	}
	r.Tendencies = t
	sharp, flat := t.Notes[0], t.Notes[0]
	for _, n := range t.Notes {
		if n.Offset > sharp.Offset {
			sharp = n
		}
		if n.Offset < flat.Offset {
			flat = n
		}
	}
	var words []Said
	if math.Round(float64(sharp.Offset)) != math.Round(float64(flat.Offset)) {
		words = append(words, say("study.scale.apart", len(t.Notes), sharp.Written, flat.Written, cents(sharp.Offset-flat.Offset)))
	}
	if sol, err := slide.Solve(slide.Problem{Instrument: s.c.Instrument, Settings: s.c.Settings, Travel: s.c.Travel, Heard: heard}); err == nil {
		t.Solution = &sol
		words = append(words, advised(sol.Advice)...)
	}
	r.tell(nil, words...)
	return r
}

// advised says what to do with the slides, why, and what then.
func advised(a slide.Advice) []Said {
	part := func(of func(slide.Words) string) Said {
		return func(t phrase.Tongue) string { return of(slide.SayIn(t, a)) }
	}
	all := []Said{part(func(w slide.Words) string { return w.Headline }), part(func(w slide.Words) string { return w.Detail }), part(func(w slide.Words) string { return w.Next })}
	return slices.DeleteFunc(all, func(s Said) bool { return s.In(phrase.Tongue{}) == "" })
}
