package attribute

import (
	"math"

	"bellrow/proto/pitch"
)

// Alone reads the first chair of in from its own tracks as one source, without
// judging it: what one microphone by itself makes of the window. It is for
// comparison, and false without usable tracks.
func Alone(in Input) (pitch.Hertz, bool) {
	in.Chairs = in.Chairs[:min(1, len(in.Chairs))]
	p := pool(&in)
	if len(p.chairs) == 0 || len(p.chairs[0]) == 0 {
		return 0, false
	}
	return pitch.Hertz(float64(in.Chairs[0].Expected) * math.Exp2(p.chairs[0][0].cents/1200)), true
}
