package attribute

import "bellrow/proto/pitch"

// Candidate is a pitch that a chair may be playing, and what speaks for it.
type Candidate struct {
	Cents    pitch.Cents // from the called note
	From, To float64     // hub times of what it is the mean of
	Odds     float64     // log odds
	Second   float64     // what the second of the windows says, log odds
	Facts    []float64
}

// Candidates are by chair, likeliest first, the pitches that Fit chooses from: what
// one microphone makes of a window by itself, and what weights are learned from.
func Candidates(in Input) [][]Candidate {
	p := pool(&in)
	out := make([][]Candidate, len(in.Chairs))
	for c, list := range p.chairs {
		for _, cl := range list {
			out[c] = append(out[c], Candidate{pitch.Cents(cl.cents), cl.from, cl.to, cl.score, cl.scores()[min(1, len(cl.best)-1)], cl.facts})
		}
	}
	return out
}
