package score

import (
	"cmp"
	"encoding/xml"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"bellrow/proto/pitch"
)

// builder gathers a score from its elements. Notes are first placed by bar
// and by time within the bar; finish sets the bars end to end.
type builder struct {
	t        *tokens
	timewise bool
	s        Score
	parts    map[string]*writing
	order    []string
	lengths  []Ticks // longest content of each bar over the parts
	notes    int
	remarks  map[string]bool
	concert  bool
}

// writing is the state of one part while it is read.
type writing struct {
	part      Part
	bars      int // bars begun
	divisions float64
	// transpose by staff number; 0 holds for all staves not named.
	transpose map[int]int
	// clef by staff number, and how many notes stand under each.
	clef  map[int]string
	under map[string]int
	// now is the time within the bar, last the time of the last note that
	// was not a chord member, reach the furthest time.
	now, last, reach Ticks
}

func newBuilder(t *tokens, timewise bool) *builder {
	return &builder{t: t, timewise: timewise, parts: map[string]*writing{}, remarks: map[string]bool{}}
}

// remark notes once what was left out or guessed.
func (b *builder) remark(s string) {
	if !b.remarks[s] {
		b.remarks[s] = true
		b.s.Remarks = append(b.s.Remarks, s)
	}
}

func (b *builder) score() error {
	return b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "work", "identification":
			return b.titles()
		case "movement-title":
			return b.title()
		case "defaults":
			return b.defaults()
		case "part-list":
			return b.partList()
		case "part":
			return b.part(e)
		case "measure":
			return b.timewiseBar(e)
		}
		return b.t.skip()
	})
}

func (b *builder) titles() error {
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local == "work-title" {
			return b.title()
		}
		return b.t.skip()
	})
}

// title joins the titles of the work and of the movement.
func (b *builder) title() error {
	s, err := b.t.text()
	if err != nil || s == "" || s == b.s.Title {
		return err
	}
	if b.s.Title != "" {
		s = b.s.Title + ", " + s
	}
	b.s.Title = clip(s)
	return nil
}

func (b *builder) partList() error {
	groups := map[string]string{} // names of the open ones, by number
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local == "part-group" {
			return b.partGroup(e, groups)
		}
		if e.Name.Local != "score-part" {
			return b.t.skip()
		}
		w, err := b.writing(attr(e, "id"))
		if err != nil {
			return err
		}
		for _, n := range slices.Sorted(maps.Keys(groups)) {
			w.part.Group = groups[n]
		}
		return b.t.each(func(e xml.StartElement) (err error) {
			switch e.Name.Local {
			case "part-name":
				w.part.Name, err = b.t.text()
			case "part-abbreviation":
				w.part.Short, err = b.t.text()
			case "score-instrument":
				err = b.scoreInstrument(w)
			default:
				err = b.t.skip()
			}
			return err
		})
	})
}

// partGroup opens or closes a bracket; one without a name says nothing.
func (b *builder) partGroup(e xml.StartElement, groups map[string]string) error {
	number := attr(e, "number")
	delete(groups, number)
	start := attr(e, "type") == "start"
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local != "group-name" {
			return b.t.skip()
		}
		name, err := b.t.text()
		if start && name != "" && len(groups) < MaxParts {
			groups[number] = name
		}
		return err
	})
}

// scoreInstrument reads the first instrument of a part.
func (b *builder) scoreInstrument(w *writing) error {
	return b.t.each(func(e xml.StartElement) error {
		var into *string
		switch e.Name.Local {
		case "instrument-name":
			into = &w.part.Instrument
		case "instrument-sound":
			into = &w.part.Sound
		default:
			return b.t.skip()
		}
		s, err := b.t.text()
		if *into == "" {
			*into = s
		}
		return err
	})
}

// defaults are read for the mark of a score at concert pitch (MusicXML 4.0).
func (b *builder) defaults() error {
	return b.t.each(func(e xml.StartElement) error {
		b.concert = b.concert || e.Name.Local == "concert-score"
		return b.t.skip()
	})
}

// writing finds or begins a part.
func (b *builder) writing(id string) (*writing, error) {
	if w, ok := b.parts[id]; ok {
		return w, nil
	}
	if len(b.parts) >= MaxParts {
		return nil, fmt.Errorf("%w: more than %d parts", ErrTooBig, MaxParts)
	}
	w := &writing{part: Part{ID: id}, divisions: 1, transpose: map[int]int{}, clef: map[int]string{}, under: map[string]int{}}
	b.parts[id] = w
	b.order = append(b.order, id)
	return w, nil
}

func (b *builder) part(e xml.StartElement) error {
	w, err := b.writing(attr(e, "id"))
	if err != nil {
		return err
	}
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local != "measure" {
			return b.t.skip()
		}
		return b.bar(w, w.bars, attr(e, "number"))
	})
}

