package slide

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
