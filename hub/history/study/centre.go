package study

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"bellrow/proto/pitch"
)

const (
	centreAttacks = 5
	// centreFewest is how many attacks say anything about one another.
	centreFewest = 3
	// nearCents is about what a listener notices between two notes one after
	// the other (R. Hobbie and B. Roth: about 5 cents is the usual statement);
	// farCents is twice what a slide is moved for (common practice, no source).
	nearCents, farCents = 5.0, 20.0
)

// CentreReport is how near fresh attacks came to one another.
type CentreReport struct {
	Cents []pitch.Cents `json:"cents"` // of each attack, from the median
	Range pitch.Cents   `json:"range_cents"`
	// SD is the standard deviation, Low and High its 95 % interval.
	SD   pitch.Cents `json:"sd_cents"`
	Low  pitch.Cents `json:"sd_low_cents"`
	High pitch.Cents `json:"sd_high_cents"`
	// Early is the median start of the notes above their rest.
	Early pitch.Cents `json:"early_cents"`
}

type centre struct {
	plan
	c Config
}

func newCentre(c Config) *centre {
	var steps []Prompt
	for i := range centreAttacks {
		say := fmt.Sprintf("Close your eyes. Breathe, and play a relaxed %s for two seconds.", c.written(c.Note))
		if i > 0 {
			say = "A fresh breath, a fresh attack: the same note, eyes closed."
		}
		steps = append(steps, Prompt{Act: Play, Note: c.Note, Say: say})
	}
	return &centre{newPlan(c.Reference, steps), c}
}

// Report says how near the attacks were.
func (s *centre) Report() Report {
	r := Report{Kind: Centre, Notes: s.notes}
	_, notes := s.answers()
	if len(notes) < centreFewest {
		r.Words = []string{"Too few of the notes came to rest to compare them. Try again another time."}
		return r
	}
	var xs, early []float64
	for _, n := range notes {
		xs = append(xs, float64(pitch.Between(notes[0].Hz, n.Hz)))
		early = append(early, float64(n.Early))
	}
	c := &CentreReport{Early: pitch.Cents(pitch.Median(early))}
	m := pitch.Median(xs)
	for i := range xs {
		xs[i] -= m
		c.Cents = append(c.Cents, pitch.Cents(xs[i]))
	}
	c.Range = pitch.Cents(slices.Max(xs) - slices.Min(xs))
	nu := float64(len(xs) - 1)
	sd := stat.StdDev(xs, nil)
	chi := distuv.ChiSquared{K: nu}
	c.SD = pitch.Cents(sd)
	c.Low = pitch.Cents(sd * math.Sqrt(nu/chi.Quantile(0.975)))
	c.High = pitch.Cents(sd * math.Sqrt(nu/chi.Quantile(0.025)))
	r.Centre = c
	r.Words = []string{fmt.Sprintf("Your %d attacks came to rest within %s of one another.", len(notes), cents(float64(c.Range)))}
	switch {
	case c.Range <= nearCents:
		r.Words = append(r.Words, "That is one centre: most listeners hear no difference.")
	case c.Range <= farCents:
		r.Words = append(r.Words, "That is near. The middle one is the place to set the slide by.")
	default:
		r.Words = append(r.Words, "The note has not one place yet today. Leave the slide until it has.")
		r.Try = "Breathe out first, start with air alone, and do not look for the note."
	}
	if c.Early > farCents/2 {
		r.Words = append(r.Words, fmt.Sprintf("The notes begin about %s above where they rest.", cents(float64(c.Early))))
		r.Try = "Less pressure at the start: let the air set off the lips."
	}
	return r
}
