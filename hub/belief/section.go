package belief

import (
	"math"
	"slices"
	"time"
)

// The rules of a tune-up. People first: nobody plays for nothing, nobody plays
// on without a rest.
const (
	// doubtful is the chance of being outside from which the leader is told.
	doubtful = 0.05
	// named is how sure it must be that the lips hold the pitch.
	named = 0.9

	// MostNotes and MostEver are Notes and Ever of the usual Rules.
	MostNotes, MostEver = 4, 6
	oneIn               = 20

	// Rest lies between two notes of one player; Setting is what a move takes with
	// reading the answer; Note is a note with answer and hand-over.
	Rest    = 5 * time.Second
	Setting = 7 * time.Second
	Note    = 4500 * time.Millisecond

	// Who can play within brief fills the time that others need, unless their note
	// is worth 1/fill times as much.
	brief = time.Second
	fill  = 0.1

	// driftSD is how fast the section's pitch as a whole may go, in cents a minute:
	// a room warms by a degree in ten minutes, and 3 cents a degree.
	driftSD = 0.3
	// No slide goes, and no note of the called name lies, further than this.
	mostMM    = 1000
	mostCents = 1200
	// alike is how far one player's scatter speaks for another's of the section:
	// 1 if all were the same, 0 if they had nothing in common.
	alike = 0.8
	// warmEnough is how well what is still to come of a cold instrument must be
	// known, in cents, before it is asked among the others and not last.
	warmEnough = 1.0
)

// Config of a tune-up.
type Config struct {
	Band  float64 // cents; 0 = 5
	Notes int     // tuning notes of each player, 1 to 3; 0 = 1
	// Rules of the tune-up; zero = Usual.
	Rules Rules
}

func (c Config) band() float64 {
	if !(c.Band > 0) {
		return 5
	}
	return c.Band
}

func (c Config) rules() Rules {
	if c.Rules == (Rules{}) {
		return Usual
	}
	return c.Rules
}

func (c Config) notes() int { return max(1, min(3, c.Notes)) }

// Section is what is believed of all chairs in one tune-up.
type Section struct {
	config Config
	rules  Rules
	chairs []*chair
	// drift is the common change of pitch in cents a minute, and its variance.
	drift, driftVar float64
	last            int64 // who had the last note
}

// New returns a section that nobody sits in.
func New(c Config) *Section {
	return &Section{config: c, rules: c.rules(), driftVar: driftSD * driftSD}
}

// Sit seats a player; the order of seating is the order of the first notes.
func (s *Section) Sit(id int64, slide Slide, p Profile) {
	s.chairs = append(s.chairs, newChair(id, s.config, slide, p))
}

func (s *Section) chair(id int64) *chair {
	for _, c := range s.chairs {
		if c.id == id {
			return c
		}
	}
	return nil
}

// Away takes a player out of the tune-up, Back lets them in again with all that
// was heard of them.
func (s *Section) Away(id int64) {
	if c := s.chair(id); c != nil {
		c.gone = true
	}
}

// Back undoes Away.
func (s *Section) Back(id int64) {
	if c := s.chair(id); c != nil {
		c.gone = false
	}
}

// Heard takes a note.
func (s *Section) Heard(id int64, r Reading) {
	c := s.chair(id)
	if c == nil {
		return
	}
	r = r.sane(c.notes)
	first := c.heard.IsZero()
	since := r.At.Sub(c.heard).Minutes()
	s.Pass(r.At)
	if !first && !r.Refused {
		s.learnDrift(c, r, since)
	}
	c.hear(r)
	s.last = id
	s.pool()
}

// pool lets the players of whom nothing was known before this tune-up go by one
// another: how far a school band's attacks scatter is told by all of them. What
// each was found to do speaks for the others by the share alike, as far as players
// of one section are; nobody counts for themselves.
func (s *Section) pool() {
	var all [len(Scatters)]float64
	for _, c := range s.chairs {
		for i, l := range c.evidence() {
			all[i] += l
		}
	}
	for _, c := range s.chairs {
		if !c.fresh {
			continue
		}
		own, prior, sum := c.evidence(), newScatter, 0.0
		for i := range prior {
			prior[i] *= math.Exp(alike * (all[i] - own[i]))
			sum += prior[i]
		}
		for i := range prior {
			prior[i] = math.Max(1e-3, prior[i]/sum)
		}
		c.expect(prior)
	}
}

// learnDrift takes what a chair that was heard before tells of the common drift.
func (s *Section) learnDrift(c *chair, r Reading, minutes float64) {
	var miss, v, w float64
	for i := range c.parts {
		p := &c.parts[i]
		if p.kind != easy {
			continue
		}
		m, s := c.surprise(p, r)
		x := p.weight * normal(m, s)
		miss, v, w = miss+x*m, v+x*(s+m*m), w+x
	}
	if !(w > 0) || minutes <= 0 {
		return
	}
	miss /= w
	v = math.Max(v/w-miss*miss, sq(Scatters[0]))
	g := s.driftVar * minutes / v
	s.drift += g * miss
	s.driftVar -= g * minutes * s.driftVar
}

