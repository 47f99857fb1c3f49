package estimate

import (
	"context"
	"fmt"
	"runtime"

	"bellrow/node/estimate"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
	"bellrow/testdata/processor"
)

// cost measures what listening takes of the processor. The benchmarks of node/listen say the
// same more precisely.
func (r *run) cost(ctx context.Context) error {
	x := naturalNote(3)
	l, err := listen.New(listen.Config{Rate: rate})
	if err != nil {
		return err
	}
	const rounds = 20
	began, heard := processor.Time(), 0
	for range rounds {
		for at := 0; at+480 <= len(x); at += 480 {
			l.Write(x[at : at+480])
			heard += 480
		}
		l.Flush()
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	share := (processor.Time() - began).Seconds() / (float64(heard) / rate)
	r.table.figure("listening, share of one core, readings included", fmt.Sprintf("%.2f %%", 100*share), "2 %")

	alone, beside := readingTimes(r.n / 4)
	r.table.figure("final reading alone, ms", fmt.Sprintf("median %.1f, worst %.1f", quantile(alone, 0.5), quantile(alone, 1)), "20")
	r.table.figure("final reading beside a neighbour, ms", fmt.Sprintf("median %.1f, worst %.1f", quantile(beside, 0.5), quantile(beside, 1)), "20")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	r.table.figure("heap of the whole program, MB", fmt.Sprintf("%.1f", float64(m.HeapInuse)/1e6), "-")
	return nil
}

// readingTimes measures readings over two seconds, in milliseconds of the
// processor.
func readingTimes(n int) (alone, beside []float64) {
	all := players(max(4, n), 2, 77)
	for i, s := range all {
		x := s.samples[s.from:s.to]
		alone = append(alone, timed(x, float64(s.truth)))
		if m, ok := mixed(s, all[(i+1)%len(all)], 8, -6); ok {
			beside = append(beside, timed(m.samples, float64(s.truth)))
		}
	}
	return alone, beside
}

func timed(x []float64, hz float64) float64 {
	began := processor.Time()
	estimate.Whole(x, rate, estimate.Options{Call: pitch.Hertz(hz)})
	return (processor.Time() - began).Seconds() * 1000
}
