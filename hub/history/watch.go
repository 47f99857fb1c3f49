package history

import (
	"math"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"

	"gonum.org/v1/gonum/stat"
)

const (
	// watchBin is the width of a step of the story, in minutes.
	watchBin = 5
	// watchPart is the share of the watch that makes its beginning and its end.
	watchPart = 1.0 / 3
	// watchNotes is how many notes the beginning and the end need each.
	watchNotes = 4
	// breakCents is how far a chair must have left the section, beyond doubt,
	// to be heard again at the break (common practice, no source).
	breakCents = 5.0
	// louderDB is how much louder the end must be to be put down to effort.
	louderDB = 3.0
)

// Watch is how the pitch went while a section rehearsed.
type Watch struct {
	From    time.Time     `json:"from"`
	Minutes float64       `json:"minutes"`
	Section []WatchMinute `json:"section"` // what all shared
	Chairs  []ChairWatch  `json:"chairs"`  // in the order of the players
	Words   []string      `json:"words"`   // to the leader, in English; see In
	// together is how far the section went as one, nil where too little was heard.
	together *float64
}

// WatchMinute is one step of the story.
type WatchMinute struct {
	Minute int     `json:"minute"`
	Cents  float64 `json:"cents"` // against the chair's, or the chairs', own middle
	Notes  int     `json:"notes"`
}

// ChairWatch is one chair's part in it.
type ChairWatch struct {
	Label string        `json:"label"`
	Notes int           `json:"notes"`
	Story []WatchMinute `json:"story"`
	// Own is the change from the beginning to the end beyond the section's, in
	// cents, at 95 %; N is 0 when too few notes settled.
	Own Evidence `json:"own"`
	// MoveMM is what would set the main slide right at the break, positive out,
	// if the player, rested, still plays so; 0 when nothing needs to move.
	MoveMM float64 `json:"move_mm"`
	Words  string  `json:"words,omitempty"` // to the player, in English (see In), empty when there is nothing to say
	told   told
}

// told is what a player is to be told of the watch; "" for nothing.
type told string

const (
	louder   told = "louder"    // sharper with effort
	wentAway told = "went-away" // from the section
)

// watchNote is one note of a watch with what is left of it.
type watchNote struct {
	minute, rest, level float64
}

// WatchOf tells how the pitch went between two moments: by chair and by minute,
// and whose slide should be looked at in the break. Every note is held against
// the same note of the same player on other occasions, so that a scale does
// not look like drift. A pitch that rose with the effort is answered with a
// rest, never with a slide.
func WatchOf(players []Player, from, to time.Time) Watch {
	w := Watch{From: from, Minutes: to.Sub(from).Minutes()}
	all := make([][]watchNote, len(players))
	bins := map[int][]float64{}
	counts := map[int]int{}
	var changes []float64
	for i, p := range players {
		all[i] = p.watchNotes(from, to)
		c := ChairWatch{Label: p.Label, Notes: len(all[i]), Story: story(all[i])}
		for _, m := range c.Story {
			bins[m.Minute] = append(bins[m.Minute], m.Cents)
			counts[m.Minute] += m.Notes
		}
		if e, ok := w.change(all[i]); ok {
			c.Own = e
			changes = append(changes, e.Mean)
		}
		w.Chairs = append(w.Chairs, c)
	}
	for _, m := range sorted(bins) {
		if len(bins[m]) >= fewestForCommon {
			w.Section = append(w.Section, WatchMinute{m, pitch.Median(bins[m]), counts[m]})
		}
	}
	common := 0.0
	if len(changes) >= fewestForCommon {
		common = pitch.Median(changes)
		w.together = &common
	}
	for i := range w.Chairs {
		w.Chairs[i].judge(players[i], all[i], common, w.Minutes)
	}
	w.Words = w.In(phrase.Tongue{})
	return w
}

