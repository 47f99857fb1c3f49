package slide

import (
	"math"
	"slices"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// tune answers a tuning note: the main slide, from all notes that say anything
// of it, with theory taken out; or the note's own slide; or neither, and why.
func (q *inquiry) tune() Advice {
	if q.Mute != Open {
		return q.telling(q.answer(Again, "muted"))
	}
	if a, ok := q.lowNote(); ok {
		return a
	}
	if a, ok := q.apart(); ok {
		return a
	}
	id, p := q.judge()
	q.facts.Notes = p.notes
	switch {
	case q.byEar():
		return q.telling(q.noMove("by-ear"))
	case !p.tells:
		return q.untold()
	}
	if a, ok := q.inBand(p.Belief); ok {
		return a
	}
	if a, ok := q.unlikeBefore(); ok {
		return a
	}
	st := q.lever(id).Step(-p.Offset)
	switch {
	case st.MM() == 0:
		return q.atEnd(st)
	case st.ShortBy != 0:
		return q.telling(q.move("limit", st))
	}
	return q.move("move", st)
}

// byEar reports whether the hand slide places the note: anywhere but in closed
// first position.
func (q *inquiry) byEar() bool { return q.Instrument.HandSlide && q.Path.Position != 1 }

// noMove leaves the slides: in band, or for the reason of a code. Nothing
// follows from it for a slide.
func (q *inquiry) noMove(code string) Advice {
	q.facts.Own = Belief{}
	if q.near(q.belief.Offset) {
		return q.answer(Stay, "in-band")
	}
	return q.answer(Stay, code)
}

// untold answers a note that says too little of the main slide: a sharp
// combination is put right with its own slide, anything else leaves the slides.
func (q *inquiry) untold() Advice {
	if q.facts.Theory.Valves >= combinationSharp && q.belief.Offset > 0 && !q.near(q.belief.Offset) {
		if st, ok := q.playingStep(); ok {
			return q.telling(q.move("valve-slide", st))
		}
	}
	return q.telling(q.noMove("not-telling"))
}

// telling offers what would tell: the same note played otherwise, or other notes.
func (q *inquiry) telling(a Advice) Advice {
	if a.Code != "limit" && a.Code != "muted" && !q.Instrument.HandSlide {
		for _, p := range q.Instrument.Paths(q.Note) {
			if q.Instrument.Tells(p) && p.Partial > 1 && p.Plain() {
				a.Try = &p
				break
			}
		}
	}
	a.Facts.Telling = slices.DeleteFunc(q.Instrument.Telling(), func(n pitch.Note) bool { return n == q.Note && q.Mute == Open })
	return a
}

// judge chooses the slide that the note sets, and weighs the notes that say
// something of it: the main slide, except with a trombone's valve engaged, and
// on a double horn the slide of the other side once the main slide is right.
func (q *inquiry) judge() (instrument.SlideID, pooled) {
	switch {
	case q.Instrument.Attachment && q.Path.Side == "F":
		return instrument.FMain, q.pooled(q.sameSide)
	case q.Instrument.Serves(instrument.GbMain, q.Path):
		return instrument.GbMain, q.pooled(q.sameSide)
	case q.Instrument.HandSlide:
		return instrument.Main, q.pooled(func(p instrument.Path) bool { return p.Position == 1 && p.Side == "" })
	case q.Instrument.Double:
		return q.hornSide()
	}
	return instrument.Main, q.pooled(func(instrument.Path) bool { return true })
}

func (q *inquiry) sameSide(p instrument.Path) bool {
	return p.Side == q.Path.Side && (!q.Instrument.HandSlide || p.Position == 1)
}

// pooled weighs the present note with those of the others that keep says yes to.
func (q *inquiry) pooled(keep func(instrument.Path) bool) pooled {
	return pool(q.Instrument, q.Settings, q.Path, append([]Known{q.known()}, q.others(keep)...))
}

// known is the present note.
func (q *inquiry) known() Known { return Known{q.Note, q.Path, q.belief} }

func (q *inquiry) others(keep func(instrument.Path) bool) []Known {
	var notes []Known
	for _, k := range q.Others {
		if k.SD > 0 && k.Note != q.Note && keep(k.Path) {
			notes = append(notes, k)
		}
	}
	return notes
}

// apart asks once more for a note that lies further from the others than reading
// and theory together explain. When a second attack says the same, something has
// changed since the others were heard: they count no more.
func (q *inquiry) apart() (Advice, bool) {
	others := q.others(func(p instrument.Path) bool { return q.Instrument.Tells(p) && p.Side == q.Path.Side })
	if len(others) == 0 || !q.Instrument.Tells(q.Path) {
		return Advice{}, false
	}
	rest := pool(q.Instrument, q.Settings, q.Path, others)
	doubt := doubts(q.Instrument, append([]Known{q.known()}, others...))
	d := q.belief.Offset - rest.Offset
	if math.Abs(float64(d)) <= strange*math.Sqrt(doubt.At(0, 0)+doubt.At(1, 1)+math.Pow(q.belief.SD, 2)+math.Pow(rest.SD, 2)) {
		return Advice{}, false
	}
	if q.confirmed() {
		q.Others, q.facts.Anew = nil, true
		return Advice{}, false
	}
	a := q.answer(Again, "apart")
	a.Facts.Away = d
	return a, true
}

// hornSide judges a note of a double horn. The main slide is set on one side
// first, and the other side's own slide follows it; while only one side was
// heard, that side sets the main slide. Where the main slide is at its end, the
// side's own slide helps.
func (q *inquiry) hornSide() (instrument.SlideID, pooled) {
	first := "Bb"
	if q.HornOrder == FSideFirst {
		first = "F"
	}
	side := map[string]instrument.SlideID{"F": instrument.FMain, "Bb": instrument.BbMain}[q.Path.Side]
	p := q.pooled(q.sameSide)
	if q.Path.Side != first && p.tells {
		set := q.others(func(p instrument.Path) bool { return p.Side == first && q.Instrument.Tells(p) })
		if len(set) > 0 {
			if p2 := pool(q.Instrument, q.Settings, set[0].Path, set); q.near(p2.Offset) {
				return side, p
			}
			p = pool(q.Instrument, q.Settings, q.Path, set)
		}
	}
	if q.lever(instrument.Main).Step(-p.Offset).ShortBy != 0 && q.lever(side).Step(-p.Offset).ShortBy == 0 {
		return side, p
	}
	return instrument.Main, p
}

// lowNote answers the notes that no slide puts right: low C and B on an F
// attachment, and low notes of four valves without compensation.
func (q *inquiry) lowNote() (Advice, bool) {
	in := q.Instrument
	switch sharp := q.belief.Offset > 0 && !q.near(q.belief.Offset); {
	case !sharp:
	case in.Attachment && q.Path.Side == "F" && q.Path.Position >= 6:
		return q.lowAttachment(), true
	case in.Valves >= 4 && !in.Compensating && len(q.Path.Valves) >= len("1-4") && q.Path.Valves[len(q.Path.Valves)-1] == '4':
		return q.lowValves(), true
	}
	return Advice{}, false
}

// lowAttachment: at the end of the hand slide low C is sharp by nature, and
// low B more so (The Teaching of Instrumental Music, 5th ed., p. 235).
func (q *inquiry) lowAttachment() Advice {
	st := q.lever(instrument.FMain).Step(-q.belief.Offset)
	if st.MM() > 0 && st.ShortBy == 0 {
		return q.move("attachment-low", st)
	}
	a := q.answer(Nothing, "attachment-low")
	q.needs(&a, st)
	a.Facts.NeedMM, a.Facts.Gain = math.Max(0, st.MM()), st.Expected
	return a
}

// lowValves: a slide that moves while playing, or another fingering, or none.
func (q *inquiry) lowValves() Advice {
	if st, ok := q.playingStep(); ok && st.ShortBy == 0 {
		return q.move("low-valve-slide", st)
	}
	if p, gain, ok := q.better(); ok {
		return q.otherWay("non-compensating", p, gain)
	}
	return q.answer(Nothing, "non-compensating")
}

func (q *inquiry) otherWay(code string, p instrument.Path, gain pitch.Cents) Advice {
	a := q.answer(Finger, code)
	a.Try, a.Facts.Gain = &p, gain
	return a
}

// betterCents is the least theoretical gain for which another way of playing
// is worth naming.
const betterCents = 5

// better finds another way of playing the note that theory puts closer.
func (q *inquiry) better() (instrument.Path, pitch.Cents, bool) {
	in := q.Instrument
	here := in.Tendency(q.Path)
	best, gain := instrument.Path{}, pitch.Cents(0)
	left := math.Abs(float64(q.belief.Offset))
	for _, p := range in.Paths(q.Note) {
		g := in.Tendency(p) - here
		if l := math.Abs(float64(g + q.belief.Offset)); !p.SamePath(q.Path) && p.Partial > 1 && l < left-betterCents {
			best, gain, left = p, g, l
		}
	}
	return best, gain, gain != 0
}

// atEnd answers when the slide that is wanted has nothing left, or not enough.
func (q *inquiry) atEnd(st Step) Advice {
	switch {
	case st.MM() != 0:
		return q.telling(q.move("limit", st))
	case st.ShortBy == 0:
		return q.answer(Stay, "under-a-millimetre")
	case q.near(q.belief.Offset):
		return q.answer(Stay, "at-end")
	}
	a := q.answer(Nothing, "limit")
	q.needs(&a, st)
	return q.telling(a)
}
