package moves

import (
	"context"
	"math"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// How long things take in a rehearsal, in seconds (from memory).
const (
	noteTakes = 8 // look up, breathe, play three seconds, read the answer
	moveTakes = 6 // set a slide; the next player waits for the word
)

// policy makes a section ready and returns what plays one round of it.
type policy func(context.Context, *section) (round func() error, err error)

// policies are compared in this order.
var policies = []struct {
	name string
	play policy
}{
	{"bellrow", playBellrow},
	{"lips to a meter", playMeter},
	{"naive rule", naive(1)},
	{"naive, as many notes", naive(slide.MostNotes)},
}

// playMeter: everybody watches a meter and bends until it is content. No
// slide moves.
func playMeter(_ context.Context, s *section) (func() error, error) {
	return func() error {
		for _, c := range s.chairs {
			s.seconds += noteTakes
			c.notes++
			c.player.Lipped(c.note, c.target)
			c.player.Told() // the leader hears a wrong note
		}
		return nil
	}, nil
}

// naive has each player move by a nominal number of millimetres per cent, by
// the mean of so many readings in a turn, whatever they were like.
func naive(notes int) policy {
	return func(_ context.Context, s *section) (func() error, error) {
		return func() error {
			for _, c := range s.chairs {
				s.naively(c, notes)
			}
			return nil
		}, nil
	}
}

// naively is one chair's turn by the naive rule. Between two notes the player
// is told to rest and to breathe, as in bellrow's turns.
func (s *section) naively(c *chair, notes int) {
	mean := 0.0
	for n := range notes {
		if n > 0 {
			c.player.Rest()
		}
		s.seconds += noteTakes
		c.notes++
		reading := c.player.Reading(c.player.Sounding(c.note))
		c.player.Told() // the leader hears a wrong note
		// A meter shows the nearest note.
		_, x := pitch.Reference{}.Nearest(reading.Hz)
		mean += float64(x) / float64(notes)
	}
	main, _ := c.in.Slide(instrument.Main)
	perCent := 1000 * c.in.Length(c.in.Paths(c.note)[0], nil, instrument.Air{}) * math.Ln2 / 1200 / float64(main.Legs)
	to := math.Round(c.settings[instrument.Main] + perCent*mean)
	to = math.Max(0, math.Min(main.TravelMM, to))
	if math.Abs(to-c.settings[instrument.Main]) < 0.5 {
		return
	}
	s.seconds += moveTakes
	c.carryOut(instrument.Main, to)
}
