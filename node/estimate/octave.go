package estimate

import (
	"math"

	"bellrow/node/settle"
)

// Which note is it? The spectrum alone shows a comb; what is doubtful is whether
// every other tooth is the player's.

const (
	// sureShare is how well twice the pitch may match, against the pitch itself,
	// where its odd partials are its own beyond doubt: 0.06 at most in real notes,
	// alone in rooms; 0.07 to 1.6 beside a neighbour an octave below at -10 dB.
	sureShare = 0.15
	// betweenShare is the least share of the power that the partials in between
	// hold that are the player's: 0.08 at least in the same notes.
	betweenShare = 0.02
	// thirdShare of the power between every third partial makes a pitch a twelfth lower.
	thirdShare = 0.4
	// briefShare of the sound is so little that the rest in it may be of another note;
	// partShare is how well the pitch must match in each half of the rest, against what
	// matches there, heldShare how much of the power it must hold of what that holds, and oddFalls how little of the odd partials of one half may be left
	// in the other.
	briefShare, partShare, heldShare, oddFalls = 0.6, 0.5, 0.9, 0.03
	// partlyShare of the sound is so little that partials outside of the rest may have
	// made another note of it.
	partlyShare = 0.9
	// fewBeside of them, however weak, leave a doubt.
	fewBeside = 2
	// weakShare is the share of the power beyond which odd partials are not asked
	// whose they are: only a louder neighbour's could hold as much. Up to faintShare
	// they are rather somebody else's if they wander apart, but in doubt, for speech makes
	// partials part.
	weakShare, faintShare = 0.25, 0.1
	// together and apart are how far the pitch of the odd partials may part from
	// that of the even ones, against what both wander: lips drive all partials of
	// a player alike.
	together, apart = 0.35, 0.6
	// partingHz is up to which rate of wander they are compared, and partingLeast
	// the least RMS wander, in cents, by which they can be.
	partingHz, partingLeast = 3.0, 0.2
	// octaveCents is the interval of a reading that may be an octave off.
	octaveCents = 1200
	// fewAlone partials, every second or third of the call's, are a note of their own: of those
	// of a player's who met the call 0.04 at least were others, in rooms beside speech. Where
	// the call's hold no more than leastOfAll of the power something else sounds: of a player's
	// they held 0.6, and 0.9 in 99 of 100. It is a note that holds nearlyAll.
	fewAlone, leastOfAll, nearlyAll = 3, 0.3, 0.9
	// Without a call a note that holds less than mostOfAll of the power above rumbleHz is in
	// doubt. Of what could be another note than the one called shareFrom of its pitch is the
	// lowest.
	mostOfAll, rumbleHz, shareFrom = 0.5, 40.0, 0.3
	// callReach is how far from the call, in cents, a note is still the one called
	// for, and freeReach how far from the spectrum's pitch its partials are sought.
	callReach, freeReach = 100.0, 40.0
	// ownShare is the share of the power at the call's partials that is enough for
	// the call to be there, where it is none of another note's, whose partials lie
	// within sharedCents, and ownLeast how much of the other's power that must be; sameCents is how near the thirds of a note must agree on
	// another for that to be decisive; of nearbyTimes its pitch and more every place is
	// near one of a low note's partials.
	ownShare, ownLeast, sharedCents, sameCents, nearbyTimes = 0.2, 0.05, 40.0, 60.0, 4.0
)

// findPitch decides which note it is: the one called, unless the evidence for
// another is decisive. It is false where nothing is heard.
func (n *reading) findPitch() bool {
	free, ok := n.spectrum.fundamental()
	if !ok {
		return false
	}
	if call := float64(n.Call); call > 0 {
		n.hz = n.spectrum.near(call, callReach)
		near := func(hz float64) bool { return centsApart(hz, call) <= callReach }
		if other := n.elsewhere(free); other > 0 {
			free = other
		} else if over := n.overtone(n.spectrum.near(free, freeReach)); near(free) || near(over) || !n.isOther(over) {
			return true
		}
		n.other = true
	}
	n.hz = n.spectrum.near(n.inOctave(free), freeReach)
	if n.Call == 0 && n.Without&StageOctave == 0 {
		n.doubt = n.doubt || n.spectrum.share(n.hz, rumbleHz) < mostOfAll || n.chord()
	}
	return true
}

