// Package room puts simulated players and microphones into a room.
//
// Each player is a stream of samples as heard one metre in front of the bell;
// each chair's microphone hears every player: attenuated with distance,
// delayed, reflected and reverberated, through its own colour, with its own
// noise, its own clock and its own start time.
//
// Two ways to compute the same room: Full uses image sources (Allen and
// Berkley 1979, J. Acoust. Soc. Am. 65:943) and a decaying tail for every pair
// of player and microphone, for accuracy work; Live keeps direct sound and
// bleed with delay, and one short shared tail, cheap enough for a dozen chairs
// hearing one another in real time.
//
// Distances are in metres, levels in dB, times in seconds. Everything is
// reproducible from the seed. A Room belongs to one goroutine.
package room

import "math"

// SpeedOfSound in m/s, dry air at 20 °C (ISO 9613-1).
const SpeedOfSound = 343.2

// Point is a place in the room, metres from one corner.
type Point struct{ X, Y, Z float64 }

// Distance between two points.
func (p Point) Distance(q Point) float64 {
	return math.Sqrt((p.X-q.X)*(p.X-q.X) + (p.Y-q.Y)*(p.Y-q.Y) + (p.Z-q.Z)*(p.Z-q.Z))
}

// Seat is one chair: where its bell is and where its laptop's microphone.
type Seat struct {
	Bell, Mic Point
	Sound     Bell // the live room takes all bells to radiate alike everywhere
}

// Common distances (common practice, no source).
const (
	// BellToMic is from a player's bell to the laptop on the stand or chair
	// beside it.
	BellToMic = 0.45
	bellAbove = 1.1 // height of a seated player's bell
	micAbove  = 0.8 // height of a laptop on a low stand
)

// Rows seats players in straight rows, counts[0] in front, spacing apart
// within a row and depth between rows, centred at middle and facing -Y.
func Rows(counts []int, spacing, depth float64, middle Point) []Seat {
	var seats []Seat
	for r, n := range counts {
		for i := range n {
			x := middle.X + (float64(i)-float64(n-1)/2)*spacing
			y := middle.Y + (float64(r)-float64(len(counts)-1)/2)*depth
			seats = append(seats, seat(x, y, 0, -1))
		}
	}
	return seats
}

// Arcs seats players on arcs around the conductor at middle: counts[0] on the
// first arc of the given radius, depth more for each further one, spacing
// apart along the arc. All face the conductor.
func Arcs(counts []int, radius, spacing, depth float64, middle Point) []Seat {
	var seats []Seat
	for r, n := range counts {
		rad := radius + float64(r)*depth
		for i := range n {
			a := (float64(i) - float64(n-1)/2) * spacing / rad
			s, c := math.Sincos(a)
			seats = append(seats, seat(middle.X+rad*s, middle.Y+rad*c, -s, -c))
		}
	}
	return seats
}

// seat puts the bell at (x, y) and the microphone in front of it.
func seat(x, y, dx, dy float64) Seat {
	across := math.Sqrt(BellToMic*BellToMic - (bellAbove-micAbove)*(bellAbove-micAbove))
	return Seat{
		Bell: Point{x, y, bellAbove},
		Mic:  Point{x + dx*across, y + dy*across, micAbove},
	}
}
