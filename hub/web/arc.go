package web

import (
	"cmp"
	"math"
	"slices"

	"bellrow/hub/show"
)

// Spot is where a chair's card is on the stage, seen from the leader, who
// stands at the middle of its lower edge. Both are the card's middle in
// percent of the stage's width, from the left and from the top.
type Spot struct {
	X float64 `json:"x"`
	Y float64 `json:"y"`
}

// The stage of an arc, in percent of its width. On a laptop with 1366 points
// across, a card has room for a chair's name, drawing and move in the type of
// the rows, and the stage fits between sentence and bar.
const (
	stageHigh = 44
	cardWide  = 12.6
	cardHigh  = 8.8
	// cardGap is the room between a row's cards and those behind them.
	cardGap = 0.3
	// mostArcs is how many rows there is room for before the leader.
	mostArcs = 3
)

// arcOf seats the chairs of a section, in seating order, in arcs around the
// leader: the front row is the innermost. It returns nil where the cards
// would not fit; such a section is drawn in rows.
func arcOf(chairs []show.ChairRow) []Spot {
	rows := seatRows(chairs)
	if len(rows) == 0 || len(rows) > mostArcs {
		return nil
	}
	return seatArcs(rows, 0, nil)
}

// seatArcs seats the rows, the back one first, as many arcs inside those
// that are taken, clear of one another. It returns the spots in seating order.
func seatArcs(rows []int, inside float64, taken []Spot) []Spot {
	if len(rows) == 0 {
		return []Spot{}
	}
	front, n := rows[:len(rows)-1], rows[len(rows)-1]
	arc := newArc(50-cardWide/2-inside*(cardWide+cardGap), stageHigh-cardHigh-inside*(cardHigh+cardGap))
	for _, free := range append([]float64{0.5 / float64(n)}, freeEnds...) {
		row := arc.spread(n, free)
		if tooTight(row, taken) {
			continue
		}
		if before := seatArcs(front, inside+1, append(slices.Clone(taken), row...)); before != nil {
			return append(before, row...)
		}
	}
	return nil
}

// freeEnds are the shares of an arc that may be left free at either end, so
// that the cards of neighbouring rows do not meet. A row is first tried with
// half a chair's share free, which looks best where there is room.
var freeEnds = []float64{0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.12, 0.14, 0.16, 0.18, 0.2, 0.25}

// seatRows counts the chairs of each row, the front row first.
func seatRows(chairs []show.ChairRow) []int {
	count := map[int]int{}
	for _, c := range chairs {
		count[c.Row]++
	}
	var rows []int
	for row := range count {
		rows = append(rows, row)
	}
	slices.SortFunc(rows, cmp.Compare)
	for i, row := range rows {
		rows[i] = count[row]
	}
	return rows
}

// arc is half an ellipse around the leader, walked in equal angles from the
// left to the right.
type arc struct {
	at []Spot
	// far is how far each step is from the left end, in cards, across or up,
	// whichever is more: cards are wider than high, so that more of them go
	// up the sides than along the back.
	far []float64
}

func newArc(rx, ry float64) arc {
	const steps = 360 // enough for a round line
	a := arc{make([]Spot, steps+1), make([]float64, steps+1)}
	for i := range a.at {
		sin, cos := math.Sincos(math.Pi * (1 - float64(i)/steps))
		a.at[i] = Spot{50 + rx*cos, stageHigh - cardHigh/2 - ry*sin}
		if i > 0 {
			before := a.at[i-1]
			a.far[i] = a.far[i-1] + max(math.Abs(a.at[i].X-before.X)/cardWide, math.Abs(a.at[i].Y-before.Y)/cardHigh)
		}
	}
	return a
}

// spread places n cards with the same room between them, a share of the arc
// left free at either end; one card is in the middle.
func (a arc) spread(n int, free float64) []Spot {
	spots := make([]Spot, n)
	for i := range spots {
		along := 0.5
		if n > 1 {
			along = free + (1-2*free)*float64(i)/float64(n-1)
		}
		s := a.spot(along * a.far[len(a.far)-1])
		spots[i] = Spot{math.Round(100*s.X) / 100, math.Round(100*s.Y) / 100}
	}
	return spots
}

// spot is the place so far from the left end, between two steps.
func (a arc) spot(far float64) Spot {
	i, _ := slices.BinarySearch(a.far, far)
	i = min(max(i, 1), len(a.far)-1)
	p, q := a.at[i-1], a.at[i]
	share := (far - a.far[i-1]) / (a.far[i] - a.far[i-1])
	return Spot{p.X + share*(q.X-p.X), p.Y + share*(q.Y-p.Y)}
}

// tooTight reports whether cards of a row would lie on each other or on those
// of the rows behind.
func tooTight(row, taken []Spot) bool {
	for i, a := range row {
		if slices.ContainsFunc(row[:i], a.touches) || slices.ContainsFunc(taken, a.touches) {
			return true
		}
	}
	return false
}

func (s Spot) touches(o Spot) bool {
	return math.Abs(s.X-o.X) < cardWide && math.Abs(s.Y-o.Y) < cardHigh
}
