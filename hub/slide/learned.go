package slide

import (
	"fmt"
	"math"
)

// Learned is what a player's own moves say about their instrument: the ratio
// of its true millimetres per cent to the model's, as a normal distribution.
// The zero value is the prior.
type Learned struct {
	Ratio float64 `json:"ratio"` // 1 = as the model
	SD    float64 `json:"sd"`
	Moves int     `json:"moves"` // moves it rests on
}

// priorSD is how far instruments depart from c/(2 f1): published tubes are 5
// to 10 % shorter than their effective length, since the bell reflects at a
// point that moves with frequency.
const priorSD = 0.08

func (l Learned) ratio() float64 {
	if l.Ratio <= 0 {
		return 1
	}
	return l.Ratio
}

func (l Learned) sd() float64 {
	if l.Ratio <= 0 || l.SD <= 0 {
		return priorSD
	}
	return l.SD
}

// A move teaches about the instrument when the pitch followed at least halfway
// and no further from the model than teachable standard deviations of reading
// and prior together: the rest is the player's or another slide's doing.
const (
	followedHalf = 0.5
	teachable    = 3
)

func (m Made) teaches() bool {
	x, y := float64(m.Expected), float64(m.Measured())
	if math.Abs(x) < JudgeCents || !m.Before.Hz.Valid() || !m.After.Hz.Valid() || y/x < followedHalf {
		return false
	}
	return math.Abs(y-x) <= teachable*math.Hypot(m.sd(), priorSD*x)
}

// Learn updates what is known of a player's millimetres per cent from moves
// that went with the slide; held and surprising moves teach nothing about the
// instrument. Expected of each Made must be the model's own, from
// Expect with the zero Learned.
//
// The change y of a move that the model expects to be x is x·b with b = 1 /
// Ratio: Bayesian linear regression on b with the prior N(1, priorSD²).
func Learn(made ...Made) Learned {
	precision := 1 / (priorSD * priorSD)
	sum := precision // prior mean 1
	l := Learned{}
	for _, m := range made {
		if !m.teaches() {
			continue
		}
		x, w := float64(m.Expected), 1/(m.sd()*m.sd())
		precision += w * x * x
		sum += w * x * float64(m.Measured())
		l.Moves++
	}
	b := sum / precision
	l.Ratio = 1 / b
	l.SD = 1 / math.Sqrt(precision) / (b * b)
	return l
}

// String says it for the leader: "1.07 ± 0.04 of the model, from 3 moves".
func (l Learned) String() string {
	moves := "moves"
	if l.Moves == 1 {
		moves = "move"
	}
	return fmt.Sprintf("%.2f ± %.2f of the model, from %d %s", l.ratio(), 1.96*l.sd(), l.Moves, moves)
}
