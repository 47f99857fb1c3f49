package trial

import (
	"cmp"
	"maps"
	"math"
	"slices"

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
		a, f := c.memory.Answer(slide.Input{
			Instrument: c.in, Note: c.note, Target: c.target, Reading: reading, Settings: c.settings, Played: reading.Played,
		})
		c.judge(f)
		if a.Code == "cold" {
			c.sentAt = s.seconds
			return
		}
		moved := c.obey(a)
		if moved {
			s.seconds += moveTakes
		}
		if a.Kind == slide.Stay || a.Kind == slide.Nothing || moved && !s.again {
			return
		}
	}
}

// judge counts what the hub made of the last move against the truth.
func (c *chair) judge(f *slide.Follow) {
	if f == nil || f.Verdict == slide.Small {
		return
	}
	c.judged = true
	if c.holding {
		c.holds++
		c.warned = c.warned || f.Verdict == slide.Held || f.Verdict == slide.Unsure || f.Verdict == slide.Partly
	}
	c.accused = c.accused || f.Verdict == slide.Held
}

// obey does what the player is told before playing again; it reports whether a
// slide was moved.
func (c *chair) obey(a slide.Advice) (moved bool) {
	switch {
	case a.Kind == slide.Note:
		c.player.Told()
	case a.Code == "vibrato":
		c.player.Straight()
	case a.Kind == slide.Move:
		st := a.Steps[0]
		before := maps.Clone(c.settings)
		c.carryOut(st.ToMM)
		c.memory.Moved(c.in, before, st.Slide, st.FromMM, c.settings[st.Slide])
		moved = true
	}
	if restful(a) { // after the move: "then rest, breathe, and play the note again"
		c.player.Rest()
	}
	return moved
}

// restful reports whether an answer tells the player to rest or to breathe and
// start fresh.
func restful(a slide.Advice) bool {
	switch a.Code {
	case "pinched", "eased", "unsure":
		return true
	}
	return a.Kind == slide.Rest || a.Kind == slide.Move || a.Kind == slide.Stay && a.Next != ""
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
