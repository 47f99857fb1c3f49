package moves

import "math"

// How long things take in a rehearsal, in seconds (the times of players and
// slides from memory).
const (
	looksUp    = 2.0 // looks up and breathes, give or take half a second
	answerTime = 0.3
	handOver   = 1.0
	restTime   = 5.0 // at least, between two notes of one player
	patience   = 8.0 // before a player who does not play is passed over
)

// leader decides in a rehearsal: a policy.
type leader interface {
	// next names who plays next, several where they are to play at once, from at
	// on; playing are those who have the note now, nil between notes, nobody while
	// all rest. None: over, or nobody can play.
	next(at float64, playing []int) []int
	// hear takes a note when it has ended and returns what is told to its player.
	hear(n note) answer
	// over reports whether the leader ends the tune-up now.
	over(at float64) bool
	// present tells who is there.
	present(i int, here bool)
	// again takes in that a chair wants to be heard once more, and names who plays next.
	again(i int) []int
	// set tells that a chair's slide stands where it was sent.
	set(i int)
	style() style
}

// nobody plays while those who are next rest; they are told so all the same.
const nobody = -1

// answer is what a player is told to a note.
type answer struct {
	mm   float64 // move of the main slide
	warm bool    // play it warm until called again
}

// style is what differs between leaders beside their decisions.
type style struct {
	ahead  bool // the next player is named while this one plays
	asks   bool // and yet asked only when the note has ended
	rests  bool // players are told to rest, breathe and start fresh
	warms  bool // cold instruments are played warm from the beginning
	added  bool // everything waits for everything: times added up
	lips   bool // players bend to a meter
	serial bool // a slide move is waited for before the next note
}

// rehearsal is one section's tune-up under one leader.
type rehearsal struct {
	*section
	leader
	k      Readings
	now    float64
	slides []float64 // when each chair's slide is set
	ended  []float64 // last note of each
	named  []float64 // when each was told that it is next
	warmed []float64 // since when each is played warm; negative = not
	misses []int
	here   []bool
	first  []float64 // when each chair's first answer came
	asks   []int     // who wants to be heard once more
	steps  int
	aired  float64
}

const tooLong = 1800 // seconds: no tune-up goes on for ever

// run plays the tune-up to its end and returns the seconds it took.
func (s *section) run(l leader, k Readings) float64 {
	n := len(s.chairs)
	r := &rehearsal{section: s, leader: l, k: k}
	fill := func(x float64) []float64 {
		f := make([]float64, n)
		for i := range f {
			f[i] = x
		}
		return f
	}
	r.slides, r.ended, r.named, r.warmed = fill(0), fill(math.Inf(-1)), fill(math.Inf(-1)), fill(-1)
	r.misses, r.here = make([]int, n), make([]bool, n)
	for i, c := range s.chairs {
		r.here[i] = c.comes == 0
		l.present(i, r.here[i])
		if l.style().warms && c.player.Played() < 300 {
			r.warmed[i] = 0
		}
	}
	group := l.next(0, nil)
	for r.now < tooLong {
		r.attend()
		group = r.stillHere(group)
		if len(group) == 0 {
			if l.over(r.now) {
				break
			}
			if group = l.next(r.now, nil); len(group) == 0 {
				if !r.wait() {
					break
				}
				continue
			}
		}
		group = r.play(group)
	}
	end := r.now
	for _, t := range r.slides {
		end = math.Max(end, t)
	}
	return end
}

// wait lets the time pass until somebody comes, has rested, or a slide is set; false when
// nothing is to be waited for.
func (r *rehearsal) wait() bool {
	next := math.Inf(1)
	for i, c := range r.chairs {
		if !r.here[i] && c.comes > r.now && c.leaves > c.comes {
			next = math.Min(next, c.comes)
		}
		if r.slides[i] > r.now {
			next = math.Min(next, r.slides[i])
		}
		if t := r.ended[i] + restTime; t > r.now {
			next = math.Min(next, t)
		}
	}
	if math.IsInf(next, 1) {
		return false
	}
	if r.style().asks {
		for _, i := range r.next(r.now, []int{nobody}) {
			r.named[i] = math.Max(r.named[i], r.now)
		}
		next += handOver
	}
	r.now = next
	return true
}

