package study

import (
	"cmp"
	"math"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Sizes of a bend, in cents (common practice, no source, all of them): ten is
// asked for, five the least that is a bend, beyond fifteen is too far for a
// study. Bends of ten cents and more are within every player's reach (H.
// Boutin et al., J. Acoust. Soc. Am. 137:1195, 2015).
const (
	bendAsked  pitch.Cents = 10
	bendLeast  pitch.Cents = 5
	bendMost   pitch.Cents = 15
	bendBack   pitch.Cents = 4 // within which the centre came back
	bendUneven             = 1.6
)

// Times of a bent note, in seconds.
const (
	// straightFrom and straightTo bound the straight start that the bend is
	// measured from.
	straightFrom, straightTo = 0.3, 0.9
	// backFor is the end of the note that shows where the centre came back to,
	// lastPart what is left out of it: the release.
	backFor, lastPart = 0.6, 0.12
	// heldFor is how long a reach must be held to count: longer than a wobble.
	heldFor = 0.15
	// bendShortest is the least length of a note that can hold a bend both ways.
	bendShortest = 3.0
)

const bendTimes = 3

// BendReport is what the bends reached: each figure the median over bends.
type BendReport struct {
	Bends []OneBend `json:"bends"`
	// Down and Up are how far the pitch went and was held, both positive.
	Down pitch.Cents `json:"down_cents"`
	Up   pitch.Cents `json:"up_cents"`
	// Back is where the note ended against where it began.
	Back   pitch.Cents `json:"back_cents"`
	TooFar bool        `json:"too_far"`
}

// OneBend is one bent note with its path, to be shown afterwards.
type OneBend struct {
	Down pitch.Cents `json:"down_cents"`
	Up   pitch.Cents `json:"up_cents"`
	Back pitch.Cents `json:"back_cents"`
	Path []PathPoint `json:"path"`
}

// PathPoint is one point of a bend, in cents from its straight start.
type PathPoint struct {
	Seconds float64     `json:"s"`
	Cents   pitch.Cents `json:"cents"`
}

type bend struct {
	plan
	c Config
}

func newBend(c Config) *bend {
	var steps []Prompt
	note := c.written(c.Note)
	for range bendTimes {
		steps = append(steps, Prompt{Act: Play, Note: c.Note, Say: say("study.bend.play", note)})
	}
	s := &bend{newPlan(c.Reference, steps), c}
	s.takes = func(n Note) Said {
		if len(n.Path) == 0 || n.Path[len(n.Path)-1].Seconds-n.Path[0].Seconds < bendShortest {
			return say("study.bend.short")
		}
		if _, ok := measureBend(n.Path); !ok {
			return say("study.bend.unclear")
		}
		return nil
	}
	return s
}

// Report says how far the bends went.
func (s *bend) Report() Report {
	r := Report{Kind: Bend, Notes: s.notes}
	b := &BendReport{}
	_, notes := s.answers()
	for _, n := range notes {
		b.take(n.Path)
	}
	if len(b.Bends) == 0 {
		r.tell(nil, say("study.bend.lost"))
		return r
	}
	b.middle()
	r.Bend = b
	r.In = b.Say
	r.Words, r.Try = r.In(phrase.Tongue{})
	return r
}

// take adds one bent note; one that cannot be followed is left out.
func (b *BendReport) take(path []Point) {
	if one, ok := measureBend(path); ok {
		b.Bends = append(b.Bends, one)
		b.TooFar = b.TooFar || one.Down > bendMost || one.Up > bendMost
	}
}

// middle sets the figures from the bends, of which there must be one.
func (b *BendReport) middle() {
	var down, up, back []float64
	for _, one := range b.Bends {
		down, up, back = append(down, float64(one.Down)), append(up, float64(one.Up)), append(back, float64(one.Back))
	}
	b.Down, b.Up, b.Back = pitch.Cents(pitch.Median(down)), pitch.Cents(pitch.Median(up)), pitch.Cents(pitch.Median(back))
}

// Say words what the bends showed, and what to try.
func (b *BendReport) Say(t phrase.Tongue) (words []string, try string) {
	words = append(words, t.Say("view.bend.span", t.Roughly(b.Down), t.Roughly(b.Up)))
	big, small := max(b.Down, b.Up), min(b.Down, b.Up)
	switch {
	case b.TooFar:
		words, try = append(words, t.Say("view.bend.far", int(bendMost))), t.Say("view.bend.far.next")
	case big < bendLeast:
		words, try = append(words, t.Say("view.bend.firm")), t.Say("view.bend.firm.next")
	case big > bendUneven*max(small, 1) && b.Up > b.Down:
		words = append(words, t.Say("view.bend.further.up"))
	case big > bendUneven*max(small, 1):
		words = append(words, t.Say("view.bend.further.down"), t.Say("view.bend.further.easy"))
	default:
		words = append(words, t.Say("view.bend.even"))
	}
	if math.Abs(float64(b.Back)) <= float64(bendBack) {
		return append(words, t.Say("view.bend.back")), try
	}
	ended := "view.bend.ended.higher"
	if b.Back < 0 {
		ended = "view.bend.ended.lower"
	}
	return append(words, t.Say(ended, t.Roughly(b.Back))), cmp.Or(try, t.Say("view.bend.ended.next"))
}

// measureBend reads one path: false when it has no straight start or no end.
func measureBend(path []Point) (OneBend, bool) {
	var start []float64
	for _, p := range path {
		if p.Seconds >= straightFrom && p.Seconds < straightTo && p.Hz.Valid() {
			start = append(start, float64(p.Hz))
		}
	}
	if len(start) < 5 {
		return OneBend{}, false
	}
	base := pitch.Hertz(pitch.Median(start))
	last := path[len(path)-1].Seconds - lastPart
	var one OneBend
	var end, high, low []float64
	for i, p := range path {
		if !p.Hz.Valid() || p.Seconds < straightFrom || p.Seconds > last {
			continue
		}
		c := pitch.Between(base, p.Hz)
		one.Path = append(one.Path, PathPoint{p.Seconds, c})
		if p.Seconds > last-backFor {
			end = append(end, float64(c))
		}
		if lo, hi, ok := heldAt(path[i:], base, last); ok {
			low, high = append(low, hi), append(high, lo)
		}
	}
	if len(end) < 5 || len(low) == 0 {
		return OneBend{}, false
	}
	for i := range low {
		one.Down = max(one.Down, pitch.Cents(-low[i]))
		one.Up = max(one.Up, pitch.Cents(high[i]))
	}
	one.Back = pitch.Cents(pitch.Median(end))
	return one, true
}

// heldAt bounds the pitch over the next heldFor seconds of path, in cents from
// base: at lo or above, at hi or below. It is false at the end of the note.
func heldAt(path []Point, base pitch.Hertz, last float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, p := range path {
		if p.Seconds > last {
			return 0, 0, false
		}
		if p.Hz.Valid() {
			c := float64(pitch.Between(base, p.Hz))
			lo, hi = math.Min(lo, c), math.Max(hi, c)
		}
		if p.Seconds-path[0].Seconds >= heldFor {
			return lo, hi, !math.IsInf(lo, 0)
		}
	}
	return 0, 0, false
}
