package tone

import "math"

// highpass is a 4th-order Butterworth high-pass filter: two second-order
// sections by the bilinear transform, with the Qs of the Butterworth circle.
type highpass struct{ sections [2]section }

type section struct{ b0, b1, b2, a1, a2, x1, x2, y1, y2 float64 }

func newHighpass(hz, rate float64) *highpass {
	h := &highpass{}
	w := 2 * math.Pi * hz / rate
	sin, cos := math.Sincos(w)
	for i := range h.sections {
		q := 1 / (2 * math.Cos(math.Pi*float64(2*i+1)/8))
		alpha := sin / (2 * q)
		a0 := 1 + alpha
		h.sections[i] = section{
			b0: (1 + cos) / 2 / a0, b1: -(1 + cos) / a0, b2: (1 + cos) / 2 / a0,
			a1: -2 * cos / a0, a2: (1 - alpha) / a0,
		}
	}
	return h
}

func (h *highpass) next(x float64) float64 {
	for i := range h.sections {
		s := &h.sections[i]
		y := s.b0*x + s.b1*s.x1 + s.b2*s.x2 - s.a1*s.y1 - s.a2*s.y2
		s.x1, s.x2, s.y1, s.y2 = x, s.x1, y, s.y1
		x = y
	}
	return x
}