// attend notes who has come and who has left, and lets the room warm up.
func (r *rehearsal) attend() {
	for i, c := range r.chairs {
		here := c.comes <= r.now && r.now < c.leaves && r.misses[i] < 2
		if here != r.here[i] {
			r.here[i] = here
			r.present(i, here)
			if here && r.style().warms && c.player.Played() < 300 {
				r.warmed[i] = r.now
			}
		}
	}
	for i, c := range r.chairs {
		if r.warmed[i] >= 0 && r.now > r.warmed[i] {
			c.player.Warm(r.now - r.warmed[i])
			r.warmed[i] = r.now
		}
	}
	if r.pop.Drift != 0 {
		r.air.TemperatureC += r.pop.Drift * (r.now - r.aired) / 60 / centsPerDegree
		r.aired = r.now
		for _, c := range r.chairs {
			c.player.Room(r.air)
		}
	}
}

// centsPerDegree of a whole air column at 20 °C.
const centsPerDegree = 2.95

func (r *rehearsal) stillHere(group []int) []int {
	var g []int
	for _, i := range group {
		if r.here[i] {
			g = append(g, i)
		}
	}
	return g
}

// play has a group play at once and returns who plays then.
func (r *rehearsal) play(group []int) (next []int) {
	st, rnd := r.style(), r.random
	start := r.now
	for _, i := range group {
		looks := looksUp - 0.5 + rnd.Float64()
		if rnd.Float64() < r.pop.Away {
			looks += 2 + 4*rnd.Float64()
		}
		from := r.now
		if st.ahead && r.named[i] > r.ended[i] {
			from = math.Min(r.now, math.Max(r.named[i], r.slides[i]))
		}
		start = math.Max(start, from+looks)
		start = math.Max(start, r.slides[i])
		if st.rests || st.added {
			start = math.Max(start, r.ended[i]+restTime)
		}
	}
	r.now = start
	if silent := r.silent(group); silent == len(group) {
		r.now += patience
		return nil
	}
	long := 2.5 + rnd.Float64()
	end := start + long
	if st.ahead {
		next = r.next(end, group)
		for _, i := range next {
			r.named[i] = start + 0.5
		}
	}
	broken := r.tooEarly(next)
	r.now = end
	var notes []note
	for _, i := range group {
		if !r.chairs[i].never {
			notes = append(notes, r.sound(i, end, group, broken))
		}
	}
	r.now += answerTime
	if len(group) > 3 {
		r.now += fitTime
	}
	for _, n := range notes {
		r.answer(n)
	}
	if r.over(r.now) {
		return nil
	}
	if len(r.asks) > 0 && r.here[r.asks[0]] {
		next = r.again(r.asks[0])
		r.asks = r.asks[1:]
	} else if !st.ahead || st.asks {
		next = r.next(r.now, nil)
	}
	r.now += handOver
	return next
}

// silent counts those of a group who do not play, and passes them over.
func (r *rehearsal) silent(group []int) (n int) {
	for _, i := range group {
		if r.chairs[i].never {
			r.misses[i]++
			n++
		}
	}
	return n
}

// tooEarly has who is named next play before being asked, once.
func (r *rehearsal) tooEarly(next []int) bool {
	for _, i := range next {
		if c := r.chairs[i]; c.early {
			c.early = false
			c.player.Sounding(c.note)
			c.notes++
			return true
		}
	}
	return false
}

// sound plays one chair's note.
func (r *rehearsal) sound(i int, end float64, group []int, broken bool) note {
	c := r.chairs[i]
	if r.warmed[i] >= 0 {
		c.player.Warm(math.Max(0, end-3-r.warmed[i]))
		r.warmed[i] = -1
	}
	if c.notes > 0 && r.style().rests {
		c.player.Rest()
	}
	var n note
	if r.style().lips {
		n = note{chair: i}
		c.notes++
		c.player.Lipped(c.note, c.target)
		c.player.Told()
	} else {
		n = r.section.play(i, r.k)
	}
	n.at = end
	r.beside(&n, group)
	if broken && n.refused == "" {
		n.refused = "two-sounds"
		n.reading.Settled, n.reading.Reason = false, "two-sounds"
	}
	r.ended[i] = end
	return n
}

// answer tells a player, who does it.
func (r *rehearsal) answer(n note) {
	c := r.chairs[n.chair]
	switch n.refused {
	case "vibrato":
		c.player.Straight()
	case "other-note":
		c.player.Told()
	}
	a := r.hear(n)
	if a.mm != 0 {
		takes := 5 + 3*r.random.Float64()
		r.slides[n.chair] = r.now + takes
		c.carryBy(a.mm)
		r.leader.set(n.chair)
		if r.style().added || r.style().serial {
			r.now += takes
		}
	}
	if a.warm || r.style().warms && c.player.Played() < 300 {
		r.warmed[n.chair] = math.Max(r.now, r.slides[n.chair])
	}
	if r.random.Float64() < r.pop.Asks {
		r.asks = append(r.asks, n.chair)
	}
}
