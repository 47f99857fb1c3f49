package estimate

import (
	"context"
	"math"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// segment is a stretch of sound and what it should read.
type segment struct {
	name      string
	samples   []float64
	truth     pitch.Hertz
	bound     float64     // standard deviation of the best possible estimator, cents; 0 unknown
	neighbour pitch.Hertz // 0 without
}

// result is what a method read.
type result struct {
	hz pitch.Hertz
	ci float64 // half width of the 95 % interval, cents; 0 when the method gives none
	ok bool
}

// method reads segments.
type method struct {
	name string
	read func(context.Context, []segment) ([]result, error)
}

// ownMethod is the project's own estimator, each segment as one stretch and an
// exact clock.
var ownMethod = method{"bellrow", func(ctx context.Context, segments []segment) ([]result, error) {
	out := make([]result, len(segments))
	for i, s := range segments {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		e, ok := estimate.Whole(s.samples, rate, estimate.Options{})
		out[i] = result{hz: e.Hz, ci: float64(e.CI95), ok: ok}
	}
	return out, nil
}}

// grossCents is what separates a wrong note from an inexact one.
const grossCents = 50

// tally sums up one method's results on one case.
type tally struct {
	errors   []float64 // cents, sorted by stats; gross ones left out
	relative []float64 // error over bound
	gross    int       // off by more than grossCents, or no reading
	taken    int       // nearer to the neighbour than to the target
	held     int       // interval holds the truth
	stated   int       // intervals stated
	kept     []float64 // errors of those with an interval below keepCents
}

// keepCents is the half width of the interval above which a reading beside a
// neighbour is refused.
const keepCents = 0.7

func tallyOf(segments []segment, results []result) tally {
	var t tally
	for i, s := range segments {
		r := results[i]
		off := math.Abs(float64(pitch.Between(s.truth, r.hz)))
		if !r.ok || off > grossCents {
			t.gross++
			continue
		}
		t.errors = append(t.errors, off)
		if s.bound > 0 {
			t.relative = append(t.relative, off/s.bound)
		}
		if s.neighbour > 0 && math.Abs(float64(pitch.Between(s.neighbour, r.hz))) < off {
			t.taken++
		}
		if r.ci > 0 {
			t.stated++
			if off <= r.ci {
				t.held++
			}
			if r.ci <= keepCents {
				t.kept = append(t.kept, off)
			}
		}
	}
	return t
}

// coverage collects how often the stated interval holds the truth.
type coverage struct{ held, stated int }

func (c coverage) share() float64 { return float64(c.held) / float64(max(1, c.stated)) }

func (c *coverage) add(t tally) {
	c.held += t.held
	c.stated += t.stated
}

// measure runs all methods on a case and writes their rows. It returns the
// tally of the first method, the project's own.
func (r *run) measure(ctx context.Context, what, target string, segments []segment) (tally, error) {
	var own tally
	for i, m := range r.methods {
		results, err := m.read(ctx, segments)
		if err != nil {
			return own, err
		}
		t := tallyOf(segments, results)
		if i == 0 {
			own = t
		} else {
			target = ""
		}
		r.table.accuracy(what, m.name, target, t)
	}
	return own, nil
}
