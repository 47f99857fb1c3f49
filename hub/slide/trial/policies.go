package trial

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// How long things take in a rehearsal, in seconds (from memory).
const (
	noteTakes = 8 // look up, breathe, play three seconds, read the answer
	moveTakes = 6 // set a slide; the next player waits for the word
	triesEach = 3 // most notes asked of one player in one round
	warmTakes = 60
)

// playBellrow lets the hub's advice run each chair's turn. What is counted is
// one reading per chair and round, with up to triesEach notes to get it.
func playBellrow(s *section, _ *Result) func(int) {
	return func(round int) {
		if round == 1 && s.coldLast {
			s.sendCold()
		}
		// Whoever was sent to warm up comes last.
		order := slices.Clone(s.chairs)
		slices.SortStableFunc(order, func(a, b *chair) int { return cmp.Compare(a.sentAt, b.sentAt) })
		for _, c := range order {
			s.turn(c)
		}
	}
}

// sendCold has everybody whose node has heard too little of them play easy
// notes from the start.
func (s *section) sendCold() {
	for _, c := range s.chairs {
		if c.player.Played() < slide.ColdSeconds {
			c.sentAt = math.SmallestNonzeroFloat64
		}
	}
}

// turn is one chair's turn.
func (s *section) turn(c *chair) {
	if c.sentAt > 0 {
		c.player.Warm(s.seconds - c.sentAt) // easy notes until called again
		c.sentAt = 0
	}
	for range triesEach {
		s.seconds += noteTakes
		c.notes++
		c.holding = c.player.Holding(c.note)
		reading := wire(c.player.Reading(c.player.Sounding(c.note)))
		reading.Played = c.player.Played()
		a := slide.Advise(slide.Input{
			Instrument: c.in, Note: c.note, Target: c.target, Reading: reading, Settings: c.settings,
			Prior: c.belief, Earlier: c.earlier, Played: c.player.Played(), Learned: slide.Learn(c.made...),
			Pinches: c.pinches,
		})
		if reading.Settled {
			c.earlier = append(c.earlier, reading)
		}
		switch {
		case a.Code == "cold":
			c.sentAt = s.seconds
			return
		case a.Kind == slide.Note, a.Kind == slide.Again:
			c.obey(a)
		case c.pending != nil && c.follow(reading) != goOn:
			if c.pending == nil {
				return // held to the end: no further move today on this note
			}
			c.player.Rest()
		default:
			if !s.answer(c, reading, a) || !s.again {
				return
			}
		}
	}
}

// obey does what the player is told before playing again.
func (c *chair) obey(a slide.Advice) {
	switch {
	case a.Kind == slide.Note:
		c.player.Told()
	case a.Code == "vibrato":
		c.player.Straight()
	case a.Code == "pinched":
		c.pinches = true
		c.player.Rest()
	case a.Code == "eased":
		c.player.Rest()
	}
}

// mostFresh is how many fresh attacks are asked for after one move before its
// outcome is taken as it is: people first.
const mostFresh = 3

// next is what follows the reading after a move.
type next int

const (
	goOn  next = iota // the pitch went with the slide: the reading may be answered
	fresh             // rest and start the note fresh
)

// follow judges the last move by the reading after it. When the pitch is still
// held after mostFresh attacks the move is closed, and nothing is moved.
func (c *chair) follow(after slide.Reading) next {
	c.pending.attacks++
	c.pending.Made = c.pending.Again(after)
	made := c.pending.Made
	f := slide.FollowThrough(made)
	if f.Verdict != slide.Small {
		c.judged = true
		if c.holding {
			c.holds++
		}
	}
	_, first := f.Answer()
	if !first || f.Verdict == slide.TooFar {
		c.made, c.pending = append(c.made, made), nil
		return goOn
	}
	c.warned = c.warned || c.holding
	c.accused = c.accused || f.Verdict == slide.Held
	if c.pending.attacks >= mostFresh {
		c.belief, c.pending = c.belief.Held(), nil
	}
	return fresh
}

// answer takes a counted reading and what was advised; it reports whether a
// slide was moved.
func (s *section) answer(c *chair, reading slide.Reading, a slide.Advice) (moved bool) {
	c.belief = c.belief.Read(a.Offset, reading)
	// "Then rest, breathe, and play the note again" comes after the move.
	if strings.Contains(strings.ToLower(a.Next), "rest") {
		defer c.player.Rest()
	}
	if a.Kind != slide.Move {
		return false
	}
	st := a.Steps[0]
	s.seconds += moveTakes
	path := c.in.Paths(c.note)[0]
	learned := slide.Learn(c.made...)
	c.pending = &pending{Made: slide.Made{
		Expected: slide.Expect(c.in, path, c.settings, st.Slide, st.FromMM, st.ToMM, slide.Learned{}), Before: reading,
	}}
	c.carryOut(st.ToMM)
	c.belief = c.belief.Moved(st.Expected, st.MM(), learned)
	c.earlier = nil
	return true
}

// playMeter: everybody watches a meter and bends until it is content. No
// slide moves.
func playMeter(s *section, _ *Result) func(int) {
	return func(int) {
		for _, c := range s.chairs {
			s.seconds += noteTakes
			c.notes++
			c.player.Lipped(c.note, c.target)
			c.player.Told() // the leader hears a wrong note
		}
	}
}

// playNaive: one reading, a nominal number of millimetres per cent, every
// time, whatever the reading was like.
func playNaive(s *section, _ *Result) func(int) {
	return func(int) {
		for _, c := range s.chairs {
			s.seconds += noteTakes
			c.notes++
			reading := c.player.Reading(c.player.Sounding(c.note))
			c.player.Told() // the leader hears a wrong note
			// A meter shows the nearest note.
			_, x := pitch.Reference{}.Nearest(reading.Hz)
			main, _ := c.in.Slide(instrument.Main)
			perCent := 1000 * c.in.Length(c.in.Paths(c.note)[0], nil, instrument.Air{}) * math.Ln2 / 1200 / float64(main.Legs)
			to := math.Round(c.settings[instrument.Main] + perCent*float64(x))
			to = math.Max(0, math.Min(main.TravelMM, to))
			if math.Abs(to-c.settings[instrument.Main]) < 0.5 {
				continue
			}
			s.seconds += moveTakes
			c.carryOut(to)
		}
	}
}
