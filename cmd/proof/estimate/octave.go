package estimate

import (
	"context"
	"fmt"
	"math/rand/v2"
)

// octaveOffsets is how far, in cents, a neighbour an octave away is from it in
// the mean: exactly in tune, which no two players are, and as they are.
var octaveOffsets = []float64{0, 2, 5}

// octave counts how often the octave is wrong beside a quieter neighbour who
// plays an octave lower or higher.
func (r *run) octave(ctx context.Context) error {
	solos := append(players(r.n/2, 1, 31), players(r.n/2, 0.5, 32)...)
	for _, octaves := range []int{-1, 1} {
		for _, levelDB := range []float64{-6, -10, -14} {
			for _, offset := range octaveOffsets {
				var v verdicts
				for _, s := range octaveMixes(solos, octaves, offset, levelDB) {
					if err := ctx.Err(); err != nil {
						return err
					}
					r.table.wrong(v.add(s))
				}
				where := map[int]string{-1: "lower", 1: "higher"}[octaves]
				r.table.figure(fmt.Sprintf("neighbour an octave %s, %g cents, %g dB", where, offset, levelDB), v.String(), "-")
			}
		}
	}
	return nil
}

// octaveMixes puts a neighbour beside each solo that has one in reach, as many
// octaves and cents above.
func octaveMixes(solos []solo, octaves int, offset, levelDB float64) []segment {
	random := rand.New(rand.NewPCG(uint64(12+octaves), 9))
	var all []segment
	for _, s := range solos {
		for _, j := range random.Perm(len(solos)) {
			b := solos[j]
			if b.name == s.name || abs(s.midi+12*octaves-b.midi) > nearNote || b.to-b.from < s.to-s.from {
				continue
			}
			if m, ok := mixed(s, b, 1200*float64(octaves)+offset, levelDB); ok {
				all = append(all, m)
				break
			}
		}
	}
	return all
}
