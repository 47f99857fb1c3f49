package study

import (
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
		what := say("study.centre.first", c.written(c.Note))
		if i > 0 {
			what = say("study.centre.again")
		}
		steps = append(steps, Prompt{Act: Play, Note: c.Note, Say: what})
	}
	return &centre{newPlan(c.Reference, steps), c}
}

// Report says how near the attacks were.
func (s *centre) Report() Report {
	r := Report{Kind: Centre, Notes: s.notes}
	_, notes := s.answers()
	if len(notes) < centreFewest {
		r.tell(nil, say("study.centre.few"))
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
	words := []Said{say("study.centre.within", len(notes), cents(c.Range))}
	var try Said
	switch {
	case c.Range <= nearCents:
		words = append(words, say("study.centre.one"))
	case c.Range <= farCents:
		words = append(words, say("study.centre.near"))
	default:
		words, try = append(words, say("study.centre.far")), say("study.centre.far.try")
	}
	if c.Early > farCents/2 {
		words, try = append(words, say("study.centre.early", cents(c.Early))), say("study.centre.early.try")
	}
	r.tell(try, words...)
	return r
}
