package study

import "bellrow/proto/pitch"

const (
	// triesEach is how often one note is asked for before the study goes on
	// without it: players tire.
	triesEach = 3
	// restBetween is the rest between two notes, in seconds: as long as a note
	// and the breath after it (common practice, no source).
	restBetween = 6.0
	// restLong comes after every restAfter notes, in seconds.
	restLong  = 20.0
	restAfter = 5
	// otherNote is how far a pitch must lie from the asked one to be another.
	otherNote pitch.Cents = 60
)

// plan is a list of prompts and what was heard in answer.
type plan struct {
	steps     []Prompt
	heard     []*Note // by step
	at, tries int
	notes     int
	reference pitch.Reference
	// takes says what is wrong with a note; nil wants settled ones.
	takes func(Note) string
}

// newPlan puts rests between the notes of steps.
func newPlan(reference pitch.Reference, steps []Prompt) plan {
	p := plan{reference: reference}
	of := 0
	for _, s := range steps {
		if s.Act == Play {
			of++
		}
	}
	played := 0
	for i, s := range steps {
		if s.Act == Play {
			played++
			s.Nth, s.Of = played, of
		}
		p.steps = append(p.steps, s)
		if s.Act != Play || i == len(steps)-1 {
			continue
		}
		rest := Prompt{Act: Rest, Seconds: restBetween, Say: "Rest. Take the instrument from your lips."}
		if played%restAfter == 0 {
			rest.Seconds, rest.Say = restLong, "Rest a little longer. Breathe out, shoulders down."
		}
		p.steps = append(p.steps, rest)
	}
	p.heard = make([]*Note, len(p.steps))
	return p
}

// Now returns what is to be done.
func (p *plan) Now() Prompt {
	if p.at >= len(p.steps) {
		return Prompt{Act: Done, Say: "That is all. Thank you."}
	}
	return p.steps[p.at]
}

// Go passes a rest or a move.
func (p *plan) Go() {
	if a := p.Now().Act; a == Rest || a == Move {
		p.next()
	}
}

func (p *plan) next() { p.at, p.tries = p.at+1, 0 }

// Take hands over a note.
func (p *plan) Take(n Note) string {
	now := p.Now()
	if now.Act != Play {
		return ""
	}
	p.notes++
	why := p.wrong(now, n)
	if why == "" {
		p.heard[p.at] = &n
		p.next()
		return ""
	}
	if p.tries++; p.tries >= triesEach {
		p.next()
		return why + " Never mind, we go on."
	}
	return why + " Once more, when you are ready."
}

// wrong says why a note does not count, empty when it does.
func (p *plan) wrong(asked Prompt, n Note) string {
	if !n.Hz.Valid() {
		return "That was no note I could read."
	}
	if off := p.reference.Offset(asked.Note, n.Hz); off > otherNote || off < -otherNote {
		return "That was another note."
	}
	if p.takes != nil {
		return p.takes(n)
	}
	if !n.Settled {
		return unsettled(n.Reason)
	}
	return ""
}

// unsettled says why a note did not rest.
func unsettled(reason string) string {
	switch reason {
	case "vibrato":
		return "That had a vibrato; play it straight."
	case "short":
		return "That was short; hold the note for two seconds."
	case "soft":
		return "That was too soft to read."
	case "two-sounds":
		return "There was a second sound."
	}
	return "That note did not come to rest."
}

// answers returns the notes heard, with their prompts, in order.
func (p *plan) answers() (prompts []Prompt, notes []Note) {
	for i, n := range p.heard {
		if n != nil {
			prompts, notes = append(prompts, p.steps[i]), append(notes, *n)
		}
	}
	return prompts, notes
}