func (b *builder) timewiseBar(e xml.StartElement) error {
	if !b.timewise {
		return b.t.skip()
	}
	index, number := len(b.s.Bars), attr(e, "number")
	if err := b.beginBar(index, number); err != nil {
		return err
	}
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local != "part" {
			return b.t.skip()
		}
		w, err := b.writing(attr(e, "id"))
		if err != nil {
			return err
		}
		return b.bar(w, index, number)
	})
}

func (b *builder) beginBar(index int, number string) error {
	if index >= MaxBars {
		return fmt.Errorf("%w: more than %d bars", ErrTooBig, MaxBars)
	}
	if index == len(b.s.Bars) {
		if number == "" {
			number = strconv.Itoa(index + 1)
		}
		b.s.Bars = append(b.s.Bars, Bar{Number: number})
		b.lengths = append(b.lengths, 0)
	}
	return nil
}

// bar reads the content of one bar of one part.
func (b *builder) bar(w *writing, index int, number string) error {
	if err := b.beginBar(index, number); err != nil {
		return err
	}
	w.bars = index + 1
	w.now, w.last, w.reach = 0, 0, 0
	err := b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "attributes":
			return b.attributes(w, index)
		case "note":
			return b.note(w, index, e)
		case "backup":
			return b.move(w, -1)
		case "forward":
			return b.move(w, 1)
		case "barline":
			return b.barline(index)
		case "direction":
			return b.direction(index)
		case "sound":
			b.jump(index, e)
		}
		return b.t.skip()
	})
	b.lengths[index] = max(b.lengths[index], w.reach)
	return err
}

func (b *builder) attributes(w *writing, bar int) error {
	head := w.part.Head(bar)
	defer func() { w.part.setHead(head) }()
	return b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "divisions":
			d, err := b.number()
			if err != nil {
				return err
			}
			if d <= 0 {
				return fmt.Errorf("%w: %g divisions to a quarter note in part %q", ErrNotMusicXML, d, w.part.ID)
			}
			w.divisions = d
			return nil
		case "transpose":
			return b.transpose(w, e)
		case "key":
			return b.key(&head, e)
		case "clef":
			err := b.clef(w, e)
			head.Clef = w.clef[1]
			return err
		}
		return b.t.skip()
	})
}

// clefNames are the clefs of brass parts by sign and line.
var clefNames = map[string]string{"G2": "treble", "F4": "bass", "C3": "alto", "C4": "tenor"}

// clef reads <clef>: the sign and its line.
func (b *builder) clef(w *writing, e xml.StartElement) error {
	staff, err := strconv.Atoi(attr(e, "number"))
	if err != nil {
		staff = 1
	}
	sign, line := "", ""
	err = b.t.each(func(e xml.StartElement) (err error) {
		switch e.Name.Local {
		case "sign":
			sign, err = b.t.text()
			return err
		case "line":
			line, err = b.t.text()
			return err
		}
		return b.t.skip()
	})
	usual := map[string]string{"G": "2", "F": "4", "C": "3"} // where no line is given
	if line = strings.TrimSpace(line); line == "" {
		line = usual[strings.TrimSpace(sign)]
	}
	w.clef[staff] = clefNames[strings.TrimSpace(sign)+line]
	return err
}

// mostly is the clef that most notes stand under, in doubt the first by name.
func (w *writing) mostly() string {
	best := ""
	for clef, n := range w.under {
		if clef != "" && (best == "" || n > w.under[best] || n == w.under[best] && clef < best) {
			best = clef
		}
	}
	return best
}

// setHead notes what stands at the head of the staff from h.Bar on.
func (p *Part) setHead(h Head) {
	was := p.Head(h.Bar)
	if was.Clef == h.Clef && (was.Key == nil) == (h.Key == nil) && (h.Key == nil || *was.Key == *h.Key) {
		return
	}
	if n := len(p.Heads); n > 0 && p.Heads[n-1].Bar == h.Bar {
		p.Heads = p.Heads[:n-1]
	}
	p.Heads = append(p.Heads, h)
}

// firstStaff reports whether an element is about a part's first staff, or about
// all of them.
func firstStaff(e xml.StartElement) bool {
	n := attr(e, "number")
	return n == "" || n == "1"
}

// key reads <key>: the usual signatures of up to seven sharps or flats.
func (b *builder) key(h *Head, e xml.StartElement) error {
	if !firstStaff(e) {
		return b.t.skip()
	}
	h.Key = nil
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local != "fifths" {
			return b.t.skip()
		}
		x, err := b.number()
		if k := int(x); err == nil && math.Abs(x) <= 7 && float64(k) == x {
			h.Key = &k
		}
		return err
	})
}