// Pass lets time pass for everybody: the pitch of the section goes as one.
func (s *Section) Pass(at time.Time) {
	for _, c := range s.chairs {
		if c.heard.IsZero() || !at.After(c.believe) {
			continue
		}
		d := at.Sub(c.believe).Minutes()
		all, was := at.Sub(c.heard).Minutes(), c.believe.Sub(c.heard).Minutes()
		for i := range c.parts {
			c.parts[i].mean[offset] += s.drift * d
			c.parts[i].variance[offset][offset] += s.driftVar * (all*all - was*was)
		}
		c.believe, c.isOut = at, false
	}
}

// Moved takes a move of a chair's slide by mm, positive out. sure says that the
// player told where it stands.
func (s *Section) Moved(id int64, at time.Time, mm float64, sure bool) {
	if c := s.chair(id); c != nil && within(mm, mostMM) {
		c.move(mm, sure)
		if t := at.Add(Setting); t.After(c.ready) {
			c.ready = t
		}
	}
}

// Set tells that a chair's slide was set as asked, but for off millimetres.
func (s *Section) Set(id int64, at time.Time, off float64) {
	if c := s.chair(id); c != nil && within(off, mostMM) {
		c.confirm()
		c.move(off, true)
		c.ready = at
	}
}

// Sounded takes how long a chair's instrument has sounded, in seconds.
func (s *Section) Sounded(id int64, at time.Time, played float64) {
	if c := s.chair(id); c != nil && within(played, math.MaxInt32) {
		c.sounded(played, at)
	}
}

// Best is the move that makes a chair likeliest to be in its band, in whole
// millimetres, 0 when none is worth it.
func (s *Section) Best(id int64) float64 {
	c := s.chair(id)
	if c == nil || c.heard.IsZero() {
		return 0
	}
	mm, _ := c.best()
	return mm
}

// Why is a reason for asking somebody.
type Why string

// Reasons.
const (
	First    Why = "first" // not heard yet
	HasMoved Why = "moved" // a far move is to be heard
	InDoubt  Why = "doubt" // may still be outside
)

// Choice is who plays next, and why.
type Choice struct {
	Chair int64
	Note  int
	Why   Why
	// Twice says that it is the player of the note before, after a rest: no other
	// note would help as much.
	Twice bool
	Start time.Time // not before
}

// Next chooses whose note is worth most from at on, while those playing have
// theirs: nobody plays twice running unless asked when nobody plays, and then
// only if no other note would help as much. False when no note is worth asking for.
func (s *Section) Next(at time.Time, playing ...int64) (Choice, bool) {
	q := s.Queue(at, 1, playing...)
	if len(q) == 0 {
		return Choice{}, false
	}
	return q[0], true
}

// Queue foretells the next n notes after those of the players who play now, as
// things stand: who is "third from now". No player is in it twice, and any note
// may change it.
func (s *Section) Queue(at time.Time, n int, playing ...int64) (queue []Choice) {
	var cs []candidate
	for _, c := range s.chairs {
		if slices.Contains(playing, c.id) {
			continue
		}
		if gain, why := s.worth(c, c.start(at)); gain > 0 {
			cs = append(cs, candidate{c, gain, why})
		}
	}
	for len(queue) < n && len(cs) > 0 {
		i := pick(cs, at)
		c := cs[i].chair
		start := c.start(at)
		queue = append(queue, Choice{Chair: c.id, Note: c.leastHeard(), Why: cs[i].why, Twice: c.id == s.last && len(queue) == 0, Start: start})
		cs = slices.Delete(cs, i, i+1)
		at = start.Add(Note)
	}
	return queue
}

// candidate is a chair whose note is worth asking for.
type candidate struct {
	chair *chair
	gain  float64
	why   Why
}

// pick finds the candidate whose note is worth most per second: of those who can
// play at once, unless another's is worth 1/fill times as much.
func pick(cs []candidate, at time.Time) int {
	ready, waiting := -1, -1
	var readyWorth, waitingWorth float64
	for i, c := range cs {
		wait := c.chair.start(at).Sub(at)
		worth := c.gain / (wait + Note).Seconds()
		if wait <= brief && worth > readyWorth {
			ready, readyWorth = i, worth
		} else if wait > brief && worth > waitingWorth {
			waiting, waitingWorth = i, worth
		}
	}
	if ready < 0 || fill*waitingWorth > readyWorth {
		return waiting
	}
	return ready
}

// worth is what a note is worth, 0 if it is not to be asked for. Who was not
// heard comes first, in the order of the row; a cold instrument last.
func (s *Section) worth(c *chair, at time.Time) (float64, Why) {
	if c.gone || c.asked >= s.most(c) {
		return 0, InDoubt
	}
	gain, why := 1.5, First
	if c.counted != [3]int{} {
		gain, why = c.gain(at), InDoubt
	}
	switch {
	case why == First:
	case c.far:
		why = HasMoved
		gain += 0.1
	case gain < s.rules.Nothing || c.asked >= c.usual() && gain < s.rules.Many:
		return 0, why
	}
	if c.cold && c.warming(at) {
		gain *= 0.01 // last of all
	}
	return gain, why
}

