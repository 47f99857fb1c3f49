package belief

import "math"

// Scatters are the scatters of relaxed attacks, as standard deviations in
// cents, between which a player's own is weighed: each half as large again as
// the one before, from a professional's to a beginner's (from memory).
var Scatters = [...]float64{1.1, 1.7, 2.6, 4.0}

// Profile is what is known of a player beside where the slide stands, kept
// from one tune-up to the next as plain figures. The zero value is a player
// of whom nothing is known.
type Profile struct {
	// Scatter holds the weights of Scatters, which sum to 1.
	Scatter [len(Scatters)]float64 `json:"scatter"`
	// Pinches and Holds are the chances that this player pinches attacks, or
	// holds the pitch when a slide moves.
	Pinches float64 `json:"pinches"`
	Holds   float64 `json:"holds"`
	// Act and ActSD are the change of pitch over what the model expects of the
	// slide, and how well it is known.
	Act   float64 `json:"act"`
	ActSD float64 `json:"act_sd"`
	// Hand holds the weights of Hands, which sum to 1, and HandMM their mean: the
	// error of setting a slide, as a standard deviation in mm.
	Hand   [len(Hands)]float64 `json:"hand"`
	HandMM float64             `json:"hand_mm"`
	Hands  float64             `json:"hands"`
}

// A new player (sizes from memory, shares invented, as in the trials).
const (
	newPinches = 0.12
	newHolds   = 0.15
	newActSD   = 0.08 // tubes are 5 to 10 % shorter than c/(2 f1): the bell reflects inside
	// A day's finding is believed the next no further than this: habits change.
	surest     = 0.9
	leastShare = 0.02
)

// Hands are the errors of setting a slide by eye, as standard deviations in mm,
// between which a player's own is weighed (from memory).
var Hands = [...]float64{0.25, 0.5, 1, 2}

var newHand = [len(Hands)]float64{0.3, 0.52, 0.15, 0.03}

var newScatter = [len(Scatters)]float64{0.35, 0.35, 0.2, 0.1}

// known fills in what is not known, and bounds what is.
func (p Profile) known() Profile {
	sum := 0.0
	for _, w := range p.Scatter {
		if !(w >= 0) {
			w = math.NaN()
		}
		sum += w
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		p.Scatter, sum = newScatter, 1
	}
	for i := range p.Scatter {
		p.Scatter[i] /= sum
	}
	if !(p.Pinches > 0) || !(p.Holds > 0) {
		p.Pinches, p.Holds = newPinches, newHolds
	}
	p.Pinches = math.Max(leastShare, math.Min(surest, p.Pinches))
	p.Holds = math.Max(leastShare, math.Min(surest, p.Holds))
	if !(p.Act > 0.5 && p.Act < 2) || !(p.ActSD > 0) {
		p.Act, p.ActSD = 1, newActSD
	}
	p.ActSD = math.Min(p.ActSD, newActSD)
	p.weighHand(p.Hand)
	return p
}

// weighHand takes weights of Hands that need not sum to 1; those of a new player
// where they say nothing.
func (p *Profile) weighHand(likely [len(Hands)]float64) {
	sum := 0.0
	for _, w := range likely {
		if !(w >= 0) {
			w = math.NaN()
		}
		sum += w
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		likely, sum = newHand, 1
	}
	p.HandMM = 0
	for i, w := range likely {
		p.Hand[i] = w / sum
		p.HandMM += p.Hand[i] * Hands[i]
	}
}

// forgets is the share of a day's weights that goes back to those of a new
// player overnight, so that nothing is held against anybody for ever.
const forgets = 0.05

// learned is the profile after the tune-up.
func (c *chair) learned() Profile {
	p := c.profile
	p.Scatter = [len(Scatters)]float64{}
	p.Pinches, p.Holds, p.Act = 0, 0, 0
	square := 0.0
	for i := range c.parts {
		x := &c.parts[i]
		p.Scatter[x.scatter] += x.weight
		p.Act += x.weight * x.mean[act]
		square += x.weight * (x.variance[act][act] + sq(x.mean[act]))
		switch x.kind {
		case easy:
			p.Holds += x.weight * x.holder
		case pinched:
			p.Pinches += x.weight
		case held:
			p.Holds += x.weight
		}
	}
	p.ActSD = math.Sqrt(math.Max(1e-6, square-sq(p.Act)))
	for i := range p.Scatter {
		p.Scatter[i] = (1-forgets)*p.Scatter[i] + forgets*newScatter[i]
	}
	for i := range p.Hand {
		p.Hand[i] = (1-forgets)*p.Hand[i] + forgets*newHand[i]
	}
	p.Pinches = (1-forgets)*p.Pinches + forgets*newPinches
	p.Holds = (1-forgets)*p.Holds + forgets*newHolds
	return p.known()
}