// transpose reads <transpose>: what to add to written notes, in semitones and
// octaves; diatonic only decides the spelling.
func (b *builder) transpose(w *writing, e xml.StartElement) error {
	staff, _ := strconv.Atoi(attr(e, "number")) // none means all staves
	semitones := 0.0
	err := b.t.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "chromatic":
			x, err := b.number()
			semitones += x
			return err
		case "octave-change":
			x, err := b.number()
			semitones += 12 * x
			return err
		case "double":
			b.remark(RemarkDoubled)
		}
		return b.t.skip()
	})
	if err != nil {
		return err
	}
	if math.Abs(semitones) > float64(pitch.MaxNote) || semitones != math.Trunc(semitones) {
		return fmt.Errorf("%w: a transposition of %g semitones in part %q", ErrNotMusicXML, semitones, w.part.ID)
	}
	if staff == 0 {
		clear(w.transpose)
	}
	w.transpose[staff] = int(semitones)
	w.part.Transposition = int(semitones)
	return nil
}

// number reads the number that an element holds.
func (b *builder) number() (float64, error) {
	s, err := b.t.text()
	if err != nil {
		return 0, err
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%w: %q where a number belongs", ErrNotMusicXML, s)
	}
	return x, nil
}

// maxBarQuarters bounds the time within a bar; real ones hold a few dozen.
const maxBarQuarters = 10000

func (w *writing) ticks(duration float64) (Ticks, error) {
	q := duration / w.divisions
	if !(q >= 0 && q <= maxBarQuarters) {
		return 0, fmt.Errorf("%w: a duration of %g quarter notes in part %q", ErrNotMusicXML, q, w.part.ID)
	}
	return Ticks(math.Round(q * TicksPerQuarter)), nil
}

// advance moves the time within the bar.
func (w *writing) advance(d Ticks) error {
	w.now = max(0, w.now+d)
	w.reach = max(w.reach, w.now)
	if w.reach > maxBarQuarters*TicksPerQuarter {
		return fmt.Errorf("%w: a bar of more than %d quarter notes in part %q", ErrTooBig, maxBarQuarters, w.part.ID)
	}
	return nil
}

func (b *builder) move(w *writing, sign Ticks) error {
	return b.t.each(func(e xml.StartElement) error {
		if e.Name.Local != "duration" {
			return b.t.skip()
		}
		x, err := b.number()
		if err != nil {
			return err
		}
		d, err := w.ticks(x)
		if err != nil {
			return err
		}
		return w.advance(sign * d)
	})
}

// finish sets the bars end to end, joins tied notes and sorts.
func (b *builder) finish() (*Score, error) {
	at := Ticks(0)
	for i := range b.s.Bars {
		b.s.Bars[i].Start, b.s.Bars[i].Length = at, b.lengths[i]
		at += b.lengths[i]
	}
	for _, id := range b.order {
		p := b.parts[id].part
		p.Clef = b.parts[id].mostly()
		for i := range p.Notes {
			p.Notes[i].Start += b.s.Bars[p.Notes[i].Bar].Start
		}
		slices.SortStableFunc(p.Notes, func(x, y Note) int {
			return cmp.Or(cmp.Compare(x.Start, y.Start), cmp.Compare(x.Pitch, y.Pitch))
		})
		p.Notes = joinTies(p.Notes, b.s.Bars)
		if p.Name == "" {
			p.Name = strings.TrimSpace("Part " + p.ID)
		}
		b.s.Parts = append(b.s.Parts, p)
	}
	if len(b.s.Parts) == 0 || len(b.s.Bars) == 0 {
		return nil, fmt.Errorf("%w: a score without parts or bars", ErrNotMusicXML)
	}
	for i := range b.s.Parts {
		b.s.Parts[i].Concert = b.concert
	}
	b.s.company()
	return &b.s, nil
}

// joinTies makes one note of tied ones: a note with an open tie and a later
// one of the same pitch that stops it, where the first ends or at the next bar line.
func joinTies(notes []Note, bars []Bar) []Note {
	open := map[pitch.Note]int{} // index in kept of a note with an open tie
	kept := notes[:0]
	for _, n := range notes {
		i, ok := open[n.Pitch]
		if ok && n.tieStop && meets(kept[i], n, bars) {
			kept[i].Length = n.End() - kept[i].Start
			if !n.tieStart {
				delete(open, n.Pitch)
			}
			continue
		}
		kept = append(kept, n)
		if n.tieStart {
			open[n.Pitch] = len(kept) - 1
		}
	}
	return kept
}

func meets(a, b Note, bars []Bar) bool {
	gap := b.Start - a.End()
	if gap > -snap && gap < snap {
		return true
	}
	// A bar that another part fills further leaves a gap before the line.
	start := bars[b.Bar].Start
	return b.Start == start && a.End() <= start && b.Bar > 0 && a.End() > bars[b.Bar-1].Start
}

// snap is the difference below which two times are one: rounding of odd
// tuplets, a thousandth of a quarter note.
const snap Ticks = TicksPerQuarter / 1000
