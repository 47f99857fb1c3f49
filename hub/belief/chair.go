package belief

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Sizes of what is believed (from memory, and invented where brass players have
// not been measured; each is one line to change).
const (
	priorSD = 15.0 // cents: where a slide was left, before anything was heard

	pinchMean, pinchSD = 9.0, 4.0 // cents above the relaxed pitch
	pinchLeft          = 0.45     // of it after a rest and a breath
	pinchLeftDoubt     = 0.2
	// A pinched note starts about as far above where it settles again, and closes
	// in: startShare of it is left in what a node calls the start of the note.
	startShare = 0.45
	startDoubt = 0.15 // of the pinch
	startSD    = 1.0  // cents: the starts of easy notes

	holdKeeps = 0.9 // of a move, that holding lips take back
	holdDoubt = 0.1
	letsGo    = 0.7 // chance that a holder lets go with a rest and a fresh attack

	// A cold tube is a third of the way from the room to the breath, 6 to 8 degrees,
	// below what it will be, at 2 to 3 cents each: cents below its place.
	coldMean, coldSD = 15.0, 7.0
	// WarmSeconds of sound make an instrument warm (advice to bands: five minutes).
	WarmSeconds = 300.0

	ownSD               = OwnSD
	wander              = 0.3       // cents from one note to the next
	glideShare, glideSD = 0.15, 3.0 // of players glide; cents a second
	beginsOwn           = 0.75      // chance that a glide begins at the player's own pitch

	vibratoSD = 1.5 // cents that the centre of a swaying note is less well known

	// Of readings, one in 100 is off by more than it says: of 340 on notes in rooms
	// two were, so this may be a third or one and a half times as many.
	wildShare = 0.01
	wildSD    = 8.0
	ignored   = 0.02 // of moves that nobody confirmed were not made

	mostParts    = 18
	mostEvidence = 2.0
	sameShare    = 0.01 // a change of what was believed that is none
	leastPart    = 2e-4 // weights below this are dropped
	mergeSD      = 1.5
)

// What one note foretells of the next, as standard deviations in cents, for those
// who keep no belief of their own.
const (
	OwnSD    = 4.0 // what single notes of an instrument have of their own
	AttackSD = 2.0 // from attack to attack, of a player of whom nothing is known: see Scatters
	MoveSD   = 3.0 // of what a move of ten cents does: the hand, the tube, the lips
)

// paces are time constants of warming, in seconds of sound, and their weights:
// e^(-WarmSeconds/100) = 5 % is left after WarmSeconds, give or take a third.
var paces = [...]struct{ seconds, weight float64 }{{70, 0.25}, {100, 0.5}, {140, 0.25}}

// Slide is where a chair's tuning slide stands and what it does.
type Slide struct {
	MM       float64 // out
	Min, Max float64 // where it may be sent, in mm out
	PerMM    float64 // cents that the pitch falls with the first millimetre out; 0 = no slide
	Notes    int     // tuning notes that tell where it belongs, if fewer than Config.Notes; 0 = all
}

// change is what the pitch does when the slide goes by mm, in cents: the tube
// grows in proportion, -1200·log2(1 + 2s/L).
func (s Slide) change(mm float64) float64 {
	return -1200 * math.Log2(math.Max(0.5, 1+mm*s.PerMM*math.Ln2/1200))
}

// travel is the move that changes the pitch by cents.
func (s Slide) travel(cents float64) float64 {
	if s.PerMM <= 0 {
		return 0
	}
	return (math.Exp2(-cents/1200) - 1) * 1200 / (s.PerMM * math.Ln2)
}

// Reading is one note of one chair as it was heard.
type Reading struct {
	At time.Time // when it ended
	// Cents is the note's centre from its target, Half the half width of its
	// 95 % interval. Both are meaningless when Refused.
	Cents, Half float64
	// Refused says that the note gave no pitch, or not the called one. It was
	// played all the same.
	Refused bool
	Note    int // which of the tuning notes, from 0
	// Start is how far above Cents the note began, StartHalf its 95 % half
	// width; 0 = not known.
	Start, StartHalf float64
	// Drift is how fast the pitch moved while it was read, in cents a second,
	// DriftHalf its 95 % half width (0 = not known), and Middle the seconds from
	// the beginning of the note to the middle of what was read.
	Drift, DriftHalf, Middle float64
	Vibrato                  bool // swaying, but read
	// Played is how long the instrument has sounded in all, in seconds; 0 = not
	// known, taken as warm.
	Played float64
	// Unrested says that the player did not rest before it.
	Unrested bool
	// Earlier says that it was asked for before this round: it is believed, and
	// does not count among the notes that may be asked of the player.
	Earlier bool

	glideSD float64 // what moving and swaying add to the doubt of Cents
}

// sane is a reading without figures that can be none: what is not known is left
// out, and a note without a pitch is refused.
func (r Reading) sane(notes int) Reading {
	r.Note = max(0, min(notes-1, r.Note))
	if !within(r.Cents, mostCents) || !within(r.Half, mostCents) || r.Half < 0 {
		r.Refused = true
	}
	if !within(r.Start, mostCents) || !within(r.StartHalf, mostCents) {
		r.StartHalf = 0
	}
	if !within(r.Drift, mostCents) || !within(r.DriftHalf, mostCents) {
		r.DriftHalf = 0
	}
	if !within(r.Played, math.MaxInt32) {
		r.Played = 0
	}
	return r
}

// glide is how far the centre of a reading lies from the player's own pitch
// because it was on the move, and how well that is known. A glide is told from
// chance by its size. Whether the pitch that a gliding note begins with is the
// player's own, or the one that it has come to in the middle, is not known
// (teachers take the first second that rests): beginsOwn is the chance of it.
func (r Reading) glide() (cents, sd float64) {
	if !(r.DriftHalf > 0) || !(r.Middle > 0) {
		return 0, 0
	}
	noise := sq(r.DriftHalf / 1.96)
	glides := glideShare * normal(r.Drift, noise+glideSD*glideSD)
	steady := (1 - glideShare) * normal(r.Drift, noise)
	if !(glides+steady > 0) {
		glides = 1
	}
	w := glides / (glides + steady)
	k := glideSD * glideSD / (noise + glideSD*glideSD)
	mean, square := w*k*r.Drift, w*(sq(k*r.Drift)+k*noise)
	cents = beginsOwn * mean
	return cents * r.Middle, r.Middle * math.Sqrt(math.Max(0, beginsOwn*square-cents*cents))
}

// chair is what is believed of one player's note, and what was asked of them.
type chair struct {
	id      int64
	notes   int // how many tuning notes there are
	n       int // quantities in use
	band    float64
	rules   Rules
	profile Profile
	slide   Slide
	parts   []part

	asked   int       // notes played
	counted [3]int    // readings by tuning note
	heard   time.Time // last reading that counted
	believe time.Time // the moment that parts speak of
	ended   time.Time // the last note
	ready   time.Time // the slide is set
	cold    bool
	played  float64 // at the last report, and when that was
	told    time.Time
	far     bool // moved by Rules.Far or more since it was heard
	moved   bool // moved at all since
	holding float64
	tell    bool // holding rests on the first rested note after a far move
	half    float64
	handed  float64 // what hands may have added since it was heard, cents
	gone    bool

	// out is outside(0), where isOut says that it is known.
	out   float64
	isOut bool

	// gained is what a further note would gain, as foreseen for a moment and
	// seconds of sound; zero time for not yet.
	gained, foreseenPlayed float64
	foreseen               time.Time

	// prior is the weight of each scatter before anything was heard; fresh says
	// that it is not this player's own, and goes by the rest of the section.
	prior [len(Scatters)]float64
	fresh bool
}

func newChair(id int64, c Config, s Slide, p Profile) *chair {
	notes := c.notes()
	if s.Notes > 0 {
		notes = min(notes, s.Notes)
	}
	ch := &chair{id: id, notes: notes, band: c.band(), rules: c.rules(), profile: p.known(), slide: s, half: 1.5}
	ch.prior, ch.fresh = ch.profile.Scatter, p.Scatter == [len(Scatters)]float64{}
	ch.n = act + 1
	if ch.notes > 1 {
		ch.n = own1 + ch.notes - 1
	}
	ch.begin(false)
	return ch
}

// begin makes the parts of a chair that nothing was heard of.
func (c *chair) begin(isCold bool) {
	c.parts, c.cold = c.parts[:0], isCold
	for i, w := range c.prior {
		for pace, x := range paces {
			if !isCold && pace != 0 {
				break
			}
			if !isCold {
				x.weight = 1
			}
			p := part{weight: w * x.weight * (1 - c.profile.Pinches), scatter: uint8(i), pace: uint8(pace), holder: c.profile.Holds}
			p.mean[act] = c.profile.Act
			p.variance[offset][offset] = priorSD * priorSD
			p.variance[act][act] = sq(c.profile.ActSD)
			if isCold {
				p.mean[cold], p.variance[cold][cold] = coldMean, coldSD*coldSD
			}
			for j := own1; j < c.n; j++ {
				for k := own1; k < c.n; k++ {
					p.variance[j][k] = -ownSD * ownSD / float64(c.notes)
				}
				p.variance[j][j] += ownSD * ownSD
			}
			q := p
			q.kind, q.weight, q.holder = pinched, w*x.weight*c.profile.Pinches, 0
			q.mean[lips], q.variance[lips][lips] = pinchMean, pinchSD*pinchSD
			c.parts = append(c.parts, p, q)
		}
	}
	c.tidy()
}

// row is how a reading depends on the quantities: offset + lips - what is left
// of the cold + what the note has of its own.
func (c *chair) row(p *part, note int, played float64) (h vector) {
	h[offset], h[lips] = 1, 1
	if c.cold {
		h[cold] = -left(p.pace, played)
	}
	switch {
	case c.notes == 1:
	case note == c.notes-1:
		for j := own1; j < c.n; j++ {
			h[j] = -1
		}
	default:
		h[own1+note] = 1
	}
	return h
}

// left is the share of the cold that is left after seconds of sound.
func left(pace uint8, played float64) float64 { return math.Exp(-played / paces[pace].seconds) }

// doubt is the variance of a reading beside what the parts know.
func doubt(p *part, half, glide float64) float64 {
	return sq(Scatters[p.scatter]) + sq(half/1.96) + glide*glide
}

// hear takes a reading.
func (c *chair) hear(r Reading) {
	shift, sd := r.glide()
	r.Cents, r.glideSD = r.Cents-shift, sd
	if r.Vibrato {
		r.glideSD = math.Hypot(sd, vibratoSD)
	}
	rested := !c.ended.IsZero() && !r.Unrested
	c.note(r)
	if r.Refused {
		return
	}
	if rested {
		c.rest()
	}
	c.half = r.Half
	c.handle(r)
	c.weigh(r)
	c.counted[r.Note]++
	c.holding = c.share(held)
	c.tell = c.far && rested
	c.far, c.moved, c.handed = false, false, 0
	c.heard, c.believe, c.foreseen = r.At, r.At, time.Time{}
}

// note counts a note that was played.
func (c *chair) note(r Reading) {
	if !r.Earlier {
		c.asked++
	}
	c.ended = r.At
	if r.Played > 0 {
		c.sounded(r.Played, r.At)
	}
}

// sounded takes how long the instrument has sounded.
func (c *chair) sounded(played float64, at time.Time) {
	c.played, c.told = played, at
	if c.counted == [3]int{} {
		if isCold := played > 0 && played < WarmSeconds; isCold != c.cold {
			c.begin(isCold)
		}
	}
}

// rest is what a rest, a breath and a fresh attack do to the lips: pinching
// eases, and who holds may let go.
func (c *chair) rest() {
	for i := range c.parts {
		p := &c.parts[i]
		p.variance[offset][offset] += wander * wander
		switch p.kind {
		case pinched:
			p.scale(c.n, lips, pinchLeft, pinchLeftDoubt)
		case held:
			free := *p
			free.kind, free.holder = easy, 1
			free.clear(c.n, lips)
			free.weight *= letsGo
			p.weight *= 1 - letsGo
			c.parts = append(c.parts, free)
		}
	}
	c.tidy()
}

// weigh takes the pitch of a reading: each part by itself, and each by how well
// it explains what was heard. Beside them stays the belief as it was, as far as
// the reading may be nothing that this player played.
func (c *chair) weigh(r Reading) {
	wild := make([]part, 0, len(c.parts))
	for i := range c.parts {
		p := &c.parts[i]
		p.wild, p.unmoved = false, false
		w := *p
		w.wild = true
		w.weight *= wildShare * normal(r.Cents-p.mean[offset], wildSD*wildSD+p.variance[offset][offset])
		wild = append(wild, w)
		h := c.row(p, r.Note, r.Played)
		p.weight *= (1 - wildShare) * p.observe(c.n, &h, r.Cents, doubt(p, r.Half, r.glideSD))
		if r.StartHalf > 0 {
			p.weight *= p.start(c.n, r)
		}
	}
	if r.StartHalf > 0 {
		for i := range wild {
			wild[i].weight *= normal(r.Start, sq(startSD)+sq(r.StartHalf/1.96))
		}
	}
	c.parts = append(c.parts, wild...)
	c.tidy()
}

// handle learns the error of this player's hand from the first reading after a
// move: each error of Hands by how well it explains what the reading missed.
func (c *chair) handle(r Reading) {
	if c.handed == 0 || c.slide.PerMM <= 0 {
		return
	}
	hand, likely := sq(c.handed/c.profile.HandMM), c.profile.Hand
	for k, mm := range Hands {
		l := 0.0
		for i := range c.parts {
			p := &c.parts[i]
			if p.kind == easy {
				miss, v := c.surprise(p, r)
				l += p.weight * normal(miss, v+hand*(sq(mm)-sq(c.profile.HandMM)))
			}
		}
		likely[k] *= l
	}
	c.profile.weighHand(likely)
}

// surprise is how far a reading lies from what a part expects, and the variance
// that the part expects of that.
func (c *chair) surprise(p *part, r Reading) (miss, s float64) {
	h := c.row(p, r.Note, r.Played)
	miss, s = r.Cents, doubt(p, r.Half, r.glideSD)
	for j := range c.n {
		miss -= h[j] * p.mean[j]
		for k := range c.n {
			s += h[j] * h[k] * p.variance[j][k]
		}
	}
	return miss, s
}

// start takes how far above its place a note began: only pinched notes do.
func (p *part) start(n int, r Reading) float64 {
	sd2 := sq(startSD) + sq(r.StartHalf/1.96)
	if p.kind != pinched {
		return normal(r.Start, sd2)
	}
	var h vector
	h[lips] = startShare
	return p.observe(n, &h, r.Start, sd2+sq(startDoubt*p.mean[lips]))
}

// move takes a move of the slide by mm. sure says that the player told where it
// stands; otherwise it may not have been made.
func (c *chair) move(mm float64, sure bool) {
	if mm == 0 {
		return
	}
	change, hand := c.slide.change(mm), c.hand()
	defer c.stands(mm)
	if c.counted == [3]int{} {
		return // nothing is known that would move
	}
	var more []part
	for i := range c.parts {
		p := &c.parts[i]
		if !sure {
			stayed := *p
			stayed.weight *= ignored
			stayed.unmoved = true
			p.weight *= 1 - ignored
			more = append(more, stayed)
		}
		if p.kind == easy && p.holder > 0 {
			h := *p
			h.kind, h.weight, h.holder = held, p.weight*p.holder, 0
			h.moved(c.n, change, hand)
			more = append(more, h)
			p.weight *= 1 - p.holder
			p.holder = 0
		}
		p.moved(c.n, change, hand)
	}
	c.parts = append(c.parts, more...)
	c.handed = math.Hypot(c.handed, hand)
	c.moved = true
	c.far = c.far || math.Abs(change) >= c.rules.Far
	c.tidy()
}

// stands notes that the slide is mm further out.
func (c *chair) stands(mm float64) {
	c.slide.MM += mm
	c.slide.PerMM /= 1 + mm*c.slide.PerMM*math.Ln2/1200
	c.foreseen = time.Time{}
}

// confirm drops the stories in which a move was not made.
func (c *chair) confirm() {
	c.parts = slices.DeleteFunc(c.parts, func(p part) bool { return p.unmoved && len(c.parts) > 1 })
	c.tidy()
}

// gain is by how much one more note would lower the chance of being outside.
func (c *chair) gain(at time.Time) float64 {
	played := c.playedAt(at)
	if stale := c.cold && math.Abs(played-c.foreseenPlayed) > 5; c.foreseen.IsZero() || stale || at.Sub(c.foreseen) > time.Minute {
		c.gained = c.outside(0) - c.foresee(played)
		c.foreseen, c.foreseenPlayed = at, played
	}
	return c.gained
}

// hand is the error of setting the slide, in cents.
func (c *chair) hand() float64 { return c.profile.HandMM * c.slide.PerMM }

// tidy drops what hardly counts, lets one part stand for those that are alike,
// keeps the heaviest mostParts, and makes the weights sum to 1.
func (c *chair) tidy() {
	c.isOut = false
	sum := 0.0
	for i := range c.parts {
		sum += c.parts[i].weight
	}
	if !(sum > 0) {
		return // nothing explains it: leave the weights as they were
	}
	kept := c.parts[:0]
next:
	for _, p := range c.parts {
		p.weight /= sum
		if !(p.weight >= leastPart) {
			continue
		}
		for i := range kept {
			if kept[i].alike(&p) {
				kept[i].take(c.n, &p)
				continue next
			}
		}
		kept = append(kept, p)
	}
	c.parts = kept
	if len(c.parts) > mostParts {
		slices.SortStableFunc(c.parts, func(a, b part) int { return cmp.Compare(b.weight, a.weight) })
		c.parts = c.parts[:mostParts]
	}
	c.weighTo1()
}

// weighTo1 makes the weights sum to 1.
func (c *chair) weighTo1() {
	c.isOut = false
	sum := 0.0
	for i := range c.parts {
		sum += c.parts[i].weight
	}
	for i := range c.parts {
		c.parts[i].weight /= sum
	}
}

// scatters are the weights of each scatter by all that was heard.
func (c *chair) scatters() (w [len(Scatters)]float64) {
	for i := range c.parts {
		w[c.parts[i].scatter] += c.parts[i].weight
	}
	return w
}

// evidence is what the notes of a player of whom nothing was known speak for each
// scatter: the logarithm of its weight over what it was before; all 0 below two
// notes, and never more than mostEvidence.
func (c *chair) evidence() (l [len(Scatters)]float64) {
	if !c.fresh || c.counted[0]+c.counted[1]+c.counted[2] < 2 {
		return l
	}
	for i, w := range c.scatters() {
		l[i] = math.Max(-mostEvidence, math.Min(mostEvidence, math.Log(math.Max(1e-9, w)/c.prior[i])))
	}
	return l
}

// expect changes what was believed of this player's scatter before anything
// was heard.
func (c *chair) expect(prior [len(Scatters)]float64) {
	most := 0.0
	for i, w := range prior {
		most = math.Max(most, math.Abs(w-c.prior[i]))
	}
	switch {
	case most < sameShare:
		return
	case most > 0.05:
		c.foreseen = time.Time{}
	}
	for i := range c.parts {
		p := &c.parts[i]
		p.weight *= prior[p.scatter] / math.Max(1e-9, c.prior[p.scatter])
	}
	c.prior = prior
	c.weighTo1()
}

// share is the weight of a kind of story.
func (c *chair) share(k kind) (w float64) {
	for i := range c.parts {
		if c.parts[i].kind == k {
			w += c.parts[i].weight
		}
	}
	return w
}

// place is the mean offset and its standard deviation over all parts.
func (c *chair) place() (m, sd float64) {
	square := 0.0
	for i := range c.parts {
		p := &c.parts[i]
		m += p.weight * p.mean[offset]
		square += p.weight * (p.variance[offset][offset] + sq(p.mean[offset]))
	}
	return m, math.Sqrt(math.Max(0, square-m*m))
}

// outside is the chance that the chair is out of its band after a move of mm.
func (c *chair) outside(mm float64) (w float64) {
	change, hand := 0.0, 0.0
	switch {
	case mm != 0:
		change, hand = c.slide.change(mm), c.hand()
	case c.isOut:
		return c.out
	}
	for i := range c.parts {
		w += c.parts[i].weight * c.parts[i].outside(c.band, change, hand)
	}
	if mm == 0 {
		c.out, c.isOut = w, true
	}
	return w
}

// wrong is the chance that a move of mm goes away from the target.
func (c *chair) wrong(mm float64) (w float64) {
	for i := range c.parts {
		p := &c.parts[i]
		x := p.mean[offset] / math.Sqrt(p.variance[offset][offset]+1e-9)
		if mm > 0 {
			w += p.weight * tail(x) // pulling flattens: wrong when it is flat
		} else {
			w += p.weight * tail(-x)
		}
	}
	return w
}

// best is the whole number of millimetres that makes the chair likeliest to be
// in its band, 0 when no move is worth it.
func (c *chair) best() (mm, out float64) {
	now := c.outside(0)
	m, _ := c.place()
	middle := math.Round(math.Max(c.slide.Min-c.slide.MM, math.Min(c.slide.Max-c.slide.MM, c.slide.travel(-m))))
	out = now
	least, price := c.rules.Least, c.rules.price(c.asked, c.usual())
	for d := middle - 1; d <= middle+1; d++ {
		to := c.slide.MM + d
		if d == 0 || to < c.slide.Min-1e-9 || to > c.slide.Max+1e-9 {
			continue
		}
		o, wrong := c.outside(d), c.wrong(d)
		if gain := now - o - price*wrong*math.Pow(math.Abs(c.slide.change(d))/c.band, c.rules.Size); gain > least && wrong <= c.rules.Wrong {
			mm, least, out = d, gain, o
		}
	}
	if mm == 0 {
		return 0, now
	}
	return mm, out
}
