package moves

import (
	"math"

	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// seat is a place in the room: high brass in front, low brass behind, as the hub
// seats those who join.
type seat struct{ row, place int }

func (s *section) sitDown() {
	var taken [2]int
	for _, c := range s.chairs {
		row := 0
		switch c.in.Family {
		case "trombone", "euphonium", "tuba":
			row = 1
		}
		c.seat = seat{row, taken[row]}
		taken[row]++
	}
}

// The room: chairs stand betweenSeats and betweenRows apart, laptops ownMetres
// from their players, and at reverbMetres from a player as much sound comes from
// the walls as from the bell (0.057 √(V/T) m: 600 m³ and 1 s).
const (
	ownMetres    = 0.6
	betweenSeats = 1.5
	betweenRows  = 1.6
	reverbMetres = 1.4
	loudnessSD   = 4 // dB, from player to player and note to note
)

// levelAt is how loud one player is at another's laptop, against its own player, in dB.
func (s *section) levelAt(i, other int) float64 {
	a, b := s.chairs[i].seat, s.chairs[other].seat
	d := math.Hypot(betweenSeats*float64(a.place-b.place), betweenRows*float64(a.row-b.row))
	level := 10 * math.Log10(sq(ownMetres/d)+sq(ownMetres/reverbMetres))
	return level + loudnessSD*s.random.NormFloat64()
}

func sq(x float64) float64 { return x * x }

// drowned is the share of notes that are refused beside another an octave away,
// by its level in dB: 29, 2 and 0 of 166 at -6, -10 and -14 dB of the lower of the
// two notes and 26 of 810 of the higher one (testdata/results/readings.md), of which
// the worse counts for both. What lies above -6 dB is guessed.
var drowned = [...]struct{ db, share float64 }{{-14, 0.01}, {-10, 0.03}, {-6, 0.175}, {0, 0.5}, {6, 0.8}}

func refusedAt(db float64) float64 {
	last := drowned[0]
	for _, d := range drowned {
		if db <= d.db {
			if d == last {
				return d.share
			}
			return last.share + (d.share-last.share)*(db-last.db)/(d.db-last.db)
		}
		last = d
	}
	return last.share
}

// What a neighbour costs beside refusals: recorded notes with another at -6 and
// -10 dB were off by 1.05 cents in 95 of 100, alone by 0.3 to 0.5 in rooms. One in
// 166 was taken for the octave.
const (
	besideWider = 2.0
	besideLeast = 0.5 // cents, SD
	wrongOctave = 1.0 / 166
)

// beside is what others who play at once do to a reading. Where a whole section
// plays, the fit over all laptops reads 55 of 100.
func (r *rehearsal) beside(n *note, group []int) {
	if len(group) < 2 {
		return
	}
	sd := n.half / 1.96
	wider := math.Max(besideWider, math.Sqrt(1+sq(besideLeast/sd)))
	n.shift(math.Sqrt(sq(wider)-1) * sd * r.random.NormFloat64())
	n.half *= wider
	n.started *= wider
	n.reading.CI95 = pitch.Cents(n.half)
	lost := 0.45
	if len(group) <= 3 {
		lost = 0
		for _, o := range group {
			if o != n.chair {
				lost = 1 - (1-lost)*(1-refusedAt(r.levelAt(n.chair, o)))
			}
		}
	}
	switch x := r.random.Float64(); {
	case n.refused != "":
	case x < lost:
		n.refused = string(listen.ReasonTwo)
		n.reading.Settled, n.reading.Reason = false, listen.ReasonTwo
	case x > 1-wrongOctave:
		n.shift(1200)
		n.refused = "other-note"
	}
}

// shift moves a reading by so many cents.
func (n *note) shift(cents float64) {
	n.cents += cents
	n.reading.Hz = n.reading.Hz.Shift(pitch.Cents(cents))
}