// chord reports whether each partial that stands out would be one of either of two notes
// whose pitches are as two small numbers: the fundamental of both is nobody's.
func (n *reading) chord() bool {
	ps := n.partialsOf(n.hz)
	for _, pair := range [...][2]int{{2, 3}, {3, 4}, {4, 5}, {3, 5}, {5, 6}} {
		var only [2]int
		both := 0
		for _, p := range ps {
			a, b := p.k%pair[0] == 0, p.k%pair[1] == 0
			switch {
			case a && b:
				both++
			case a:
				only[0]++
			case b:
				only[1]++
			}
		}
		if min(only[0], only[1]) > 0 && only[0]+only[1]+both == len(ps) && len(ps) >= fewAlone {
			return true
		}
	}
	return false
}

// elsewhere returns the note that sounds where what sounds at n.hz, near the call, is
// another's: every second or third partial alone, or next to nothing; 0 else.
func (n *reading) elsewhere(free float64) float64 {
	alone := n.overtone(n.hz)
	if len(n.partialsOf(n.hz)) < fewAlone || len(n.every(int(math.Round(alone/n.hz)), n.hz).own) > 0 {
		alone = n.hz
	}
	if alone == n.hz && n.spectrum.share(n.hz, shareFrom*n.hz) > leastOfAll {
		return 0
	}
	top := n.spectrum.peaks()[0]
	for _, hz := range [...]float64{free, alone, top, top / 2, top / 3, top / 4, top / 5} {
		if n.spectrum.share(n.spectrum.near(hz, freeReach), shareFrom*hz) > nearlyAll {
			return hz
		}
	}
	return free
}

// isOther reports whether the evidence is decisive that the note is not the one at
// n.hz, near the call, but at free: the call has no partials of its own at all, or
// none that wander with the others, and two of three thirds of the note agree on free.
func (n *reading) isOther(free float64) bool {
	call := n.split(n.hz, func(k int) bool {
		order := float64(k) * n.hz / free
		return math.Round(order) >= 1 && centsApart(order, math.Round(order)) <= sharedCents
	})
	theirs := n.every(1, free).power
	if call.ownPower > 0 && call.ownPower >= max(ownShare*call.power, ownLeast*theirs) {
		parts, known := n.parting(call)
		if call.ownPower > theirs/2 || !known || parts < apart {
			return false
		}
	}
	if m := math.Round(n.hz / free); m > 1 && centsApart(n.hz/free, m) < sharedCents {
		// All of the call's partials are free's: does free have others? Far below the
		// call everything that sounds is near one of its partials.
		if m >= nearbyTimes {
			return false
		}
		others := n.every(int(m), free)
		if len(others.own) < fewBeside { // one line is no comb
			return false
		}
		odd, match := others.share(), n.spectrum.match(n.hz)/n.spectrum.match(free)
		parts, known := n.parting(others)
		oneself := known && parts < together && odd > betweenShare
		if !oneself && odd < weakShare && (odd < ownShare/2 || match > sureShare/2) {
			return false
		}
	}
	if call.ownPower < betweenShare*theirs && n.hz < nearbyTimes*free {
		return true
	}
	agree, third := 0, (n.to-n.from)/3
	for i := range 3 {
		hz, ok := n.spectrumOf(n.from+i*third, n.from+(i+1)*third).fundamental()
		if ok && centsApart(hz, free) < sameCents {
			agree++
		}
	}
	return agree >= 2
}

// split is the partials of a pitch: those that another note has as well, and its own.
type split struct {
	shared, own     []partialTrack
	ownPower, power float64 // of its own, of all
}

// split splits the partials of hz.
func (n *reading) split(hz float64, shared func(k int) bool) (s split) {
	for _, p := range n.partialsOf(hz) {
		s.power += p.level
		if shared(p.k) {
			s.shared = append(s.shared, p)
		} else {
			s.own, s.ownPower = append(s.own, p), s.ownPower+p.level
		}
	}
	return s
}

// every splits the partials of hz: every m-th is shared, with the note of m times hz.
func (n *reading) every(m int, hz float64) split {
	return n.split(hz, func(k int) bool { return k%m == 0 })
}

// share is that of the power which its own partials hold.
func (s split) share() float64 { return s.ownPower / max(s.power, 1e-300) }

// spacing is the greatest common divisor of its own partials: one where they are a
// player's, more where they are another's comb.
func (s split) spacing() int {
	all := 0
	for _, p := range s.own {
		for k := p.k; k != 0; {
			all, k = k, all%k
		}
	}
	return max(1, all)
}

// oneself reports whether the partials of s that are its own wander with the shared ones,
// however weak they are: a reflection half a period late leaves little of them.
func (n *reading) oneself(s split) bool {
	parts, known := n.parting(s)
	return len(s.own) >= fewBeside && known && parts < together
}

