package intonation

import (
	"cmp"
	"math"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// ClauseCode says what a clause of a judgement means.
type ClauseCode string

// The clauses.
const (
	ClauseSilent   ClauseCode = "silent"   // nothing has been heard that can be judged
	ClauseRings    ClauseCode = "rings"    // every tone is where it belongs; Shift as one
	ClauseTempered ClauseCode = "tempered" // the same where tones are tempered on purpose
	ClauseSoFar    ClauseCode = "so-far"   // the same of those heard so far
	ClauseTone     ClauseCode = "tone"     // Tone is High or not, Little or not: Actions
	ClauseWrong    ClauseCode = "wrong"    // other notes sound than the called ones: Actions
	ClauseStranger ClauseCode = "stranger" // the called notes are no tones of the chord: Actions
	ClauseWaiting  ClauseCode = "waiting"  // Names are still to be heard
)

// Clause is one fact of a judgement.
type Clause struct {
	Code ClauseCode
	// Tone is the tone's name, Out how many of the Of who play it are out.
	Tone    string
	Out, Of int
	High    bool
	// Little is true where nobody is out, merely near.
	Little bool
	// Shift is where a ringing chord stands as one; 0 where it is not worth a word.
	Shift pitch.Cents
	// Actions are what the chairs do, at most maxActions; More how many others there are.
	Actions []Action
	More    int
	// Names are chairs still to be heard, all of them.
	Names []string
}

// ActionCode says what a chair does.
type ActionCode string

// The actions.
const (
	ActSlides ActionCode = "slides" // move Steps
	ActTry    ActionCode = "try"    // play it by Path
	ActBell   ActionCode = "bell"   // hand in the bell: more where it is High, else less
	ActResort ActionCode = "resort" // nothing moves it: Resort
	ActSounds ActionCode = "sounds" // Heard sounds in place of Note
	ActOn     ActionCode = "on"     // plays Note, which is in no chord
	ActOff    ActionCode = "off"    // stands Cents off: nothing better is known
)

// Action is one chair's part of a clause.
type Action struct {
	Chair  Chair
	Name   string
	Code   ActionCode
	Steps  []slide.Step
	Path   instrument.Path
	Note   pitch.Spelled
	Heard  pitch.Spelled
	High   bool
	Cents  pitch.Cents
	Resort Resort
}

// ResortCode says what is left where nothing on the instrument moves a note.
type ResortCode string

// The resorts.
const (
	ResortNone   ResortCode = ""       // nothing to move, and nothing else either
	ResortPath   ResortCode = "path"   // play it by Path and move Steps
	ResortSwap   ResortCode = "swap"   // change tones with Name
	ResortAnchor ResortCode = "anchor" // hang the chord from what the group agrees on, not from Anchor
)

// Resort is an honest alternative.
type Resort struct {
	Code   ResortCode      `json:"code"`
	Path   instrument.Path `json:"path,omitzero"`
	Steps  []slide.Step    `json:"steps,omitempty"`
	Name   string          `json:"name,omitempty"`
	Note   pitch.Spelled   `json:"note,omitzero"`
	Anchor Anchor          `json:"anchor,omitempty"`
}

// fault is the chairs of one tone that are out the same way.
type fault struct {
	code   ClauseCode
	tone   string
	high   bool
	little bool // all of them are merely near
	seats  []int
	size   float64 // sum of offsets, in cents
}

func (f fault) same(g fault) bool { return f.code == g.code && f.tone == g.tone && f.high == g.high }

// Bounds on what one sentence holds.
const (
	maxFaults  = 2
	maxActions = 3
)

// facts says what is wrong with the chord, or that nothing is.
func (q Question) facts(j Judgement) []Clause {
	heard, waiting := 0, []string{}
	for i, sj := range j.Seats {
		if sj.Heard && sj.Verdict != Doubt {
			heard++
			continue
		}
		waiting = append(waiting, q.Seats[i].Name)
	}
	if heard == 0 {
		return []Clause{{Code: ClauseSilent}}
	}
	var clauses []Clause
	for _, f := range q.faults(j) {
		clauses = append(clauses, q.clause(f, j))
	}
	if len(clauses) == 0 {
		clauses = append(clauses, q.inPlace(j, len(waiting) == 0))
	}
	if len(waiting) > 0 {
		clauses = append(clauses, Clause{Code: ClauseWaiting, Names: waiting})
	}
	return clauses
}

func (q Question) inPlace(j Judgement, all bool) Clause {
	c := Clause{Code: ClauseSoFar}
	switch {
	case all && (q.Tuning == Equal || q.Tuning == Keyboard):
		c.Code = ClauseTempered
	case all:
		c.Code = ClauseRings
	}
	if whole(j.Aim.Shift) >= int(noticeable) {
		c.Shift = j.Aim.Shift
	}
	return c
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
			if out[k].same(n) {
				out[k].seats = append(out[k].seats, n.seats...)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b fault) int { return cmp.Compare(b.size, a.size) })
	return out[:min(len(out), maxFaults)]
}

func enlist(fs []fault, i int, sj SeatJudgement) []fault {
	f := fault{code: ClauseTone, tone: sj.Target.Tone.Name, high: sj.Offset >= 0}
	switch {
	case sj.Advice.Kind == slide.Note:
		f = fault{code: ClauseWrong}
	case !sj.Target.InChord:
		f = fault{code: ClauseStranger}
	}
	k := slices.IndexFunc(fs, f.same)
	if k < 0 {
		fs, k = append(fs, f), len(fs)
	}
	fs[k].seats = append(fs[k].seats, i)
	fs[k].size += math.Abs(float64(sj.Offset))
	return fs
}

// clause is one fault and what to do about it.
func (q Question) clause(f fault, j Judgement) Clause {
	c := Clause{Code: f.code, Tone: f.tone, High: f.high, Little: f.little, Out: len(f.seats)}
	for _, sj := range j.Seats {
		if sj.Target.InChord && sj.Target.Tone.Name == f.tone {
			c.Of++
		}
	}
	for _, i := range f.seats[:min(maxActions, len(f.seats))] {
		c.Actions = append(c.Actions, q.action(i, j.Seats[i]))
	}
	c.More = len(f.seats) - len(c.Actions)
	return c
}

// action is what a chair does.
func (q Question) action(i int, sj SeatJudgement) Action {
	a := Action{
		Chair: sj.Chair, Name: q.Seats[i].Name, Code: ActOff, Note: q.Chord.Spell(sj.Target.Note),
		High: sj.Offset > 0, Cents: sj.Offset,
	}
	switch adv := sj.Advice; {
	case adv.Kind == slide.Move:
		a.Code, a.Steps = ActSlides, adv.Steps
	case adv.Kind == slide.Finger && adv.Try != nil:
		a.Code, a.Path = ActTry, *adv.Try
	case adv.Kind == slide.Finger && adv.Code == "bell":
		a.Code = ActBell
	case adv.Kind == slide.Nothing:
		a.Code, a.Resort = ActResort, sj.resort
	case adv.Kind == slide.Note:
		a.Code, a.Heard = ActSounds, q.Chord.Spell(adv.Heard)
	case !sj.Target.InChord:
		a.Code = ActOn
	}
	return a
}
