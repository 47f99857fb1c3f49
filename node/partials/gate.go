package partials

import (
	"math"

	"bellrow/proto/pitch"
)

// gate follows the quiet floor and says whether there is sound.
type gate struct {
	fixed bool
	floor pitch.Level
	hop   int // samples per tenth of a second
	sum   float64
	n     int
}

// Starting floor and how it moves: it falls at once to any quieter tenth of a
// second, and rises slowly, so that a held note of ten seconds does not become
// the floor.
const (
	firstFloor   = -55.0
	lowestFloor  = -95.0
	riseDBPerHop = 0.02
)

func newGate(cfg Config) gate {
	g := gate{floor: firstFloor, hop: int(cfg.Rate / 10)}
	if cfg.Floor != 0 {
		g.fixed, g.floor = true, cfg.Floor
	}
	return g
}

func (g *gate) add(v float64) {
	g.sum += v * v
	if g.n++; g.n < g.hop {
		return
	}
	l := pitch.LevelOf(math.Sqrt(g.sum / float64(g.n)))
	g.sum, g.n = 0, 0
	if !g.fixed {
		g.floor = max(lowestFloor, min(g.floor+riseDBPerHop, l))
	}
}

func (g *gate) open(level pitch.Level) bool {
	return level >= leastLevel && level >= g.floor+overFloor
}
