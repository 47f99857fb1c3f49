package study

import (
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

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
	takes func(Note) Said
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
		rest := Prompt{Act: Rest, Seconds: restBetween, Say: say("view.bend.rest")}
		if played%restAfter == 0 {
			rest.Seconds, rest.Say = restLong, say("study.rest-long")
		}
		p.steps = append(p.steps, rest)
	}
	p.heard = make([]*Note, len(p.steps))
	return p
}

// Now returns what is to be done.
func (p *plan) Now() Prompt {
	if p.at >= len(p.steps) {
		return Prompt{Act: Done, Say: say("study.over")}
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
func (p *plan) Take(n Note) Said {
	now := p.Now()
	if now.Act != Play {
		return nil
	}
	p.notes++
	why := p.wrong(now, n)
	if why == nil {
		p.heard[p.at] = &n
		p.next()
		return nil
	}
	if p.tries++; p.tries >= triesEach {
		p.next()
		return why.then(say("study.go-on"))
	}
	return why.then(say("study.once-more"))
}

// wrong says why a note does not count, nil when it does.
func (p *plan) wrong(asked Prompt, n Note) Said {
	if !n.Hz.Valid() {
		return say("study.wrong.unread")
	}
	if off := p.reference.Offset(asked.Note, n.Hz); off > otherNote || off < -otherNote {
		return say("study.wrong.other")
	}
	if p.takes != nil {
		return p.takes(n)
	}
	if !n.Settled {
		return unsettled(n.Reason)
	}
	return nil
}

// unsettled says why a note did not rest.
func unsettled(reason string) Said {
	if key := "study.wrong." + reason; reason != "" && (phrase.Tongue{}).Has(key) {
		return say(key)
	}
	return say("study.wrong.restless")
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