// overtone returns the multiple of hz whose partials hold nearly all: in noise and
// company a few lines have fractions in common.
func (n *reading) overtone(hz float64) float64 {
	for _, m := range [...]int{2, 3, 5, 7} {
		if hz*float64(m) > MaxHz {
			break
		}
		if s := n.every(m, hz); s.share() < betweenShare && !n.oneself(s) {
			return n.overtone(hz * float64(m))
		}
	}
	return hz
}

// changes asks the halves of the rest which note they are. A brief rest that is of
// another note than all of the sound, as after hum or beside a neighbour who came and
// went, is read anew by itself. Where one half is of another note, which this is is in doubt.
func (n *reading) changes() (anew bool) {
	a, b := n.rest.From, n.rest.To
	if float64(b-a) < briefShare*float64(n.to-n.from) {
		anew := *n
		anew.spectrum, anew.from, anew.to, anew.doubt = n.spectrumOf(a, b), a, b, false
		if anew.findPitch() && centsApart(anew.hz, n.hz) > sameCents && anew.cutPartials() {
			*n = anew
			return true
		}
	}
	if float64(b-a) < partlyShare*float64(n.to-n.from) {
		part := *n
		part.from, part.to = a, b
		n.doubt = n.doubt || part.overtone(n.hz) != n.hz
	}
	var odd [2]float64
	for i := range odd {
		l := n.spectrumOf(a+i*(b-a)/2, a+(i+1)*(b-a)/2)
		held, odds, _ := l.held(n.hz, shareFrom*n.hz)
		odd[i] = odds / (held + 1e-300)
		if hz, ok := l.fundamental(); ok && centsApart(hz, n.hz) > sameCents && l.match(n.hz) < partShare*l.match(hz) {
			theirs, _, _ := l.held(hz, shareFrom*hz)
			n.doubt = n.doubt || held < heldShare*theirs
		}
	}
	n.doubt = n.doubt || min(odd[0], odd[1]) < oddFalls*max(odd[0], odd[1])
	return false
}

// inOctave returns hz or its octave neighbour: whose odd partials are the
// player's. It marks doubt.
func (n *reading) inOctave(hz float64) float64 {
	if n.Without&StageOctave != 0 {
		return hz
	}
	whole := n.spectrum.near(hz, freeReach)
	hz = n.overtone(whole)
	n.doubt = hz != whole && len(n.every(int(math.Round(hz/whole)), whole).own) >= fewBeside
	for _, m := range [...]int{3, 5} {
		s := n.every(m, hz)
		parts, known := n.parting(s)
		n.doubt = n.doubt || s.share() < weakShare && known && parts > apart
	}
	if hz/3 >= MinHz {
		if s := n.every(3, hz/3); s.share() > thirdShare {
			hz *= float64(s.spacing()) / 3
		}
	}
	low, s := hz, n.every(2, hz)
	if hz/2 >= MinHz {
		below := n.every(2, hz/2)
		parts, known := n.parting(below)
		switch few := len(below.own) < fewBeside; {
		case below.share() >= betweenShare || !few && known && parts < together:
			low, s = hz/2, below
		case !few:
			n.doubt = n.doubt || !known || parts <= apart
		}
	}
	odd := s.share()
	if odd > weakShare || 2*low > MaxHz || n.spectrum.match(2*low)/n.spectrum.match(low) < sureShare {
		return low
	}
	switch parts, known := n.parting(s); {
	case known && parts < together:
		return low
	case known && parts > apart && odd < faintShare:
		if hz = 2 * low; len(s.own) < fewBeside { // a drum's, or hum: one line is no comb
			return hz
		}
	}
	n.doubt = true
	return hz
}

// parting compares how its own partials wander and those that are shared: 0 as one, 1 as
// strangers, and 1 where none of its own stand out. It is not known where they hardly
// wander.
func (n *reading) parting(s split) (share float64, known bool) {
	if _, ok := n.pool(s.own, n.from, n.to); !ok {
		return 1, true
	}
	if _, ok := n.pool(s.shared, n.from, n.to); !ok {
		return 0, false
	}
	a, b := combined(s.own)[n.from:n.to], combined(s.shared)[n.from:n.to]
	gap, all := 0.0, 0.0
	for j := 1; j <= int(2*partingHz*float64(len(a))*n.tick); j++ {
		u, v := settle.HalfWave(a, j), settle.HalfWave(b, j)
		gap += (u - v) * (u - v)
		all += u*u + v*v
	}
	return math.Sqrt(gap / max(all, 1e-300)), all > 4*partingLeast*partingLeast
}

// centsApart is how far a and b lie apart.
func centsApart(a, b float64) float64 { return math.Abs(1200 * math.Log2(a/b)) }