// Wants reports whether a chair is to be heard again at some time from at on.
func (s *Section) Wants(id int64, at time.Time) bool {
	c := s.chair(id)
	if c == nil {
		return false
	}
	gain, _ := s.worth(c, c.start(at))
	return gain > 0
}

// Note is which of its tuning notes a chair is to play next, from 0.
func (s *Section) Note(id int64) int {
	if c := s.chair(id); c != nil {
		return c.leastHeard()
	}
	return 0
}

// playedAt is how long the instrument will have sounded at a moment: who is
// cold plays it warm until then.
func (c *chair) playedAt(t time.Time) float64 {
	if !c.cold || c.told.IsZero() || !t.After(c.told) {
		return c.played
	}
	return c.played + t.Sub(c.told).Seconds()
}

// warming reports whether too little is known of what is still to come.
func (c *chair) warming(t time.Time) bool {
	played := c.playedAt(t)
	v := 0.0
	for i := range c.parts {
		p := &c.parts[i]
		v += p.weight * sq(left(p.pace, played)) * p.variance[cold][cold]
	}
	return math.Sqrt(v) > warmEnough
}

// start is when a chair can begin a note.
func (c *chair) start(at time.Time) time.Time {
	t := at
	if c.ready.After(t) {
		t = c.ready
	}
	if !c.ended.IsZero() {
		if r := c.ended.Add(Rest); r.After(t) {
			t = r
		}
	}
	return t
}

// usual is how many notes are asked of a player at most, of all but a few: a second
// tuning note takes as much breath as the first.
func (c *chair) usual() int {
	more := 2 * (c.notes - 1)
	return c.rules.Notes + more
}

// most is how many notes may be asked of a player.
func (s *Section) most(c *chair) int {
	if c.asked < c.usual() {
		return c.usual()
	}
	over := 0
	for _, o := range s.chairs {
		if o != c && o.asked > o.usual() {
			over++
		}
	}
	if over < (len(s.chairs)+oneIn-1)/oneIn {
		return c.usual() + s.rules.Ever - s.rules.Notes
	}
	return c.usual()
}

// Outside is the number of chairs that are expected to be outside the band.
func (s *Section) Outside() (n float64) {
	for _, c := range s.chairs {
		if !c.gone && !c.heard.IsZero() {
			n += c.outside(0)
		}
	}
	return n
}

// Over reports whether the tune-up is over at a moment.
func (s *Section) Over(at time.Time) bool {
	owed := false
	for _, c := range s.chairs {
		if c.gone || c.asked >= s.most(c) {
			continue
		}
		owed = owed || c.far || c.heard.IsZero()
	}
	if owed {
		return false
	}
	if s.Outside() < s.rules.Enough {
		return true
	}
	_, more := s.Next(at)
	return !more
}

// Doubtful lists who may still be outside, for the leader only.
func (s *Section) Doubtful() (ids []int64) {
	for _, c := range s.chairs {
		if !c.gone && (c.heard.IsZero() || c.far || c.outside(0) > doubtful) {
			ids = append(ids, c.id)
		}
	}
	return ids
}

// Standing is what is believed of one chair.
type Standing struct {
	Heard      bool    // at least one note counted
	Offset, SD float64 // relaxed and warm, from the target, in cents
	Outside    float64 // chance of being out of the band
	Notes      int     // played, counted or not
	Moved      bool    // the slide was moved since it was heard: "moved, not heard"
	Owed       bool    // by Rules.Far or more: it must be heard
	Warming    bool    // too cold to tell where it will stand
	// Held says that the lips hold the pitch from before the slide moved. Only the
	// first rested note after a move of Rules.Far says so.
	Held bool
}

// Standing tells how a chair stands; false when nobody sits there.
func (s *Section) Standing(id int64) (Standing, bool) {
	c := s.chair(id)
	if c == nil {
		return Standing{}, false
	}
	m, sd := c.place()
	return Standing{
		Heard: !c.heard.IsZero(), Offset: m, SD: sd, Outside: c.outside(0), Notes: c.asked,
		Moved: c.moved, Owed: c.far, Warming: c.cold && c.warming(c.told), Held: c.tell && c.holding > named,
	}, true
}

// Refer takes a change of the reference, in cents: what stood in tune is then
// that much flat.
func (s *Section) Refer(cents float64) {
	if !within(cents, mostCents) {
		return
	}
	for _, c := range s.chairs {
		if c.heard.IsZero() {
			continue
		}
		for i := range c.parts {
			c.parts[i].mean[offset] -= cents
		}
		c.isOut = false
		c.foreseen = time.Time{}
	}
}

// Profile is what a chair's player has shown, to be kept.
func (s *Section) Profile(id int64) Profile {
	c := s.chair(id)
	if c == nil {
		return Profile{}
	}
	return c.learned()
}

// within reports whether x is a number and no larger than most.
func within(x, most float64) bool { return math.Abs(x) <= most }