// watchNotes lists a player's notes between two moments, each against the
// note's own place.
func (p Player) watchNotes(from, to time.Time) []watchNote {
	place := p.recent().tendencies()
	var out []watchNote
	for _, r := range p.Readings {
		t, known := place[r.Note]
		if r.Watch && r.Mute == slide.Open && known && !r.At.Before(from) && !r.At.After(to) {
			out = append(out, watchNote{r.At.Sub(from).Minutes(), r.Own() - t, float64(r.Level)})
		}
	}
	middle := make([]float64, len(out))
	for i, n := range out {
		middle[i] = n.rest
	}
	m := pitch.Median(middle)
	for i := range out {
		out[i].rest -= m
	}
	return out
}

// story takes the notes together in steps of watchBin minutes.
func story(notes []watchNote) []WatchMinute {
	bins := map[int][]float64{}
	for _, n := range notes {
		m := int(n.minute/watchBin) * watchBin
		bins[m] = append(bins[m], n.rest)
	}
	var out []WatchMinute
	for _, m := range sorted(bins) {
		out = append(out, WatchMinute{m, pitch.Median(bins[m]), len(bins[m])})
	}
	return out
}

// ends splits notes into the beginning and the end of the watch.
func (w Watch) ends(notes []watchNote) (begin, end []watchNote) {
	for _, n := range notes {
		switch {
		case n.minute <= w.Minutes*watchPart:
			begin = append(begin, n)
		case n.minute >= w.Minutes*(1-watchPart):
			end = append(end, n)
		}
	}
	return begin, end
}

// change is how far the end lies from the beginning, with Welch's interval
// (B. L. Welch, Biometrika 34:28, 1947) at 95 %.
func (w Watch) change(notes []watchNote) (Evidence, bool) {
	a, b := w.ends(notes)
	if len(a) < watchNotes || len(b) < watchNotes {
		return Evidence{}, false
	}
	ma, va := stat.MeanVariance(rests(a), nil)
	mb, vb := stat.MeanVariance(rests(b), nil)
	va, vb = va/float64(len(a)), vb/float64(len(b))
	nu := (va + vb) * (va + vb) / (va*va/float64(len(a)-1) + vb*vb/float64(len(b)-1))
	if !(nu > 0) {
		nu = 1 // notes without any spread: only from a made-up record
	}
	half := studentsT(0.975, nu) * math.Sqrt(va+vb)
	d := mb - ma
	return Evidence{N: len(a) + len(b), Mean: d, Low: d - half, High: d + half}, true
}

// rests are the values of notes, the odd ones brought in.
func rests(notes []watchNote) []float64 {
	xs := make([]float64, len(notes))
	for i, n := range notes {
		xs[i] = n.rest
	}
	m, s := pitch.Median(xs), math.Max(spread(xs), 1)
	for i := range xs {
		xs[i] = math.Max(m-3*s, math.Min(m+3*s, xs[i]))
	}
	return xs
}

// judge takes the section's part out and says what to do in the break.
func (c *ChairWatch) judge(p Player, notes []watchNote, common, minutes float64) {
	if c.Own.N == 0 {
		return
	}
	c.Own.Mean, c.Own.Low, c.Own.High = c.Own.Mean-common, c.Own.Low-common, c.Own.High-common
	begin, end := Watch{Minutes: minutes}.ends(notes)
	switch {
	case c.Own.Low > breakCents && levelOf(end)-levelOf(begin) > louderDB:
		c.told = louder
	case c.Own.Low > breakCents, c.Own.High < -breakCents:
		if mm := p.mmPerCent(); mm > 0 {
			c.MoveMM = math.Max(c.Own.Mean*mm, -p.mainNow())
		}
		c.told = wentAway
	}
	c.Words = c.In(phrase.Tongue{})
}

// mainNow is where the main slide stood last, in mm out.
func (p Player) mainNow() float64 {
	var last Reading
	for _, r := range p.Readings {
		if !r.At.Before(last.At) {
			last = r
		}
	}
	return last.MainMM
}

// levelOf is the middle level of notes in dB.
func levelOf(notes []watchNote) float64 {
	xs := make([]float64, len(notes))
	for i, n := range notes {
		xs[i] = n.level
	}
	return pitch.Median(xs)
}
