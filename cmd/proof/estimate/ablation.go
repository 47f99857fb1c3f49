package estimate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// ablated are the stages left out in turn.
var ablated = []struct {
	name  string
	stage estimate.Stage
}{
	{"whole", 0},
	{"without the second look at the octave", estimate.StageOctave},
	{"without the median over partials", estimate.StageMedian},
	{"without the look for hum", estimate.StageHum},
}

// stretch is a sound whose mean pitch over any part of it is known.
type stretch struct {
	x     []float64
	truth func(from, to float64) float64
}

// ablation measures what each stage of a reading buys on recorded notes dry, in
// rooms and beside a neighbour, on rendered notes and on simulated players beside a
// neighbour and over hum, without a call.
func (r *run) ablation(ctx context.Context) error {
	kinds := map[string][]stretch{}
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for i := range crowd.notes {
		n := &crowd.notes[i]
		kinds["recorded, dry"] = append(kinds["recorded, dry"], stretch{n.samples, n.winding.mean})
		for j := range r.rooms {
			s := plain(r.hall(0.8, r.roomSeed("ablation", i, j)), n)
			kinds["recorded, RT60 0.8 s"] = append(kinds["recorded, RT60 0.8 s"], r.stretchOf(s))
			for _, level := range []float64{-6, -10} {
				s = plain(r.hall(0.4, r.roomSeed("ablation beside", i, j)), n)
				if s.neighbour(crowd, either(s.hall.random)*(3+12*s.hall.random.Float64()), level) {
					kind := fmt.Sprintf("recorded, neighbour %g dB", level)
					kinds[kind] = append(kinds[kind], r.stretchOf(s))
				}
			}
		}
	}
	if notes, err := r.rendered(ctx); err == nil {
		for _, s := range solos(notes, 1) {
			kinds["rendered"] = append(kinds["rendered"], stretch{s.samples[s.from:s.to], constant(s.truth)})
		}
		for _, s := range mixes(solos(notes, 1), -6, neighbours, 6) {
			kinds["rendered, neighbour -6 dB"] = append(kinds["rendered, neighbour -6 dB"], stretch{s.samples, constant(s.truth)})
		}
	}
	for _, s := range mixes(players(r.n/4, 1, 41), -6, neighbours, 6) {
		kinds["simulated, neighbour -6 dB"] = append(kinds["simulated, neighbour -6 dB"], stretch{s.samples, constant(s.truth)})
	}
	for i := range r.n / 2 {
		s := grossSegment(conditions[3], i, rand.New(rand.NewPCG(uint64(i), 12)))
		kinds["simulated, "+conditions[3].name] = append(kinds["simulated, "+conditions[3].name], stretch{s.samples, constant(s.truth)})
	}
	for _, kind := range []string{"recorded, dry", "recorded, RT60 0.8 s", "recorded, neighbour -6 dB", "recorded, neighbour -10 dB", "rendered", "rendered, neighbour -6 dB", "simulated, neighbour -6 dB", "simulated, " + conditions[3].name} {
		for _, a := range ablated {
			if err := ctx.Err(); err != nil {
				return err
			}
			r.table.figure(kind+", "+a.name, without(kinds[kind], a.stage), "-")
		}
	}
	return nil
}

func (r *run) stretchOf(s *scene) stretch {
	x, on, off := s.recorded()
	t := s.trialOf(nil, on, off)
	from := max(0, int(on*rate))
	return stretch{x[from:min(len(x), int(off*rate))], func(a, b float64) float64 { return t.truth(a+float64(from)/rate, b+float64(from)/rate) }}
}

func constant(hz pitch.Hertz) func(from, to float64) float64 {
	return func(float64, float64) float64 { return float64(hz) }
}

// without reads all of them with a stage left out.
func without(all []stretch, stage estimate.Stage) string {
	var errors []float64
	gross, held := 0, 0
	for _, s := range all {
		e, ok := estimate.Note(s.x, rate, estimate.Options{Without: stage})
		off := 1e9
		if ok {
			off = math.Abs(float64(pitch.Between(pitch.Hertz(s.truth(e.From, e.To)), e.Hz)))
		}
		if off > grossCents {
			gross++
			continue
		}
		errors = append(errors, off)
		if off <= float64(e.CI95) {
			held++
		}
	}
	return fmt.Sprintf("median %s, 95 %% %s cents, interval holds %s %%, gross or none %d of %d",
		short(quantile(errors, 0.5)), short(quantile(errors, 0.95)), share(held, len(errors)), gross, len(all))
}
