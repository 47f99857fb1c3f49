package intonation

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// toneWords says a tone's place in the chord.
func toneWords(t Target) string {
	if !t.InChord {
		return t.Note.ClassName() + ", not in the chord"
	}
	return "the " + t.Tone.Name
}

// place says an offset within a chord: "11 cents high".
func place(c pitch.Cents) string {
	if whole(c) == 0 {
		return "in place"
	}
	return c.Size() + " " + way(c)
}

func way(c pitch.Cents) string {
	if c < 0 {
		return "low"
	}
	return "high"
}

// fault is the chairs of one tone that are out the same way.
type fault struct {
	tone   string
	way    string
	little bool // all of them are merely near
	seats  []int
	size   float64 // sum of offsets, in cents
}

// Ways to be out that are no direction.
const (
	wrongNote = "wrong note" // another note sounds than the called one
	stranger  = "stranger"   // the called note is no tone of the chord
)

// Bounds on what one sentence holds.
const (
	maxFaults  = 2
	maxActions = 3
)

// sentence says what is wrong with the chord.
func (q Question) sentence(j Judgement) string {
	heard, waiting := 0, []string{}
	for i, sj := range j.Seats {
		if sj.Heard && sj.Verdict != Doubt {
			heard++
			continue
		}
		waiting = append(waiting, q.Seats[i].Name)
	}
	if heard == 0 {
		return "Nothing has been heard yet that can be judged."
	}
	clauses := []string{}
	for _, f := range q.faults(j) {
		clauses = append(clauses, q.clause(f, j))
	}
	if len(clauses) == 0 {
		clauses = append(clauses, q.praise(j, len(waiting) == 0))
	}
	if len(waiting) > 0 {
		clauses = append(clauses, "still to be heard: "+list(waiting))
	}
	return capital(strings.Join(clauses, "; ")) + "."
}

func (q Question) praise(j Judgement, all bool) string {
	s := "every tone heard so far is where it belongs"
	if all {
		s = "the chord rings"
		if q.Tuning == Equal || q.Tuning == Keyboard {
			s = "every tone is in its tempered place"
		}
	}
	if whole(j.Aim.Shift) >= int(noticeable) {
		s += ", " + j.Aim.Shift.Off() + " as one"
	}
	return s
}

// faults groups the chairs that are out by tone and direction, the gravest
// first. Chairs that are merely near join a group that has one out, and stand
// alone only where none is out.
func (q Question) faults(j Judgement) []fault {
	var out, near []fault
	for i, sj := range j.Seats {
		switch {
		case sj.Verdict == Out, sj.Heard && sj.Verdict != Doubt && !sj.Target.InChord:
			out = enlist(out, i, sj)
		case sj.Verdict == Near:
			near = enlist(near, i, sj)
		}
	}
	if len(out) == 0 {
		out, near = near, nil
		for k := range out {
			out[k].little = true
		}
	}
	for _, n := range near {
		for k := range out {
			if out[k].tone == n.tone && out[k].way == n.way {
				out[k].seats = append(out[k].seats, n.seats...)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b fault) int { return cmp.Compare(b.size, a.size) })
	return out[:min(len(out), maxFaults)]
}

func enlist(fs []fault, i int, sj SeatJudgement) []fault {
	f := fault{tone: sj.Target.Tone.Name, way: way(sj.Offset)}
	switch {
	case sj.Advice.Kind == slide.Note:
		f = fault{way: wrongNote}
	case !sj.Target.InChord:
		f = fault{way: stranger}
	}
	k := slices.IndexFunc(fs, func(g fault) bool { return g.tone == f.tone && g.way == f.way })
	if k < 0 {
		fs, k = append(fs, f), len(fs)
	}
	fs[k].seats = append(fs[k].seats, i)
	fs[k].size += math.Abs(float64(sj.Offset))
	return fs
}

// clause says one fault and what to do: "thirds are high: second trombone
// out 12 mm, third trumpet third valve slide out 4 mm".
func (q Question) clause(f fault, j Judgement) string {
	actions := []string{}
	for _, i := range f.seats {
		actions = append(actions, q.Seats[i].Name+" "+action(j.Seats[i]))
	}
	if n := len(actions) - maxActions; n > 0 {
		actions = append(actions[:maxActions], fmt.Sprintf("and %d more", n))
	}
	return q.subject(f, j) + ": " + strings.Join(actions, ", ")
}

func (q Question) subject(f fault, j Judgement) string {
	switch {
	case f.way == stranger:
		return "not in the chord"
	case f.way == wrongNote && len(f.seats) > 1:
		return "wrong notes"
	case f.way == wrongNote:
		return "a wrong note"
	}
	players, way := 0, f.way
	if f.little {
		way = "a little " + way
	}
	for _, sj := range j.Seats {
		if sj.Target.InChord && sj.Target.Tone.Name == f.tone {
			players++
		}
	}
	switch {
	case len(f.seats) > 1:
		return f.tone + "s are " + way
	case players > 1:
		return "one " + f.tone + " is " + way
	}
	return "the " + f.tone + " is " + way
}

// action is what a chair does, short enough for the one sentence.
func action(sj SeatJudgement) string {
	switch a := sj.Advice; a.Kind {
	case slide.Move:
		return stepWords(a.Steps)
	case slide.Finger:
		switch {
		case a.Try != nil:
			return "try " + a.Try.String()
		case a.Code == "bell" && sj.Offset > 0:
			return "a little more hand in the bell"
		case a.Code == "bell":
			return "a little less hand in the bell"
		}
	case slide.Nothing:
		return sj.resort
	case slide.Note:
		return "sounds " + a.Heard.Display() + " in place of " + sj.Target.Note.Display()
	}
	if !sj.Target.InChord {
		return "on " + sj.Target.Note.Display()
	}
	return place(sj.Offset)
}

func stepWords(steps []slide.Step) string {
	words := []string{}
	for _, st := range steps {
		w := fmt.Sprintf("%s %.0f mm", direction(st.MM()), math.Abs(st.MM()))
		if st.Slide != instrument.Hand {
			w = st.Name + " " + w
		}
		if st.ShortBy != 0 {
			w += ", as far as it goes"
		}
		words = append(words, w)
	}
	return strings.Join(words, " and ")
}

func direction(mm float64) string {
	if mm < 0 {
		return "in"
	}
	return "out"
}

func list(names []string) string {
	if len(names) > maxActions {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:maxActions], ", "), len(names)-maxActions)
	}
	return strings.Join(names, ", ")
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}
