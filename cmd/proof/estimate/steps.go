package estimate

import (
	"context"
	"fmt"
	"math"

	"bellrow/proto/pitch"
)

// realSteps tells how far the mean pitch of a recorded note's next stretch lies from that of this
// one, of the same length, as the winding of the dry note has it: 1.96 times the RMS of each note's steps
// is the narrowest half width of which 95 % could hold, for one who knew that note's wander beforehand.
func (r *run) realSteps(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for _, grade := range []string{"A", "B", "C"} {
		for _, seconds := range []float64{0.3, 0.6, 1, 1.4} {
			var halves []float64
			for i := range crowd.notes {
				n := &crowd.notes[i]
				if n.grade != grade {
					continue
				}
				square, count := 0.0, 0.0
				end := float64(len(n.samples))/rate - 0.1
				for at := n.onset + 0.3; at+2*seconds <= end; at += seconds / 10 {
					a, b := n.winding.mean(at, at+seconds), n.winding.mean(at+seconds, at+2*seconds)
					step := float64(pitch.Between(pitch.Hertz(a), pitch.Hertz(b)))
					square, count = square+step*step, count+1
				}
				if count > 0 {
					halves = append(halves, 1.96*math.Sqrt(square/count))
				}
			}
			r.table.figure(fmt.Sprintf("grade %s, %g s to the next %g s", grade, seconds, seconds),
				fmt.Sprintf("±%s in the median of %d notes, %s to %s", short(quantile(halves, 0.5)), len(halves), short(quantile(halves, 0)), short(quantile(halves, 1))), "0.7 A, 2.5 B")
		}
	}
	return ctx.Err()
}
